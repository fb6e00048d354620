"""Readings to strain: in memory, in blocks, in files."""
