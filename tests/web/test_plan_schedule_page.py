"""Days at the bench in the browser: entered, drawn, kept, improved, as calendar and sheet."""

from datetime import UTC, datetime, timedelta

import icalendar
import pytest
from starlette.testclient import TestClient

from gaugewright.records.gauges import Gauge, GaugePack
from gaugewright.records.identity import working_context
from gaugewright.records.scheduling import BenchDays, BenchPlan
from gaugewright.records.specimen import Bar, Material, Specimen, SpecimenKind, Station, SteelLaw
from gaugewright.services.campaign.book import Book
from gaugewright.store.campaign import CampaignStore
from tests.services.bench_days_campaigns import stated
from tests.web.reading import words

TODAY = datetime.now(UTC).date()
PAGE = "/c/beam/plan/schedule"
DAYS = {
    "label": "first pour",
    "pour_day": str(TODAY + timedelta(days=60)),
    "pour_time": "07:30",
    "reserve": "24 h",
    "people": "AB",
    "temperature_degc": "20",
    "hours.1.first_day": "Mon",
    "hours.1.last_day": "Fri",
    "hours.1.begins": "08:00",
    "hours.1.ends": "16:00",
    "fixtures.1.label": "clamps",
    "fixtures.1.count": "1",
    "fixtures.1.steps": "bond",
    "fixtures.1.is_held": "yes",
}


@pytest.fixture
def with_gauges(client: TestClient, home) -> TestClient:
    """A browser at which AB is at work on a campaign with two gauges to be put on."""
    with CampaignStore.open(home / "beam", working_context()) as store:
        specimen = store.add(Specimen("B1", SpecimenKind.CAST_MEMBER)).uid
        steel = Material("steel", SteelLaw.ELASTIC, stated(200e9), stated(12e-6), stated(0.3))
        metal = store.add(steel).uid
        bar = store.add(Bar("S1", specimen, metal, "", stated(0.016), stated(2.01e-4), 2.0)).uid
        card = GaugePack("lot 1", "1", stated(120.0), stated(2.1), 0.005, 0.002, stated(0.01))
        pack = store.add(card).uid
        for n in (1, 2):
            station = store.add(Station(f"P{n}", bar, "end A", 0.2 * n, 0.0)).uid
            store.add(Gauge(f"G{n}", pack, station))
    assert client.post("/people/choose", data={"label": "AB"}).status_code == 200
    return client


def book(home) -> Book:
    with CampaignStore.open(home / "beam", working_context(), read_only=True) as store:
        return Book.read(store)


def test_days_are_entered_planned_and_kept_in_the_browser(with_gauges, home) -> None:
    client = with_gauges
    assert "Enter the days at the bench" in words(client.get(PAGE).text)
    answer = client.post("/c/beam/plan/enter/schedule", data=DAYS)
    assert answer.status_code == 200, words(answer.text)
    (entry,) = book(home).of(BenchDays)
    assert entry.record.fixtures[0].is_held
    text = client.get(PAGE).text
    assert "pieces of work from" in words(text)
    assert text.count("<svg") >= 2
    assert "G2: bond" in words(text)
    assert "first pour" in words(client.get("/c/beam/plan/enter/schedule/first%20pour").text)
    kept = client.post(f"{PAGE}/keep")
    assert kept.status_code == 200
    (plan,) = book(home).of(BenchPlan)
    assert {piece.steps[0] for piece in plan.record.pieces} >= {"clean", "bond", "wire"}
    assert "Nothing moved: the kept plan holds" in words(client.get(PAGE).text)
    csv = client.get(f"{PAGE}?numbers=pieces").text
    assert csv.splitlines()[0].startswith("gauge,step,day")
    content = client.get(f"{PAGE}/calendar").content
    assert icalendar.Calendar.from_ical(content).walk("VEVENT")
    assert client.get(f"{PAGE}/sheet").content.startswith(b"%PDF")
    again = client.post(f"{PAGE}/keep")
    assert again.status_code == 422
    wrong = client.post(f"{PAGE}/improve", data={"seconds": "soon"})
    assert wrong.status_code == 422


def test_an_impossible_pour_says_why_and_what_is_nearest(with_gauges) -> None:
    client = with_gauges
    tomorrow = {"pour_day": str(TODAY + timedelta(days=1))}
    client.post("/c/beam/plan/enter/schedule", data=DAYS | tomorrow)
    text = words(client.get(PAGE).text)
    assert "isn’t possible" in text
    assert "enough would be" in text.lower()
    assert client.post(f"{PAGE}/keep").status_code == 422
