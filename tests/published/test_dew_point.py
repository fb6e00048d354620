"""Dew points worked out elsewhere with other constants, and the steam tables."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gaugewright.calc.dew_point import dew_point
from gaugewright.errors import Faults, InputError


@pytest.mark.published(
    where="a worked homework answer on molecular physics, question 86009: 22 °C and 78 % give "
    "17.98 °C with the older constants 17.27 and 237.7, error stated there as ± 0.4 °C",
    seen="the public page",
)
def test_a_worked_example() -> None:
    assert float(dew_point(22.0, 0.78)) == pytest.approx(17.98, abs=0.05)


@pytest.mark.published(
    where="Cengel and Boles, Thermodynamics, chapter on gas-vapour mixtures: 20 °C and 75 %, "
    "vapour pressure 1.754 kPa, dew point 15.4 °C by the steam tables",
    seen="from memory, not a copy",
)
def test_the_steam_tables() -> None:
    assert float(dew_point(20.0, 0.75)) == pytest.approx(15.4, abs=0.05)


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
