"""Straight lines through points that are doubtful both ways: Pearson's data with York's weights."""

import numpy as np
import pytest

from gaugewright.calc.twice_recorded import line_both_doubtful

X = np.array([0.0, 0.9, 1.8, 2.6, 3.3, 4.4, 5.2, 6.1, 6.5, 7.4])
Y = np.array([5.9, 5.4, 4.4, 4.6, 3.5, 3.7, 2.8, 2.8, 2.4, 1.5])
OF_X = 1 / np.sqrt([1000, 1000, 500, 800, 200, 80, 60, 20, 1.8, 1])
OF_Y = 1 / np.sqrt([1, 1.8, 4, 8, 20, 20, 70, 70, 100, 500])


@pytest.mark.published(
    where="B. C. Reed, Am. J. Phys. 57 (1989) 642: Pearson's ten points with York's weights, "
    "intercept 5.47991022723, slope -0.48053340810",
    seen="both numbers in a public tutorial that quotes the paper; not the paper",
)
def test_line_through_pearsons_points_with_yorks_weights() -> None:
    line = line_both_doubtful(X, Y, OF_X, OF_Y)
    assert line.zero == pytest.approx(5.47991022, abs=1e-8)
    assert line.gain == pytest.approx(-0.480533407, abs=1.5e-9)


@pytest.mark.published(
    where="York et al., Am. J. Phys. 72 (2004) 367, Table II: standard errors 0.294970735 of the "
    "intercept and 0.0579850090 of the slope of the same line; goodness of fit 1.483294149",
    seen="the numbers as tests of two public programs quote them; not the paper",
)
def test_doubts_of_that_line() -> None:
    line = line_both_doubtful(X, Y, OF_X, OF_Y)
    assert line.zero_uncertainty == pytest.approx(0.294970735, abs=5e-10)
    assert line.gain_uncertainty == pytest.approx(0.0579850090, abs=5e-11)
    assert line.misfit == pytest.approx(1.483294149, abs=5e-10)
