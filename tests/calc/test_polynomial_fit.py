"""Least squares against exact fractions, against simulated scatter and at its limits."""

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gaugewright.calc.polynomial_fit import polynomial_fit
from gaugewright.errors import Faults, InputError


def by_fractions(x, y, degree):
    """Normal equations in exact arithmetic, by Gauss and Jordan."""
    terms = degree + 1
    xs, ys = [Fraction(v) for v in x], [Fraction(v) for v in y]
    rows = [
        [sum(v ** (i + j) for v in xs) for j in range(terms)]
        + [sum(w * v**i for v, w in zip(xs, ys, strict=True))]
        for i in range(terms)
    ]
    for place in range(terms):
        pivot = next(k for k in range(place, terms) if rows[k][place])
        rows[place], rows[pivot] = rows[pivot], rows[place]
        rows[place] = [v / rows[place][place] for v in rows[place]]
        for other in range(terms):
            if other != place:
                rows[other] = [
                    a - rows[other][place] * b
                    for a, b in zip(rows[other], rows[place], strict=True)
                ]
    return [float(row[-1]) for row in rows]


@settings(max_examples=40)
@given(
    st.lists(st.integers(-50, 50), min_size=6, max_size=12, unique=True),
    st.integers(1, 3),
    st.data(),
)
def test_coefficients_are_those_of_exact_arithmetic(x, degree, data):
    y = data.draw(st.lists(st.integers(-1000, 1000), min_size=len(x), max_size=len(x)))
    found = polynomial_fit(x, y, degree)
    expected = by_fractions(x, y, degree)
    assert found.coefficients == pytest.approx(expected, rel=1e-8, abs=1e-8)
    # Residuals of a least-squares fit stand at right angles to every power.
    for power in range(degree + 1):
        powers = np.asarray(x, dtype=float) ** power
        assert abs(found.residuals @ powers) < 1e-7 * (1 + np.abs(powers).sum()) * 1000


@pytest.mark.full
def test_the_stated_deviations_are_those_of_repeated_trials():
    rng = np.random.default_rng(20261125)
    x = np.linspace(0.0, 10.0, 12)
    trials = [polynomial_fit(x, 1 + 2 * x + rng.normal(0, 0.1, 12), 1) for _ in range(2000)]
    lines = np.array([trial.fitted(12.0) for trial in trials])
    stated = np.sqrt(np.mean([trial.deviation_of_curve(12.0) ** 2 for trial in trials]))
    # 2000 trials tell a standard deviation to 1/sqrt(4000) = 1.6 %; four of those.
    assert np.std(lines) == pytest.approx(stated, rel=0.064)
    slopes = np.array([trial.coefficients[1] for trial in trials])
    stated = np.sqrt(np.mean([trial.standard_uncertainties[1] ** 2 for trial in trials]))
    assert np.std(slopes) == pytest.approx(stated, rel=0.064)


def test_points_on_a_cubic_are_met():
    x = np.linspace(-2.0, 5.0, 9)
    found = polynomial_fit(x, 1 - x + 0.5 * x**2 - 0.1 * x**3, 3)
    assert found.coefficients == pytest.approx([1.0, -1.0, 0.5, -0.1], abs=1e-13)
    assert found.span == (-2.0, 5.0)
    assert found.deviation_of_new_reading(1.0) < 1e-13


@pytest.mark.parametrize(
    ("x", "y", "degree", "words"),
    [
        ([0.0, 1.0, 2.0], [0.0, 1.0, 2.0], 0, "degree"),
        ([0.0, 1.0], [0.0, 1.0], 1, "3 or more"),
        ([0.0, 1.0, np.nan], [0.0, 1.0, 2.0], 1, "1 missing.*say how many"),
        ([1.0, 1.0, 1.0], [0.0, 1.0, 2.0], 1, "different x"),
        ([0.0, 1.0, 2.0], [0.0, 1.0], 1, "shape of y"),
    ],
)
def test_points_that_no_fit_can_use_are_refused(x, y, degree, words):
    with pytest.raises(InputError, match=words):
        polynomial_fit(x, y, degree)


def test_every_fault_is_told_at_once():
    with pytest.raises(Faults, match="4 thing"):
        polynomial_fit([np.nan, 1.0, 2.0], [1.0, np.inf, 2.0], 9)
