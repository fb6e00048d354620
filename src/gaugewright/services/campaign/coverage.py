"""What every stated interval covers, and which program worked it out."""

from gaugewright import __version__

__all__ = ["COVERAGE", "SOFTWARE"]

COVERAGE = 0.95
SOFTWARE = f"gaugewright {__version__}"
