"""Where a campaign stands, step by step."""
