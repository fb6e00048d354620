"""A campaign as a whole: its records in memory, its journal, its state, its people."""
