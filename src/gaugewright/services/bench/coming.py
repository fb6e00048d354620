"""Where a gauge stands at the bench: what is done, what must be done again, what comes next."""

import enum
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime

from gaugewright.records import Entry
from gaugewright.records.benching import BenchOverride, MethodStep, RanOut, StepKind
from gaugewright.records.gauges import BenchStep, Gauge
from gaugewright.records.identity import Uid
from gaugewright.records.proof import Gate, GateCheck, Method
from gaugewright.services.campaign.book import Book

__all__ = [
    "Place",
    "Standing",
    "StepPlace",
    "gauges_gone",
    "latest_steps",
    "open_limits",
    "standing",
    "steps_of",
]


_ANEW = "done before the gauge was bonded anew"


class Place(enum.Enum):
    """How far a step is for a gauge."""

    NOT_YET = "not yet"
    GOES_ON = "goes on"
    PARKED = "put aside"
    REDO = "to do again"
    DONE = "done"
    NOT_WRITTEN = "not written down"


@dataclass(frozen=True, slots=True)
class StepPlace:
    """A step of the method for one gauge: how far, and why it is to be done again.

    ``by`` is the record that asks for it, to be looked at where it is wrong itself.
    """

    step: MethodStep
    place: Place
    entry: Entry[BenchStep] | None
    why: str = ""
    by: Entry[BenchStep] | None = None


@dataclass(frozen=True, slots=True)
class Standing:
    """A gauge's way through its method; ``next`` is the first step that isn't done."""

    gauge: Entry[Gauge]
    method: Method
    places: tuple[StepPlace, ...]

    @property
    def next(self) -> MethodStep | None:
        """Step to be done now, None when all are."""
        found = self.next_place
        return None if found is None else found.step

    @property
    def next_place(self) -> StepPlace | None:
        """The same with how far it is."""
        passed = (Place.DONE, Place.NOT_WRITTEN)
        return next((one for one in self.places if one.place not in passed), None)


def steps_of(book: Book) -> Mapping[Uid, list[Entry[BenchStep]]]:
    """Steps of every gauge in the order in which they were begun."""

    def gathered(book: Book) -> dict[Uid, list[Entry[BenchStep]]]:
        found: dict[Uid, list[Entry[BenchStep]]] = {}
        for entry in sorted(book.of(BenchStep), key=lambda entry: entry.record.begun):
            found.setdefault(entry.record.gauge, []).append(entry)
        return found

    return book.once("bench steps by gauge", gathered)


def latest_steps(book: Book, gauge: Uid) -> dict[str, Entry[BenchStep]]:
    """Latest record of every step that was written down for a gauge."""
    return {entry.record.step: entry for entry in steps_of(book).get(gauge, [])}


def open_limits(book: Book, entry: Entry[BenchStep]) -> tuple[RanOut, ...]:
    """Limits that ran out for a step and that nobody has put a name under."""
    named = {
        override.record.what
        for override in book.of(BenchOverride)
        if override.record.step == entry.uid
    }
    return tuple(one for one in entry.record.ran_out if one.what not in named)


def gauges_gone(book: Book) -> frozenset[Uid]:
    """Gauges that have left the bench: read at a gate after the one that proves protection.

    Work that was begun on one after that gate has brought it back.
    """
    order = list(Gate)
    last = order.index(Gate.PROTECTED)
    passed: dict[Uid, datetime] = {}
    for check in book.of(GateCheck):
        if order.index(check.record.gate) > last:
            read = max(reading.measured for reading in check.record.readings)
            passed[check.record.gauge] = max(read, passed.get(check.record.gauge, read))
    back = {
        step.record.gauge
        for step in book.of(BenchStep)
        if step.record.begun > passed.get(step.record.gauge, step.record.begun)
    }
    return frozenset(passed.keys() - back)


def standing(book: Book, gauge: Entry[Gauge], method: Method) -> Standing:
    """How far a gauge is by its method.

    A step whose limit ran out stands again once the step named for it and then the step itself
    were done anew, or a named person overrode it.
    """
    latest = latest_steps(book, gauge.uid)
    demanded: dict[str, tuple[Entry[BenchStep], RanOut]] = {}
    for done in latest.values():
        for one in open_limits(book, done):
            if one.redo:
                demanded.setdefault(one.redo, (done, one))
    places: list[StepPlace] = []
    bonded: Entry[BenchStep] | None = None
    for step in method.steps:
        entry = _of_kind(latest, step)
        place = _place(book, step, entry, demanded)
        is_early = bonded and entry and entry.record.begun < bonded.record.begun
        if is_early and place.place is Place.DONE:
            place = StepPlace(step, Place.REDO, entry, _ANEW, bonded)
        bonded = entry if step.kind is StepKind.BOND else bonded
        places.append(place)
    return Standing(gauge, method, _passed_over(places))


def _passed_over(places: list[StepPlace]) -> tuple[StepPlace, ...]:
    """A step without a record before one that has one was passed over, or never written down."""
    counts = [n for n, one in enumerate(places) if one.entry is not None and one.why != _ANEW]
    last = max(counts, default=-1)
    return tuple(
        replace(one, place=Place.NOT_WRITTEN) if n < last and one.place is Place.NOT_YET else one
        for n, one in enumerate(places)
    )


def _of_kind(latest: dict[str, Entry[BenchStep]], step: MethodStep) -> Entry[BenchStep] | None:
    """Record of a step; one written down without a method counts by its first word."""
    own = latest.get(step.name)
    if own is not None:
        return own
    return next(
        (
            entry
            for name, entry in reversed(latest.items())
            if entry.record.method is None and name.casefold().startswith(step.kind.value)
        ),
        None,
    )


def _place(
    book: Book,
    step: MethodStep,
    entry: Entry[BenchStep] | None,
    demanded: Mapping[str, tuple[Entry[BenchStep], RanOut]],
) -> StepPlace:
    if entry is None:
        return StepPlace(step, Place.NOT_YET, None)
    if entry.record.parked:
        return StepPlace(step, Place.PARKED, entry, entry.record.parked, entry)
    own = open_limits(book, entry)
    if any(one.redo for one in own):
        sentences = "; ".join(one.sentence for one in own)
        return StepPlace(step, Place.REDO, entry, sentences, entry)
    asked = demanded.get(step.name)
    if asked is not None and entry.record.begun <= asked[0].record.begun:
        return StepPlace(step, Place.REDO, entry, asked[1].sentence, asked[0])
    if entry.record.ended is None:
        return StepPlace(step, Place.GOES_ON, entry)
    return StepPlace(step, Place.DONE, entry)
