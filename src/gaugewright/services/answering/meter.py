"""How good must the meter be: digit and doubt it needs before its readings can judge."""

import math
from collections.abc import Mapping

from gaugewright.calc.uncertainty import InputQuantity, Uncertain
from gaugewright.errors import InputError
from gaugewright.present.circuit_drawing import Quarter, wires_of_gauge
from gaugewright.present.numbers import Shown, significant_text
from gaugewright.present.units_shown import System, quantity_shown
from gaugewright.services.answering.asks import METER
from gaugewright.services.answering.parts import (
    Answer,
    Given,
    Number,
    brief,
    given,
    number,
    propagated,
)

__all__ = ["answer"]

# Choices of this project, no source, and common practice, no source: the limits of a campaign.
ASSUMED_LIMITS = {"wires": ("0.05", "Ω"), "bonding": ("0.5", "%"), "strain": ("100", "µε")}


def _limit(told: Given, task: str) -> float:
    """Limit to be judged: typed, or the usual one, which is then assumed."""
    assumed, unit = ASSUMED_LIMITS[task]
    limit = told.at("limit") if told.has("limit") else float(assumed)
    if not told.has("limit"):
        told.assume("limit", f"{assumed} {unit}")
    if not 0 < limit < math.inf:
        raise InputError("limit", limit, "a positive number")
    return limit


def answer(typed: Mapping[str, str], system: System = "si") -> Answer:
    """What a meter must be able to do.

    Raises
    ------
    InputError
        If something is missing or can't be.
    Faults
        If several things are.
    """
    told = given(METER, typed, system)
    task = told.words["task"]
    limit = _limit(told, task)
    if task != "strain":
        told.drop_assumed("gauge_factor")
    change = _change(told, task, limit)
    share = told.at("share") / 100
    if not 0 < share <= 1:
        raise InputError("share", told.at("share"), "above 0 and no more than 100 %")
    allowed = float(change.value) * share
    digit = allowed / _expanded_of(1.0)
    numbers = [
        number("What must be judged", change, "resistance", system),
        _plain("Doubt it may have, 95 %", allowed, system),
        _plain("Last digit it may have", digit, system),
    ]
    has = _expanded_of(told.at("digit")) if told.has("digit") else None
    if has is not None:
        numbers.append(_plain("Doubt of the meter at hand, 95 %", has, system))
    return Answer(
        "meter",
        _sentence(numbers[2].shown.text, float(change.value), allowed, has),
        tuple(numbers),
        (
            "Both readings of the difference are taken with the same meter: its scale and its zero "
            "drop out, its digit doesn’t",
            "Three outcomes: it passes, it fails, or this meter cannot tell",
        ),
        told.assumed,
        ("temperature between the two readings: copper changes by 0.4 % in 1 °C",),
        (
            "digit: rectangular, ± half a digit (JCGM 100:2008, 4.3.7), two in a difference",
            "doubt over limit: choice of this project, no source",
        ),
        _drawing(told),
    )


def _change(told: Given, task: str, limit: float) -> Uncertain:
    """Limit as a resistance."""
    if task == "wires":
        return Uncertain.exact(limit)
    if task == "bonding":
        return propagated(
            lambda v: v["gauge_resistance"] * limit / 100, told.only("gauge_resistance")
        )
    return propagated(
        lambda v: v["gauge_resistance"] * v["gauge_factor"] * limit * 1e-6,
        told.only("gauge_resistance", "gauge_factor"),
    )


def _expanded_of(digit: float) -> float:
    """Expanded doubt (95 %) of a difference of two readings with one last digit [ohm]."""
    if not 0 < digit < math.inf:
        raise InputError("digit", digit, "a positive number")
    spread = digit / math.sqrt(12)
    first, second = (
        Uncertain.from_input(0.0, InputQuantity(f"digit of reading {n}", spread)) for n in (1, 2)
    )
    return float((first - second).expanded())


def _plain(label: str, value: float, system: System) -> Number:
    shown = quantity_shown("resistance", value, None, system)
    rounded = Shown(significant_text(value, 2), "", shown.unit)
    return Number(label, value, None, "ohm", rounded)


def _sentence(digit: str, change: float, allowed: float, has: float | None) -> str:
    need = f"A meter with a last digit of {digit} or finer can judge it"
    if has is None:
        return need + "."
    if has <= allowed:
        return need + "; the one at hand can."
    if has <= change:
        return need + "; the one at hand judges only what lies clearly on one side."
    return need + "; the one at hand cannot tell."


def _drawing(told: Given) -> str:
    resistance = brief("gauge_resistance", told.at("gauge_resistance"), told.system, 4)
    parts = Quarter(gauge=resistance)
    return wires_of_gauge(parts, ("A–B", "A–C", "B–C"), "Gauge with three leads, unplugged")
