"""A limit's number as people say it, and back from how they type it."""

from gaugewright.errors import InputError
from gaugewright.present.numbers import significant_text
from gaugewright.present.typed import number_typed, quantity_typed
from gaugewright.present.units_shown import System, quantity_shown, unit_shown
from gaugewright.quantities import QUANTITIES
from gaugewright.records.proof import Limit
from gaugewright.services.bench.clocks import duration_text
from gaugewright.services.bench.supplies import duration_typed

__all__ = ["limit_text", "limit_value_typed"]


def _is_share(limit: Limit) -> bool:
    is_count = limit.quantity.startswith("number_of")
    return limit.unit == "1" and not is_count and limit.quantity != "strain"


def limit_text(limit: Limit, system: System = "si") -> str:
    """Value of a limit with its unit; shares as per cent, times in hours and minutes.

    Examples
    --------
    >>> limit_text(Limit("l", "time", 1800.0, "s", "house rule"))
    '30 min'
    """
    if limit.quantity == "time":
        return duration_text(limit.value)
    if _is_share(limit):
        return f"{significant_text(100 * limit.value)} %"
    if limit.quantity in QUANTITIES and QUANTITIES[limit.quantity].unit == limit.unit:
        return quantity_shown(limit.quantity, limit.value, None, system).text
    if limit.quantity == "surface_roughness":
        return f"{significant_text(limit.value / 1e-6)} µm"
    unit = "" if limit.unit == "1" else limit.unit
    return f"{significant_text(limit.value)} {unit}".strip()


def limit_value_typed(limit: Limit, text: str, system: System = "si") -> float:
    """Value for a limit as typed: in the unit that ``limit_text`` shows where none is given.

    Raises
    ------
    InputError
        If it isn't a number of the limit's kind.
    """
    tidy = text.strip()
    if limit.quantity == "time":
        return duration_typed(limit.label, tidy)
    if _is_share(limit):
        return float(f"{number_typed(limit.label, tidy.removesuffix('%').strip()) / 100:.15g}")
    if limit.quantity in QUANTITIES and QUANTITIES[limit.quantity].unit == limit.unit:
        own = unit_shown(limit.quantity, system).text  # a difference of temperatures has K
        bare = tidy.removesuffix(own).strip() if own else tidy
        return quantity_typed(limit.label, bare, limit.quantity, system)
    if limit.quantity == "surface_roughness":
        return float(f"{number_typed(limit.label, tidy.removesuffix('µm').strip()) * 1e-6:.15g}")
    bare = tidy.removesuffix(limit.unit).strip()
    if not bare:
        raise InputError(limit.label, text, f"a number in {limit.unit}")
    return number_typed(limit.label, bare)
