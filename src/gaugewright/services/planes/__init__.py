"""Strain planes of sections, fitted through gauges at several depths."""
