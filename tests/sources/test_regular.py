"""The fast path and the careful path say the same of every stretch of lines."""

import numpy as np
import polars as pl
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from gaugewright.sources import regular
from gaugewright.sources.layout import BLANKS, Clock, Column, Layout, Marker
from gaugewright.sources.lines import Cells, parse_lines

STAMP = Clock("stamp", (0,), pattern="yyyy-mm-dd hh:mm:ss.f")


def layout(
    delimiter: str = ";", decimal: str = ",", roles: str = "vvv", clock: Clock | None = None, **more
) -> Layout:
    names = {"v": "value", "t": "time", "x": "text", "e": "empty"}
    columns = tuple(Column(f"col {i}", names[role]) for i, role in enumerate(roles))
    return Layout(columns, delimiter, clock or Clock(), decimal=decimal, **more)


def told(pieces: list[regular.Piece]) -> tuple:
    """Everything pieces say, in a form that can be compared."""
    rows, marks, problems = [], [], []
    first = 0
    for piece in pieces:
        frame = piece.frame.drop("row")
        rows += [tuple("nan" if v is None else v for v in row) for row in frame.rows()]
        if not frame.width:
            rows += [()] * piece.frame.height
        for mark in piece.marks:
            for row, text, code in zip(mark.rows.tolist(), mark.texts, mark.codes, strict=True):
                marks.append((mark.column, row + first, text, code))
        problems += piece.problems
        first += piece.frame.height
    return (
        rows,
        sorted(marks),
        problems,
        sum(p.blank for p in pieces),
        sum(p.comments for p in pieces),
    )


def careful(data: bytes, given_layout: Layout, **more) -> regular.Piece:
    return regular.from_rows(
        parse_lines(data, 1, given_layout, **more), given_layout, Cells(given_layout)
    )


def fast(data: bytes, given_layout: Layout) -> regular.Piece | None:
    return regular._regular(data, given_layout, Cells(given_layout))


CELLS = """
0 1 -1 +2 007 1,5 -1,5 1.5 .5 ,5 5. 5, 1e5 1E-05 1,5e+3 1e999 -1e999 1e-999 9.9E37 9,9E37 1.234
1.234,5 1,234.5 1_000 0x1F \u0663 1e 1e+ + - -- --- NaN nan -nan inf -inf Infinity +OVER OVERRANGE
"1"
"1,5" "" "OVL" "a""b" 1"2 **** #### n/a #N/A null abc 1,5abc 12abc 1,5,6 1.5.6 32767 1d5 1'000
true
"""
numbers = st.sampled_from(CELLS.split())
odd = st.text(st.characters(exclude_characters="\n"), max_size=6)
padding = st.sampled_from(["", "", "", " ", "  ", "\t"])
cell = st.tuples(padding, st.one_of(numbers, numbers, numbers, st.just(""), odd), padding)


@st.composite
def stretches(draw: st.DrawFn, roles: str, delimiter: str) -> bytes:
    """Lines that are mostly regular, with everything that goes wrong in files."""
    ends = draw(st.sampled_from(["\n", "\r\n", "\n"]))
    lines = []
    for _ in range(draw(st.integers(1, 12))):
        kind = draw(st.integers(0, 30))
        if kind == 0:
            line = draw(odd)
        elif kind == 1:
            line = draw(
                st.sampled_from(["", " ", "# note", "\x00\x00", "\x1a", "a;b;c", '"1";2;3'])
            )
        else:
            cells = draw(st.lists(cell, min_size=len(roles), max_size=len(roles)))
            line = delimiter.join("".join(parts) for parts in cells)
        lines.append(line + ends)
    return "".join(lines).encode("utf-8", errors="replace")


@pytest.mark.parametrize("decimal", [",", "."])
@pytest.mark.parametrize("delimiter", [";", "\t", "|"])
@pytest.mark.parametrize("roles", ["vvv", "v", "xve", "tvx"])
@given(data=st.data())
def test_both_paths_agree_whenever_the_fast_one_answers(data, roles, delimiter, decimal) -> None:
    clock = STAMP if "t" in roles else None
    rules = layout(
        delimiter,
        decimal,
        roles,
        clock,
        comment="#",
        numeric_markers=(Marker("9.9E37", "overrange"), Marker("32767")),
    )
    text = data.draw(stretches(roles, delimiter))
    quick = fast(text, rules)
    if quick is not None:
        assert told([quick]) == told([careful(text, rules)])


@given(data=st.data())
def test_cutting_a_stretch_into_pieces_changes_nothing(data) -> None:
    rules = layout(comment="#")
    text = data.draw(stretches("vvv", ";"))
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(regular, "SMALL", 4)
        cut = regular.pieces(text, 1, rules, Cells(rules))
    assert told(cut) == told([careful(text, rules)])


@given(st.lists(st.lists(st.floats(allow_nan=False, allow_infinity=False), min_size=3, max_size=3)))
def test_regular_numbers_take_the_fast_path_and_come_back_to_the_last_bit(rows) -> None:
    text = "".join(";".join(repr(v).replace(".", ",") for v in row) + "\n" for row in rows)
    quick = fast(text.encode(), layout())
    if not rows:
        return
    assert quick is not None
    assert quick.marks == []
    assert quick.frame.drop("row").rows() == [tuple(row) for row in rows]


