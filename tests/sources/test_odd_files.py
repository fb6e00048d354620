"""Odd workbooks, column and array files by other hands: right values, or a question."""

import datetime as dt
from pathlib import Path

import h5py
import numpy as np
import openpyxl
import polars as pl
import pyarrow as pa
import pyarrow.feather
import pyarrow.parquet
import pytest
import scipy.io
import xlsxwriter

from gaugewright.errors import FileError, InputError
from gaugewright.sources import files
from gaugewright.sources.understanding import Understanding

STEPS = [0.5 * n for n in range(6)]
RAMP = np.arange(6.0)


def read(path: Path, **answers) -> pl.DataFrame:
    layout = files.understand(path).layout(**answers)
    with files.reading(path, layout) as reading:
        blocks = list(reading)
        assert reading.report.accounted
    return pl.concat([block.values for block in blocks])


def sheet(path: Path, rows: list[list[object]], **options) -> Path:
    with xlsxwriter.Workbook(path, options) as book:
        page = book.add_worksheet("Data")
        for number, row in enumerate(rows):
            page.write_row(number, 0, row)
    return path


def asked(seen: Understanding) -> dict[str, str]:
    return {question.field: question.what for question in seen.questions}


def test_a_title_merged_over_columns_names_each_and_units_have_a_row_of_their_own(tmp_path):
    path = tmp_path / "a.xlsx"
    with xlsxwriter.Workbook(path) as book:
        page = book.add_worksheet("Data")
        page.merge_range(0, 0, 0, 4, "Beam 4, second loading")
        page.write(1, 0, "Time")
        page.merge_range(1, 1, 1, 2, "Bar L1")
        page.merge_range(1, 3, 1, 4, "Bar L2")
        page.write_row(2, 1, ["SG1", "SG2", "SG1", "SG2"])
        page.write_row(3, 0, ["s", *["µm/m"] * 4])
        for number, step in enumerate(STEPS):
            page.write_row(4 + number, 0, [step, number, -number, 2 * number, 3 * number])
    seen = files.understand(path)
    assert seen.units_row == 4
    assert "(Time, Bar L1, Bar L1, Bar L2, Bar L2)" in asked(seen)["names_rows"]
    values = read(path, names_rows=(2, 3))
    assert values.columns[-4:] == ["Bar L1 SG1", "Bar L1 SG2", "Bar L2 SG1", "Bar L2 SG2"]
    assert values["Bar L2 SG2"].to_list() == [0, 3, 6, 9, 12, 15]


@pytest.mark.parametrize(("since", "day"), [("1899-12-30", 46150.375), ("1904-01-01", 44688.375)])
def test_a_date_that_is_only_a_number_is_asked_about_and_counts_from_the_date_stated(
    tmp_path, since, day
):
    rows: list[list[object]] = [["Date", "Load [kN]"], *([day + n / 24, n] for n in range(6))]
    path = sheet(tmp_path / "a.xlsx", rows)
    assert "which column tells the time" in asked(files.understand(path))["clock"]
    layout = files.understand(path).layout(clock="column 1", time_unit="d", epoch=since, zone="UTC")
    with files.reading(path, layout) as reading:
        [block] = list(reading)
    # Both are nine in the morning of 8 May 2026, counted with the standard library.
    began = dt.datetime.fromisoformat(since) + dt.timedelta(days=day)
    assert began == dt.datetime.fromisoformat("2026-05-08T09:00")
    assert reading.report.start_utc == "2026-05-08T09:00:00.000000Z"
    assert block.elapsed_ns.to_numpy() == pytest.approx(3.6e12 * RAMP, abs=2000)


