import math
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gaugewright.errors import InputError
from gaugewright.present.numbers import (
    MINUS,
    THIN,
    Shown,
    decimal_place,
    fixed_text,
    quantity_text,
    shown,
    significant_text,
)

RULES = [
    # rule, value, plus_minus, value as shown, plus_minus as shown
    ("two digits of uncertainty", 163.9, 0.8, "163.90", "0.80"),
    ("value to the same place", 2676.44, 25.2, "2~676", "25"),
    ("nearest, below the half", 28.049, 28.05e-3, "28.049", "0.028"),
    ("nearest, above the half", 10.0, 0.1047, "10.00", "0.10"),
    ("a half of uncertainty goes up", 5.0, 0.125, "5.00", "0.13"),
    ("a half of the value goes to the even digit below", 2.125, 0.25, "2.12", "0.25"),
    ("a half of the value goes to the even digit above", 2.375, 0.25, "2.38", "0.25"),
    ("carry keeps two digits", 7.0, 0.0996, "7.00", "0.10"),
    ("carry into tens", 700.4, 9.96, "700", "10"),
    ("uncertainty of hundreds", 5678.0, 1234.0, "5~700", "1~200"),
    ("uncertainty larger than the value", 0.4, 3.7, "0.4", "3.7"),
    ("true minus", -12345.6, 78.9, "-12~346", "79"),
    ("zero has no sign", -0.04, 1.2, "0.0", "1.2"),
    ("thousands on the left only", 1234.56789, 0.00012, "1~234.56789", "0.00012"),
    ("millions", 1234567.0, 1000.0, "1~234~600", "1~000"),
]


def typeset(text: str) -> str:
    return text.replace("~", THIN).replace("-", MINUS)


@pytest.mark.parametrize(("rule", "value", "doubt", "text", "doubt_text"), RULES)
def test_each_rounding_rule(rule, value, doubt, text, doubt_text):
    number = shown(value, doubt, "u")
    assert (number.value, number.plus_minus) == (typeset(text), typeset(doubt_text)), rule


@given(
    value=st.floats(-1e8, 1e8),
    doubt=st.floats(1e-6, 1e8),
)
def test_the_text_is_within_half_a_digit_of_the_number(value, doubt):
    number = shown(value, doubt)
    place = Fraction(10) ** -decimal_place(doubt)
    read = Fraction(number.value.replace(THIN, "").replace(MINUS, "-"))
    read_doubt = Fraction(number.plus_minus.replace(THIN, ""))
    assert (
        abs(read - Fraction(value))
        <= place / 2 * (1 + Fraction(1, 10**9)) + abs(Fraction(value)) / 10**15
    )
    assert abs(read_doubt - Fraction(doubt)) <= place / 2 * (1 + Fraction(1, 10**9))
    assert 10 <= read_doubt / place <= 99 or read_doubt / place == 100 // 10


@given(doubt=st.floats(1e-6, 1e8))
def test_rounding_never_lowers_an_uncertainty_by_more_than_a_twentieth(doubt):
    text = shown(0.0, doubt).plus_minus.replace(THIN, "")
    assert float(text) >= 0.95 * doubt


@pytest.mark.parametrize("doubt", [0.0, -1.0, math.nan, math.inf])
def test_an_uncertainty_that_is_no_number_is_refused_by_name(doubt):
    with pytest.raises(InputError, match=r"^plus_minus is .*; it must be a positive number"):
        shown(1.0, doubt)


@pytest.mark.parametrize("value", [math.nan, math.inf])
def test_a_missing_value_is_never_written_as_a_number(value):
    for write in (
        lambda: shown(value, 1.0),
        lambda: fixed_text(value, 1),
        lambda: significant_text(value),
    ):
        with pytest.raises(InputError, match=r"^value is .*; it must be a finite number"):
            write()


def test_three_digits_of_uncertainty_are_refused():
    with pytest.raises(InputError, match="1 or 2"):
        decimal_place(0.5, digits=3)


def test_number_doubt_and_unit_can_not_be_parted_by_a_line_break():
    assert quantity_text(163.9, 0.8, "kN") == "163.90\xa0±\xa00.80\xa0kN"


def test_without_uncertainty_nothing_is_claimed():
    assert shown(2.0750, None) == Shown("2.075")


def test_a_plus_is_written_only_where_the_sign_matters():
    assert fixed_text(3.0, 1) == "3.0"
    assert fixed_text(3.0, 1, sign=True) == "+3.0"
    assert fixed_text(0.0, 1, sign=True) == "0.0"
