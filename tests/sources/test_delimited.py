"""Files written by other hands, in many dialects, come back number for number."""

import csv
import json
import math
import random
from pathlib import Path

import numpy as np
import polars as pl
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from gaugewright.errors import FileError, GaugewrightError, InputError
from gaugewright.sources import delimited, stream
from gaugewright.sources.delimited import Clock, Column, Layout, Marker

EASY = settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=60)


def written(folder: Path, text: str | bytes, name: str = "file.csv", encoding="utf-8") -> Path:
    path = folder / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode(encoding))
    return path


def table(path: Path, layout: Layout, **more) -> tuple[pl.DataFrame, delimited.Reading]:
    reading = delimited.read(path, layout, **more)
    blocks = list(reading)
    assert reading.report.accounted
    assert [block.first_row for block in blocks] == np.cumsum(
        [0, *[block.rows for block in blocks]]
    )[: len(blocks)].tolist()
    return pl.concat([block.values for block in blocks]), reading


def two_columns(**more) -> Layout:
    columns = (Column("t", "time", "s"), Column("strain", "value", "um/m"))
    given_more = {"delimiter": ";", "clock": Clock("elapsed", (0,)), **more}
    return Layout(columns, **given_more)


@EASY
@given(
    st.lists(
        st.tuples(st.floats(-1e6, 1e6), st.floats(-1e9, 1e9), st.floats(-1, 1)),
        min_size=3,
        max_size=40,
    ),
    st.sampled_from([";", "\t", ",", "|"]),
    st.sampled_from([".", ","]),
    st.sampled_from(["\n", "\r\n"]),
    st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "latin-1", "utf-16-le", "utf-16-be"]),
    st.sampled_from([csv.QUOTE_MINIMAL, csv.QUOTE_ALL]),
)
def test_numbers_written_with_another_writer_come_back_to_the_last_bit(
    tmp_path, rows, delimiter, decimal, ends, encoding, quoting
) -> None:
    path = tmp_path / "any.csv"
    with path.open("w", encoding=encoding, newline="") as file:
        writer = csv.writer(file, delimiter=delimiter, lineterminator=ends, quoting=quoting)
        writer.writerow(["Time (s)", "Load (kN)", "Gauge µ1 (µm/m)", "Ä (°C)"])
        for i, row in enumerate(rows):
            cells = [f"{i}{decimal}25", *[repr(value).replace(".", decimal) for value in row]]
            writer.writerow(cells)
    understanding = delimited.understand(path)
    assert understanding.delimiter == delimiter
    assert understanding.decimal == decimal
    assert [column.name for column in understanding.columns] == ["Time", "Load", "Gauge µ1", "Ä"]
    units = [column.unit.name for column in understanding.columns if column.unit]
    assert units == ["s", "kN", "µm/m", "°C"]
    asked = {question.field: "none" for question in understanding.questions}
    assert set(asked) <= {"numeric_markers"}  # 9999 and the like are asked about
    values, reading = table(path, understanding.layout(**asked))
    assert values.rows() == rows
    assert reading.report.rows_kept == len(rows)


@EASY
@given(st.binary(max_size=400))
def test_no_bytes_make_understanding_or_reading_crash_or_lose_a_line(tmp_path, data) -> None:
    path = written(tmp_path, data)
    reading = delimited.read(path, two_columns(comment="#"))
    kept = sum(block.rows for block in reading)
    report = reading.report
    counted = data.removeprefix(b"\xef\xbb\xbf")
    expected = counted.count(b"\n") + (counted != b"" and not counted.endswith(b"\n"))
    assert report.lines == expected
    assert kept == report.rows_kept
    assert report.accounted
    try:
        understanding = delimited.understand(path)
    except FileError:
        return
    assert understanding.columns


ugly_line = st.one_of(
    st.tuples(st.integers(0, 99), st.floats(-1e3, 1e3)).map(lambda row: f"{row[0]};{row[1]!r}"),
    st.sampled_from(
        [
            "",
            ";",
            "1;2;3",
            "1;OVERRANGE",
            "2;---",
            "t;strain",
            "\x00\x00\x00",
            '"1";"2"',
            '"1;2',
            "\x1a",
        ]
    ),
    st.text(max_size=8),
)


