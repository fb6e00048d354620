import numpy as np
import pytest

from gaugewright.errors import InputError
from gaugewright.present.units_shown import (
    in_shown,
    quantity_shown,
    series_shown,
    unit_shown,
    units_sentence,
)
from gaugewright.quantities import QUANTITIES


@pytest.mark.parametrize("system", ["si", "us"])
@pytest.mark.parametrize("quantity", sorted(QUANTITIES))
def test_every_quantity_has_a_unit_to_be_shown_in(quantity, system):
    unit = unit_shown(quantity, system)
    assert unit.factor > 0


@pytest.mark.parametrize(
    ("quantity", "value", "si", "us"),
    [
        # US values by the exact definitions: 1 in = 25.4 mm, 1 lbf = 4.4482216152605 N
        ("strain", 0.001, 1000.0, 1000.0),
        ("stress", 6.894757293168361e6, 6.894757293168361, 1.0),
        ("force", 4448.2216152605, 4.4482216152605, 1.0),
        ("distance", 0.0254, 25.4, 1.0),
        ("area", 0.0254**2, 645.16, 1.0),
        ("moment", 1355.8179483314004, 1.3558179483314004, 1.0),
        ("temperature_degc", 100.0, 100.0, 212.0),
        ("elastic_modulus", 199.9479615018825e9, 199.9479615018825, 29_000.0),
        ("curvature", 0.001, 1.0, 25.4),
        ("thermal_expansion", 12e-6, 12.0, 12 / 1.8),
    ],
)
def test_numbers_on_the_page_in_both_systems(quantity, value, si, us):
    assert in_shown(value, quantity, "si") == pytest.approx(si, rel=1e-12)
    assert in_shown(value, quantity, "us") == pytest.approx(us, rel=1e-12)


def test_a_doubt_in_fahrenheit_has_no_offset():
    number = quantity_shown("temperature_degc", 20.0, 1.0, "us")
    assert (number.value, number.plus_minus, number.unit) == ("68.0", "1.8", "°F")


def test_the_last_binary_digit_decides_no_rounding():
    # 0.0026765 / 1e-6 is 2676.4999999999995 in binary; the number typed was a half
    assert quantity_shown("strain", 0.0026765, 25e-6).value == "2\u202f676"
    assert quantity_shown("strain", 0.0026775, 25e-6).value == "2\u202f678"


def test_a_series_keeps_its_gaps():
    shown = series_shown([0.001, np.nan], "strain")
    assert shown[0] == pytest.approx(1000.0)
    assert np.isnan(shown[1])


def test_an_unknown_quantity_or_system_is_refused():
    with pytest.raises(InputError, match="quantity is 'weight'"):
        unit_shown("weight")
    with pytest.raises(InputError, match="units is 'metric'"):
        unit_shown("strain", "metric")


def test_the_title_block_names_sign_and_units():
    assert units_sentence("si") == "tension positive; mm, kN, MPa, µε"
