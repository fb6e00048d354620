"""Files that aren't text: what they hold arrives as it was stored, through the same questions."""

import datetime as dt
from pathlib import Path

import h5py
import numpy as np
import polars as pl
import pyarrow as pa
import pyarrow.feather
import pyarrow.parquet
import pytest
import scipy.io
import xlsxwriter

from gaugewright.errors import FileError, InputError
from gaugewright.sources import files
from gaugewright.sources.layout import Layout
from gaugewright.sources.plugins import SHIPPED, ranked

# Numbers whose decimal text is long, tiny, huge or whole: each must come back to the last bit.
AWKWARD = [0.1 + 0.2, 1e-7, 1 / 3, -2.5e-300, 123456789.123456789, 4.0]


def read(path: Path, **answers) -> tuple[pl.DataFrame, list, Layout]:
    """Values, marks and layout of a file, with questions answered."""
    layout = files.understand(path).layout(**answers)
    with files.reading(path, layout) as reading:
        blocks = list(reading)
        assert reading.report.accounted
    values = pl.concat([block.values for block in blocks])
    return values, [mark for block in blocks for mark in block.marks], layout


def workbook(path: Path, rows: list[list[object]], *, title: str = "Readings") -> Path:
    """A workbook by another hand."""
    with xlsxwriter.Workbook(path, {"default_date_format": "yyyy-mm-dd hh:mm:ss.000"}) as book:
        sheet = book.add_worksheet(title)
        book.add_worksheet("Empty")
        for r, row in enumerate(rows):
            for c, cell in enumerate(row):
                if isinstance(cell, str) and cell.startswith("="):
                    sheet.write_formula(r, c, cell, None, "#DIV/0!")
                elif cell is not None:
                    sheet.write(r, c, cell)
    return path


def test_a_sheet_with_a_title_a_blank_row_and_a_row_of_units(tmp_path) -> None:
    rows: list[list[object]] = [["Beam 4, second day"], [], ["Time", "Load", "SG1"]]
    rows += [["s", "kN", "µm/m"]]
    rows += [[0.5 * i, value, i] for i, value in enumerate(AWKWARD)]
    path = workbook(tmp_path / "day 2.xlsx", rows)
    seen = files.understand(path)
    assert [column.name for column in seen.columns] == ["Time", "Load", "SG1"]
    assert (seen.importer, seen.table, seen.units_row) == ("workbook", "Readings", 4)
    values, marks, _ = read(path)
    written = [float(f"{value:.16G}") for value in AWKWARD]  # as many digits as the writer keeps
    assert values["Load"].to_list() == written
    assert marks == []


def test_error_values_words_and_empty_cells_of_a_sheet_become_marks(tmp_path) -> None:
    rows: list[list[object]] = [["Time (s)", "Load (kN)"], [0, 1.5], [1, "=1/0"], [2, None]]
    rows += [[3, "OVERRANGE"], [4, 2.5]]
    values, marks, _ = read(workbook(tmp_path / "a.xlsx", rows))
    assert values["Load"].to_list() == [1.5, None, None, None, 2.5]
    assert [mark.code for mark in marks] == ["error", "empty", "overrange"]


def test_instants_of_a_sheet_are_stamps_and_their_zone_is_asked(tmp_path) -> None:
    begin = dt.datetime.fromisoformat("2026-03-01T10:00:00")
    stamps = [begin + dt.timedelta(milliseconds=250 * i) for i in range(4)]
    rows: list[list[object]] = [["Time", "Load (kN)"], *([stamp, 1.0] for stamp in stamps)]
    path = workbook(tmp_path / "a.xlsx", rows)
    assert "zone" in [question.field for question in files.understand(path).questions]
    layout = files.understand(path).layout(zone="UTC")
    with files.reading(path, layout) as reading:
        [block] = list(reading)
    assert block.elapsed_ns.to_list() == [250_000_000 * i for i in range(4)]
    assert reading.report.start_utc == "2026-03-01T10:00:00.000000Z"


def test_of_several_sheets_one_is_asked_for(tmp_path) -> None:
    path = tmp_path / "two.xlsx"
    with xlsxwriter.Workbook(path) as book:
        for name, many in (("Morning", 3), ("Afternoon", 9)):
            sheet = book.add_worksheet(name)
            sheet.write_row(0, 0, ["Time (s)", "Load (kN)"])
            for row in range(many):
                sheet.write_row(row + 1, 0, [row, many])
    [question] = files.understand(path).questions
    assert (question.field, question.choices) == ("table", ("Morning", "Afternoon"))
    with pytest.raises(InputError, match="which table"):
        files.understand(path).layout()
    values, _, layout = read(path, table="Morning")
    assert values["Load"].to_list() == [3, 3, 3]
    assert Layout.from_plain(layout.as_plain()) == layout
    with pytest.raises(InputError, match="one of Morning, Afternoon"):
        files.understand(path, table="Night")


@pytest.mark.parametrize("kind", ["parquet", "arrow", "stream"])
def test_column_files_bring_back_every_bit(tmp_path, kind) -> None:
    narrow = np.array(AWKWARD, np.float32)
    missing = [None, *AWKWARD[1:]]
    table = pa.table({
        "Time [s]": np.arange(6) * 0.01,
        "SG1 [µm/m]": missing,
        "SG2 [µm/m]": narrow,
        "note": ["a", None, 'in "quotes"', "tab\there", "", "é"],
    })  # fmt: skip
    path = tmp_path / "pull.bin"
    if kind == "parquet":
        pyarrow.parquet.write_table(table, path)
    elif kind == "arrow":
        pyarrow.feather.write_feather(table, path)
    else:
        with pa.OSFile(str(path), "wb") as sink, pa.ipc.new_stream(sink, table.schema) as stream:
            stream.write_table(table)
    values, marks, _ = read(path)
    assert values["SG1"].to_list() == missing
    assert values["SG2"].to_numpy().tolist() == narrow.astype(np.float64).tolist()
    assert [(mark.column, mark.code) for mark in marks if mark.column == "SG1"] == [
        ("SG1", "empty")
    ]


