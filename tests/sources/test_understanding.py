"""What is understood of each kind of file met in laboratories, and what is asked instead."""

from pathlib import Path

import pytest

from gaugewright.errors import Faults, FileError, InputError
from gaugewright.sources import delimited


def written(folder: Path, text: str | bytes, encoding: str = "utf-8") -> Path:
    path = folder / "recording.txt"
    path.write_bytes(text if isinstance(text, bytes) else text.encode(encoding))
    return path


def fields(understanding: delimited.Understanding) -> list[str]:
    return [question.field for question in understanding.questions]


def values(path: Path, layout: delimited.Layout) -> list[tuple]:
    return [row for block in delimited.read(path, layout) for row in block.values.rows()]


def rows(count: int, line: str) -> str:
    return "".join(line.format(i=i, tenth=f"{i // 10},{i % 10}") for i in range(count))


def test_names_units_semicolons_and_decimal_commas(tmp_path) -> None:  # layout 1, 8
    text = "Time;Load;Strain SG1\n(s);(kN);(um/m)\n0,0;0,255;-58,5\n0,1;0,258;\n0,2;0,3;-58,1\n"
    path = written(tmp_path, text)
    seen = delimited.understand(path)
    assert fields(seen) == []
    assert (seen.delimiter, seen.decimal, seen.thousands) == (";", ",", "")
    assert (seen.names_rows, seen.units_row, seen.first_data_row) == ((1,), 2, 3)
    assert [(c.name, c.unit and c.unit.name, c.role) for c in seen.columns] == [
        ("Time", "s", "time"),
        ("Load", "kN", "value"),
        ("Strain SG1", "µm/m", "value"),
    ]
    assert [(m.text, m.count, m.code) for m in seen.markers] == [("", 1, "empty")]
    assert seen.whole
    assert values(path, seen.layout()) == [(0.255, -58.5), (0.258, None), (0.3, -58.1)]


def test_without_names_the_first_row_is_a_row(tmp_path) -> None:  # layout 2
    path = written(tmp_path, rows(50, "0.0{i:02d},1.5,-{i}.25,7\n"))
    seen = delimited.understand(path)
    assert (seen.first_data_row, seen.names_rows) == (1, ())
    assert [c.name for c in seen.columns] == ["column 1", "column 2", "column 3", "column 4"]
    # Nothing says which column is time or what any number means: all of it is asked.
    assert fields(seen) == ["clock", "unit_1", "unit_2", "unit_3", "unit_4"]
    clock = next(q for q in seen.questions if q.field == "clock")
    assert clock.choices == ("column 1", "rate", "none")
    with pytest.raises(InputError, match="unit_2: what unit is column 2"):
        seen.layout(clock="none", unit_1="um/m")
    answers = {"unit_2": "kN", "unit_3": "um/m", "unit_4": "none"}
    layout = seen.layout(clock="column 1", time_unit="s", **answers)
    assert [c.role for c in layout.columns] == ["time", "value", "value", "value"]
    assert len(values(path, layout)) == 50


def test_comments_hold_the_rate_and_nineteen_digits_are_read(tmp_path) -> None:  # layout 3
    text = "# rate 1024 Hz\n# t | in0:1 | strain\n" + rows(
        30,
        "0.{i:03d}0000000000000000e+00 -1.530000000000000000e-03 6.3078{i:02d}3000000000000e-02\n",
    )
    path = written(tmp_path, text)
    seen = delimited.understand(path)
    assert (seen.comment, seen.delimiter, seen.first_data_row) == ("#", " ", 3)
    assert seen.head_rows[0] == "# rate 1024 Hz"
    assert [c.name for c in seen.columns] == ["t", "in0:1", "strain"]
    assert "time_unit" in fields(seen)  # the file doesn't say it
    layout = seen.layout(time_unit="s", unit_2="none", unit_3="none")
    assert values(path, layout)[5] == (-1.53e-3, 6.3078053e-2)


