"""Single questions answered without a campaign."""
