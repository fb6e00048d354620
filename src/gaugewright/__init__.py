"""gaugewright: bonded strain gauges from the pack they came in to the number in the report."""

from importlib.metadata import version as _installed_version

__version__ = _installed_version("gaugewright")
