"""Values that stood ahead of a record are kept with it, in their column, and taken off nothing."""

from datetime import UTC, datetime
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from gaugewright import settings
from gaugewright.records.identity import working_context
from gaugewright.records.readings import Clock, ClockMap, Recording, TareValue
from gaugewright.records.specimen import Campaign
from gaugewright.records.stated import Stated
from gaugewright.services.reading import layouts, readings
from gaugewright.store.campaign import CampaignStore
from gaugewright.web import import_form
from gaugewright.web.app import create_app
from tests.web.reading import rows

TEXT = "t;P;SG1\ns;kN;um/m\nTare;0,31;-58,5\nTare;0,30;\n" + "".join(
    f"0,{n:02d};{n},5;1,{n:02d}\n" for n in range(20)
)
NOON = datetime(2026, 5, 4, 12, tzinfo=UTC)
KEPT = (TareValue(3, "P", "0,31"), TareValue(3, "SG1", "-58,5"), TareValue(4, "P", "0,30"))


@pytest.fixture
def store(tmp_path: Path):
    campaign = Campaign("c", "Campaign", "UTC")
    with CampaignStore.create(tmp_path / "campaign", campaign, working_context()) as made:
        yield made


def test_tare_values_stay_with_the_recording_and_the_readings_stay_as_written(
    store: CampaignStore, tmp_path: Path
) -> None:
    path = tmp_path / "tared.csv"
    path.write_text(TEXT, encoding="utf-8")
    seen = layouts.understood(path, tare_lines=(3, 4))
    assert layouts.open_questions(seen, {}, {}) == ()
    layout = layouts.confirmed(seen, {}, {})
    brought = readings.bring_in(
        store, path, layout, label="tared", instrument=None, clock=Clock("K", "", 0.01)
    )
    record = store.labelled(Recording, "tared").record
    assert record.tare_values == KEPT
    assert (record.rows, record.rows_reported) == (20, 2)
    assert store.readings(brought.entry.uid).values("sg1_um_per_m")[0] == 1.0


def test_a_profile_reads_the_next_file_of_the_kind_alike(
    store: CampaignStore, tmp_path: Path
) -> None:
    first, second = tmp_path / "one.csv", tmp_path / "two.csv"
    first.write_text(TEXT, encoding="utf-8")
    second.write_text(TEXT.replace("-58,5", "-57,5"), encoding="utf-8")
    layout = layouts.confirmed(layouts.understood(first, tare_lines=(3, 4)), {}, {})
    made = readings.bring_in(
        store, first, layout, label="one", instrument=None, clock=Clock("K", "", 0.01)
    )
    profile = store.entry(made.entry.record.profile)
    again = layouts.layout_of(profile, layouts.understood(second))
    readings.bring_in(
        store, second, again, label="two", instrument=None, clock=made.entry.record.clock
    )
    assert store.labelled(Recording, "two").record.tare_values[1].text == "-57,5"


@pytest.mark.parametrize(("typed", "lines"), [("3, 4", (3, 4)), ("none", ()), ("", None)])
def test_what_is_typed_on_the_page_says_which_lines(typed: str, lines: object) -> None:
    assert import_form.structure({"tare_lines": typed}).get("tare_lines") == lines


def test_the_recording_s_page_shows_them_in_their_column(tmp_path: Path) -> None:
    home = tmp_path / "home"
    home.mkdir()
    path = tmp_path / "tared.csv"
    path.write_text(TEXT, encoding="utf-8")
    campaign = Campaign("c", "Campaign", "UTC")
    with CampaignStore.create(home / "c", campaign, working_context()) as made:
        layout = layouts.confirmed(layouts.understood(path, tare_lines=(3, 4)), {}, {})
        clock = Clock("K", "", 0.01)
        brought = readings.bring_in(made, path, layout, label="tared", instrument=None, clock=clock)
        readings_map = ClockMap(brought.entry.uid, NOON, Stated(0.0, 0.0), 0.0, "by hand")
        made.add(readings_map)
    shipped = settings.load({}, environment={}, user_folder=tmp_path / "none")
    base = "http://127.0.0.1:8710"
    with TestClient(create_app(shipped, home, token="t"), base_url=base) as client:
        client.get("/", params={"key": "t"})
        page = client.get("/c/c/readings/tared").text
    part = page.partition('id="tare"')[2].partition("</section>")[0]
    assert rows(part)[1:] == [
        ["P", "0,31 kN", "line 3"],
        ["SG1", "-58,5 µm/m", "line 3"],
        ["P", "0,30 kN", "line 4"],
    ]
