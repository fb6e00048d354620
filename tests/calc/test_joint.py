"""What values share, and numbers that were determined together."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gaugewright.calc.joint import correlation, covariance, jointly_uncertain
from gaugewright.calc.uncertainty import InputQuantity, Uncertain
from gaugewright.errors import InputError


@given(st.lists(st.integers(-30, 30), min_size=9, max_size=9), st.integers(-8, 8))
def test_the_covariance_matrix_comes_back(entries, power):
    root = np.array(entries).reshape(3, 3) / 10 * np.array([1.0, 1e-3, 10.0**power])[:, np.newaxis]
    matrix = root @ root.T
    numbers = jointly_uncertain([1.0, 2.0, 3.0], matrix, "fit")
    spread = np.sqrt(np.diag(matrix))
    scale = np.outer(spread, spread)
    found = np.array([[covariance(a, b).item() for b in numbers] for a in numbers])
    assert np.all(np.abs(found - matrix) <= 1e-9 * scale + 1e-300)


def test_a_fitted_line_is_most_certain_at_the_mean_of_its_points():
    x = np.array([0.0, 1.0, 2.0, 3.0])
    design = np.stack([np.ones_like(x), x], axis=1)
    offset, slope = jointly_uncertain([1.0, 0.5], np.linalg.inv(design.T @ design) * 0.01, "line")
    at = np.linspace(0.0, 3.0, 7)
    u = (offset + slope * at).standard_uncertainty()
    # Textbook form: s²(1/n + (x - mean)²/Sxx).
    expected = np.sqrt(0.01 * (1 / 4 + (at - 1.5) ** 2 / 5.0))
    np.testing.assert_allclose(u, expected, rtol=1e-9)


def test_a_number_without_variance_is_exact():
    fixed, free = jointly_uncertain([1.0, 2.0], [[0.0, 0.0], [0.0, 0.04]], "fit")
    assert fixed.standard_uncertainty().item() == 0.0
    assert free.standard_uncertainty().item() == pytest.approx(0.2)
    assert np.isnan(correlation(fixed, free).item())


@pytest.mark.parametrize(
    "matrix", [[[1.0, 2.0], [2.0, 1.0]], [[1.0, 0.5], [0.2, 1.0]], [[-1.0, 0], [0, 1.0]], [[1.0]]]
)
def test_what_is_no_covariance_matrix_is_refused(matrix):
    with pytest.raises(InputError, match=r"covariances is"):
        jointly_uncertain([1.0, 2.0], matrix, "fit")


def test_values_from_one_cause_are_fully_correlated_and_noise_is_not_shared():
    gain = Uncertain.from_input(1.0, InputQuantity("gain", 0.01))
    assert correlation(2 * gain, gain + 1).item() == pytest.approx(1.0)
    assert correlation(2 * gain, -gain).item() == pytest.approx(-1.0)
    first, second = gain + Uncertain.noisy(0.0, 0.1), gain + Uncertain.noisy(0.0, 0.1)
    assert covariance(first, second).item() == pytest.approx(1e-4)
    assert covariance(first, first).item() == pytest.approx(0.0101)


def test_one_name_for_two_causes_is_refused():
    first = Uncertain.from_input(1.0, InputQuantity("a", 0.1))
    second = Uncertain.from_input(1.0, InputQuantity("a", 0.2))
    with pytest.raises(InputError, match="one and the same input"):
        covariance(first, second)
