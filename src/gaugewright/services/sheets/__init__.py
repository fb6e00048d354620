"""A sheet for each who gets something from a campaign."""
