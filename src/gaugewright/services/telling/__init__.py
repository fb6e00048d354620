"""Gauges, zeros and corrections in words and tables."""