@EASY
@given(st.lists(ugly_line, max_size=40), st.booleans(), st.integers(1, 9), st.integers(8, 64))
def test_rows_in_are_rows_kept_and_rows_reported(
    tmp_path, lines, open_end, block_rows, piece
) -> None:
    text = "\n".join(lines) + ("" if open_end else "\n")
    path = written(tmp_path, text.encode("utf-8", errors="replace"))
    layout = two_columns(head_texts=("t;strain",))
    whole = delimited.read(path, layout)
    blocks = list(whole)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(stream, "PIECE_BYTES", piece)
        cut = delimited.read(path, layout, block_rows=block_rows)
        small = list(cut)
    assert cut.report == whole.report
    assert all(block.rows == block_rows for block in small[:-1])
    numbers = [row for block in blocks for row in block.values.rows()]
    assert [row for block in small for row in block.values.rows()] == numbers
    listed = [problem for block in blocks for problem in block.problems]
    assert [problem for block in small for problem in block.problems] == listed
    assert len(listed) == whole.report.rows_reported
    nulls = sum(row[0] is None for row in numbers)
    marked = sum(m.cells for block in small for m in block.marks if m.column == "strain")
    assert nulls == marked  # no null without a reason, no reason without a null


def test_every_kind_of_line_is_named_with_its_number(tmp_path) -> None:
    text = (
        't;strain\n0;1.5\n1\n\n2;3;4\nt;strain\n# restarted\n3;\x00\x00\n4;2.5\n"5;1\n5;9.9E37\n'
        "6;1e999\n7;\n8;broken\n9;1\n\x1a\n10"
    )
    layout = two_columns(
        first_data_row=2,
        comment="#",
        head_texts=("t;strain",),
        numeric_markers=(Marker("9.9E37", "overrange"),),
    )
    reading = delimited.read(written(tmp_path, text), layout)
    [block] = list(reading)
    assert [(p.line, p.what) for p in block.problems] == [
        (3, "1 fields instead of 2"),
        (5, "3 fields instead of 2"),
        (6, "head repeated"),
        (8, "NUL bytes"),
        (10, "quote left open"),
        (16, "end-of-file sign"),
        (17, "last line cut short"),
    ]
    assert all(p.expected for p in block.problems)
    assert block.values["strain"].to_list() == [1.5, 2.5, None, None, None, None, 1.0]
    assert [(m.first_row, m.code, m.text) for m in block.marks] == [
        (2, "overrange", "9.9E37"),
        (3, "out_of_float", "1e999"),
        (4, "empty", ""),
        (5, "unreadable", "broken"),
    ]
    report = reading.report
    assert (report.lines, report.rows_kept, report.rows_reported) == (16, 7, 7)
    assert (report.blank_lines, report.comment_lines, report.last_line_open) == (1, 1, True)
    assert report.marks == {
        "strain": {"overrange": 1, "out_of_float": 1, "empty": 1, "unreadable": 1}
    }


def test_a_number_marks_no_reading_only_when_declared(tmp_path) -> None:
    path = written(tmp_path, "t;strain\n" + "".join(f"{i};32767\n" for i in range(5)))
    values, _ = table(path, two_columns(first_data_row=2))
    assert values["strain"].to_list() == [32767.0] * 5
    declared = two_columns(first_data_row=2, numeric_markers=(Marker("32767", "overrange"),))
    values, reading = table(path, declared)
    assert values["strain"].to_list() == [None] * 5
    assert reading.report.marks == {"strain": {"overrange": 5}}


def test_a_run_of_marks_is_cut_at_the_border_of_a_block_and_nowhere_else(tmp_path) -> None:
    path = written(tmp_path, "".join(f"{i};{'OVL' if 3 <= i < 12 else i}\n" for i in range(20)))
    blocks = list(delimited.read(path, two_columns(), block_rows=8))
    marks = [[(m.first_row, m.last_row) for m in block.marks] for block in blocks]
    assert marks == [[(3, 7)], [(8, 11)], []]


def test_a_line_of_nul_bytes_of_any_length_is_one_problem(tmp_path, monkeypatch) -> None:
    monkeypatch.setattr(stream, "LONGEST_LINE", 1000)
    monkeypatch.setattr(stream, "PIECE_BYTES", 300)
    path = written(tmp_path, b"0;1\n1;2\n" + b"\x00" * 50_000 + b"\n3;4\n")
    reading = delimited.read(path, two_columns())
    blocks = list(reading)
    assert [p.line for block in blocks for p in block.problems] == [3]
    assert [row[0] for block in blocks for row in block.values.rows()] == [1.0, 2.0, 4.0]
    assert all(len(p.text) <= 200 for block in blocks for p in block.problems)
    assert reading.report.lines == 4


def test_multibyte_signs_survive_any_cut_of_the_stream(tmp_path, monkeypatch) -> None:
    columns = (Column("t", "time", "s"), Column("note", "text"))
    text = "".join(f"{i};°µε日本{i}\r\n" for i in range(50))
    for encoding in ("utf-8", "utf-16", "utf-16-be", "shift_jis"):
        if encoding == "shift_jis":
            text = text.replace("µ", "μ").replace("ε", "e")
        path = written(tmp_path, text, encoding=encoding)
        for piece in (1, 2, 3, 7, 64):
            monkeypatch.setattr(stream, "PIECE_BYTES", piece)
            layout = Layout(columns, ";", Clock("elapsed", (0,)), encoding=encoding)
            notes = [n for b in delimited.read(path, layout) for n in b.texts["note"].to_list()]
            assert notes == [line.split(";")[1] for line in text.split("\r\n")[:-1]]