def test_a_head_of_keys_and_values_with_as_many_commas_as_the_data(tmp_path) -> None:  # layout 4
    text = (
        "Specimen : Area,33.93,mm^2\nSpecimen : Length,50,mm\nOperator,nobody,\n,,\n"
        "Time,Load,Strain\n(s),(N),(mm/mm)\n0,0.123,0\n0.2,456.79,0.00005\n0.4,789.1,0.0001\n"
    )
    path = written(tmp_path, text)
    seen = delimited.understand(path)
    assert (seen.names_rows, seen.units_row, seen.first_data_row) == ((5,), 6, 7)
    assert fields(seen) == []
    assert [c.unit.name for c in seen.columns if c.unit] == ["s", "N", "m/m"]
    assert values(path, seen.layout())[1] == (456.79, 0.00005)


def test_day_and_month_are_asked_when_the_file_leaves_them_open(tmp_path) -> None:  # layout 5
    path = written(
        tmp_path, "Time (-),SG (um/m)\n" + rows(20, "2022-11-04 08:36:{i:02d}.5,{i}.5\n")
    )
    seen = delimited.understand(path)
    assert fields(seen) == ["date_order", "zone"]
    assert seen.questions[0].choices == ("yyyy-mm-dd hh:mm:ss.f", "yyyy-dd-mm hh:mm:ss.f")
    assert seen.zone_needed
    with pytest.raises(InputError, match="date_order: in what order"):
        seen.layout(zone="Europe/Rome")
    layout = seen.layout(date_order="yyyy-dd-mm hh:mm:ss.f", zone="Europe/Rome")
    reading = delimited.read(path, layout)
    [block] = list(reading)
    assert reading.report.start_utc == "2022-04-11T06:36:00.500000Z"
    assert block.elapsed_ns.to_list()[:2] == [0, 10**9]
    with pytest.raises(InputError, match="date_order"):
        seen.layout(date_order="backwards", zone="none")


def test_latin_1_crlf_and_a_phantom_last_column(tmp_path) -> None:  # layout 6
    text = "Time (-),Air (°C),\r\n" + rows(20, "13.04.2022 08:36:{i:02d}.984,1.{i},\r\n")
    path = written(tmp_path, text, "latin-1")
    seen = delimited.understand(path)
    assert seen.encoding == "latin-1"
    assert [c.role for c in seen.columns] == ["time", "value", "empty"]
    assert seen.columns[1].unit is not None
    assert seen.columns[1].unit.name == "°C"
    assert fields(seen) == ["zone"]  # the 13th leaves no doubt about day and month
    reading = delimited.read(path, seen.layout(zone="none"))
    [block] = list(reading)
    assert block.values["Air"].to_list()[:2] == [1.0, 1.1]
    assert reading.report.marks == {}
    assert reading.report.start_utc == ""


def test_a_clock_that_steps_backwards_is_said(tmp_path) -> None:  # layout 7
    text = "Clock,Time[s],Load[kN]\n" + "".join(
        f"2020-09-10T17:01:{50 - i:02d}Z,{i}.0,{i}\n" for i in range(30)
    )
    seen = delimited.understand(written(tmp_path, text))
    assert fields(seen) == ["clock"]
    assert seen.questions[0].choices == ("column 1", "column 2", "rate", "none")
    words = [e for e in seen.evidence if "backwards" in e.decision]
    assert "29 of 29 steps" in words[0].words
    assert seen.layout(clock="column 2").clock.kind == "elapsed"
    assert seen.layout(clock="column 1").clock.pattern == "yyyy-mm-ddThh:mm:ssz"


def test_a_column_that_never_changes_is_pointed_out_and_kept(tmp_path) -> None:  # layout 9
    text = "t (s);A (um/m);B (um/m)\n" + rows(30, "{i};63072;{i}\n")
    path = written(tmp_path, text)
    seen = delimited.understand(path)
    assert any("column 2 never changes" in e.decision for e in seen.evidence)
    assert values(path, seen.layout())[0] == (63072.0, 0.0)
    declared = seen.layout(numeric_markers=("63072",))
    assert values(path, declared)[0] == (None, 0.0)


