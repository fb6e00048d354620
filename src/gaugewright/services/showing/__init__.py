"""How records, numbers and lists are put before people."""
