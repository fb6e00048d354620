"""A reading as a person typed it at a gate: number, bound or ``open``, and whether it is a slip."""

import itertools
import math
import re
from dataclasses import dataclass
from datetime import datetime

from gaugewright.errors import InputError
from gaugewright.present.numbers import significant_text
from gaugewright.present.typed import number_typed, quantity_typed
from gaugewright.present.units_shown import ohm_signs
from gaugewright.records import Entry
from gaugewright.records.proof import Censor, GateReading, Meter
from gaugewright.services.gating.fields import INSULATION, READING, GateField, is_leak
from gaugewright.units import parse_unit, unit_named

__all__ = [
    "Question",
    "Typed",
    "censored",
    "digit_of",
    "fits",
    "has_unit",
    "quantity_of",
    "questioned",
    "reading_typed",
    "with_unit",
]

_OPEN = re.compile(r"open|o\.?l\.?|over ?(load|range)|∞", re.IGNORECASE)
_BOUND = re.compile(r"(?P<sign>[<>≥≤])\s*(?P<rest>.+)", re.DOTALL)
_POWER = re.compile(r"(?<=[0-9.])[eE][+-]?[0-9]+")
_LETTERS = re.compile(r"[^\W\d_]|[Ωµ%/]")
# A wrong prefix is a thousand off or a million; a lost or misplaced point ten or a hundred.
_PREFIXES = (1e6, 1e-6, 1e3, 1e-3)
_POINTS = (10.0, 0.1, 100.0, 0.01)
_NEAR_PAIR, _NEAR_LOOP, _NEAR_SWAP = (
    0.02,
    0.25,
    0.02,
)  # how near an intended value must come: choice, no source


@dataclass(frozen=True, slots=True)
class Typed:
    """What a person gave for one field: text, the unit its box showed, the meter."""

    field: GateField
    text: str
    meter: Entry[Meter]
    unit: str = ""


@dataclass(frozen=True, slots=True)
class Question:
    """A reading that is probably a slip: what it says, and the text that was probably meant."""

    what: str
    sentence: str
    probable: str


def quantity_of(meter: Meter) -> str:
    """Quantity that a meter reads, by its unit.

    Raises
    ------
    InputError
        If its unit is none that is read at a gate.
    """
    unit = parse_unit(meter.unit)
    found = {"ohm": "resistance", "V/V": "bridge_ratio", "1": "strain"}.get(
        unit.coherent if unit else ""
    )
    if found is None:
        allowed = "one of Ω, kΩ, MΩ, GΩ, mV/V or µε"
        raise InputError(f"unit of {meter.label}", meter.unit, allowed, "correct the meter's unit")
    return found


def fits(meter: Meter, field: GateField) -> bool:
    """Whether a meter reads what a field asks; a tester with a voltage of its own is for leaks."""
    quantity = quantity_of(meter)
    if field.what == READING:
        return quantity in ("bridge_ratio", "strain")
    return quantity == "resistance" and (is_leak(field.what) or meter.test_voltage is None)


def reading_typed(
    typed: Typed, temperature_degc: float | None, measured: datetime, entered: datetime
) -> GateReading:
    """Reading in SI from what was typed.

    Raises
    ------
    InputError
        If it is neither a number nor a bound nor ``open``, or the meter doesn't read that.
    """
    field, meter = typed.field, typed.meter.record
    if not fits(meter, field):
        allowed = "one that reads " + ("mV/V or µε" if field.what == READING else "resistance")
        raise InputError(f"meter for {field.label}", meter.label, allowed)
    text = typed.text.strip()
    censor, rest = censored(text)
    value = _number(typed, rest) if rest else None
    return GateReading(
        field.what,
        value,
        censor,
        typed.meter.uid,
        _kept_text(typed, text, censor),
        temperature_degc,
        measured,
        entered,
    )


def censored(text: str) -> tuple[Censor, str]:
    """How a reading as typed bounds what was measured, and its number: "" where it was open.

    Examples
    --------
    >>> censored("> 20 GΩ")
    (<Censor.ABOVE: 'above'>, '20 GΩ')
    """
    if _OPEN.fullmatch(text.strip()):
        return Censor.OPEN, ""
    if bound := _BOUND.fullmatch(text.strip()):
        return Censor.ABOVE if bound["sign"] in ">≥" else Censor.BELOW, bound["rest"]
    return Censor.EXACT, text


def _number(typed: Typed, text: str) -> float:
    label = typed.field.label
    if has_unit(text):
        quantity = quantity_of(typed.meter.record)
        if is_leak(typed.field.what):
            quantity = "insulation_resistance"
        return quantity_typed(label, text, quantity)
    unit = unit_named(typed.unit or typed.meter.record.unit)
    return float(number_typed(label, text) * unit.factor)


def has_unit(text: str) -> bool:
    """Whether a reading as typed names its unit."""
    return bool(_LETTERS.search(_POWER.sub("", text)))


def with_unit(reading: GateReading, meter: Meter) -> str:
    """A reading as typed, with the unit of its meter where none was typed; ``open`` has none."""
    if reading.censor is Censor.OPEN or has_unit(reading.typed):
        return reading.typed
    return f"{reading.typed} {unit_named(meter.unit).name}"