def test_uneven_steps_and_a_large_offset_are_left_as_they_are(tmp_path) -> None:  # layout 10, 11
    path = written(tmp_path, "t (s);e (um/m)\n0,002;-1529,5\n0,004;-1529,4\n25,004;-1520,1\n")
    [block] = list(delimited.read(path, delimited.understand(path).layout()))
    assert block.elapsed_ns.to_list() == [0, 2_000_000, 25_002_000_000]
    assert block.values["e"].to_list() == [-1529.5, -1529.4, -1520.1]


@pytest.mark.parametrize(
    ("spelling", "name"),
    [
        ("um/m", "µm/m"),
        ("um\\m", "µm/m"),
        ("[um/m]", "µm/m"),
        ("(um/m)", "µm/m"),
        ("\N{MICRO SIGN}m/m", "µm/m"),
        ("\N{GREEK SMALL LETTER MU}m/m", "µm/m"),
        ("ue", "µm/m"),
        ("ppm", "µm/m"),
        ("microstrain", "µm/m"),
        ("m/m", "m/m"),
        ("mm/mm", "m/m"),
        ("%", "%"),
        ("mV/V", "mV/V"),
    ],
)
def test_every_spelling_of_strain_is_known_by_its_unit(tmp_path, spelling, name) -> None:  # 12
    seen = delimited.understand(written(tmp_path, f"t;e\ns;{spelling}\n0;1\n1;2\n2;3\n"))
    assert seen.columns[1].unit is not None
    assert seen.columns[1].unit.name == name
    assert seen.columns[1].unit_in_file == spelling


def test_a_unit_that_is_not_known_is_asked_and_not_taken_from_the_size(tmp_path) -> None:  # 12
    text = "t (s);A (digits);B\n" + rows(10, "{i};1500;{i}00\n")
    seen = delimited.understand(written(tmp_path, text))
    assert fields(seen) == ["unit_2", "unit_3"]
    assert "the file says (digits)" in seen.questions[0].what
    layout = seen.layout(unit_2="mV/V", unit_3="text")
    assert [(c.role, c.unit) for c in layout.columns[1:]] == [("value", "mV/V"), ("text", "")]
    with pytest.raises(InputError, match="furlong"):
        seen.layout(unit_2="furlong", unit_3="none")
    with pytest.raises(Faults, match="2 things to mend"):
        seen.layout(unit_2="furlong", unit_3="parsec")
    with pytest.raises(InputError, match="answer is 'unit_9'"):
        seen.layout(unit_2="mV/V", unit_3="none", unit_9="N")


def test_mirrored_columns_make_the_sign_a_question(tmp_path) -> None:  # layout 13
    text = "t (s);e1 (um/m);e2 (um/m);F (kN)\n" + rows(40, "{i};{i};-{i};1{i}\n")
    seen = delimited.understand(written(tmp_path, text))
    assert fields(seen) == ["sign_2", "sign_3"]  # the force moves along, but not one to one
    layout = seen.layout(sign_2="tension", sign_3="compression")
    assert [c.sign for c in layout.columns] == ["", "tension", "compression", ""]


def test_the_name_of_a_column_decides_nothing_about_its_unit(tmp_path) -> None:  # layout 14
    text = "t (s);angle\n" + rows(10, "{i};{i}\n")
    assert fields(delimited.understand(written(tmp_path, text))) == ["unit_2"]


def test_seconds_of_an_epoch_in_a_column_without_a_name(tmp_path) -> None:  # layout 15
    text = "Stamp,,Load (kN)\n" + rows(30, "2024-01-31T00:00:{i:02d}Z,37894176{i:02d}.0,{i}\n")
    path = written(tmp_path, text)
    seen = delimited.understand(path)
    assert seen.columns[1].name == "column 2"
    assert fields(seen) == ["unit_2"]
    assert seen.layout(unit_2="none").clock.kind == "stamp"
    layout = seen.layout(clock="column 2", time_unit="s", epoch="1904-01-01", zone="UTC")
    reading = delimited.read(path, layout)
    list(reading)
    # 43 859 days of 86 400 s after 1 January 1904, counted in a calendar: 30 January 2024.
    assert reading.report.start_utc == "2024-01-30T00:00:00.000000Z"


