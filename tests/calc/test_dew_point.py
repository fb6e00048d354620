"""Dew points give back the humidity they were made from; impossible air is refused."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gaugewright.calc.dew_point import dew_point
from gaugewright.errors import Faults, InputError


@given(air=st.floats(-40, 60), humidity=st.floats(0.05, 1))
def test_it_gives_back_the_humidity_and_never_passes_the_air(air: float, humidity: float) -> None:
    found = float(dew_point(air, humidity))
    assert found <= air + 1e-9
    pressures = [np.exp(17.62 * t / (243.12 + t)) for t in (found, air)]
    assert pressures[0] / pressures[1] == pytest.approx(humidity, rel=1e-9)


@pytest.mark.parametrize(("air", "humidity"), [(-80.0, 0.5), (20.0, 0.0), (20.0, 48.0)])
def test_impossible_air_is_refused(air: float, humidity: float) -> None:
    with pytest.raises((InputError, Faults)):
        dew_point(air, humidity)
