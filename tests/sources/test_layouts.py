"""Every layout met in laboratories, by its number: read as it was meant, or asked about.

Finer points of the same layouts are in test_understanding.py and test_delimited.py.
"""

from pathlib import Path

import numpy as np
import pytest

from gaugewright.errors import InputError
from gaugewright.sources import delimited

RAMP = range(20)


def written(folder: Path, text: str | bytes, encoding: str = "utf-8") -> Path:
    path = folder / "recording.txt"
    path.write_bytes(text if isinstance(text, bytes) else text.encode(encoding))
    return path


def fields(seen: delimited.Understanding) -> list[str]:
    return [question.field for question in seen.questions]


def read(path: Path, **answers):
    """Values by column, elapsed seconds and the report of a file read with some answers."""
    reading = delimited.read(path, delimited.understand(path).layout(**answers))
    blocks = list(reading)
    values = {
        name: [value for block in blocks for value in block.values[name].to_list()]
        for name in blocks[0].values.columns
    }
    elapsed = [ns / 1e9 if ns is not None else None for b in blocks for ns in b.elapsed_ns]
    assert reading.report.accounted
    return values, elapsed, reading.report


def test_layout_1_units_in_brackets_and_decimal_commas(tmp_path):
    body = "".join(f"0,{n};0,2{n};-58,{n}\n" for n in range(10))
    path = written(tmp_path, f"Time;Load;Strain SG1\n(s);(kN);(um/m)\n{body}")
    seen = delimited.understand(path)
    assert fields(seen) == []
    assert [c.unit for c in seen.layout().columns] == ["s", "kN", "µm/m"]
    values, elapsed, _ = read(path)
    assert values["Strain SG1"][3] == -58.3
    assert elapsed[3] == pytest.approx(0.3)


def test_layout_2_no_names_and_the_first_row_is_a_row(tmp_path):
    path = written(tmp_path, "".join(f"{n / 100},{n},1.5\n" for n in RAMP))
    asked = fields(delimited.understand(path))
    assert {"unit_2", "unit_3", "clock"} <= set(asked)
    values, elapsed, report = read(path, clock="column 1", time_unit="s", unit_2="kN", unit_3="mm")
    assert report.rows_kept == 20
    assert elapsed[-1] == pytest.approx(0.19)
    assert values["column 2"][0] == 0.0


def test_layout_3_a_comment_holds_the_rate_and_nineteen_digits_are_read(tmp_path):
    rows = "".join(f"{n:.18e} {-1.5 * n:.18e} 6.307e-02\n" for n in RAMP)
    path = written(tmp_path, f"# rate 1024 Hz\n# t | in0:1 | strain\n{rows}")
    answers = {"clock": "column 1", "time_unit": "s", "unit_2": "µm/m", "unit_3": "µm/m"}
    values, elapsed, report = read(path, **answers)
    assert (report.rows_kept, elapsed[7]) == (20, 7.0)
    assert values["in0:1"][7] == -10.5


def test_layout_4_a_head_of_keys_with_as_many_commas_as_the_data(tmp_path):
    head = "Specimen : Area,33.93,mm^2\nOperator,somebody,\n,,\nTime,Load,Strain\n(s),(N),(mm/mm)\n"
    path = written(tmp_path, head + "".join(f"{n},{10 * n},0.00{n:02d}\n" for n in RAMP))
    seen = delimited.understand(path)
    assert fields(seen) == []  # a key with its one number is no line of tare values
    assert [c.unit for c in seen.layout().columns] == ["s", "N", "m/m"]
    assert read(path)[0]["Strain"][7] == 0.0007


def test_layout_5_swapped_day_and_month_are_asked(tmp_path):
    rows = "".join(f"2022-11-04 08:36:{n:02d}.5,{n}\n" for n in RAMP)
    path = written(tmp_path, f"Time (-),S (um/m)\n{rows}")
    assert "date_order" in fields(delimited.understand(path))
    with pytest.raises(InputError, match="date_order"):
        delimited.understand(path).layout(zone="UTC")
    starts = [
        read(path, zone="UTC", date_order=f"{order} hh:mm:ss.f")[2].start_utc[:10]
        for order in ("yyyy-dd-mm", "yyyy-mm-dd")
    ]
    assert starts == ["2022-04-11", "2022-11-04"]


def test_layout_6_latin_1_crlf_and_an_empty_last_column(tmp_path):
    rows = "".join(f"13.04.2022 08:36:{n:02d}.984,1.{n:02d},\r\n" for n in RAMP)
    path = written(tmp_path, f"Time (-),Air (degC \xb0),\r\n{rows}", "latin-1")
    seen = delimited.understand(path)
    assert seen.encoding == "latin-1"
    assert seen.columns[2].role == "empty"
    answers = {"zone": "UTC"} | ({"unit_2": "°C"} if "unit_2" in fields(seen) else {})
    values, elapsed, _ = read(path, **answers)
    assert next(iter(values.values()))[4] == 1.04
    assert elapsed[4] == 4.0