def _kept_text(typed: Typed, text: str, censor: Censor) -> str:
    """Text as typed, with the unit of its box where that isn't the meter's own."""
    is_bare = censor is not Censor.OPEN and not has_unit(text)
    if is_bare and typed.unit and unit_named(typed.unit) != unit_named(typed.meter.record.unit):
        text = f"{text} {typed.unit}"
    return ohm_signs(text)


def digit_of(reading: GateReading, meter: Meter) -> float:
    """One step of the last digit as typed, in SI; 0 for a reading that is no number."""
    if reading.value is None:
        return 0.0
    digits = re.search(r"[0-9][0-9.,]*", reading.typed.replace("\N{NARROW NO-BREAK SPACE}", ""))
    if digits is None:
        return 0.0
    after = re.split(r"[.,]", digits[0])[1:]
    words = reading.typed[digits.end() :].strip()
    unit = parse_unit(words) if words else None
    factor = (unit or unit_named(meter.unit)).factor
    return float(factor * 10.0 ** -(len(after[-1]) if after else 0))


def questioned(
    reading: GateReading, typed: Typed, expected: float | None, before: float | None
) -> Question | None:
    """Whether a number is impossible or probably a slip; bounds and ``open`` never are.

    ``expected`` is what card and lead give and ``before`` the last exact reading, both SI. An odd
    value without a value that was probably meant is no question: it is recorded with a flag.
    """
    if reading.censor is not Censor.EXACT or reading.value is None:
        return None
    meter = typed.meter.record
    impossible = _impossible(reading, typed)
    targets = [t for t in (before, expected) if t is not None and t > 0]
    near = _NEAR_PAIR if typed.field.grids else _NEAR_LOOP
    if typed.field.what == READING:
        probable = reading.value / 1000 if impossible else None
        return _asked(reading, typed, impossible, probable) if impossible else None
    if typed.field.what == INSULATION:
        probable = _prefix_of_insulation(reading.value, meter)
        if not impossible and (probable is None or not _is_low(reading.value, before)):
            return None
        return _asked(reading, typed, impossible, probable)
    if not targets and not impossible:
        return None
    if any(abs(reading.value / target - 1) <= near for target in targets):
        return None if not impossible else _asked(reading, typed, impossible, None)
    probable = next(iter(_meant(reading, meter, targets, near)), None)
    if probable is None and not impossible:
        return None
    return _asked(reading, typed, impossible, probable)


def _impossible(reading: GateReading, typed: Typed) -> str:
    meter, value = typed.meter.record, reading.value or 0.0
    if typed.field.what == READING:
        is_ratio = quantity_of(meter) == "bridge_ratio"
        return "no bridge gives more than 500 mV/V" if is_ratio and abs(value) > 0.5 else ""
    if value < 0:
        return "no resistance is below zero"
    if typed.field.grids and value == 0:
        return "a grid has a resistance"
    if meter.highest is not None and value > meter.highest * unit_named(meter.unit).factor:
        highest = significant_text(meter.highest)
        return f"{meter.label} reads no further than {ohm_signs(f'{highest} {meter.unit}')}"
    return ""


def _is_low(value: float, before: float | None) -> bool:
    """Whether an insulation is so low that a prefix was more likely forgotten than lost."""
    return value < 1e5 and (before is None or before > 1e6)


def _prefix_of_insulation(value: float, meter: Meter) -> float | None:
    highest = (meter.highest or math.inf) * unit_named(meter.unit).factor
    for factor in (1e6, 1e-6, 1e3, 1e-3) if value < 1e6 else (1e-6, 1e-3):
        if 1e6 <= value * factor <= highest:
            return value * factor
    return None


def _meant(reading: GateReading, meter: Meter, targets: list[float], near: float) -> list[float]:
    """Values that were probably meant, the nearest to a target first."""
    value = reading.value or 0.0
    tried = [(abs(value), near)] if value < 0 else []
    tried += [(value * factor, near) for factor in (*_PREFIXES, *_POINTS)]
    tried += [(number, _NEAR_SWAP) for number in _transposed(reading, meter)]
    found = [
        (min(abs(number / target - 1) for target in targets), number)
        for number, within in tried
        if targets and any(abs(number / target - 1) <= within for target in targets)
    ]
    return [number for _, number in sorted(found)]


def _transposed(reading: GateReading, meter: Meter) -> list[float]:
    """The same digits with two neighbours exchanged."""
    digit = digit_of(reading, meter)
    if digit <= 0 or reading.value is None:
        return []
    whole = str(round(abs(reading.value) / digit))
    swapped = []
    for left, right in itertools.pairwise(range(len(whole))):
        signs = list(whole)
        signs[left], signs[right] = signs[right], signs[left]
        swapped.append(float("".join(signs)) * digit)
    return swapped


def _asked(reading: GateReading, typed: Typed, impossible: str, probable: float | None) -> Question:
    unit = typed.unit or typed.meter.record.unit
    shown = ""
    if probable is not None:
        shown = f"{probable / unit_named(unit).factor:.8g}"
    words = f"{typed.field.label} as typed, {reading.typed}, "
    words += f"can’t be: {impossible}" if impossible else "is far from what it should be"
    if shown:
        words += f"; probably {ohm_signs(f'{shown} {unit}')}"
    return Question(reading.what, words, shown)
