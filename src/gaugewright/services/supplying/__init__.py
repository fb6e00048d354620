"""What to order, and the tags of leads."""