def test_layout_7_a_clock_that_steps_back_scrambles_nothing(tmp_path):
    stamps = [0, 1, 2, 3, 1.5, 2.5, 4, 5, 6, 7]
    rows = "".join(f"{n};{at};{n}\n" for n, at in enumerate(stamps))
    path = written(tmp_path, f"elapsed (s);wall (s);A (kN)\n{rows}")
    values, elapsed, report = read(path, clock="column 2")
    assert values["A"] == list(map(float, range(10)))
    assert elapsed == stamps
    assert (report.steps_back, report.largest_step_back_ns) == (1, 1_500_000_000)


def test_layout_8_a_sensor_taken_off_leaves_marks_and_no_invented_numbers(tmp_path):
    rows = "".join(f"{n};{n};{n if n < 12 else ''}\n" for n in RAMP)
    values, _, report = read(written(tmp_path, f"t (s);A (kN);e (mm)\n{rows}"))
    assert values["e"][12:] == [None] * 8
    assert report.marks == {"e": {"empty": 8}}


def test_layout_9_an_input_with_nothing_on_it_is_pointed_out(tmp_path):
    path = written(tmp_path, "t (s);A (um/m)\n" + "".join(f"{n};63072\n" for n in range(30)))
    seen = delimited.understand(path)
    assert any("column 2 never changes" in each.decision for each in seen.evidence)
    assert read(path, numeric_markers=("63072",))[0]["A"] == [None] * 30


def test_layout_10_uneven_steps_stay_as_they_are(tmp_path):
    at = [0.0, 0.002, 0.004, 25.004, 25.006, 40.0]
    rows = "".join(f"{moment};{n}\n" for n, moment in enumerate(at))
    assert read(written(tmp_path, f"t (s);A (kN)\n{rows}"))[1] == pytest.approx(at)


def test_layout_11_a_large_offset_is_kept(tmp_path):
    rows = "".join(f"{n};{-1529 + n / 10}\n" for n in RAMP)
    assert read(written(tmp_path, f"t (s);A (um/m)\n{rows}"))[0]["A"][0] == -1529.0


@pytest.mark.parametrize(
    ("spelling", "factor"),
    [
        *((text, 1e-6) for text in ("um/m", "um\\m", "\xb5m/m", "\u03bcm/m", "ue", "microstrain")),
        *(("ppm", 1e-6), ("m/m", 1.0), ("mm/mm", 1.0), ("%", 1e-2), ("mV/V", 1e-3)),
    ],
)
@pytest.mark.parametrize("brackets", ["[]", "()"])
def test_layout_12_every_spelling_of_a_unit(tmp_path, spelling, factor, brackets):
    text = f"t (s);A {brackets[0]}{spelling}{brackets[1]}\n"
    path = written(tmp_path, text + "".join(f"{n};{n}\n" for n in RAMP))
    column = delimited.understand(path).columns[1]
    assert column.unit is not None
    assert column.unit.factor == factor


def test_layout_13_two_signs_of_one_quantity_are_asked(tmp_path):
    rows = "".join(f"{n};{n + 0.25};{-(n + 0.25)}\n" for n in RAMP)
    seen = delimited.understand(written(tmp_path, f"t (s);F (kN);F again (kN)\n{rows}"))
    assert {"sign_2", "sign_3"} <= set(fields(seen))


def test_layout_14_a_wrong_name_decides_nothing(tmp_path):
    rows = "".join(f"{n};{n / 7:.3f}\n" for n in RAMP)
    seen = delimited.understand(written(tmp_path, f"t (s);angle\n{rows}"))
    assert fields(seen) == ["unit_2"]
    assert seen.layout(unit_2="mm").columns[1].unit == "mm"


def test_layout_15_seconds_of_an_old_epoch_in_a_column_without_a_name(tmp_path):
    first = 3_734_500_000.25
    rows = "".join(f"14.05.2022 13:33:{20 + n};{first + n};{n}\n" for n in RAMP)
    path = written(tmp_path, f"when;;A (kN)\n{rows}")
    _, elapsed, report = read(path, clock="column 2", time_unit="s", epoch="1904-01-01", zone="UTC")
    assert elapsed[-1] == 19.0
    # 1904-01-01 and 3 734 500 000.25 s: 43 223 days and 32 800.25 s.
    assert report.start_utc == str(
        np.datetime64("1904-01-01") + np.timedelta64(3_734_500_000_250_000, "us")
    ) + ("Z")


