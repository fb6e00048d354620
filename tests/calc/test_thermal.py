"""Thermal output in a card's own units, and the two strains that temperature sets apart."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gaugewright.calc import gauge, thermal
from gaugewright.errors import Faults, InputError
from gaugewright.quantities import unit_named

CELSIUS, FAHRENHEIT, MICRO = (unit_named(name) for name in ("degC", "degF", "µm/m"))
PRINTED = [-31.8, 2.77, -6.55e-2, 3.28e-4, -3.26e-7]
CARD = {"stated_gauge_factor": 2.0, "card_thermal_expansion": 10.8e-6}
TEMPERATURE = st.floats(-10.0, 95.0)


def fahrenheit_card(coefficients=PRINTED, span=(0.0, 212.0), **changed):
    units = {"temperature_unit": FAHRENHEIT, "strain_unit": MICRO}
    return thermal.thermal_output_of_polynomial(coefficients, span, **(units | CARD | changed))


@given(TEMPERATURE)
def test_a_card_in_fahrenheit_says_the_same_in_celsius(celsius):
    fahrenheit = 32 + celsius * 9 / 5
    by_card = sum(c * fahrenheit**power for power, c in enumerate(PRINTED))
    assert fahrenheit_card().output(celsius) == pytest.approx(by_card * 1e-6, abs=1e-15)


def test_the_span_is_turned_too_and_nothing_is_said_outside_it():
    card = fahrenheit_card(span=(32.0, 212.0))
    assert (card.lowest_degc, card.highest_degc) == pytest.approx((0.0, 100.0))
    found = card.output([-0.1, 0.0, 50.0, 100.0, 100.1, np.nan])
    assert np.isnan(found).tolist() == [True, False, False, False, True, True]
    assert card.unanswered([-0.1, 50.0, np.nan]) == 2


TABLE_F = np.array([20.0, 50.0, 75.0, 120.0, 200.0])
TABLE_OUT = np.array([-60.0, -15.0, 0.0, 22.0, -10.0])


def table(**changed):
    units = {"temperature_unit": FAHRENHEIT, "strain_unit": MICRO}
    return thermal.thermal_output_of_table(TABLE_F, TABLE_OUT, **(units | CARD | changed))


def test_a_table_gives_its_own_points_and_straight_lines_between():
    card = table()
    celsius = (TABLE_F - 32) / 1.8
    assert card.output(celsius) == pytest.approx(TABLE_OUT * 1e-6, abs=1e-15)
    middle = card.output((celsius[1] + celsius[2]) / 2)
    assert middle == pytest.approx(-7.5e-6)
    assert np.isnan(card.output((19.9 - 32) / 1.8))


@given(st.floats(-5.0, 90.0), st.floats(-5.0, 90.0), st.floats(1.9, 2.2), st.floats(5e-6, 2e-5))
def test_the_change_since_the_zero_is_that_of_the_closed_form(now, zero, factor, expansion):
    card = fahrenheit_card()
    found = card.change(now, zero, gauge_factor=factor, thermal_expansion=expansion)
    expected = gauge.thermal_output_change(
        now,
        zero,
        card.coefficients,
        stated_gauge_factor=2.0,
        gauge_factor=factor,
        expansion_difference=expansion - 10.8e-6,
    )
    assert found == pytest.approx(expected, abs=1e-15)
    again = card.change(zero, now, gauge_factor=factor, thermal_expansion=expansion)
    assert again == pytest.approx(-found, abs=1e-18)


def test_a_table_becomes_a_polynomial_whose_misfit_is_told():
    coefficients, misfit = table().as_polynomial(4)
    assert len(coefficients) == 5
    assert misfit == pytest.approx(0.0, abs=1e-15)  # four degrees go through five points
    coefficients, misfit = table().as_polynomial(2)
    points = np.polynomial.polynomial.polyval((TABLE_F - 32) / 1.8, coefficients)
    assert misfit == pytest.approx(np.max(np.abs(points - TABLE_OUT * 1e-6)))
    assert misfit > 1e-6
    assert fahrenheit_card([1.0, 2.0]).as_polynomial()[0][2:] == (0.0, 0.0, 0.0)


def test_a_polynomial_longer_than_the_chain_takes_is_refused():
    with pytest.raises(InputError, match="five or fewer"):
        fahrenheit_card([1.0] * 6).as_polynomial()
    with pytest.raises(InputError, match="from 0 to 4"):
        table().as_polynomial(5)


@given(st.floats(-3e-3, 3e-3), TEMPERATURE, TEMPERATURE, st.floats(8e-6, 2e-5), st.floats(1.9, 2.2))
def test_a_gauge_on_a_stressed_warm_bar_gives_both_strains_back(
    stressed, now, zero, expansion, factor
):
    # The grid shows the stress strain and the card's curve moved to this bar's expansion.
    card = fahrenheit_card()
    curve = [sum(c * (32 + 1.8 * t) ** n for n, c in enumerate(PRINTED)) for t in (now, zero)]
    shown = stressed + (curve[0] - curve[1]) * 1e-6 * 2.0 / factor
    shown += (expansion - 10.8e-6) * (now - zero)
    added = card.change(now, zero, gauge_factor=factor, thermal_expansion=expansion)
    found = thermal.mechanical_strain(shown, added)
    assert found == pytest.approx(stressed, abs=1e-14)
    # A dummy of the same lot, unstressed, does it without the card.
    dummy = shown - stressed
    by_dummy = thermal.mechanical_strain_by_dummy(shown, dummy)
    assert by_dummy == pytest.approx(stressed, abs=1e-15)
    total = thermal.total_strain(found, expansion, now, zero)
    assert total == pytest.approx(stressed + expansion * (now - zero), abs=1e-14)
    back = thermal.mechanical_strain_of_total(total, expansion, now, zero)
    assert back == pytest.approx(stressed, abs=1e-14)


def test_a_bar_held_at_its_length_has_no_total_strain_and_all_of_the_stress():
    held = thermal.mechanical_strain_of_total(0.0, 12e-6, 50.0, 20.0)
    assert held == pytest.approx(-360e-6)


def test_every_fault_of_a_card_is_told_at_once():
    with pytest.raises(Faults) as caught:
        fahrenheit_card(
            [np.nan],
            (100.0, 0.0),
            temperature_unit=MICRO,
            strain_unit=FAHRENHEIT,
            stated_gauge_factor=0.0,
        )
    names = [fault.name for fault in caught.value.faults]
    assert names == [
        "numbers of the card",
        "temperature_unit",
        "strain_unit",
        "stated_gauge_factor",
        "span",
    ]


@pytest.mark.parametrize(
    ("temperatures", "outputs", "words"),
    [
        ([20.0], [0.0], "two rows"),
        ([20.0, 30.0], [0.0], "two rows"),
        ([20.0, 20.0], [0.0, 1.0], "rising"),
        ([20.0, 30.0], [0.0, np.nan], "finite"),
    ],
)
def test_a_table_that_is_none_is_refused(temperatures, outputs, words):
    with pytest.raises(InputError, match=words):
        thermal.thermal_output_of_table(
            temperatures, outputs, temperature_unit=CELSIUS, strain_unit=MICRO, **CARD
        )
