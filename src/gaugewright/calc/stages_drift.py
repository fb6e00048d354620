"""The stage that lets drift nobody measured count: the longer since the zero, the more."""

import numpy as np

from gaugewright.calc.stage_kinds import Columns, Parameter, Partials, StageKind, Values
from gaugewright.quantities import FloatArray

__all__ = ["DRIFT_KINDS"]


def _growing(x: FloatArray, p: Values, c: Columns) -> FloatArray:
    return x + p["drift_rate"] * (c["time"] - p["time_zero"])


def _growing_partials(x: FloatArray, p: Values, c: Columns) -> Partials:
    since = c["time"] - p["time_zero"]
    return np.where(np.isnan(since), np.nan, 1.0), {
        "drift_rate": np.asarray(since),
        "time": np.full_like(since, p["drift_rate"]),
    }


DRIFT_KINDS = (
    StageKind(
        "drift allowance, growing with time@1",
        "drift allowance",
        "ε + q (t - t_0): q is 0 unless known, and what is allowed for it grows with time",
        (
            Parameter("drift_rate", "1/s", "strain to be added each second since the zero"),
            Parameter("time_zero", "s", "when the zero was taken", fixed=True),
        ),
        _growing,
        _growing_partials,
        columns=("time",),
        stops="no time is known",
    ),
)
