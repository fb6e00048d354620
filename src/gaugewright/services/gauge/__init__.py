"""One gauge: its whole life, its record under load, its stress."""
