"""What a gauge factor's lot part and each gauge's own part do to quantities of several gauges."""

import numpy as np
import pytest
import uncertainties
from hypothesis import given
from hypothesis import strategies as st

from gaugewright.calc.joint import correlation, jointly_uncertain
from gaugewright.calc.monte_carlo import monte_carlo
from gaugewright.calc.uncertainty import InputQuantity, Uncertain

LOT = InputQuantity("gauge factor, lot", 0.01)
STRAIN = st.floats(100e-6, 3000e-6)
SHARE = st.floats(0.001, 0.03)


def gauge(name, change, lot, own=0.0):
    """Strain of one gauge: change of its grid over a factor with a lot part and its own part."""
    factor = Uncertain.from_input(2.1, lot) + Uncertain.from_input(0.0, InputQuantity(name, own))
    return Uncertain.exact(change) / factor


def lot_of(u):
    return InputQuantity("gauge factor, lot", u)


@given(STRAIN, SHARE, SHARE)
def test_a_difference_at_equal_strain_loses_the_lot_part_and_nothing_else(strain, lot, own):
    first, second = (gauge(name, 2.1 * strain, lot_of(lot), own) for name in ("g1", "g2"))
    difference = first - second
    assert difference.sensitivities["gauge factor, lot"] == pytest.approx(0.0, abs=1e-18)
    u = difference.standard_uncertainty()
    assert u == pytest.approx(np.sqrt(2) * strain * own / 2.1, rel=1e-9)


@given(STRAIN, STRAIN, SHARE)
def test_a_difference_at_unequal_strain_keeps_the_lot_part_of_the_difference(one, two, lot):
    difference = gauge("g1", 2.1 * one, lot_of(lot)) - gauge("g2", 2.1 * two, lot_of(lot))
    u = difference.standard_uncertainty()
    assert u == pytest.approx(abs(one - two) * lot / 2.1, rel=1e-9, abs=1e-18)


@given(STRAIN, st.floats(-3000e-6, -100e-6), SHARE, st.floats(0.05, 0.5))
def test_curvature_keeps_the_whole_lot_part(bottom, top, lot, apart):
    curvature = (
        gauge("g1", 2.1 * bottom, lot_of(lot)) - gauge("g2", 2.1 * top, lot_of(lot))
    ) / apart
    share = curvature.standard_uncertainty() / curvature.value
    assert share == pytest.approx(lot / 2.1, rel=1e-9)


@given(STRAIN, st.floats(-3000e-6, -100e-6), SHARE, SHARE, st.floats(0.05, 0.5))
def test_the_neutral_axis_loses_the_lot_part_and_keeps_the_gauges_own(bottom, top, lot, own, apart):
    first = gauge("g1", 2.1 * bottom, lot_of(lot), own)
    second = gauge("g2", 2.1 * top, lot_of(lot), own)
    # From the first gauge towards the second, where strain is nothing.
    height = apart * (first / (first - second))
    part = height.contributions()
    assert part["gauge factor, lot"] == pytest.approx(0.0, abs=1e-12 * apart)
    # By hand: d(h)/d(e1) and d(h)/d(e2), each strain off by own/2.1 of itself.
    gap = bottom - top
    own_part = apart * np.hypot(top * bottom, bottom * top) / gap**2 * own / 2.1
    assert height.standard_uncertainty() == pytest.approx(own_part, rel=1e-9)


@given(STRAIN, SHARE, SHARE, st.integers(2, 6))
def test_a_mean_averages_the_gauges_own_part_and_keeps_the_lot(strain, lot, own, count):
    gauges = [gauge(f"g{i}", 2.1 * strain, lot_of(lot), own) for i in range(count)]
    mean = sum(gauges[1:], start=gauges[0]) / count
    expected = strain / 2.1 * np.hypot(lot, own / np.sqrt(count))
    assert mean.standard_uncertainty() == pytest.approx(expected, rel=1e-9)


@given(STRAIN, SHARE, SHARE)
def test_two_gauges_are_correlated_by_the_share_of_their_lot(strain, lot, own):
    first, second = (gauge(name, 2.1 * strain, lot_of(lot), own) for name in ("g1", "g2"))
    r = correlation(first, second)
    assert r == pytest.approx(lot**2 / (lot**2 + own**2), rel=1e-9)


def test_monte_carlo_finds_the_same_neutral_axis_without_linearising():
    inputs = (LOT, InputQuantity("own 1", 0.008), InputQuantity("own 2", 0.008))

    def model(drawn):
        lot = 2.1 + drawn["gauge factor, lot"]
        first = 2.1 * 1500e-6 / (lot + drawn["own 1"])
        second = 2.1 * -500e-6 / (lot + drawn["own 2"])
        return 0.2 * first / (first - second)

    run = monte_carlo(model, inputs, np.random.default_rng(20261125), digits=2)
    first = gauge("own 1", 2.1 * 1500e-6, LOT, 0.008)
    second = gauge("own 2", 2.1 * -500e-6, LOT, 0.008)
    height = 0.2 * (first / (first - second))
    u = height.standard_uncertainty().item()
    assert run.standard_uncertainty == pytest.approx(u, rel=0.02)
    assert run.value == pytest.approx(height.value.item(), abs=0.01 * u)


MATRIX = np.array([[4e-4, 1.5e-4, -0.5e-4], [1.5e-4, 1e-4, 0.2e-4], [-0.5e-4, 0.2e-4, 2e-4]])
VALUES = [2.0, 1.3, 0.7]


def formula(a, b, c):
    return a * b / (c + a) - b * c


def test_correlated_numbers_agree_with_a_library_by_another_hand():
    ours = formula(*jointly_uncertain(VALUES, MATRIX, "fit"))
    theirs = formula(*uncertainties.correlated_values(VALUES, MATRIX))
    assert ours.value == pytest.approx(theirs.nominal_value, rel=1e-13)
    assert ours.standard_uncertainty() == pytest.approx(theirs.std_dev, rel=1e-9)


def test_correlated_numbers_agree_with_a_second_library_by_another_hand():
    gtc = pytest.importorskip("GTC")
    spread = np.sqrt(np.diag(MATRIX))
    theirs = [
        gtc.ureal(value, u, independent=False) for value, u in zip(VALUES, spread, strict=True)
    ]
    for i in range(3):
        for j in range(i):
            gtc.set_correlation(MATRIX[i, j] / spread[i] / spread[j], theirs[i], theirs[j])
    ours = jointly_uncertain(VALUES, MATRIX, "fit")
    assert formula(*ours).standard_uncertainty() == pytest.approx(formula(*theirs).u, rel=1e-9)
    both = correlation(ours[0] * ours[1], ours[2] + ours[0])
    said = gtc.get_correlation(theirs[0] * theirs[1], theirs[2] + theirs[0])
    assert both == pytest.approx(said, rel=1e-9)
