"""Every file of the open data brought into a campaign: units, clock, rows and values as written.

What is expected is read here by the standard library's own reader, line by line.
"""

import csv
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import pytest
import zstandard

from gaugewright.errors import InputError
from gaugewright.records.identity import working_context
from gaugewright.records.readings import Clock, ClockMap
from gaugewright.records.specimen import Campaign
from gaugewright.services.comparing import twice_recorded
from gaugewright.services.reading import layouts, readings
from gaugewright.services.reading.clocks import ByStamps
from gaugewright.store.campaign import CampaignStore

DATA = Path(__file__).parents[1] / "data" / "opendata"


@dataclass(frozen=True)
class File:
    """A file: what a person answers, and where its rows, units and a column stand."""

    name: str
    answers: dict
    asked: set
    first_line: int
    units: tuple
    column: int
    delimiter: str = ","
    decimal: str = "."
    encoding: str = "utf-8"
    first: str = ""
    seconds: float = 0.0
    without_reading: int = 0
    signs: dict = field(default_factory=dict)


BERLIN = {"zone": "Europe/Berlin", "date_order": "yyyy-dd-mm hh:mm:ss.f"}
CYCLIC = {
    "clock": "column 3",
    "unit_1": "none",
    **{f"unit_{n}": "m/m" for n in (8, 9)},
    "unit_10": "MPa",
    **{f"sign_{n}": "tension" for n in (7, 8)},
    **{f"sign_{n}": "compression" for n in (9, 10)},
}
FILES = (
    File(
        "bridge-settlement/ref_support_load_01_strain.csv",
        BERLIN,
        {"date_order", "zone"},
        2,
        ("", "µm/m"),
        1,
        # 08:36:24.897 on 11 April 2022 in Germany, which is two hours ahead of UTC by then.
        first="2022-04-11T06:36:24.897000Z",
        seconds=719.99,
    ),
    File(
        "bridge-settlement/ref_support_load_01_force.csv",
        BERLIN,
        {"date_order", "zone"},
        2,
        ("", "kN", "kN"),
        2,
        first="2022-04-11T06:36:24.897000Z",
        seconds=719.99,
    ),
    File(
        "bridge-settlement/ref_load_01_airtemp.csv",
        BERLIN | {"date_order": "dd.mm.yyyy hh:mm:ss.f"},
        {"date_order", "zone"},
        2,
        ("", "°C"),
        1,
        encoding="latin-1",
        first="2022-04-11T06:36:25.984000Z",
        seconds=717.944,
    ),
    File(
        "bridge-signal-to-moment/blade_cal.csv",
        {"clock": "none"} | {f"unit_{n}": "none" for n in (1, 2, 3, 4)},
        {"clock", "unit_1", "unit_2", "unit_3", "unit_4"},
        1,
        ("", "", "", ""),
        2,
    ),
    File(
        "coupon-no-extensometer/St1594.csv",
        {},
        set(),
        15,
        ("s", "mm", "N", "m/m", "MPa"),
        2,
        first="0.0",
    ),
    File(
        "cyclic-coupon/HEM320C_LP8.csv",
        CYCLIC,
        {"clock", "date_order", "zone", *CYCLIC},
        2,
        ("", "", "s", "kN", "mm", "mm", "MPa", "m/m", "m/m", "MPa"),
        6,
        first="0.100024319999648",
        seconds=422.8,
    ),
    File(
        "s355-tensile/Zd3.csv",
        {},
        set(),
        3,
        ("s", "mm", "kN", "%"),
        2,
        delimiter=";",
        decimal=",",
        first="0.0",
    ),
    File(
        "s355-tensile/Zx2.csv",
        {},
        set(),
        3,
        ("s", "mm", "kN", "%"),
        3,
        delimiter=";",
        decimal=",",
        first="0.0",
    ),
)


def whole(folder: Path, name: str) -> Path:
    path = DATA / name
    if path.exists():
        return path
    made = folder / path.name
    made.write_bytes(zstandard.ZstdDecompressor().decompress((DATA / f"{name}.zst").read_bytes()))
    return made


def written(path: Path, file: File) -> tuple[int, list[float]]:
    """Rows and one column's numbers as the standard library reads them."""
    text = path.read_text(encoding=file.encoding).splitlines()[file.first_line - 1 :]
    rows = [row for row in csv.reader(text, delimiter=file.delimiter) if any(row)]
    cells = [row[file.column].strip() for row in rows]
    return len(rows), [float(c.replace(file.decimal, ".")) if c else np.nan for c in cells]