@pytest.mark.parametrize(
    ("mark", "name"),
    [
        (".", "."),
        (" ", " "),
        ("\N{NO-BREAK SPACE}", " "),
        ("'", "'"),
        ("\N{NARROW NO-BREAK SPACE}", " "),
    ],
)
def test_thousands_are_seen_between_groups_of_three(tmp_path, mark, name) -> None:  # layout 16
    lines = [f"0,00\t1{mark}234,5\t-12,3", f"0,01\t1{mark}235,0\tOVERRANGE"]
    lines = ["t\tP\tSG1", "s\tkN\tum/m", *lines, f"0,02\t2{mark}001{mark}235,25\t7,0", ""]
    text = "\r\n".join(lines)
    path = written(tmp_path, text)
    seen = delimited.understand(path)
    assert (seen.delimiter, seen.decimal, seen.thousands) == ("\t", ",", name)
    assert (seen.names_rows, seen.units_row) == ((1,), 2)
    assert values(path, seen.layout()) == [(1234.5, -12.3), (1235.0, None), (2001235.25, 7.0)]


def test_three_decimals_or_thousands_is_asked(tmp_path) -> None:  # layout 16
    path = written(tmp_path, "t (s);P (kN)\n1;1.234\n2;1.235\n3;1.236\n")
    seen = delimited.understand(path)
    assert fields(seen) == ["decimal"]
    assert values(path, seen.layout(decimal="."))[0] == (1.234,)
    assert values(path, seen.layout(decimal=","))[0] == (1234.0,)
    comma = written(tmp_path, "t (s);P (kN)\n1;1,234\n2;1,235\n3;1,236\n")
    seen = delimited.understand(comma)
    assert values(comma, seen.layout(decimal=","))[0] == (1.234,)
    assert values(comma, seen.layout(decimal="."))[0] == (1234.0,)


def test_a_zero_before_three_decimals_is_no_group_of_thousands(tmp_path) -> None:
    path = written(tmp_path, "t (s);P (kN)\n1;0,004\n2;-0,500\n3;0,125\n")
    seen = delimited.understand(path)
    assert (seen.decimal, seen.thousands, fields(seen)) == (",", "", [])
    assert values(path, seen.layout()) == [(0.004,), (-0.5,), (0.125,)]


def test_a_decimal_mark_that_leaves_most_cells_unread_is_refused_in_a_sentence(tmp_path) -> None:
    # Whole numbers beside them, and 1,234 among them, must not hide the column that is unread.
    lines = "".join(f"{i};{i};{i},{i:02d};{i},234\n" for i in range(1, 31))
    path = written(tmp_path, "n;whole (kN);a (mm);b (mm)\n" + lines)
    with pytest.raises(InputError) as refused:
        delimited.understand(path, decimal=".")
    said = str(refused.value)
    assert "30 of 30 sampled cells can't be read, the first 1,01, 2,02, 3,03, 4,04, 5,05" in said
    assert "state , as the decimal mark" in said
    assert refused.value.name == "decimal"
    with pytest.raises(InputError, match="sampled cells can't be read"):
        delimited.understand(path).layout(decimal=".", clock="none")
    assert delimited.understand(path, decimal=",").thousands == ""


def test_a_stated_decimal_mark_reads_groups_of_three_and_a_few_odd_cells_are_no_reason(
    tmp_path,
) -> None:
    lines = "".join(f"{i};1,234.5\n" for i in range(20)) + "20;0,004\n"
    path = written(tmp_path, "t (s);P (kN)\n" + lines)
    seen = delimited.understand(path, decimal=".")
    assert seen.thousands == ","
    assert values(path, seen.layout())[0] == (1234.5,)
    assert [(m.text, m.code) for m in seen.markers] == [("0,004", "unreadable")]


