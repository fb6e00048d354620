"""Stages behind a calibration to force: temperature taken off a force instead of a strain.

A calibrated bar turns the change of its arm into force; temperature changes that arm by the gauge
factor times the apparent strain, whatever the bar carries, and so shows a force that isn't there.
"""

from typing import Final

import numpy as np

from gaugewright.calc.stage_kinds import Columns, Parameter, Partials, StageKind, Values
from gaugewright.calc.stages_mechanical import MECHANICAL_KINDS
from gaugewright.quantities import FloatArray

__all__ = ["CALIBRATED_KINDS"]

_THERMAL: Final = next(kind for kind in MECHANICAL_KINDS if kind.name == "thermal output@1")
_SLOPE = Parameter("calibration_slope", "N", "force per relative change of the arm, at no load")
_FACTOR = Parameter("gauge_factor", "1", "of the gauge alone", "a positive number")


def _thermal(x: FloatArray, p: Values, c: Columns) -> FloatArray:
    # What the thermal stage makes of a strain of zero is less the apparent strain.
    return x + p["calibration_slope"] * p["gauge_factor"] * _THERMAL.value(np.zeros_like(x), p, c)


def _thermal_partials(x: FloatArray, p: Values, c: Columns) -> Partials:
    factor, slope = p["gauge_factor"], p["calibration_slope"]
    less_apparent = _THERMAL.value(np.zeros_like(x), p, c)
    by_value, parts = _THERMAL.partials(np.zeros_like(x), p, c)
    found = {name: slope * factor * part for name, part in parts.items()}
    found["gauge_factor"] = found["gauge_factor"] + slope * less_apparent
    found["calibration_slope"] = factor * less_apparent
    return by_value, found


def _dummy(x: FloatArray, p: Values, c: Columns) -> FloatArray:
    return x - p["calibration_slope"] * p["gauge_factor"] * c["dummy_strain"]


def _dummy_partials(x: FloatArray, p: Values, c: Columns) -> Partials:
    factor, slope, dummy = p["gauge_factor"], p["calibration_slope"], c["dummy_strain"]
    return np.ones_like(x), {
        "calibration_slope": -factor * dummy + np.zeros_like(x),
        "gauge_factor": -slope * dummy + np.zeros_like(x),
        "dummy_strain": np.full_like(x, -slope * factor),
    }


CALIBRATED_KINDS = (
    StageKind(
        "thermal output, calibrated bar@1",
        "temperature",
        "N - (dN/dx) k ε_a, with ε_a the apparent strain of 'thermal output@1'",
        (*_THERMAL.parameters, _SLOPE),
        _thermal,
        _thermal_partials,
        columns=_THERMAL.columns,
        stops=_THERMAL.stops,
        check=_THERMAL.check,
    ),
    StageKind(
        "dummy, calibrated bar@1",
        "temperature",
        "N - (dN/dx) k ε_d, with ε_d the strain of an unstressed gauge beside it",
        (_SLOPE, _FACTOR),
        _dummy,
        _dummy_partials,
        columns=("dummy_strain",),
        stops="no value of the dummy gauge",
    ),
)