@pytest.fixture
def store(tmp_path):
    campaign = Campaign("c", "Campaign", "UTC")
    with CampaignStore.create(tmp_path / "campaign", campaign, working_context()) as made:
        yield made


def brought(store, path, file, label="it"):
    seen = layouts.understood(path)
    layout = layouts.confirmed(seen, file.answers, {})
    zone = file.answers.get("zone", "")
    joint = ByStamps(0.05, "as the data set says") if zone else None
    clock = Clock(f"clock of {label}", zone, 0.001)
    return readings.bring_in(
        store, path, layout, label=label, instrument=None, clock=clock, joint=joint
    )


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.name)
def test_a_file_comes_in_with_its_units_clock_rows_and_values(store, tmp_path, file):
    path = whole(tmp_path, file.name)
    assert {q.field for q in layouts.understood(path).questions} == file.asked
    made = brought(store, path, file)
    record, count = made.entry.record, written(path, file)
    assert (record.rows, record.rows_reported) == (count[0], 0)
    assert tuple(column.unit for column in record.columns) == file.units
    assert record.first_stamp == file.first
    kept = store.readings(made.entry.uid)
    np.testing.assert_array_equal(kept.values(record.columns[file.column].field), count[1])
    if file.seconds:
        assert kept.elapsed_s()[-1] == pytest.approx(file.seconds, abs=0.1)


def test_a_day_and_a_month_that_could_be_swapped_are_never_taken_as_they_come(store, tmp_path):
    for file in FILES[:3]:
        seen = layouts.understood(whole(tmp_path, file.name))
        with pytest.raises(InputError, match="date_order"):
            layouts.confirmed(seen, {"zone": "Europe/Berlin"}, {})
    # With the right order the three files of one test lie over each other.
    spans = []
    for number, file in enumerate(FILES[:3]):
        made = brought(store, whole(tmp_path, file.name), file, label=str(number))
        clock = next(
            e.record for e in store.entries(ClockMap) if e.record.recording == made.entry.uid
        )
        begins = clock.epoch.timestamp()
        spans.append((begins, begins + store.readings(made.entry.uid).elapsed_s()[-1]))
    assert max(begin for begin, _ in spans) < min(end for _, end in spans) - 600


def test_a_clock_that_runs_backwards_scrambles_no_row(store, tmp_path):
    file = FILES[5]
    path = whole(tmp_path, file.name)
    answers = file.answers | {
        "clock": "column 2",
        "zone": "none",
        "date_order": "yyyy-mm-dd hh:mm:ss.f",
    }
    seen = layouts.understood(path)
    layout = layouts.confirmed(seen, answers, {})
    clock = Clock("wall clock", "", 0.001)
    made = readings.bring_in(store, path, layout, label="wall", instrument=None, clock=clock)
    # Steps and their largest as SOURCE.md has them: 7 592 back, a jump forward now and then.
    assert made.report.steps_back == 7592
    kept = store.readings(made.entry.uid)
    force = kept.values(made.entry.record.columns[3].field)
    _, stress = written(path, file)
    assert np.corrcoef(force, stress)[0, 1] > 0.9999  # row by row what it was


def test_one_quantity_with_two_signs_is_asked_about_and_found_by_comparison(store, tmp_path):
    file = FILES[5]
    path = whole(tmp_path, file.name)
    questions = {q.field for q in layouts.understood(path).questions}
    assert {"sign_7", "sign_8", "sign_9", "sign_10"} <= questions
    brought(store, path, file)
    strain = twice_recorded.compare(store, ("it", "Eng_Strain"), ("it", "e_true"))
    # ln(1 + ε) bends away from ε by half of ε: up to 3 % of it at 6 %.
    assert strain.found.gain == pytest.approx(-1.0, abs=0.03)
    assert strain.is_one_unit
    stress = twice_recorded.compare(store, ("it", "Eng_Stress"), ("it", "Sigma_true"))
    assert stress.found.gain == pytest.approx(-1.0, abs=0.06)


def test_no_file_of_the_open_data_is_left_out():
    kept = {
        str(path.relative_to(DATA)).removesuffix(".zst")
        for path in DATA.rglob("*.csv*")
        if not path.name.endswith(".head.csv")
    }
    assert kept == {file.name for file in FILES}
