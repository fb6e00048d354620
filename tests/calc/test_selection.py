"""Margins of options, and what a grid loses by averaging, against integration by hand."""

import math

import numpy as np
import pytest

from gaugewright.calc.selection import Held, curve_averaged, judged, nearest, peak_lost
from gaugewright.errors import Faults


@pytest.mark.parametrize(("gradient", "length"), [(0.05, 0.002), (0.3, 0.006), (0.0, 0.003)])
def test_a_peak_is_lost_as_its_mean_says(gradient: float, length: float) -> None:
    peak = 0.0025
    along = np.linspace(-length / 2, length / 2, 20_001)
    mean = float(np.trapezoid(peak - gradient * np.abs(along), along)) / length
    assert float(peak_lost(length, gradient, peak)) == pytest.approx(1 - mean / peak, abs=1e-12)


def test_a_parabola_is_averaged_exactly() -> None:
    length, bend = 0.006, 35.0
    along = np.linspace(-length / 2, length / 2, 20_001)
    mean = float(np.trapezoid(1e-3 + 0.2 * along + bend / 2 * along**2, along)) / length
    assert float(curve_averaged(length, bend)) == pytest.approx(mean - 1e-3, rel=1e-7)


def test_grids_that_cannot_be_are_refused() -> None:
    with pytest.raises(Faults):
        peak_lost(-1.0, 0.1, 0.0)


def test_what_kills_is_told_worst_first_and_what_is_unknown_kills_nothing() -> None:
    found = judged(
        [
            Held("strain limit", "strain", 0.02, 0.026),
            Held("backing width", "length", 0.006, 0.004, at_least=False),
            Held("temperature", "temperature_degc", 70.0, 45.0, scale=10.0),
            Held("expansion", "thermal_expansion", math.nan, 1e-6, at_least=False),
        ]
    )
    assert [each.name for each in found.failing] == ["backing width", "strain limit"]
    assert [each.name for each in found.unknown] == ["expansion"]
    assert found.failing[0].slack == pytest.approx(-0.002)
    assert found.failing[0].share == pytest.approx(-0.5)
    assert found.tightest == found.failing[0]


def test_exactly_on_the_limit_fits() -> None:
    assert not judged([Held("strain limit", "strain", 0.02, 0.02)]).is_killed
    assert not judged([Held("width", "length", 0.004, 0.004, at_least=False)]).is_killed
    apart = Held("expansion", "thermal_expansion", 12e-6 - 11e-6, 1e-6, at_least=False)
    assert apart.slack < 0  # by its last bits
    assert not apart.fails


def test_room_without_end_never_decides() -> None:
    wide = Held("width", "length", 0.004, math.inf, at_least=False)
    assert wide.share == math.inf
    assert (
        judged([wide, Held("strain limit", "strain", 0.02, 0.01)]).tightest.name == "strain limit"
    )  # type: ignore[union-attr]


def test_the_nearest_fails_least() -> None:
    def option(*shares: float) -> object:
        return judged([Held(str(n), "strain", 1 + share, 1.0) for n, share in enumerate(shares)])

    fits, close, far, two = option(0.1, 0.4), option(0.5, -0.1), option(-0.4), option(-0.1, -0.1)
    assert nearest([far, two, close, fits]) == 3  # type: ignore[list-item]
    assert nearest([far, two, close]) == 2  # type: ignore[list-item]
    assert nearest([two, far]) == 1  # type: ignore[list-item]
    assert nearest([]) is None
