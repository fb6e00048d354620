"""How a number looks: rounding, units shown, captions, plot series, SVG drawings."""
