"""Spreadsheets as laboratories have them: what isn't plain is asked; nothing is half written."""

import math
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from gaugewright import settings
from gaugewright.errors import FileError, InputError
from gaugewright.records.identity import working_context
from gaugewright.records.specimen import Campaign, Station
from gaugewright.services.campaign import campaigns
from gaugewright.services.campaign.book import Book
from gaugewright.services.entering import entry as plan_entry
from gaugewright.services.entering import sheet as plan_entry_sheet
from gaugewright.services.entering.sheet import Understood
from gaugewright.sources.plan_sheet import grid_of_text, grid_of_workbook, text_of_grid
from gaugewright.store.campaign import CampaignStore

HEAD = ("Station", "Bar", "Distance from west end (mm)", "Angle (deg)")
ROWS = (("L1-T", "L1", 2070, 0), ("L1-U", "L1", 2070, 180), ("L2-T", "L2", 1670.5, 0))


@pytest.fixture(scope="module")
def planned(tmp_path_factory: pytest.TempPathFactory) -> Iterator[CampaignStore]:
    """Campaign with two bars of 4.14 m and no station."""
    folder = tmp_path_factory.mktemp("planned")
    shipped = settings.load({}, environment={}, user_folder=folder / "no settings")
    record = Campaign(label="plan", title="A plan", zone="Europe/Rome")
    with campaigns.new(folder / "plan", record, shipped, context=working_context()) as store:
        plan_entry.written(store, "specimen", {"label": "H3", "kind": "cast member"})
        metal = {"label": "B500", "law": "elastic", "elastic_modulus": "200"}
        metal |= {"poisson_ratio": "0.3", "thermal_expansion": "11.6"}
        plan_entry.written(store, "material", metal)
        bars = {"label": "L1; L2", "specimen": "H3", "material": "B500", "length": "4140"}
        plan_entry.written(store, "bar", bars)
        yield store


@pytest.fixture
def read(planned: CampaignStore) -> Callable[..., Understood]:
    """What is understood of rows, or of a workbook, with answers."""

    def understood(rows: Any, **answers: str) -> Understood:
        if isinstance(rows, Path):
            grid = grid_of_workbook(rows)
        else:
            grid = grid_of_text("\n".join("\t".join(map(str, row)) for row in rows))
        given = {key.replace("_", " "): value for key, value in answers.items()}
        return plan_entry_sheet.understood(Book.read(planned), grid, given)

    return understood


def keys(found: Understood) -> list[str]:
    return [one.key for one in found.asked]


def test_a_plain_sheet_asks_nothing(read: Callable[..., Understood]) -> None:
    found = read((HEAD, *ROWS))
    assert found.is_ready
    assert [row.label for row in found.rows] == ["L1-T", "L1-U", "L2-T"]
    assert [row.distance for row in found.rows] == [2.07, 2.07, 1.6705]
    assert found.rows[1].angle == pytest.approx(math.pi)
    assert {row.datum for row in found.rows} == {"west end"}


def test_title_rows_blank_rows_units_below_and_headings_again(
    read: Callable[..., Understood], tmp_path: Path
) -> None:
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.append(["STRAIN GAUGE SCHEDULE, BEAM H3"])
    sheet.merge_cells("A1:D1")
    sheet.append([])
    sheet.append(["rev. 2"])
    sheet.append(["Station", "Bar", "Distance", "Angle", "Remarks"])
    sheet.append([None, None, "mm", "deg", None])
    sheet.append([*ROWS[0], "check"])
    sheet.append([])
    sheet.append(["Station", "Bar", "Distance", "Angle", "Remarks"])
    sheet.append(ROWS[1])
    book.save(tmp_path / "ugly.xlsx")
    found = read(tmp_path / "ugly.xlsx", datum="west end of the bar")
    assert keys(found) == []
    assert [(row.row, row.label) for row in found.rows] == [(6, "L1-T"), (9, "L1-U")]
    told = " ".join(found.told)
    assert "“STRAIN GAUGE SCHEDULE, BEAM H3”; “rev. 2”: taken as a title" in told
    assert "1 blank row left out" in told
    assert "headings stand again in row 8" in told
    assert "“Remarks”, is left out" in told


