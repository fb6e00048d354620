"""Cells of tables for other programs: no text becomes a formula, no number is changed."""

import csv
import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gaugewright.present.cells import csv_text, safe_cell


@pytest.mark.parametrize(
    "text",
    [
        "=1+1",
        "+A1",
        "-A1",
        "@SUM(A1)",
        '=HYPERLINK("http://example.invalid")',
        "\t=1",
        "\r=1",
        "\n=1",
        "  =1+1",
        "\N{NO-BREAK SPACE}=1",
        "\N{ZERO WIDTH SPACE}=1",
        "\N{BYTE ORDER MARK}=1",
        "\N{FULLWIDTH EQUALS SIGN}1",
        "\N{FULLWIDTH COMMERCIAL AT}A1",
        "-1+cmd",
        "-",
    ],
)
def test_what_would_begin_a_formula_is_marked_as_text(text: str) -> None:
    assert safe_cell(text) == "'" + text


@pytest.mark.parametrize("text", ["", "G07", "-12.5", "+3", "1e-5", "-,5", "a=b", "5 - 3", "'=1"])
def test_what_is_no_formula_stays_as_it_was(text: str) -> None:
    assert safe_cell(text) == text


@given(st.text())
def test_no_text_begins_with_a_sign_of_a_formula_unless_it_is_a_number(text: str) -> None:
    made = safe_cell(text)
    if made[:1] in ("=", "+", "-", "@"):
        float(made.replace(",", "."))


@given(st.lists(st.tuples(st.integers(), st.floats(allow_infinity=False)), max_size=5))
def test_numbers_come_back_to_the_last_bit_and_missing_ones_as_nothing(
    rows: list[tuple[int, float]],
) -> None:
    read = list(csv.reader(io.StringIO(csv_text(["row", "value"], rows), newline="")))
    assert read[0] == ["row", "value"]
    for (row, value), (row_text, value_text) in zip(rows, read[1:], strict=True):
        assert int(row_text) == row
        assert value_text == "" if value != value else float(value_text) == value