@pytest.mark.parametrize("from_1904", [True, False])
def test_a_date_of_either_epoch_is_the_day_it_shows(tmp_path, from_1904):
    path = tmp_path / "a.xlsx"
    with xlsxwriter.Workbook(path, {"date_1904": from_1904}) as book:
        shown = book.add_format({"num_format": "dd/mm/yyyy hh:mm:ss"})
        page = book.add_worksheet("Data")
        page.write_row(0, 0, ["Date", "Load [kN]"])
        for number in range(6):
            instant = dt.datetime.fromisoformat(f"2026-05-08T09:00:0{number}")
            page.write_datetime(1 + number, 0, instant, shown)
            page.write(1 + number, 1, number)
    layout = files.understand(path).layout(zone="UTC")
    with files.reading(path, layout) as reading:
        [block] = list(reading)
    assert reading.report.start_utc == "2026-05-08T09:00:00.000000Z"
    assert block.elapsed_ns.to_list() == [10**9 * n for n in range(6)]


def test_a_hidden_sheet_is_offered_and_said_to_be_hidden(tmp_path):
    path = tmp_path / "a.xlsx"
    with xlsxwriter.Workbook(path) as book:
        for name, factor in (("Readings", 1), ("Old", 2)):
            page = book.add_worksheet(name)
            page.write_row(0, 0, ["Time [s]", "Load [kN]"])
            for number, step in enumerate(STEPS):
                page.write_row(1 + number, 0, [step, factor * number])
        page.hide()
    what = asked(files.understand(path))["table"]
    assert what.endswith("Readings (7 rows, 2 columns), Old (7 rows, 2 columns, hidden)")
    assert read(path, table="Readings")["Load"].to_list() == list(range(6))


def test_numbers_written_as_text_are_numbers_also_with_a_comma(tmp_path):
    rows: list[list[object]] = [["Time [s]", "Load [kN]", "SG1 [um/m]", "SG2 [um/m]"]]
    path = tmp_path / "a.xlsx"
    with xlsxwriter.Workbook(path) as book:
        page = book.add_worksheet("Data")
        page.write_row(0, 0, rows[0])
        for number, step in enumerate(STEPS, start=1):
            page.write(number, 0, step)
            page.write_formula(number, 1, "=1/0", None, "#DIV/0!" if number == 3 else number)
            page.write_string(number, 2, f"{2.25 * number}")
            page.write_string(number, 3, f"{2.25 * number}".replace(".", ","))
    values = read(path)
    assert values["Load"].to_list() == [1, 2, None, 4, 5, 6]
    assert values["SG1"].to_list() == [2.25 * number for number in range(1, 7)]
    assert values["SG2"].to_list() == values["SG1"].to_list()


@pytest.mark.parametrize(("answer", "value"), [(",", 1.255), (".", 1255.0)])
def test_a_text_whose_comma_might_divide_thousands_is_asked_about(tmp_path, answer, value):
    rows: list[list[object]] = [["Time [s]", "SG1 [um/m]"]]
    rows += [[step, "1,255" if n in (3, 4) else n + 0.5] for n, step in enumerate(STEPS)]
    path = sheet(tmp_path / "a.xlsx", rows)
    seen = files.understand(path)
    assert asked(seen)["decimal"].startswith("is 1,255 in row 5 a number with three decimals")
    with pytest.raises(InputError, match="decimal"):
        seen.layout()
    assert read(path, decimal=answer)["SG1"].to_list() == [0.5, 1.5, 2.5, value, value, 5.5]


def test_a_column_that_is_nothing_but_such_texts_is_one_of_numbers_once_answered(tmp_path):
    rows: list[list[object]] = [["Time [s]", "SG1 [um/m]"]]
    rows += [[step, f"1{n},255"] for n, step in enumerate(STEPS)]
    path = sheet(tmp_path / "a.xlsx", rows)
    values = [10.255 + n for n in range(6)]
    assert read(path, decimal=",")["SG1"].to_list() == pytest.approx(values, abs=1e-12)


def test_a_decimal_mark_is_refused_where_no_cell_leaves_it_open(tmp_path):
    path = sheet(tmp_path / "a.xlsx", [["Time [s]", "SG1 [um/m]"], *([s, s] for s in STEPS)])
    with pytest.raises(InputError, match="decimal"):
        files.understand(path, decimal=",")


