"""Records of months: segments, gaps, seasons, drift."""