def test_one_column_of_decimal_commas_or_two_of_whole_numbers_is_asked(tmp_path) -> None:
    path = written(tmp_path, rows(20, "1{i},5\n"))
    seen = delimited.understand(path)
    assert "delimiter" in fields(seen)
    one = seen.layout(delimiter=";", clock="none", unit_1="kN")
    assert values(path, one)[1] == (11.5,)
    two = seen.layout(delimiter=",", clock="none", unit_1="kN", unit_2="kN")
    assert values(path, two)[1] == (11.0, 5.0)


words = ["NaN", "nan", "-", "---", "n/a", "#N/A", "OVERRANGE", "OVL", "OFL", "+OVER", "****", "OL"]


def test_words_for_no_reading_become_marks_with_their_text(tmp_path) -> None:  # layout 17
    text = "t (s);A (kN)\n" + "".join(f"{i};{word}\n{i}.5;1.5\n" for i, word in enumerate(words))
    path = written(tmp_path, text)
    seen = delimited.understand(path)
    assert fields(seen) == []
    assert {m.text for m in seen.markers} == set(words)
    [block] = list(delimited.read(path, seen.layout()))
    assert [m.text for m in block.marks] == words
    assert {m.code for m in block.marks} == {"missing", "overrange"}
    assert block.values["A"].null_count() == len(words)


@pytest.mark.parametrize("number", ["9.9E37", "1E+30", "-9999", "32767", "8388607"])
def test_a_number_that_may_mean_no_reading_is_asked_about(tmp_path, number) -> None:  # layout 17
    path = written(tmp_path, f"t (s);A (um/m)\n0;1.5\n1;{number}\n2;1.6\n3;{number}\n")
    seen = delimited.understand(path)
    assert fields(seen) == ["numeric_markers"]
    assert seen.questions[0].choices == (number, "none")
    kept = values(path, seen.layout(numeric_markers="none"))
    assert [row[0] for row in kept] == [1.5, float(number), 1.6, float(number)]
    marked = values(path, seen.layout(numeric_markers=[delimited.Marker(number, "overrange")]))
    assert [row[0] for row in marked] == [1.5, None, 1.6, None]


def test_two_digit_years_months_in_words_and_halves_of_the_day(tmp_path) -> None:  # layout 18
    path = written(tmp_path, "when;A (kN)\n" + rows(9, "14.05.22 1{i}:00:00;{i}\n"))
    seen = delimited.understand(path)
    assert "century" in fields(seen)
    layout = seen.layout(date_order="dd.mm.yy hh:mm:ss", century=2000, zone="UTC")
    reading = delimited.read(path, layout)
    list(reading)
    assert reading.report.start_utc == "2022-05-14T10:00:00.000000Z"

    path = written(tmp_path, "when;A (kN)\n" + rows(10, "14-Mai-2022 0{i}:00:00;{i}\n"))
    seen = delimited.understand(path)
    assert "months" in fields(seen)
    months = "Jan Feb Mär Apr Mai Jun Jul Aug Sep Okt Nov Dez".split()  # noqa: SIM905
    reading = delimited.read(path, seen.layout(months=months, zone="+02:00"))
    list(reading)
    assert reading.report.start_utc == "2022-05-13T22:00:00.000000Z"

    path = written(tmp_path, "when;A (kN)\n" + rows(9, "14/05/2022 1:3{i}:00 PM;{i}\n"))
    seen = delimited.understand(path)
    assert fields(seen) == ["zone"]
    reading = delimited.read(path, seen.layout(zone="UTC"))
    list(reading)
    assert reading.report.start_utc == "2022-05-14T13:30:00.000000Z"