@pytest.mark.parametrize("mark", [".", " ", "'", "\u202f"])
def test_layout_16_thousands(tmp_path, mark):
    rows = "".join(f"{n}\t1{mark}234,5\t2{mark}234{mark}5{n:02d},25\r\n" for n in RAMP)
    values, _, _ = read(written(tmp_path, f"t\tP\tS\r\ns\tkN\tkN\r\n{rows}"))
    assert (values["P"][0], values["S"][7]) == (1234.5, 2234507.25)


def test_layout_17_words_become_marks_and_numbers_that_may_be_marks_are_asked(tmp_path):
    words = ["NaN", "-", "---", "n/a", "#N/A", "OVERRANGE", "OVL", "OFL", "+OVER", "****"]
    rows = "".join(f"{n};{word}\n{n}.5;1.5\n" for n, word in enumerate(words))
    values, _, report = read(written(tmp_path, f"t (s);A (kN)\n{rows}"))
    assert values["A"] == [None, 1.5] * 10
    assert report.marks == {"A": {"missing": 5, "overrange": 5}}
    for number in ("9.9E37", "1E+30", "-9999", "32767", "8388607"):
        rows = "".join(f"{n};{number if n in (4, 9) else n / 10}\n" for n in RAMP)
        assert fields(delimited.understand(written(tmp_path, f"t (s);A (kN)\n{rows}"))) == [
            "numeric_markers"
        ]


ROME = {"zone": "Europe/Rome", "century": 2000, "date_order": "dd.mm.yy hh:mm:ss"}


def read_stamps(folder, stamps):
    path = written(folder, "when;A (kN)\n" + "".join(f"{s};1\n" for s in stamps))
    asked = fields(delimited.understand(path))
    return read(path, **{name: value for name, value in ROME.items() if name in asked})


def test_layout_18_an_hour_that_came_twice_is_told_apart_by_a_step_back(tmp_path):
    stamps = [f"27.10.24 0{h}:{m:02d}:00" for h in (1, 2, 2, 3) for m in (0, 30)]
    _, elapsed, report = read_stamps(tmp_path, stamps)
    assert elapsed == [row * 1800 for row in range(8)]
    assert report.marks == {}
    [said] = [words for words in report.findings() if "came twice" in words]
    assert said.startswith("4 row(s) of 2024-10-27 are in an hour that came twice; their order")
    assert "steps back by 30 min once, which with 60 min put back is a step of 30 min" in said


def test_layout_18_one_pass_alone_has_no_time(tmp_path):
    stamps = [f"27.10.24 0{h}:{m:02d}:00" for h in (0, 1, 2, 3, 4) for m in (0, 15, 30, 45)]
    _, elapsed, report = read_stamps(tmp_path, stamps)
    assert [row for row, at in enumerate(elapsed) if at is None] == [8, 9, 10, 11]
    assert report.marks["when"] == {"hour_twice": 4}
    assert any("no division of its rows alone is even" in words for words in report.findings())


def test_layout_18_an_hour_that_never_was_is_marked_and_the_way_out_is_named(tmp_path):
    stamps = [f"31.03.24 0{h}:{m:02d}:00" for h in (1, 2, 3) for m in (0, 30)]
    _, elapsed, report = read_stamps(tmp_path, stamps)
    assert [at is None for at in elapsed] == [False, False, True, True, False, False]
    assert report.marks["when"] == {"hour_missing": 2}
    assert any("state the offset it showed" in words for words in report.findings())


def test_layout_19_two_rates_side_by_side(tmp_path):
    rows = "".join(
        f"{n / 10};{n};{n / 10 if n % 5 == 0 else ''};{n if n % 5 == 0 else ''}\n" for n in RAMP
    )
    path = written(tmp_path, f"t fast (s);A (kN);t slow (s);B (mm)\n{rows}")
    assert fields(delimited.understand(path)) == ["clock"]
    values, _, _ = read(path, clock="column 1")
    assert [v for v in values["B"] if v is not None] == [0, 5, 10, 15]


def test_layout_20_a_restart_and_a_cut_last_line(tmp_path):
    body = "".join(f"{n};1,{n}\n" for n in RAMP)
    _, _, report = read(written(tmp_path, f"t;A\ns;kN\n{body}t;A\ns;kN\n{body}20"))
    assert report.problems == {"head repeated": 2, "last line cut short": 1}
    assert report.rows_kept == 40


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16"])
def test_layout_21_marks_of_encoding_nul_bytes_and_the_end_sign(tmp_path, encoding):
    body = "".join(f"{n};1,{n}\n" for n in RAMP)
    assert read(written(tmp_path, f"t (s);A (kN)\n{body}", encoding))[2].rows_kept == 20
    damaged = f"t (s);A (kN)\n{body}".encode() + b"\x00" * 99 + b"\n" + body.encode() + b"\x1a"
    _, _, report = read(written(tmp_path, damaged))
    assert report.rows_kept == 40
    assert report.problems == {"NUL bytes": 1, "end-of-file sign": 1}


