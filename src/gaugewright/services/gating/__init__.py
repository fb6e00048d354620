"""Gates: what is measured, judged, compared and written on paper."""
