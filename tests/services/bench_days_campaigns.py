"""A campaign whose gauges are still to be put on: four gauges on a bar to be cast in."""

from datetime import UTC, date, datetime, timedelta
from pathlib import Path

from gaugewright import settings
from gaugewright.records.benching import CureRow, SupplySheet
from gaugewright.records.gauges import BenchStep, Gauge, GaugePack, Supply
from gaugewright.records.identity import Context, Uid, new_uid_at
from gaugewright.records.proof import Person
from gaugewright.records.scheduling import BenchDays, BenchFixture, StepTime, WorkingHours
from gaugewright.records.specimen import (
    Bar,
    Campaign,
    Material,
    Specimen,
    SpecimenKind,
    Station,
    SteelLaw,
)
from gaugewright.records.stated import Meaning, Stated
from gaugewright.services.campaign import campaigns
from gaugewright.services.campaign.book import Book
from gaugewright.services.scheduling.schedule import BenchSchedule, bench_schedule
from gaugewright.store.campaign import CampaignStore

# A Monday; 25 October 2026 is when clocks in Rome go back.
NOW = datetime(2026, 10, 19, 6, 0, tzinfo=UTC)
HOURS = (WorkingHours("Mon", "Fri", "08:00", "12:00"), WorkingHours("Mon", "Fri", "13:00", "17:00"))
SHEET = SupplySheet(
    "sheet of an invented epoxy, 2026",
    pot_life=2400.0,
    cure=(CureRow(15.0, 172800.0), CureRow(20.0, 86400.0), CureRow(50.0, 7200.0)),
    highest_degc=80.0,
)


def stated(value: float) -> Stated:
    return Stated(value, 0.01 * value, Meaning.LIMIT)


class Clock:
    """Time that a test sets."""

    def __init__(self) -> None:
        self.time = NOW
        self.count = 0

    def __call__(self) -> datetime:
        return self.time

    def uid(self) -> Uid:
        self.count += 1
        return new_uid_at(1, self.count)


def to_be_bonded(folder: Path, gauges: int = 4, people: int = 2) -> tuple[CampaignStore, Clock]:
    """The campaign with its days: pour on Friday a week later, hall at 18 °C, four clamps."""
    clock = Clock()
    shipped = settings.load({}, environment={}, user_folder=folder.parent / "no settings")
    record = Campaign("days", "Days at the bench (invented)", "Europe/Rome")
    store = campaigns.new(folder, record, shipped, context=Context(clock, clock.uid))
    specimen = store.add(Specimen("B1", SpecimenKind.CAST_MEMBER)).uid
    metal = store.add(
        Material("steel", SteelLaw.ELASTIC, stated(200e9), stated(12e-6), stated(0.3))
    ).uid
    bar = store.add(Bar("S1", specimen, metal, "", stated(0.016), stated(2.01e-4), 2.0)).uid
    pack = store.add(
        GaugePack("lot 1", "1", stated(120.0), stated(2.1), 0.005, 0.002, stated(0.01))
    ).uid
    for n in range(gauges):
        station = store.add(Station(f"P{n + 1}", bar, "end A", 0.2 + 0.1 * n, 0.0)).uid
        store.add(Gauge(f"G{n + 1}", pack, station))
    who = tuple(store.add(Person(f"W{n + 1}", f"Worker {n + 1}")).uid for n in range(people))
    adhesive = store.add(Supply("epoxy", "adhesive", "E1", sheet=SHEET)).uid
    store.add(days(who, (adhesive,)))
    return store, clock


def days(people: tuple[Uid, ...], supplies: tuple[Uid, ...], pour: date | None = None) -> BenchDays:
    return BenchDays(
        "bench days",
        pour or date(2026, 10, 30),
        "07:30",
        HOURS,
        people,
        18.0,
        reserve=86400.0,
        fixtures=(
            BenchFixture("clamps", 4, ("bond",), is_held=True),
            BenchFixture("soldering station", 1, ("wire",)),
        ),
        supplies=supplies,
        times=(StepTime("lay out", 300.0, None, "timed here"),),
    )


def planned(store: CampaignStore, clock: Clock) -> BenchSchedule:
    return bench_schedule(store, Book.read(store), clock())


def done(store: CampaignStore, gauge: str, step: str, begun: datetime, minutes: float) -> None:
    """Write a step down as done."""
    book = Book.read(store)
    store.add(
        BenchStep(
            book.labelled(Gauge, gauge).uid,
            step,
            begun,
            begun + timedelta(minutes=minutes),
            book.of(Person)[0].uid,
        )
    )