def test_lines_ended_by_carriage_returns_alone_are_lines(tmp_path) -> None:
    path = written(tmp_path, "t (s);strain (um/m)\r0;1,5\r1;2,5\r2;3,5\r")
    understanding = delimited.understand(path)
    values, _ = table(path, understanding.layout())
    assert values["strain"].to_list() == [1.5, 2.5, 3.5]


def test_memory_does_not_grow_with_the_file(tmp_path, monkeypatch) -> None:
    monkeypatch.setattr(stream, "PIECE_BYTES", 1 << 14)
    path = written(tmp_path, "".join(f"{i};{i}.5\n" for i in range(60_000)))
    sizes: list[int] = []
    steps: list[tuple[int, int]] = []
    for block in delimited.read(
        path, two_columns(), block_rows=1000, progress=lambda *p: steps.append(p)
    ):
        sizes.append(block.rows)
    assert set(sizes) == {1000}
    assert [done for done, _ in steps] == sorted(done for done, _ in steps)
    assert steps[-1] == (path.stat().st_size, path.stat().st_size)
    assert len(steps) > 30


def test_elapsed_time_is_from_the_column_not_from_the_row_count(tmp_path) -> None:
    path = written(tmp_path, "5,5;1\n5,502;2\n30,5;3\nbad;4\n31;5\n")
    reading = delimited.read(path, two_columns(decimal=","))
    [block] = list(reading)
    assert block.elapsed_ns.to_list() == [0, 2_000_000, 25_000_000_000, None, 25_500_000_000]
    assert block.times["t"].to_list() == [5.5, 5.502, 30.5, None, 31.0]
    assert reading.report.rows_without_time == 1
    assert [(m.column, m.text) for m in block.marks] == [("t", "bad")]


def test_rows_stay_in_file_order_when_the_clock_steps_back(tmp_path) -> None:
    text = "10:00:00.1;1\n10:00:00.0;2\n10:00:01.0;3\n09:59:58.0;4\n"
    layout = Layout(
        (Column("clock", "time"), Column("a")), ";", Clock("stamp", (0,), pattern="hh:mm:ss.f")
    )
    values, reading = table(written(tmp_path, text), layout)
    assert values["a"].to_list() == [1, 2, 3, 4]
    assert reading.report.steps_back == 2
    assert reading.report.largest_step_back_ns == 3_000_000_000
    assert "2 of 3 steps" in reading.report.findings()[0]


def test_seconds_of_an_old_epoch_give_the_instant_of_the_first_row(tmp_path) -> None:
    # 3 786 912 000 s after 1904-01-01 is 2024-01-01: 43 830 days, counted in a calendar.
    path = written(tmp_path, "3786912000.0;1\n3786912000.5;2\n")
    clock = Clock("epoch", (0,), epoch="1904-01-01", zone="UTC")
    reading = delimited.read(path, two_columns(clock=clock))
    [block] = list(reading)
    assert reading.report.start_utc == "2024-01-01T00:00:00.000000Z"
    assert block.elapsed_ns.to_list() == [0, 500_000_000]
    east = Clock("epoch", (0,), epoch="1904-01-01", zone="+02:00")
    reading = delimited.read(path, two_columns(clock=east))
    list(reading)
    assert reading.report.start_utc == "2023-12-31T22:00:00.000000Z"


def test_days_of_a_spreadsheet_epoch(tmp_path) -> None:
    path = written(tmp_path, "45292.5;1\n45292.75;2\n")  # day 45 292 after 1899-12-30: 2024-01-01
    clock = Clock("epoch", (0,), unit="d", epoch="1899-12-30", zone="UTC")
    reading = delimited.read(path, two_columns(clock=clock))
    [block] = list(reading)
    assert reading.report.start_utc == "2024-01-01T12:00:00.000000Z"
    assert block.elapsed_ns.to_list() == [0, 6 * 3600 * 10**9]


def test_without_a_time_column_the_rate_or_nothing_is_known(tmp_path) -> None:
    path = written(tmp_path, "1\n2\n3\n")
    columns = (Column("a"),)
    [block] = list(delimited.read(path, Layout(columns, ";", Clock())))
    assert block.elapsed_ns.to_list() == [None] * 3
    rate = Layout(columns, ";", Clock("rate", rate_hz=1024.0))
    [block] = list(delimited.read(path, rate))
    assert block.elapsed_ns.to_list() == [0, 976_562, 1_953_125]  # 976 562.5 rounds to even


