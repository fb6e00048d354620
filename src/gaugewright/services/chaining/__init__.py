"""Correction chains built from records, and who turned which stage on or off."""