def test_layout_22_doubled_blank_and_quoted_names(tmp_path):
    rows = "".join(f"{n},1,2,{n}.5\n" for n in RAMP)
    path = written(tmp_path, f'Time (s),"Gauge, left (um/m)",SG (um/m),SG (um/m)\n{rows}')
    assert [c.name for c in delimited.understand(path).columns] == [
        "Time",
        "Gauge, left",
        "SG",
        "SG (2)",
    ]


TARED = "t;P;SG1;SG2\ns;kN;um/m;um/m\n"
TARE = "Tare;0,31;-58,5;12,25\nTare;0,30;-58,4;12,20\n"
BODY = "".join(f"0,{n:02d};{n},5;1,{n:02d};-2,{n * n % 7}\n" for n in RAMP)


@pytest.mark.parametrize(
    ("text", "lines"),
    [
        (TARED + TARE + BODY, (3, 4)),
        (TARE + TARED + BODY, (1, 2)),
        (TARED + TARE.replace("Tare", "") + BODY, (3, 4)),
        (TARED + TARE + "\n" + BODY, (3, 4)),
    ],
    ids=["below the units", "above the names", "without a word", "before a blank line"],
)
def test_layout_23_values_ahead_of_the_record_are_asked_about_and_kept_apart(tmp_path, text, lines):
    path = written(tmp_path, text)
    seen = delimited.understand(path)
    assert fields(seen) == ["tare_lines"]
    with pytest.raises(InputError, match="tare_lines"):
        seen.layout()
    layout = seen.layout(tare_lines=lines)
    assert [c.name for c in layout.columns] == ["t", "P", "SG1", "SG2"]
    assert [c.unit for c in layout.columns] == ["s", "kN", "µm/m", "µm/m"]
    reading = delimited.read(path, layout)
    [block] = list(reading)
    told = [(p.line, p.what, p.text) for p in block.problems if p.what == "tare values"]
    assert [line for line, _, _ in told] == list(lines)
    assert told[0][2].endswith("0,31;-58,5;12,25")
    # Never applied: the readings are what the file says.
    assert block.values["SG1"].to_list()[:2] == [1.0, 1.01]
    assert (reading.report.rows_kept, reading.report.accounted) == (20, True)
    assert "tare values stand ahead of the record" in " ".join(reading.report.findings())
    again = delimited.Layout.from_plain(layout.as_plain())
    assert again == layout


def test_layout_23_a_person_who_says_they_are_none_gets_what_the_lines_were_before(tmp_path):
    path = written(tmp_path, TARED + TARE.replace("Tare", "") + BODY)
    values, elapsed, report = read(path, tare_lines=())
    assert report.rows_kept == 22
    assert (elapsed[:2], values["SG1"][0]) == ([None, None], -58.5)


def test_layout_23_lines_inside_the_record_cannot_be_tare(tmp_path):
    path = written(tmp_path, TARED + BODY)
    assert fields(delimited.understand(path)) == []
    # What a person states counts, though nothing showed it: the record begins behind it.
    _, _, report = read(path, tare_lines=(3,))
    assert (report.rows_kept, report.problems) == (19, {"tare values": 1})
    plain = delimited.understand(path).layout().as_plain()
    assert "tare_lines" not in plain
    with pytest.raises(InputError, match="tare_lines"):
        delimited.Layout.from_plain(plain | {"tare_lines": [7]})


def test_layout_24_descending_doubled_and_missing_stamps_stay_in_file_order(tmp_path):
    falling = "".join(f"{19 - n};{n}\n" for n in RAMP)
    values, elapsed, report = read(written(tmp_path, f"t (s);A (kN)\n{falling}"))
    assert values["A"] == [float(n) for n in RAMP]
    assert elapsed == [float(-n) for n in RAMP]
    assert report.steps_back == 19
    doubled = [0, 1, 1, 2, 3, 60, 61, 61.9, 63, 64]
    rows = "".join(f"{at};{n}\n" for n, at in enumerate(doubled))
    values, elapsed, report = read(written(tmp_path, f"t (s);A (kN)\n{rows}"))
    assert (elapsed, len(values["A"])) == (doubled, 10)
    assert report.steps_back == 0
