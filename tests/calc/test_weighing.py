"""Covariance matrices of single values."""

import numpy as np
import pytest

from gaugewright.calc.joint import covariance
from gaugewright.calc.uncertainty import InputQuantity, Uncertain
from gaugewright.calc.weighing import common_inputs, covariance_matrix, named_noise
from gaugewright.errors import InputError

GAIN, OWN = InputQuantity("gain", 0.01), InputQuantity("own", 0.3)
FIRST = Uncertain.from_input(10.0, GAIN, 10.0) + Uncertain.noisy(0.0, 0.2)
SECOND = Uncertain.from_input(-5.0, GAIN, -5.0) + Uncertain.from_input(0.0, OWN)


def test_the_matrix_holds_every_pairs_covariance():
    found = covariance_matrix([FIRST, SECOND])
    assert found[0, 1] == pytest.approx(covariance(FIRST, SECOND).item())
    assert np.diag(found) == pytest.approx([0.1**2 + 0.2**2, 0.05**2 + 0.3**2])
    assert covariance_matrix([FIRST, SECOND], {"gain"}) == pytest.approx(np.diag([0.04, 0.09]))


def test_what_all_share_is_named():
    assert common_inputs([FIRST, SECOND]) == {"gain"}
    assert common_inputs([FIRST]) == frozenset()


def test_named_noise_stays_shared_by_what_is_made_of_it():
    named = named_noise(FIRST, "noise of the first")
    assert named.standard_uncertainty() == pytest.approx(FIRST.standard_uncertainty())
    assert ((2 * named) - (2 * named)).standard_uncertainty() == pytest.approx(0.0)
    assert named_noise(SECOND, "x") is SECOND
    with pytest.raises(InputError, match="gain"):
        named_noise(FIRST, "gain")
