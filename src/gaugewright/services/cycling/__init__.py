"""Cycles counted and the fatigue life they used up."""