def test_a_row_lost_from_an_evenly_sampled_file_is_said_to_shift_time(tmp_path) -> None:
    path = written(tmp_path, "1;2\n1\n3;4\n")
    layout = Layout((Column("a"), Column("b")), ";", Clock("rate", rate_hz=10.0))
    reading = delimited.read(path, layout)
    list(reading)
    assert any("shifts" in words for words in reading.report.findings())


def test_a_layout_survives_json() -> None:
    layout = two_columns(
        thousands=".",
        decimal=",",
        numeric_markers=(Marker("1E+30", "overrange"),),
        head_texts=("t;strain",),
        clock=Clock("stamp", (0,), pattern="dd.mmm.yy hh:mm", months=tuple("abcdefghijkl")),
    )
    assert Layout.from_plain(json.loads(json.dumps(layout.as_plain()))) == layout
    odd_words = two_columns(text_markers=(Marker("kaputt", "error"),))
    assert Layout.from_plain(json.loads(json.dumps(odd_words.as_plain()))) == odd_words


@pytest.mark.parametrize(
    ("change", "name"),
    [
        ({"delimiter": ";;"}, "delimiter"),
        ({"decimal": "x"}, "decimal"),
        ({"thousands": "."}, "thousands"),
        ({"encoding": "klingon"}, "encoding"),
        ({"first_data_row": 0}, "first_data_row"),
        ({"clock": Clock("elapsed", (7,))}, "clock columns"),
        ({"clock": Clock("elapsed", (1,))}, "role of the clock's column"),
        ({"numeric_markers": (Marker("OVER"),)}, "numeric marker"),
        ({"line_end": "x"}, "line_end"),
    ],
)
def test_an_impossible_layout_is_refused_by_name(change, name) -> None:
    with pytest.raises(InputError, match=f"^{name} is "):
        two_columns(**change)


def test_two_columns_of_one_name_are_refused_in_a_layout() -> None:
    with pytest.raises(InputError, match="different from each other"):
        Layout((Column("a"), Column("a")), ";", Clock())


def test_a_plain_layout_with_a_strange_field_is_refused() -> None:
    plain = two_columns().as_plain()
    with pytest.raises(InputError, match="colour"):
        Layout.from_plain({**plain, "colour": "blue"})
    with pytest.raises(InputError, match="clock"):
        Layout.from_plain({**plain, "clock": {"tick": 1}})


def test_a_missing_file_and_an_empty_file_are_named(tmp_path) -> None:
    with pytest.raises(FileError, match=r"gone\.csv: isn't there"):
        delimited.read(tmp_path / "gone.csv", two_columns())
    with pytest.raises(FileError, match=r"file\.csv: holds no text"):
        delimited.understand(written(tmp_path, b""))
    assert list(delimited.read(tmp_path / "file.csv", two_columns())) == []


def test_a_layout_that_does_not_fit_keeps_nothing_and_says_so(tmp_path) -> None:
    path = written(tmp_path, "a,b,c\nd,e,f\n")
    reading = delimited.read(path, two_columns())
    [block] = list(reading)
    assert block.rows == 0
    assert len(block.problems) == 2
    assert "doesn't fit" in reading.report.findings()[0]


@pytest.mark.full
def test_random_damage_never_loses_a_line(tmp_path) -> None:
    """A regular file with bytes overwritten, dropped and doubled at random places."""
    rng = random.Random(20_261_125)
    rows = [f"{i * 0.01:.2f};{rng.gauss(0, 100):.4f}\r\n" for i in range(2000)]
    clean = "".join(rows).encode()
    for _ in range(300):
        data = bytearray(clean)
        for _ in range(rng.randrange(1, 20)):
            place = rng.randrange(len(data))
            kind = rng.randrange(3)
            if kind == 0:
                data[place] = rng.randrange(256)
            elif kind == 1:
                del data[place : place + rng.randrange(50)]
            else:
                data[place:place] = data[place : place + rng.randrange(50)]
        path = written(tmp_path, bytes(data))
        reading = delimited.read(path, two_columns())
        for block in reading:
            nulls = block.values["strain"].null_count()
            marks = sum(m.cells for m in block.marks if m.column == "strain")
            assert nulls == marks
            assert not any(math.isnan(v) for (v,) in block.values.rows() if v is not None)
        assert reading.report.lines == data.count(b"\n") + (not data.endswith(b"\n"))
        assert reading.report.accounted


def test_errors_of_the_importer_are_of_our_own_kinds() -> None:
    assert issubclass(FileError, GaugewrightError)
    assert issubclass(InputError, GaugewrightError)