def test_a_formula_whose_result_nobody_kept_stands_as_it_is_written(tmp_path):
    book = openpyxl.Workbook()
    page = book.active
    page.append(["Time [s]", "Load [kN]", "Twice"])
    for number, step in enumerate(STEPS, start=2):
        page.append([step, number, f"=B{number}*2"])
    book.save(tmp_path / "a.xlsx")
    seen = files.understand(tmp_path / "a.xlsx")
    assert [column.role for column in seen.columns] == ["time", "value", "text"]
    assert seen.sample_rows[0] == ("0", "2", "=B2*2")


def test_words_of_a_dictionary_an_instant_of_a_zone_and_a_time_span_of_an_arrow_file(tmp_path):
    start = dt.datetime(2026, 7, 1, 8, tzinfo=dt.UTC)
    instants = [start + dt.timedelta(milliseconds=500 * n) for n in range(6)]
    spans = pa.array([dt.timedelta(milliseconds=500 * n) for n in range(6)], pa.duration("ms"))
    table = pa.table({
        "Time": pa.array(instants, pa.timestamp("us", "America/New_York")),
        "state": pa.array(["up", "down"] * 3).dictionary_encode(),
        "since": spans,
        "Load [kN]": pa.array(RAMP, pa.float16()),
    })  # fmt: skip
    path = tmp_path / "a.arrow"
    pyarrow.feather.write_feather(table, path, compression="lz4")
    seen = files.understand(path)
    roles = [(column.name, column.role) for column in seen.columns]
    assert roles[1] == ("state", "text")
    assert seen.columns[2].unit_in_file == "[s]"
    layout = seen.layout(clock="column 1")
    with files.reading(path, layout) as reading:
        [block] = list(reading)
    assert reading.report.start_utc == "2026-07-01T08:00:00.000000Z"
    assert block.values["Load"].to_list() == RAMP.tolist()
    with files.reading(path, seen.layout(clock="column 3")) as reading:
        [block] = list(reading)
    assert block.elapsed_ns.to_list() == [500_000_000 * n for n in range(6)]


def test_fields_of_a_structure_are_columns_and_lists_are_refused_by_name(tmp_path):
    path = tmp_path / "a.parquet"
    bars = [{"L1": {"SG1": n, "SG2": 2 * n}, "T": 20.0} for n in RAMP.tolist()]
    pyarrow.parquet.write_table(pa.table({"Time [s]": STEPS, "bars": bars}), path)
    seen = files.understand(path)
    assert [column.name for column in seen.columns][1:] == ["bars L1 SG1", "bars L1 SG2", "bars T"]
    answers = {"unit_2": "um/m", "unit_3": "um/m", "unit_4": "degC"}
    assert read(path, **answers)["bars L1 SG2"].to_list() == (2 * RAMP).tolist()
    pyarrow.parquet.write_table(pa.table({"Time [s]": [0.0], "b": [[{"x": 1.0}]]}), path)
    with pytest.raises(FileError, match="lists: b"):
        files.understand(path)


def test_a_group_for_each_column_is_a_table_each_and_one_is_asked_for(tmp_path):
    path = tmp_path / "a.h5"
    with h5py.File(path, "w") as file:
        for number, (name, unit) in enumerate((("SG1", "um/m"), ("Load", "kN")), start=1):
            group = file.create_group(f"channels/{name}")
            group.create_dataset("time", data=STEPS).attrs["units"] = "s"
            group.create_dataset("data", data=number * RAMP).attrs["unit"] = unit
    seen = files.understand(path)
    assert "which table? channels/Load (6 rows, 2 columns), channels/SG1" in asked(seen)["table"]
    assert read(path, table="channels/Load")["data"].to_list() == (2 * RAMP).tolist()


