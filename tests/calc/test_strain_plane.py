"""Strain planes against sampled truth, exact solutions and gauges made wrong on purpose."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gaugewright.calc.joint import covariance
from gaugewright.calc.strain_plane import PlanePoint, fit_plane, neutral_axis
from gaugewright.calc.uncertainty import InputQuantity, Uncertain
from gaugewright.errors import InputError

LOT = InputQuantity("gauge factor of the lot", 0.005)


def point(name, strain, depth, across=None, *, noise=10e-6, depth_doubt=2e-3):
    reading = Uncertain.from_input(strain, LOT, strain) + Uncertain.noisy(0.0, noise)
    place = Uncertain.from_input(depth, InputQuantity(f"depth of {name}", depth_doubt))
    beside = None if across is None else Uncertain.exact(across)
    return PlanePoint(name, reading, place, beside)


DEPTHS = (0.04, 0.15, 0.26, 0.44)
NAMES = "abcd"


@given(st.floats(-2e-3, 2e-3), st.floats(-0.02, 0.02))
def test_gauges_on_a_plane_give_that_plane_back(top, curvature):
    points = [point(n, top + curvature * y, y) for n, y in zip(NAMES, DEPTHS, strict=True)]
    found = fit_plane(points)
    assert found.top_strain.value == pytest.approx(top, abs=1e-12)
    assert found.curvature.value == pytest.approx(curvature, abs=1e-11)
    assert np.abs(found.residuals).max() < 1e-12
    assert found.probability == pytest.approx(1.0)
    assert found.outlier is None


def test_two_gauges_give_the_difference_over_the_distance_with_its_doubt():
    first, second = point("a", -300e-6, 0.05), point("b", 1200e-6, 0.45)
    found = fit_plane([first, second])
    by_hand = (second.strain - first.strain) / (second.depth - first.depth)
    assert found.curvature.value == pytest.approx(by_hand.value)
    assert found.curvature.standard_uncertainty() == pytest.approx(by_hand.standard_uncertainty())
    assert found.spare == 0
    assert np.isnan(found.probability)
    assert np.isnan(found.normalised).all()


def drawn_planes(draws, rng, truth):
    """Planes fitted to readings with errors drawn as they are stated."""
    top, curvature = truth
    for _ in range(draws):
        lot = 1 + 0.005 * rng.standard_normal()
        points = []
        for name, depth in zip(NAMES, DEPTHS, strict=True):
            wrong = depth + 2e-3 * rng.standard_normal()
            strain = (top + curvature * wrong) * lot + 10e-6 * rng.standard_normal()
            points.append(point(name, strain, depth))
        yield fit_plane(points, significance=0.01)


def test_intervals_hold_the_truth_as_often_as_they_say_and_false_alarms_are_rare():
    truth, draws = (-500e-6, 5e-3), 800
    hits, axis_hits, alarms, chances = 0, 0, 0, []
    for found in drawn_planes(draws, np.random.default_rng(20261125), truth):
        hits += abs(found.curvature.value - truth[1]) <= found.curvature.expanded(0.95)
        axis = neutral_axis(found)
        axis_hits += axis.low <= -truth[0] / truth[1] <= axis.high
        alarms += found.outlier is not None
        chances.append(found.probability)
    # Four standard deviations of a share near 0.95 of 800: 0.031.
    assert hits / draws == pytest.approx(0.95, abs=0.031)
    assert axis_hits / draws == pytest.approx(0.95, abs=0.031)
    assert alarms / draws < 0.01 + 4 * np.sqrt(0.01 * 0.99 / draws)
    # The probability of the misfit is even between 0 and 1.
    assert np.mean(chances) == pytest.approx(0.5, abs=4 * np.sqrt(1 / 12 / draws))


@pytest.mark.parametrize("wrong", range(4))
def test_the_wrong_gauge_of_four_is_named(wrong):
    strain = [-400e-6 + 5e-3 * (y - 0.04) for y in DEPTHS]
    strain[wrong] += 250e-6
    points = [point(n, e, y) for n, e, y in zip(NAMES, strain, DEPTHS, strict=True)]
    found = fit_plane(points)
    assert found.outlier is not None
    assert found.outlier.names == (NAMES[wrong],)
    assert found.outlier.normalised > 0
    # With it left out the others agree, and that is what was foretold.
    rest = fit_plane([p for p in points if p.name != NAMES[wrong]])
    assert rest.probability > 0.5
    assert found.outlier.rest_probability == pytest.approx(rest.probability, abs=0.05)


def test_of_three_gauges_none_can_be_told_from_the_others():
    found = fit_plane([point("a", 0.0, 0.0), point("b", 900e-6, 0.2), point("c", 1e-3, 0.4)])
    assert found.outlier is not None
    assert found.outlier.names == ("a", "b", "c")
    assert np.isnan(found.outlier.rest_probability)


def test_a_plane_about_two_axes():
    places = [(0.05, -0.1), (0.05, 0.1), (0.45, -0.1), (0.45, 0.1), (0.25, 0.1)]
    points = [point(f"g{i}", -2e-4 + 4e-3 * y - 1e-3 * z, y, z) for i, (y, z) in enumerate(places)]
    found = fit_plane(points)
    assert found.curvature.value == pytest.approx(4e-3)
    assert found.curvature_across is not None
    assert found.curvature_across.value == pytest.approx(-1e-3)
    corner = found.strain_at(Uncertain.exact(0.5), Uncertain.exact(0.15))
    assert corner.value == pytest.approx(-2e-4 + 4e-3 * 0.5 - 1e-3 * 0.15)
    with pytest.raises(InputError, match="across"):
        fit_plane([*points, point("x", 0.0, 0.1)])


def test_the_lot_error_moves_all_strains_and_not_the_neutral_axis():
    points = [point(n, -500e-6 + 5e-3 * y, y) for n, y in zip(NAMES, DEPTHS, strict=True)]
    found = fit_plane(points)
    share = found.curvature.contributions()[LOT.name]
    assert share == pytest.approx(0.005 * 5e-3, rel=1e-6)
    assert neutral_axis(found).depth.contributions()[LOT.name] == pytest.approx(0.0, abs=1e-12)


def test_a_doubtful_depth_counts_the_more_the_greater_the_curvature():
    doubts = []
    for curvature in (1e-4, 1e-2):
        points = [point(n, curvature * y, y) for n, y in zip(NAMES, DEPTHS, strict=True)]
        parts = fit_plane(points).curvature.contributions()
        doubts.append(sum(parts[f"depth of {n}"] ** 2 for n in NAMES) ** 0.5 / curvature)
    # The same share of the curvature, since it is a length against a length.
    assert doubts[1] == pytest.approx(doubts[0], rel=0.2)


def test_coefficients_of_one_fit_share_the_noise_of_its_readings():
    points = [point(n, 1e-3, y, depth_doubt=0.0) for n, y in zip(NAMES, DEPTHS, strict=True)]
    found = fit_plane(points)
    middle = np.mean(DEPTHS)
    # A fitted line is surest at the mean of its places: s²/n there, from noise alone.
    at_middle = found.strain_at(Uncertain.exact(middle))
    noise = [v for k, v in at_middle.contributions().items() if k.startswith("noise")]
    assert np.linalg.norm(noise) == pytest.approx(10e-6 / 2, rel=1e-3)
    assert covariance(found.top_strain, found.curvature) < 0


def test_without_curvature_that_can_be_told_from_zero_no_depth_is_excluded():
    points = [point(n, 100e-6, y) for n, y in zip(NAMES, DEPTHS, strict=True)]
    points[0] = point("a", 103e-6, DEPTHS[0])
    axis = neutral_axis(fit_plane(points))
    assert (axis.low, axis.high) == (-np.inf, np.inf)


@pytest.mark.parametrize(
    ("points", "name"),
    [
        ([point("a", 0.0, 0.1), point("b", 0.0, 0.1)], "points"),
        ([point("a", 0.0, 0.1)], "points"),
        ([point("a", np.nan, 0.1), point("b", 0.0, 0.2)], "missing for a"),
        ([point("a", 0.0, 0.1), point("a", 0.0, 0.2)], "names"),
        ([point(n, 1e-3, 0.1 * i, noise=0.0, depth_doubt=0.0) for i, n in enumerate(NAMES)],
         "uncertainty of the strains"),
        ([point(str(i), 0.0, i * 0.1, i * 0.1) for i in range(3)], "points"),
    ],
)  # fmt: skip
def test_what_carries_no_plane_is_refused(points, name):
    with pytest.raises(InputError, match=name):
        fit_plane(points)
