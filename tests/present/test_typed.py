"""Numbers as people type them: either decimal sign, either unit, nothing guessed."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gaugewright.errors import InputError
from gaugewright.present.typed import number_typed, quantity_typed, text_to_type

THIN = "\N{NARROW NO-BREAK SPACE}"


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("12.5", 12.5),
        ("12,5", 12.5),
        (" 12,5 ", 12.5),
        ("+3", 3.0),
        ("-3,25", -3.25),
        ("\N{MINUS SIGN}3.25", -3.25),
        (".5", 0.5),
        (",5", 0.5),
        ("5.", 5.0),
        ("5,", 5.0),
        ("0,125", 0.125),  # no thousands begin with nought
        ("00,125", 0.125),
        ("2.075", 2.075),  # a point is always the decimal sign
        ("1234,567", 1234.567),  # four digits before it: can't be a group
        ("1,23", 1.23),
        ("1,2345", 1.2345),
        ("1.234,5", 1234.5),
        ("1,234.5", 1234.5),
        ("1,234,567", 1_234_567.0),
        ("1.234.567", 1_234_567.0),
        ("12 345", 12_345.0),
        (f"12{THIN}345{THIN}678.9", 12_345_678.9),
        ("12'345", 12_345.0),
        ("12 345,6", 12_345.6),
        ("1e-3", 0.001),
        ("1,5e3", 1500.0),
        ("1.5E+3", 1500.0),
        ("2×10^3", 2000.0),
        ("3/8", 0.375),
        ("1 3/8", 1.375),
        ("-1 1/2", -1.5),
    ],
)
def test_a_number_is_read_as_a_person_means_it(text: str, value: float) -> None:
    assert number_typed("length", text) == value


@pytest.mark.parametrize("text", ["1,234", "12,345", "999,000", "-1,234", "+1,234"])
def test_a_comma_that_may_part_thousands_is_refused_with_both_ways_to_write_it(text: str) -> None:
    whole, rest = text.strip("+-").split(",")
    with pytest.raises(InputError) as caught:
        number_typed("length", text)
    assert f"write {whole}.{rest} or {whole}{rest}" in str(caught.value)
    assert str(caught.value).startswith("length is ")


@pytest.mark.parametrize(
    "text",
    [
        "",
        " ",
        "abc",
        "--5",
        "1.2.3",
        "1,2,3",
        "1,234.567,8",
        "1.23.456",
        "12 34",
        "1 2345",
        "1'23",
        "1 234'567",
        "5 mm 3",
        "1/0",
        "nan",
        "inf",
        "1e999",
        "0x10",
        "1_000",
        "१२",
        "१/२",
        "12 5,5",
        "1,5 ,5",
    ],
)
def test_what_is_no_number_is_refused_by_name(text: str) -> None:
    with pytest.raises(InputError, match=r"^length is .*; it must be "):
        number_typed("length", text)


@given(st.floats(-1e12, 1e12, allow_nan=False))
def test_a_number_written_with_a_point_or_with_a_comma_is_the_same(value: float) -> None:
    text = f"{value:.9f}"  # nine decimals: no group of three
    assert number_typed("x", text) == float(text)
    assert number_typed("x", text.replace(".", ",")) == float(text)


@given(st.integers(-(10**15), 10**15), st.sampled_from([" ", THIN, "'"]))
def test_thousands_parted_as_this_tool_shows_them_are_read_back(value: int, sign: str) -> None:
    assert number_typed("x", f"{value:,}".replace(",", sign)) == value


# Exact by definition: 1 in = 25.4 mm, 1 lbf = 4.4482216152605 N, 1 kip = 1000 lbf,
# 1 ksi = 1 kip per square inch; degC = (degF - 32) / 1.8.
@pytest.mark.parametrize(
    ("text", "quantity", "system", "value"),
    [
        ("12,5", "flat_width", "si", 0.0125),
        ("12.5 mm", "flat_width", "us", 0.0125),
        ("0.5 in", "flat_width", "si", 0.0127),
        ("0.5", "flat_width", "us", 0.0127),
        ("0,5in", "flat_width", "si", 0.0127),
        ("3/8 in", "diameter", "si", 0.009525),
        ("1 3/8", "diameter", "us", 0.034925),
        ("10", "length", "si", 10.0),
        ("10 ft", "length", "si", 3.048),
        ("10", "length", "us", 3.048),
        ("210", "elastic_modulus", "si", 210e9),
        ("100", "force", "si", 100e3),
        ("10 kip", "force", "si", 44482.216152605),
        ("10", "force", "us", 44482.216152605),
        ("1 ksi", "stress", "si", 4448.2216152605 / 0.0254**2),
        ("1500", "strain", "si", 1500e-6),
        ("1500 µε", "strain", "us", 1500e-6),
        ("20", "temperature_degc", "si", 20.0),
        ("68", "temperature_degc", "us", 20.0),
        ("68 °F", "temperature_degc", "si", 20.0),
        ("-40", "temperature_degc", "us", -40.0),
        ("2,075", "gauge_factor", "si", None),
        ("2.075", "gauge_factor", "si", 2.075),
        ("120 Ω", "resistance", "si", 120.0),
        ("100 kΩ", "resistance", "si", 100e3),
    ],
)
def test_a_quantity_is_kept_in_si_whatever_it_was_typed_in(
    text: str, quantity: str, system: str, value: float | None
) -> None:
    if value is None:
        with pytest.raises(InputError, match="two ways"):
            quantity_typed("Width", text, quantity, system)  # type: ignore[arg-type]
        return
    found = quantity_typed("Width", text, quantity, system)  # type: ignore[arg-type]
    assert found == pytest.approx(value, rel=1e-14)


@pytest.mark.parametrize("text", ["12 kN", "12 furlong", "12 mm mm", "12 V", "12 °C", "12 %"])
def test_a_unit_of_another_kind_is_refused_with_those_that_fit(text: str) -> None:
    with pytest.raises(InputError, match=r"^Width of flat is .*a number in mm, or .* such as in$"):
        quantity_typed("Width of flat", text, "flat_width")


@given(
    st.floats(-1e6, 1e6, allow_nan=False).filter(lambda value: abs(value) > 1e-9 or value == 0),
    st.sampled_from(["flat_width", "force", "stress", "temperature_degc", "strain", "length"]),
    st.sampled_from(["si", "us"]),
)
def test_what_a_field_shows_is_read_back_as_what_was_kept(
    value: float, quantity: str, system: str
) -> None:
    text = text_to_type(value, quantity, system)  # type: ignore[arg-type]
    found = quantity_typed("x", text, quantity, system)  # type: ignore[arg-type]
    assert math.isclose(found, value, rel_tol=1e-10, abs_tol=1e-9)


@given(st.text(max_size=30))
def test_whatever_is_typed_is_a_number_or_a_sentence(text: str) -> None:
    try:
        found = quantity_typed("x", text, "force")
    except InputError as error:
        told = str(error)
    else:
        told = "x is "
        assert math.isfinite(found)
    assert told.startswith("x is ")
