"""Loads, and what gauges did under them: events, holds, paths, yield."""