def test_instants_with_a_zone_need_no_question(tmp_path) -> None:
    start = dt.datetime(2026, 7, 1, 12, 0, tzinfo=dt.UTC)
    stamps = pa.array(
        [start, start + dt.timedelta(milliseconds=5)], pa.timestamp("ns", "Europe/Rome")
    )
    path = tmp_path / "a.parquet"
    pyarrow.parquet.write_table(pa.table({"Time": stamps, "Load [kN]": [1.0, 2.0]}), path)
    seen = files.understand(path)
    assert "zone" not in [question.field for question in seen.questions]
    with files.reading(path, seen.layout()) as reading:
        [block] = list(reading)
    assert reading.report.start_utc == "2026-07-01T12:00:00.000000Z"
    assert block.elapsed_ns.to_list() == [0, 5_000_000]


def test_a_column_of_lists_is_refused_by_name(tmp_path) -> None:
    path = tmp_path / "a.parquet"
    pyarrow.parquet.write_table(pa.table({"t": [0.0], "bursts": [[1.0, 2.0]]}), path)
    with pytest.raises(FileError, match="bursts"):
        files.understand(path)


def test_groups_of_an_hdf5_file_are_tables_and_units_come_from_attributes(tmp_path) -> None:
    path = tmp_path / "test.h5"
    with h5py.File(path, "w") as file:
        group = file.create_group("day 1/fast")
        group.create_dataset("time", data=np.arange(6) * 1e-3).attrs["units"] = "s"
        group.create_dataset("SG1", data=np.array(AWKWARD)).attrs["unit"] = "um/m"
        matrix = file.create_dataset("slow", data=np.arange(20.0).reshape(10, 2), chunks=(5, 2))
        matrix.attrs["units"] = ["s", "kN"]
    seen = files.understand(path, table="day 1/fast")
    assert [(column.name, column.unit_in_file) for column in seen.columns] == [
        ("SG1", "um/m"),
        ("time", "s"),
    ]
    values, _, _ = read(path, table="day 1/fast", clock="2")
    assert values["SG1"].to_list() == AWKWARD
    values, _, _ = read(path, table="slow", clock="1")
    assert values["slow 2"].to_list() == [1.0 + 2 * i for i in range(10)]


def test_mat_of_version_5_with_vectors_a_structure_and_a_matrix(tmp_path) -> None:
    path = tmp_path / "test.mat"
    inside = {"t": np.arange(6.0), "load": np.array(AWKWARD)}
    scipy.io.savemat(path, {"run": inside, "wide": np.arange(12.0).reshape(2, 6), "name": "x"})
    names = [table.name for table in files.importer_for(path)[0].tables(path)]
    assert names == ["run", "wide"]
    answers = {"table": "run", "clock": "1", "time_unit": "s", "unit_2": "kN"}
    values, _, _ = read(path, **answers)
    assert values["load"].to_list() == AWKWARD


@pytest.mark.parametrize("name", ["a.xlsx", "a.parquet", "a.arrow", "a.h5", "a.mat"])
@pytest.mark.parametrize("keep", [0.3, 0.7, 0.99])
def test_a_file_cut_short_is_refused_by_name_and_nothing_crashes(tmp_path, name, keep) -> None:
    path = tmp_path / name
    columns = {"t": np.arange(5000.0), "x": np.random.default_rng(5).normal(size=5000)}
    if name.endswith("xlsx"):
        workbook(path, [list(columns), *np.column_stack(list(columns.values())).tolist()])
    elif name.endswith("parquet"):
        pyarrow.parquet.write_table(pa.table(columns), path)
    elif name.endswith("arrow"):
        pyarrow.feather.write_feather(pa.table(columns), path)
    elif name.endswith("h5"):
        with h5py.File(path, "w") as file:
            for key, data in columns.items():
                file.create_dataset(key, data=data, compression="gzip")
    else:
        scipy.io.savemat(path, columns)
    whole = path.read_bytes()
    path.write_bytes(whole[: int(len(whole) * keep)])
    with pytest.raises(FileError, match=name):
        read(path, clock="1", time_unit="s", unit_2="none")


def test_marks_of_text_are_refused_for_a_file_of_cells(tmp_path) -> None:
    path = workbook(tmp_path / "a.xlsx", [["t (s)", "x (kN)"], [0, 1], [1, 2]])
    with pytest.raises(InputError, match="delimiter is ';'"):
        files.understand(path, delimiter=";")


def test_each_kind_is_told_by_its_bytes_alone(tmp_path) -> None:
    table = pa.table({"t": [0.0, 1.0]})
    made = {"Parquet": tmp_path / "1", "Arrow": tmp_path / "2", "HDF5": tmp_path / "3"}
    pyarrow.parquet.write_table(table, made["Parquet"])
    pyarrow.feather.write_feather(table, made["Arrow"])
    h5py.File(made["HDF5"], "w").close()
    made["MAT"] = tmp_path / "4.mat"
    scipy.io.savemat(made["MAT"], {"x": [1.0]})
    made["workbook"] = workbook(tmp_path / "5.xlsx", [[1]])
    made["delimited text"] = tmp_path / "6"
    made["delimited text"].write_text("a;b\n1;2\n")
    for label, path in made.items():
        assert ranked(path, SHIPPED)[0][0].label == label
