"""Readings: files brought in, understood, put on one clock, looked at."""
