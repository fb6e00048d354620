"""gaugewright: bonded strain gauges from the pack they came in to the number in the report.

The names here are the public ones; docs/how-to/use-the-library.md tells what each is for.
"""

from importlib import import_module
from typing import Any

# Where each public name lives. Loaded at its first use, so that ``import gaugewright`` costs
# nothing and no part of the package depends on those above it; __init__.pyi tells type checkers.
_HOMES = {
    "CampaignReader": "services.reducing.reader",
    "Chain": "calc.chain",
    "GaugewrightError": "errors",
    "Influence": "calc.chain",
    "InputError": "errors",
    "InputQuantity": "calc.uncertainty",
    "Stage": "calc.chain",
    "Uncertain": "calc.uncertainty",
    "open_campaign": "services.reducing.reader",
    "to_si": "units",
    "unit_named": "units",
}


def __getattr__(name: str) -> Any:
    if name == "__version__":
        found: Any = import_module("importlib.metadata").version(__name__)
    elif name in _HOMES:
        found = getattr(import_module(f"{__name__}.{_HOMES[name]}"), name)
    else:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    globals()[name] = found
    return found


def __dir__() -> list[str]:
    return sorted([*_HOMES, "__version__"])
