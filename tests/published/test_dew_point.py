"""Dew points worked out elsewhere with other constants, and the steam tables."""

import pytest

from gaugewright.calc.dew_point import dew_point


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
