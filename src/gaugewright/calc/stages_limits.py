"""Stages at the ends of the cable: what the instrument could show, what supply wires took."""

import numpy as np

from gaugewright.calc.stage_kinds import Columns, Parameter, Partials, StageKind, Values
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray

__all__ = ["LIMIT_KINDS"]


def _in_range(x: FloatArray, p: Values, c: Columns) -> FloatArray:
    return np.where((x > p["reading_low"]) & (x < p["reading_high"]), x, np.nan)


def _in_range_partials(x: FloatArray, p: Values, c: Columns) -> Partials:
    return np.where(np.isnan(_in_range(x, p, c)), np.nan, 1.0), {}


def _in_range_check(p: Values) -> None:
    if not p["reading_low"] < p["reading_high"]:
        raise InputError("reading_high", p["reading_high"], "above reading_low")


def _supply_loss(x: FloatArray, p: Values, c: Columns) -> FloatArray:
    return x * (1 + 2 * p["lead_resistance"] / p["bridge_resistance"])


def _supply_loss_partials(x: FloatArray, p: Values, c: Columns) -> Partials:
    bridge, lead = p["bridge_resistance"], p["lead_resistance"]
    return np.full_like(x, 1 + 2 * lead / bridge), {
        "bridge_resistance": -2 * x * lead / bridge**2,
        "lead_resistance": 2 * x / bridge,
    }


LIMIT_KINDS = (
    StageKind(
        "range of the instrument@1",
        "integrity",
        "the reading as it is, and nothing where it stands at or beyond an end of the range",
        (
            Parameter("reading_low", "1", "lower end, in the unit of the reading", fixed=True),
            Parameter("reading_high", "1", "upper end, in the unit of the reading", fixed=True),
        ),
        _in_range,
        _in_range_partials,
        stops="at or beyond the end of the instrument's range, where a reading is clipped",
        check=_in_range_check,
    ),
    StageKind(
        "lead loss, supply wires@1",
        "lead",
        "x (R_b + 2 r_L)/R_b for a full bridge without sense wires; exact for bending, off by "
        "half of (1 - ν) x times the loss for Poisson pairs: 3e-5 at x = 0.4 % and a loss of 2 %",
        (
            Parameter(
                "bridge_resistance", "ohm", "between the supply corners", "a positive number"
            ),
            Parameter("lead_resistance", "ohm", "of one lead wire, one way", "0 or more"),
        ),
        _supply_loss,
        _supply_loss_partials,
    ),
)