@pytest.mark.parametrize("ends", ["\n", "\r\n"])
def test_blanks_and_tabs_in_any_number_divide_fields(ends: str) -> None:
    text = ends.join(["  1.5   2\t 3", "4 5 6  ", "7 8"]).encode() + ends.encode()
    rules = layout(BLANKS, ".")
    quick = fast(text[: text.index(b"7")], rules)
    assert quick is not None
    assert quick.frame.drop("row").rows() == [(1.5, 2, 3), (4, 5, 6)]
    slow = careful(text, rules)
    assert slow.frame.drop("row").rows() == [(1.5, 2, 3), (4, 5, 6)]
    assert [problem.line for problem in slow.problems] == [3]


def test_short_lines_are_never_padded_with_nulls() -> None:
    rules = layout()
    assert fast(b"1;2;3\n1;2\n1;2;3;4\n", rules) is None  # seven delimiters, as if regular
    slow = careful(b"1;2;3\n1;2\n1;2;3;4\n", rules)
    assert [p.what for p in slow.problems] == [
        "2 fields instead of 3",
        "4 fields instead of 3",
    ]


@example("1.234")
@given(st.from_regex(r"[0-9]{1,3}\.[0-9]{3}", fullmatch=True))
def test_a_point_in_a_decimal_comma_file_is_never_read_as_a_decimal_mark(text: str) -> None:
    data = f"{text};1;2\n".encode()
    assert fast(data, layout()) is None
    assert careful(data, layout()).marks[0].codes == ["unreadable"]
    grouped = layout(thousands=".")
    if text.startswith("0"):  # no number that is written in groups begins with a zero
        assert careful(data, grouped).marks[0].codes == ["unreadable"]
    else:
        assert careful(data, grouped).frame["c0"].to_list() == [float(text.replace(".", ""))]


def test_points_of_a_time_stamp_do_not_stop_the_fast_path() -> None:
    rules = layout(roles="tvv", clock=Clock("stamp", (0,), pattern="dd.mm.yyyy hh:mm:ss.f"))
    quick = fast(b"11.04.2022 08:36:25.984;1,5;2\n", rules)
    assert quick is not None
    assert quick.frame.drop("row").rows() == [("11.04.2022 08:36:25.984", 1.5, 2.0)]


def test_broken_utf8_in_a_text_column_is_spelled_out() -> None:
    rules = layout(roles="xvv")
    pieces = regular.pieces(b"\xb0C;1;2\n", 1, rules, Cells(rules))
    assert pieces[0].frame["c0"].to_list() == ["\\xb0C"]


def test_only_the_neighbourhood_of_an_odd_line_is_read_line_by_line(monkeypatch) -> None:
    lines = [f"{i};{i}.5;{-i}\n".replace(".", ",") for i in range(60_000)]
    lines[30_000] = "1;2\n"
    rules = layout()
    seen: list[int] = []

    def counted(data: bytes, first: int, *args, **more):
        seen.append(data.count(b"\n"))
        return parse_lines(data, first, *args, **more)

    monkeypatch.setattr(regular, "parse_lines", counted)
    pieces = regular.pieces("".join(lines).encode(), 1, rules, Cells(rules))
    assert sum(seen) < 6_000
    assert sum(piece.frame.height for piece in pieces) == 59_999
    assert [p.line for piece in pieces for p in piece.problems] == [30_001]
    values = pl.concat([piece.frame for piece in pieces])["c1"].to_numpy()
    assert np.array_equal(values, np.delete(np.arange(60_000) + 0.5, 30_000))


def test_a_no_break_blank_inside_a_cell_divides_nothing() -> None:
    rules = layout(BLANKS, ",", roles="vv")
    data = "1\N{NO-BREAK SPACE}234,5 2\n".encode()
    for piece in (fast(data, rules), careful(data, rules)):
        assert piece is not None
        assert piece.frame.drop("row").rows() == [(None, 2.0)]
        assert piece.marks[0].texts == ["1\N{NO-BREAK SPACE}234,5"]


def test_odd_lines_are_cut_out_whatever_makes_them_odd() -> None:
    clean = "1,5;2;3\n" * 3000
    odd = ["1;2\n", '"1";2;3\n', "# note\n", "\x00\n", "a;b;c\n", "\x1a\n", "1;2\r;3\n", "\n"]
    data = "".join(clean + line for line in odd).encode()
    rules = layout(comment="#", head_texts=("a;b;c",))
    found = regular.pieces(data, 1, rules, Cells(rules))
    assert told(found) == told([careful(data, rules)])
    assert sorted({piece.frame.height for piece in found}) == [0, 1, 3000]


@pytest.mark.parametrize("ends", ["\n", "\r\n"])
def test_quotes_around_plain_fields_do_not_stop_the_fast_path(ends: str) -> None:
    data = f'"1,5";2;"OVL"{ends}"";"-3";4{ends}'.encode()
    quick = fast(data, layout())
    assert quick is not None
    assert told([quick]) == told([careful(data, layout())])


@pytest.mark.parametrize(
    "line", ['"1;2";3', '"1;2";3;4', '"1""2";3;4', '"1"2;3;4', '1"2";3;4', '" 1 ";2;3', '"1;2;3']
)
def test_quotes_that_mean_more_are_left_to_the_careful_path(line: str) -> None:
    assert fast(f"{line}\n".encode(), layout()) is None