def test_packed_numbers_are_read_as_what_they_stand_for(tmp_path):
    path = tmp_path / "a.h5"
    with h5py.File(path, "w") as file:
        file.create_dataset("t", data=STEPS).attrs["unit"] = "s"
        packed = file.create_dataset("SG1", data=np.array([0, 100, -9, 300, 400, 500], np.int16))
        attributes = {"scale_factor": 0.01, "add_offset": 5.0, "_FillValue": np.int16(-9)}
        packed.attrs.update(attributes | {"units": "um/m"})
    # 5 + 0.01 n, and nothing where the filling stands: CF conventions 1.11, section 8.1.
    assert read(path)["SG1"].to_list() == [5.0, 6.0, None, 8.0, 9.0, 10.0]


STAMPS = [f"2026-07-01T09:00:{n:02d}Z" for n in range(6)]


def test_a_structure_for_each_channel_a_cell_for_each_text_and_a_cell_for_each_vector(tmp_path):
    path = tmp_path / "a.mat"
    kinds = [("name", "O"), ("unit", "O"), ("data", "O")]
    channels = np.zeros(2, dtype=kinds)
    channels[0] = ("SG1", "um/m", RAMP)
    channels[1] = ("Load", "kN", 2 * RAMP)
    vectors = np.empty(2, dtype=object)
    vectors[:] = [3 * RAMP, 4 * RAMP]
    cells = np.array(STAMPS, dtype=object)
    scipy.io.savemat(path, {"ch": channels, "stamp": cells, "c": vectors, "note": "by hand"})
    seen = files.understand(path)
    assert [(column.name, column.unit_in_file) for column in seen.columns] == [
        ("SG1", "um/m"), ("Load", "kN"), ("stamp", ""), ("c 1", ""), ("c 2", ""),
    ]  # fmt: skip
    values = read(path, clock="column 3", unit_4="none", unit_5="none")
    assert values["Load"].to_list() == (2 * RAMP).tolist()
    assert values["c 2"].to_list() == (4 * RAMP).tolist()


def letters(text: str) -> np.ndarray:
    return np.frombuffer(text.encode("utf-16-le"), np.uint16).reshape(-1, 1)


def references(file: h5py.File, items: list[np.ndarray], kind: str) -> np.ndarray:
    """Datasets put aside, and references to them, as version 7.3 keeps cells."""
    aside = file.require_group("#refs#")
    found = []
    for item in items:
        made = aside.create_dataset(f"r{len(aside)}", data=item)
        made.attrs["MATLAB_class"] = np.bytes_(kind)
        found.append(made.ref)
    return np.array(found, dtype=h5py.ref_dtype).reshape(-1, 1)


def test_version_7_3_is_read_with_its_texts_cells_structures_and_empty_places(tmp_path):
    path = tmp_path / "a.mat"
    with h5py.File(path, "w", userblock_size=512) as file:
        group = file.create_group("ch")
        group.attrs["MATLAB_class"] = np.bytes_("struct")
        group["name"] = references(file, [letters("SG1"), letters("Load")], "char")
        group["unit"] = references(file, [letters("um/m"), letters("kN")], "char")
        group["data"] = references(file, [RAMP[None], 2 * RAMP[None]], "double")
        file["stamp"] = references(file, [letters(stamp) for stamp in STAMPS], "char")
        file["stamp"].attrs["MATLAB_class"] = np.bytes_("cell")
        file["note"] = letters("by hand")
        file["note"].attrs["MATLAB_class"] = np.bytes_("char")
        file["gone"] = np.array([0, 0], np.uint64)
        file["gone"].attrs["MATLAB_empty"] = np.uint8(1)
    head = b"MAT-file of version 7.3".ljust(124) + b"\x00\x02IM"
    path.write_bytes(head.ljust(512, b"\0") + path.read_bytes()[512:])
    seen = files.understand(path)
    assert [(column.name, column.unit_in_file) for column in seen.columns] == [
        ("SG1", "um/m"), ("Load", "kN"), ("stamp", ""),
    ]  # fmt: skip
    layout = seen.layout()
    with files.reading(path, layout) as reading:
        [block] = list(reading)
    assert reading.report.start_utc == "2026-07-01T09:00:00.000000Z"
    assert block.values["Load"].to_list() == (2 * RAMP).tolist()