def test_numbers_without_a_unit_are_asked_whatever_their_size(
    read: Callable[..., Understood],
) -> None:
    rows = (("Station", "Bar", "Distance from west end", "Angle (deg)"), ("S", "L1", 40, 0))
    found = read(rows)
    assert keys(found) == ["unit C"]
    assert found.asked[0].column == 3
    assert read(rows, unit_C="in").rows[0].distance == pytest.approx(40 * 0.0254)
    assert read(rows, unit_C="furlong").asked  # not one of the choices


@pytest.mark.parametrize(
    ("heading", "cell", "metres"),
    [
        ("Distance (in)", "10 1/2", 0.2667),
        ("Distance [in.]", "10.5", 0.2667),
        ("Distance, ft", "2", 0.6096),
        ("Distance (mm)", "10.5 in", 0.2667),
        ("Distance", "12.5 in", 0.3175),
        ("Distance (mm)", "12,5", 0.0125),
    ],
)
def test_units_are_read_where_they_are_written(
    read: Callable[..., Understood], heading: str, cell: str, metres: float
) -> None:
    found = read((("Station", "Bar", heading, "Face"), ("S", "L1", cell, "top")), datum="end")
    assert keys(found) == []
    assert found.rows[0].distance == pytest.approx(metres)


def test_a_comma_that_may_part_thousands_is_asked_once_for_its_column(
    read: Callable[..., Understood],
) -> None:
    rows = (HEAD, ("S1", "L1", "1,234", 0), ("S2", "L1", "2,070", 0))
    assert keys(read(rows)) == ["comma C"]
    assert read(rows, comma_C="thousands").rows[0].distance == pytest.approx(1.234)
    assert read(rows, comma_C="decimal").rows[1].distance == pytest.approx(0.00207)


def test_cells_below_a_merged_bar_are_asked_and_never_filled_silently(
    read: Callable[..., Understood], tmp_path: Path
) -> None:
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.append(HEAD)
    sheet.append(["A", "L1", 100, 0])
    sheet.append(["B", None, 200, 0])
    sheet.append(["C", None, 300, 0])
    sheet.merge_cells("B2:B4")
    book.save(tmp_path / "merged.xlsx")
    found = read(tmp_path / "merged.xlsx")
    assert keys(found) == ["blank B"]
    assert "merged" in found.asked[0].words
    assert [r.label for r in read(tmp_path / "merged.xlsx", blank_B="above").rows] == [*"ABC"]
    assert [r.label for r in read(tmp_path / "merged.xlsx", blank_B="out").rows] == ["A"]


def test_unknown_bars_doubles_and_odd_cells_each_have_their_question(
    read: Callable[..., Understood],
) -> None:
    rows = (
        HEAD,
        ("S1", "l1", 100, 0),  # not the label: small letters
        ("S2", "L9", 100, 0),
        ("S3", "L1", "TBD", 0),
        ("S4", "L1", 100, "N"),
        ("S5", "L1", 9000, 0),
        ("S6", "L1", 100, 0),
        ("S6", "L1", 200, 0),
        ("", "L1", 300, 0),
        ("Total: 8", "", "", ""),
    )
    found = read(rows)
    assert not found.is_ready
    assert set(keys(found)) == {
        *("bar l1", "bar L9", "distance 4", "face N", "beyond 6", "twice S6", "label 9", "row 10")
    }
    answers = {
        "bar_l1": "L1",
        "bar_L9": "out",
        "distance_4": "150 mm",
        "face_N": "270",
        "beyond_6": "out",
        "twice_S6": "8",
        "label_9": "S7",
        "row_10": "out",
    }
    ready = read(rows, **answers)
    assert keys(ready) == []
    assert {row.label: round(row.distance, 4) for row in ready.rows} == {
        "S1": 0.1,
        "S3": 0.15,
        "S4": 0.1,
        "S6": 0.2,
        "S7": 0.3,
    }
    again = read(rows, **(answers | {"distance_4": "soon"}))
    assert keys(again) == ["distance 4"]
    assert again.asked[0].answer == "soon"
    assert "distance is 'soon'" in again.asked[0].wrong