def test_the_hour_that_came_twice_is_marked_and_not_resolved(tmp_path) -> None:  # layout 18
    text = "when;A (kN)\n" + "".join(
        f"2024-10-27T0{h}:{m:02d}:00;{h}\n" for h in (1, 2, 3) for m in (0, 30)
    )
    path = written(tmp_path, text)
    reading = delimited.read(path, delimited.understand(path).layout(zone="Europe/Rome"))
    [block] = list(reading)
    hour = 3600 * 10**9
    assert block.elapsed_ns.to_list() == [0, hour // 2, None, None, 3 * hour, 3.5 * hour]
    assert [(m.code, m.cells) for m in block.marks] == [("hour_twice", 1), ("hour_twice", 1)]
    assert reading.report.rows_without_time == 2


def test_several_time_columns_are_all_kept_and_one_is_chosen(tmp_path) -> None:  # layout 19
    text = "t fast (s);A (kN);t slow (s);B (mm)\n" + "".join(
        f"{i / 10};{i};{i if i % 10 == 0 else ''};{i if i % 10 == 0 else ''}\n" for i in range(50)
    )
    path = written(tmp_path, text)
    seen = delimited.understand(path)
    assert fields(seen) == ["clock"]
    [block] = list(delimited.read(path, seen.layout(clock="column 1")))
    assert block.times.columns == ["t fast", "t slow"]
    assert block.times["t slow"].drop_nulls().to_list() == [0, 10, 20, 30, 40]
    assert block.elapsed_ns.to_list()[-1] == 4_900_000_000


def test_dates_and_times_in_two_columns_are_one_clock(tmp_path) -> None:
    path = written(
        tmp_path, "Date;Time;A (kN)\n" + rows(20, "14.05.2022;10:00:{i:02d},5;{tenth}\n")
    )
    seen = delimited.understand(path)
    assert seen.stamps_seen[0].columns == (0, 1)
    reading = delimited.read(path, seen.layout(zone="UTC"))
    [block] = list(reading)
    assert reading.report.start_utc == "2022-05-14T10:00:00.500000Z"
    assert block.times.columns == ["Date", "Time"]


def test_a_restart_in_the_middle_and_a_cut_last_line_are_reported(tmp_path) -> None:  # layout 20
    body = rows(20, "{i};1,{i}\n")
    path = written(tmp_path, f"t;A\ns;kN\n{body}t;A\ns;kN\n{body}20")
    seen = delimited.understand(path)
    reading = delimited.read(path, seen.layout())
    [block] = list(reading)
    assert [(p.line, p.what) for p in block.problems] == [
        (23, "head repeated"),
        (24, "head repeated"),
        (45, "last line cut short"),
    ]
    assert reading.report.rows_kept == 40
    assert reading.report.steps_back == 1


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16", "utf-16-le", "utf-16-be"])
def test_byte_order_marks_and_sixteen_bit_text(tmp_path, encoding) -> None:  # layout 21
    path = written(tmp_path, "t (s);A (µm/m)\n" + rows(20, "{i};1,{i}\n"), encoding)
    seen = delimited.understand(path)
    assert seen.encoding.startswith(encoding[:6])
    assert [c.name for c in seen.columns] == ["t", "A"]
    assert values(path, seen.layout())[12] == (1.12,)


def test_nul_bytes_and_an_end_of_file_sign_do_not_hide_the_readings(tmp_path) -> None:  # 21
    body = rows(20, "{i};1,{i}\n").encode()
    path = written(tmp_path, b"t (s);A (kN)\n" + body + b"\x00" * 500 + b"\n" + body + b"\x1a")
    seen = delimited.understand(path)
    reading = delimited.read(path, seen.layout())
    list(reading)
    assert reading.report.rows_kept == 40
    assert reading.report.problems == {"NUL bytes": 1, "end-of-file sign": 1}


def test_doubled_blank_and_quoted_names(tmp_path) -> None:  # layout 22
    text = 'Time (s),"Gauge, left (um/m)",SG (um/m),SG (um/m),\n' + rows(20, "{i},1,2,{i}.5,3\n")
    path = written(tmp_path, text)
    seen = delimited.understand(path)
    assert [c.name for c in seen.columns] == ["Time", "Gauge, left", "SG", "SG (2)", "column 5"]
    assert any("occurs more than once" in e.words for e in seen.evidence)
    assert fields(seen) == ["unit_5"]
    assert values(path, seen.layout(unit_5="none"))[1] == (1.0, 2.0, 1.5, 3.0)


def test_names_over_two_rows_are_asked_about(tmp_path) -> None:  # layout 22
    text = "Frame;Bar 1;Bar 1\nt;left;right\ns;um/m;um/m\n" + rows(20, "{i};1,{i};2\n")
    path = written(tmp_path, text)
    seen = delimited.understand(path)
    assert fields(seen) == ["names_rows"]
    lower = seen.layout(names_rows=(2,))
    assert [c.name for c in lower.columns] == ["t", "left", "right"]
    both = seen.layout(names_rows=(1, 2))
    assert [c.name for c in both.columns] == ["Frame t", "Bar 1 left", "Bar 1 right"]
    assert len(values(path, both)) == 20


def test_names_that_do_not_line_up_with_the_data_are_not_used(tmp_path) -> None:
    path = written(tmp_path, "Time (s) Load (kN)\n" + rows(20, "{i}.0 1.5\n"))
    seen = delimited.understand(path)
    assert [c.name for c in seen.columns] == ["column 1", "column 2"]
    assert any("state name_N" in e.words for e in seen.evidence)
    answers = {"clock": "column 1", "time_unit": "s", "unit_2": "kN"}
    layout = seen.layout(name_1="Time", name_2="Load", **answers)
    assert [c.name for c in layout.columns] == ["Time", "Load"]


def test_a_file_far_larger_than_the_sample_is_not_read_whole(tmp_path) -> None:
    path = written(tmp_path, "t (s);A (kN)\n" + rows(200_000, "{i};1,{i}\n"))
    seen = delimited.understand(path)
    assert not seen.whole
    assert seen.sampled_bytes < 0.5 * seen.size_bytes
    assert fields(seen) == []


def test_a_day_above_twelve_at_the_end_of_a_large_file_settles_the_order(tmp_path) -> None:
    early = "".join(
        f"01.05.2024 {i // 3600:02d}:{i // 60 % 60:02d}:{i % 60:02d};1,5\n" for i in range(60_000)
    )
    path = written(tmp_path, "when;A (kN)\n" + early + "13.05.2024 00:00:00;1,5\n" * 10)
    assert fields(delimited.understand(path)) == ["zone"]


@pytest.mark.parametrize("text", ["hello\nworld\n", "# only\n# comments\n", "a;b\nc;d\n", "\n\n\n"])
def test_a_file_without_readings_is_refused_by_name(tmp_path, text) -> None:
    with pytest.raises(FileError, match=r"^recording\.txt: "):
        delimited.understand(written(tmp_path, text))


def test_readings_after_a_head_longer_than_they_are_found(tmp_path) -> None:
    rows = "".join(f"{n / 10:.1f};{n * 0.5:.2f}\n" for n in range(40))
    path = written(tmp_path, "".join(f"note {n}: nothing here\n" for n in range(200)) + rows)
    seen = delimited.understand(path)
    assert (seen.delimiter, seen.first_data_row, len(seen.columns)) == (";", 201, 2)


def test_readings_ahead_of_a_longer_tail_are_found_once_their_delimiter_is_stated(tmp_path) -> None:
    rows = "".join(f"{n / 10:.1f};{n * 0.5:.2f}\n" for n in range(40))
    path = written(tmp_path, rows + "".join(f"note {n}: nothing here\n" for n in range(200)))
    with pytest.raises(FileError, match="state its delimiter"):
        delimited.understand(path)
    seen = delimited.understand(path, delimiter=";")
    assert (seen.first_data_row, len(seen.columns)) == (1, 2)


def test_what_is_stated_is_not_sought(tmp_path) -> None:
    path = written(tmp_path, "junk 1;2\nt;A\n" + rows(20, "{i};1,{i}\n"))
    seen = delimited.understand(path, first_data_row=3, names_rows=(2,), units_row=0, delimiter=";")
    assert [c.name for c in seen.columns] == ["t", "A"]
    assert fields(seen) == ["time_unit", "unit_2"]


def test_the_sample_shows_rows_as_they_stand_in_the_file(tmp_path) -> None:
    seen = delimited.understand(written(tmp_path, "t (s);A (kN)\n0;1,5\n1;---\n2;1,6\n"))
    assert seen.sample_rows == (("0", "1,5"), ("1", "---"), ("2", "1,6"))
