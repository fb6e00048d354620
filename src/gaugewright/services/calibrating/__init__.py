"""Calibrated bars and bridges, and the laboratory's own scatter."""
