"""Readings from outside: files, followers, and a simulated specimen and instrument."""
