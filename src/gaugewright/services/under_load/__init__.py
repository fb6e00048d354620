"""Strain and load together, reading by reading."""
