"""Zeros: taken, carried over, shifted, explained."""
