"""The cyclic law fitted to histories that it made itself, with and without noise."""

import numpy as np
import pytest

from gaugewright.calc.steel_cyclic import CyclicSteel, cyclic_stress
from gaugewright.calc.steel_fit import fitted_cyclic_steel
from gaugewright.errors import InputError

TRUE = CyclicSteel(
    200e9, 420e6, 0.015, 12.0, 0.85, 0.2, compression_growth=0.03, tension_growth=0.05
)


def history() -> np.ndarray:
    """To and fro with growing amplitude."""
    corners = [0, 0.004, -0.004, 0.009, -0.008, 0.016, -0.012, 0.02]
    return np.interp(np.linspace(0, 7, 500), range(8), corners)


def test_properties_that_made_a_history_are_found_again() -> None:
    strain = history()
    stress, _ = cyclic_stress(strain, TRUE)
    fit = fitted_cyclic_steel(strain, stress, 200e9)
    assert fit.settled
    assert fit.at_bounds == ()
    assert fit.misfit < 1e5
    assert fit.determination == pytest.approx(1, abs=1e-6)
    for name in ("yield_strength", "hardening_share", "curvature_exponent", "tension_growth"):
        assert getattr(fit.steel, name) == pytest.approx(getattr(TRUE, name), rel=0.02)


def test_the_misfit_is_the_noise_that_was_added() -> None:
    strain = history()
    stress, _ = cyclic_stress(strain, TRUE)
    noisy = stress + np.random.default_rng(5).normal(0, 3e6, stress.size)
    noisy[40] = np.nan
    fit = fitted_cyclic_steel(strain, noisy, 200e9)
    assert fit.samples == 499
    assert fit.misfit == pytest.approx(3e6, rel=0.1)
    assert fit.greatest_misfit > fit.misfit


def test_a_property_the_record_does_not_determine_is_named() -> None:
    strain = history()
    plain = CyclicSteel(200e9, 420e6, 0.015, 12.0, 0.85, 0.2)
    fit = fitted_cyclic_steel(strain, cyclic_stress(strain, plain)[0], 200e9)
    assert {"compression_growth", "tension_growth"} <= set(fit.at_bounds)


def test_too_little_is_refused() -> None:
    elastic = np.linspace(0, 0.001, 50)
    with pytest.raises(InputError, match=r"^strain is 'over 0\.001'; .* yields both ways"):
        fitted_cyclic_steel(elastic, elastic * 200e9, 200e9)
    with pytest.raises(InputError, match=r"^strain is 'of 3 samples with stress'"):
        fitted_cyclic_steel([0.0, 0.01, -0.01], [0.0, 4e8, -4e8], 200e9)
    with pytest.raises(InputError, match=r"^strain is 'of shape \(3,\)'"):
        fitted_cyclic_steel([0.0, 0.01, -0.01], [0.0], 200e9)
