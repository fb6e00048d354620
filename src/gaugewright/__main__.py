"""Starts the command line: ``python -m gaugewright``."""

import sys

from gaugewright.cli import main

if __name__ == "__main__":
    sys.exit(main())
