"""Laws of steel with the properties a campaign states, and stress by them."""
