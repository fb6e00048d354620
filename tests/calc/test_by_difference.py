"""Causes moved up and down, against derivatives in closed form and against sampling."""

import numpy as np
import pytest

from gaugewright.calc.by_difference import by_difference
from gaugewright.calc.steel_cyclic import CyclicSteel, cyclic_stress
from gaugewright.calc.uncertainty import InputQuantity, Uncertain, combination
from gaugewright.errors import InputError


def test_a_product_with_a_shared_cause_is_the_closed_form():
    shared, own = InputQuantity("shared", 0.02), InputQuantity("own", 0.05)
    one = Uncertain.from_input([2.0, 3.0], shared, [1.0, 2.0])
    other = Uncertain.from_input(4.0, shared, -1.0) + Uncertain.from_input(0.0, own)
    one = combination(one.value, [(one, 1.0), (Uncertain.noisy([0.0, 0.0], 0.01), 1.0)])
    found = by_difference(lambda a, b: a * b, [one, other], noise_slopes=[other.value, one.value])
    expected = one * other
    assert found.value == pytest.approx(expected.value)
    assert found.standard_uncertainty() == pytest.approx(expected.standard_uncertainty())


def test_the_cyclic_law_with_its_doubts_is_as_wide_as_sampling_says():
    path = np.concatenate(
        [np.linspace(0, 0.01, 60), np.linspace(0.01, -0.006, 80), np.linspace(-0.006, 0.004, 60)]
    )
    scale, zero = InputQuantity("gauge factor", 0.01), InputQuantity("zero", 2e-5)
    strength = InputQuantity("strength", 8e6)
    strain = Uncertain.from_input(path, scale, path) + Uncertain.from_input(0.0 * path, zero)

    def law(e, f_y):
        return cyclic_stress(e, CyclicSteel(200e9, float(f_y), 0.01))[0]

    found = by_difference(
        law, [strain, Uncertain.from_input(500e6, strength)], noise_slopes=[0.0, 0.0]
    )
    random = np.random.default_rng(11)
    draws = random.normal(size=(400, 3))
    sampled = np.array(
        [law(path * (1 + 0.01 * a) + 2e-5 * b, 500e6 + 8e6 * c) for a, b, c in draws]
    )
    # 400 draws know a standard deviation to 3.5 %; three times that, where it isn't near nothing.
    spread = sampled.std(axis=0)
    large = spread > 3e6
    assert large.sum() > 100
    assert found.standard_uncertainty()[large] == pytest.approx(spread[large], rel=0.12)


def test_moving_out_of_the_law_is_told_with_the_cause():
    end = Uncertain.from_input([0.099], InputQuantity("zero", 0.002, meaning="zero of the gauge"))
    with pytest.raises(InputError, match=r"zero of the gauge is .moving 1 value"):
        by_difference(lambda e: np.where(e > 0.1, np.nan, e), [end], noise_slopes=[1.0])


def test_one_slope_for_each_argument():
    with pytest.raises(InputError, match="noise_slopes"):
        by_difference(lambda e: e, [Uncertain.exact(1.0)], noise_slopes=[])
