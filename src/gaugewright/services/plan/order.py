"""In which order a plan is made, what of it is there, and what comes next."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any

from gaugewright.records import Entry
from gaugewright.records.electrical import BridgeCircuit, Channel, Connection
from gaugewright.records.gauges import Gauge
from gaugewright.records.identity import Uid
from gaugewright.records.sensors import Sensor, TemperaturePoint
from gaugewright.records.specimen import Question, Station
from gaugewright.services.campaign.book import Book
from gaugewright.services.entering.entry import KINDS, MANY

__all__ = ["LATER", "ORDER", "Stage", "StageFacts", "circuits_on", "next_stage", "stage_facts"]


@dataclass(frozen=True, slots=True)
class Stage:
    """A part of a plan: what for, and its forms, the usual one first.

    ``key`` is that of its kind of entry, "" where several kinds make it. Without one that
    ``is_needed`` the job can't go on.
    """

    key: str
    name: str
    why: str
    ways: tuple[str, ...]
    is_needed: bool = True

    @property
    def words(self) -> str:
        """What its usual form is called."""
        return way_words(self.ways[0])

    @property
    def every_way(self) -> tuple[str, ...]:
        """All its forms: the usual ones, and whatever else writes many of its kind at once."""
        more = (key for key, many in MANY.items() if many.of == self.key and key not in self.ways)
        return (*self.ways, *more)


@dataclass(frozen=True, slots=True)
class StageFacts:
    """How far a part of the plan is: how many, and in words what is left of it."""

    stage: Stage
    count: int
    left: str

    @property
    def way(self) -> str:
        """The form that takes what is left: the usual one, or what puts sensors on channels."""
        return "sensed" if self.stage.key == "sensor" and self.left else self.stage.ways[0]

    @property
    def is_done(self) -> bool:
        """Whether nothing of it is left."""
        return self.count > 0 and not self.left

    @property
    def words(self) -> str:
        """That it comes next, and whether the job can go on without."""
        if self.left:
            return f"Next: {self.left}."
        name = self.stage.name.lower()
        if not self.stage.is_needed:
            return f"Next, {name}, unless strain is all that is measured."
        return f"Next, {name}: {self.stage.why}."


ORDER = (
    Stage("question", "Questions", "what must be known, how well", ("question",)),
    Stage("specimen", "Specimens", "what is tested", ("specimen",)),
    Stage("material", "Metals", "what its bars are made of", ("material",)),
    Stage("bar", "Bars", "what gauges sit on", ("bar",)),
    Stage("station", "Stations", "where each gauge sits", ("stations", "station")),
    Stage("pack", "Packs of gauges", "what their card says", ("pack",)),
    Stage("gauge", "Gauges", "one grid at each station", ("gauges", "gauge")),
    Stage("circuit", "Bridge circuits", "how gauges are wired", ("circuits", "circuit")),
    Stage("instrument", "Recorders", "what writes the readings", ("instrument",)),
    Stage("channel", "Channels", "the recorder’s inputs by name", ("channels", "channel")),
    Stage("", "Circuits on channels", "which is read through which", ("wired",)),
    Stage(
        "sensor", "Other sensors", "load cells, transducers", ("sensor", "sensed"), is_needed=False
    ),
    Stage("point", "Temperature points", "how warm gauges are, for zeros and strain", ("point",)),
)
# What deepens a plan, and what only some jobs have.
LATER = tuple(
    Stage(key, name, why, (key,), is_needed=False)
    for key, name, why in (
        ("member", "Members", "predicts strain in cast members"),
        ("concrete", "Concretes", "what a cast member is of"),
        ("loading", "Loadings of bars", "bare metal bent or twisted"),
        ("protocol", "Protocols", "load steps, predicted one by one"),
        ("flat", "Flats", "metal ground away under gauges"),
        ("smoothed", "Smoothed zones", "ribs taken off the bar"),
        ("lead", "Leads", "cables of their own length"),
        ("meter", "Meters", "what gates are measured with"),
        ("person", "People", "who else works on it"),
        ("schedule", "Days at the bench", "back from the pour’s day"),
    )
)


def way_words(key: str) -> str:
    """What a form is called where it is offered."""
    return MANY[key].title if key in MANY else f"Enter {KINDS[key].one}"


def stage_facts(book: Book, stages: tuple[Stage, ...] = ORDER) -> tuple[StageFacts, ...]:
    """How far each part of a plan is."""
    return tuple(_facts(book, stage) for stage in stages)


def next_stage(book: Book) -> StageFacts | None:
    """The first part in order of which something is left; None: the plan is whole."""
    return next((one for one in stage_facts(book) if not one.is_done), None)


def circuits_on(book: Book) -> frozenset[Uid]:
    """Circuits that are or ever were on a channel, or are planned to be."""
    subjects = {entry.record.subject for entry in book.of(Connection)}
    return frozenset(entry.uid for entry in book.of(BridgeCircuit) if entry.uid in subjects)


def _facts(book: Book, stage: Stage) -> StageFacts:
    count = len(book.of(KINDS[stage.key].record)) if stage.key else len(circuits_on(book))
    left = _LEFT.get(stage.key)
    return StageFacts(stage, count, left(book) if left is not None and count else "")


def _lacking(found: Iterable[Entry[Any]], book: Book, have: str) -> str:
    """In words, which of some records lack something; "" for none."""
    labels = [book.label(entry.uid) for entry in found]
    if not labels:
        return ""
    more = f" and {len(labels) - 3} more" if len(labels) > 3 else ""
    verb = have if len(labels) == 1 else {"has": "have", "is": "are", "names": "name"}[have]
    return f"{', '.join(labels[:3])}{more} {verb}"


def _questions_left(book: Book) -> str:
    if not book.of(Station):
        return ""
    found = [entry for entry in book.of(Question) if not entry.record.stations]
    lacking = _lacking(found, book, "names")
    return f"{lacking} no station" if lacking else ""


def _gauges_left(book: Book) -> str:
    taken = {entry.record.station for entry in book.of(Gauge)}
    lacking = _lacking([e for e in book.of(Station) if e.uid not in taken], book, "has")
    return f"{lacking} no gauge" if lacking else ""


def _circuits_left(book: Book) -> str:
    wired = {arm.gauge for circuit in book.of(BridgeCircuit) for arm in circuit.record.arms}
    lacking = _lacking([e for e in book.of(Gauge) if e.uid not in wired], book, "is")
    return f"{lacking} in no circuit" if lacking else ""


def _channels_left(book: Book) -> str:
    short = len(book.of(BridgeCircuit)) - len(book.of(Channel))
    return f"{short} fewer than circuits" if short > 0 else ""


def _wired_left(book: Book) -> str:
    on = circuits_on(book)
    lacking = _lacking([e for e in book.of(BridgeCircuit) if e.uid not in on], book, "is")
    return f"{lacking} on no channel" if lacking else ""


def _sensors_left(book: Book) -> str:
    on = {entry.record.subject for entry in book.of(Connection)}
    lacking = _lacking([e for e in book.of(Sensor) if e.uid not in on], book, "is")
    return f"{lacking} on no channel" if lacking else ""


def _points_left(book: Book) -> str:
    told = {uid for point in book.of(TemperaturePoint) for uid in point.record.gauges}
    lacking = _lacking([e for e in book.of(Gauge) if e.uid not in told], book, "has")
    return f"{lacking} none" if lacking else ""


_LEFT: dict[str, Callable[[Book], str]] = {
    "question": _questions_left,
    "gauge": _gauges_left,
    "circuit": _circuits_left,
    "channel": _channels_left,
    "": _wired_left,
    "sensor": _sensors_left,
    "point": _points_left,
}
