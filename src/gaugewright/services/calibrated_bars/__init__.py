"""What calibrated bars tell of the laboratory: rows from load steps, its own scatter."""