def test_headings_that_may_mean_two_things_are_asked(read: Callable[..., Understood]) -> None:
    rows = (("Station", "Bar", "Position", "Location"), ("S1", "L1", "100 mm", "top"))
    found = read(rows)
    assert keys(found) == ["column C", "column D"]
    found = read(
        rows,
        column_C="distance along the bar",
        column_D="place round the bar",
        datum="west end",
    )
    assert keys(found) == []
    twice = read((("Station", "Gauge", "Bar", "x (mm)", "Face"), ("1", "S1", "L1", 100, "top")))
    assert keys(twice) == ["column A", "column B"]


def test_without_headings_the_row_and_every_column_are_asked(
    read: Callable[..., Understood],
) -> None:
    rows = (("S1", "L1", "100 mm", "top"),)
    assert keys(read(rows)) == ["headings"]
    assert keys(read(rows, headings="0")) == ["column A", "column B", "column C", "column D"]


def test_what_no_column_tells_is_asked_for_the_whole_sheet(
    read: Callable[..., Understood],
) -> None:
    rows = (("Station", "Distance (mm)"), ("S1", 100))
    assert keys(read(rows)) == ["datum", "bar", "angle"]
    found = read(rows, datum="end", bar="L2", angle="90")
    assert found.rows[0].angle == pytest.approx(math.pi / 2)


def test_clock_hours_are_read_where_they_are_said(read: Callable[..., Understood]) -> None:
    rows = ((*HEAD[:3], "o'clock"), ("S1", "L1", 1, 3), ("S2", "L1", 1, "12"))
    found = read(rows)
    assert [round(math.degrees(row.angle), 9) for row in found.rows] == [90.0, 0.0]
    assert keys(read(((*HEAD[:3], "Clock"), ("S1", "L1", 1, 3)))) == ["unit D"]
    assert keys(read(((*HEAD[:3], "o'clock"), ("S1", "L1", 1, 25)))) == ["face 25"]


def test_a_workbook_survives_the_way_through_the_form(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    book.active.append(['He said "1"', None, "a\tb", 2070.0, 0.1])
    book.active.append(["two\nlines"])
    book.save(tmp_path / "odd.xlsx")
    grid = grid_of_workbook(tmp_path / "odd.xlsx")
    assert grid.rows[0] == ('He said "1"', "", "a\tb", "2070", "0.1")
    assert grid_of_text(text_of_grid(grid)).rows == grid.rows


def test_sheets_are_named_and_what_isn_t_a_workbook_is_refused(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    book.active.append(["a"])
    book.create_sheet("second").append(["b"])
    book.save(tmp_path / "two.xlsx")
    with pytest.raises(InputError, match="Sheet, second"):
        grid_of_workbook(tmp_path / "two.xlsx")
    assert grid_of_workbook(tmp_path / "two.xlsx", "second").rows == (("b",),)
    (tmp_path / "no.xlsx").write_bytes(b"not a workbook")
    with pytest.raises(FileError):
        grid_of_workbook(tmp_path / "no.xlsx")
    with pytest.raises(InputError, match="empty"):
        grid_of_text(" \n\t\n")
    with pytest.raises(InputError, match="at most"):
        grid_of_text("x\n" * 3000)


def test_nothing_is_written_while_a_question_is_open_and_then_all_of_it(
    planned: CampaignStore, read: Callable[..., Understood]
) -> None:
    before = planned.head()
    with pytest.raises(InputError, match="questions open"):
        plan_entry_sheet.kept(planned, read((HEAD, ("S1", "L9", 100, 0))))
    assert planned.head() == before
    refs = plan_entry_sheet.kept(planned, read((HEAD, *ROWS)))
    assert len(Book.read(planned).of(Station)) == 3
    moved = (HEAD, ("L1-T", "L1", 2000, 0), ("new", "L2", 5, 0))
    found = read(moved)
    assert keys(found) == ["there L1-T"]
    assert [row.label for row in read(moved, **{"there_L1-T": "keep"}).rows] == ["new"]
    later = plan_entry_sheet.kept(planned, read(moved, **{"there_L1-T": "change"}))
    assert Book.read(planned).labelled(Station, "L1-T").record.distance_planned == 2.0
    plan_entry.taken_back(planned, later)
    plan_entry.taken_back(planned, refs[1:])
    assert [s.record.label for s in Book.read(planned).of(Station)] == ["L1-T"]
    assert Book.read(planned).labelled(Station, "L1-T").record.distance_planned == 2.07
