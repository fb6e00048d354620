"""Two of one kind held against each other: campaigns, or what was recorded twice."""
