"""Planes of a series: the same as one at a time, and true planes found as often as stated."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gaugewright.calc.plane_series import fit_planes, neutral_axes
from gaugewright.calc.strain_plane import PlanePoint, fit_plane, neutral_axis
from gaugewright.calc.uncertainty import InputQuantity, Uncertain
from gaugewright.errors import InputError

PLACES = ((0.05, -0.1), (0.05, 0.1), (0.39, -0.1), (0.41, 0.1), (0.40, 0.03))
LOT = InputQuantity("lot", 0.01)


def places(number, doubt=0.002):
    depth, across = PLACES[number]
    return (
        Uncertain.from_input(depth, InputQuantity(f"depth {number}", doubt)),
        Uncertain.from_input(across, InputQuantity(f"across {number}", doubt)),
    )


def points(strain, *, biaxial, noise=3e-6):
    """Gauges with a common lot and a scatter of their own, each in proportion to its strain."""
    made = []
    for number in range(strain.shape[1]):
        column = strain[:, number]
        own = InputQuantity(f"own {number}", 0.01)
        value = Uncertain(
            column,
            {"lot": column, own.name: column},
            np.asarray(noise),
            {"lot": LOT, own.name: own},
        )
        depth, across = places(number)
        made.append(PlanePoint(f"G{number}", value, depth, across if biaxial else None))
    return made


def at_row(made, row):
    return [
        PlanePoint(p.name, p.strain[row], p.depth, p.across)
        for p in made
        if np.isfinite(p.strain.value[row])
    ]


@pytest.mark.parametrize("biaxial", [False, True])
@settings(max_examples=20, deadline=None)
@given(seed=st.integers(0, 2**32 - 1))
def test_every_row_is_the_fit_at_that_instant(biaxial, seed):
    rng = np.random.default_rng(seed)
    strain = rng.normal(0, 3e-4, (6, len(PLACES))) + rng.normal(0, 5e-4, (6, 1))
    strain[2, 1] = strain[3, 4] = np.nan
    made = points(strain, biaxial=biaxial)
    series = fit_planes(made)
    axes = neutral_axes(series)
    for row in range(6):
        one = fit_plane(at_row(made, row))
        pairs = [(series.top_strain, one.top_strain), (series.curvature, one.curvature)]
        if biaxial:
            pairs.append((series.curvature_across, one.curvature_across))
        for whole, single in pairs:
            assert whole.value[row] == pytest.approx(float(single.value), rel=1e-9)
            assert whole.standard_uncertainty()[row] == pytest.approx(
                float(single.standard_uncertainty()), rel=1e-9
            )
        alive = np.isfinite(strain[row])
        assert series.normalised[row, alive] == pytest.approx(one.normalised, rel=1e-6, nan_ok=True)
        assert series.chi_squared[row] == pytest.approx(one.chi_squared, rel=1e-8, abs=1e-12)
        assert series.spare[row] == one.spare
        assert series.probability[row] == pytest.approx(one.probability, rel=1e-6, nan_ok=True)
        axis = neutral_axis(one)
        ends = (axes.low[row], axes.high[row])
        assert ends == pytest.approx((axis.low, axis.high), rel=1e-6)


def test_cutting_the_record_changes_nothing():
    rng = np.random.default_rng(3)
    strain = rng.normal(0, 3e-4, (40, len(PLACES)))
    whole = fit_planes(points(strain, biaxial=False)).curvature.value
    halves = [
        fit_planes(points(part, biaxial=False)).curvature.value for part in np.split(strain, 4)
    ]
    assert np.concatenate(halves) == pytest.approx(whole, rel=1e-12)


def test_gauges_lost_lower_what_can_be_tested_and_too_few_give_no_plane():
    strain = np.full((4, 3), 1e-4)
    strain[1, 0] = np.nan
    strain[2, :2] = np.nan
    strain[3] = np.nan
    series = fit_planes(points(strain, biaxial=False))
    assert series.spare.tolist() == [1, 0, 0, 0]
    assert np.isnan(series.probability).tolist() == [False, True, True, True]
    # G0 and G1 are at one depth: without both, one depth is left.
    assert np.isnan(series.curvature.value).tolist() == [False, False, True, True]


def test_true_planes_are_inside_the_stated_interval_as_often_as_stated():
    """The generator knows planes and errors of gauges and places; it knows no fit."""
    rng = np.random.default_rng(20261126)
    draws, inside, flat = 3000, np.zeros(2), 0
    top, bend = -4e-4, 4.5e-3
    depth = np.array([place[0] for place in PLACES])
    true_depth = depth + 0.002 * rng.standard_normal((draws, depth.size))
    strain = top + bend * true_depth
    gain = 1 + 0.01 * rng.standard_normal((draws, 1)) + 0.01 * rng.standard_normal(strain.shape)
    read = strain * gain + 3e-6 * rng.standard_normal(strain.shape)
    series = fit_planes(points(read, biaxial=False))
    for number, (part, truth) in enumerate(((series.top_strain, top), (series.curvature, bend))):
        inside[number] = np.mean(np.abs(part.value - truth) < part.expanded(0.95))
    # 3000 draws know 95 % to 0.4 %: four of these.
    assert np.all(np.abs(inside - 0.95) < 0.016)
    flat = np.mean(series.probability < 0.05)
    assert abs(flat - 0.05) < 0.016


def test_rows_of_different_length_and_half_the_places_across_are_refused():
    made = points(np.full((3, 3), 1e-4), biaxial=True)
    short = PlanePoint("short", made[0].strain[:2], made[0].depth, made[0].across)
    with pytest.raises(InputError, match="rows of one length"):
        fit_planes([short, *made[1:]])
    with pytest.raises(InputError, match="all or none"):
        fit_planes([PlanePoint("x", made[0].strain, made[0].depth), *made[1:]])
