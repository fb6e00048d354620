"""A value typed with its doubt, such as "12.03 ± 0.02 mm (k=2)", as a record keeps it."""

import re

from gaugewright.errors import InputError
from gaugewright.present.typed import number_typed, quantity_typed
from gaugewright.present.units_shown import System
from gaugewright.records.stated import Basis, Meaning, Stated

__all__ = ["stated_typed"]

_DOUBT = re.compile(r"^(?P<value>.*?)(?:±|\+/-|\+-)(?P<doubt>.*)$", re.DOTALL)
_MEANING = re.compile(r"\s*\(?\s*(?P<meaning>k\s*=\s*[123]|limit|triangular)\s*\)?\s*$")
_UNIT = re.compile(r"^[\s\d.,+\-eE−/]*")  # a fraction such as 1/8 has no unit yet
_LETTERS = re.compile(r"[^\W\d_]|°|%")


def stated_typed(
    name: str,
    text: str,
    quantity: str,
    system: System = "si",
    *,
    basis: Basis = Basis.MEASURED,
    source: str = "",
) -> Stated:
    """Value in the unit inside, with its doubt if one was typed after ±.

    A doubt without a meaning is a limit, the widest of them; one in per cent is of the value.

    Raises
    ------
    InputError
        If it isn't a number, or has a unit of another kind.

    Examples
    --------
    >>> stated_typed("diameter", "12.03 ± 0.02 mm (k=2)", "diameter").plus_minus
    2e-05
    """
    parted = _DOUBT.match(text)
    if parted is None:
        return Stated(quantity_typed(name, text, quantity, system), basis=basis, source=source)
    doubt = parted["doubt"].strip()
    told = _MEANING.search(doubt)
    meaning = Meaning(re.sub(r"\s", "", told["meaning"])) if told else Meaning.UNKNOWN
    doubt = doubt[: told.start()].strip() if told else doubt
    own = parted["value"].strip()
    # "12.03 ± 0.02 mm": the unit at the end is that of both.
    unit = _UNIT.sub("", doubt).strip()
    if unit and unit != "%" and not _UNIT.sub("", own).strip():
        own = f"{own} {unit}"
    value = quantity_typed(name, own, quantity, system)
    if doubt.endswith("%"):
        width = abs(value) * number_typed(name, doubt[:-1].strip()) / 100
    else:
        width = _width(name, own, doubt, quantity, system)
    if width < 0:
        raise InputError(name, text, "a number and a doubt of 0 or more")
    return Stated(value, width, meaning, basis, source)


def _width(name: str, own: str, doubt: str, quantity: str, system: System) -> float:
    """Doubt in the unit inside: in its own unit, or in that of the value."""
    unit = _UNIT.sub("", own).strip()
    text = doubt if _LETTERS.search(doubt) or not unit else f"{doubt} {unit}"
    # A difference has no offset: °F become K by their factor alone.
    zero = quantity_typed(name, f"0 {unit}" if unit else "0", quantity, system)
    return float(f"{quantity_typed(name, text, quantity, system) - zero:.12g}")
