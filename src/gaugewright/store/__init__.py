"""The campaign on disk; ``store.campaign`` is the only door."""
