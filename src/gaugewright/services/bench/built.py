"""What a step at the bench leaves in the other records: flat, smoothed zone, protection."""

from typing import TypeVar

from gaugewright.records import Entry
from gaugewright.records.benching import MethodStep, StepKind
from gaugewright.records.gauges import BenchStep, Gauge, Protection
from gaugewright.records.proof import Method
from gaugewright.records.specimen import Flat, SmoothedZone
from gaugewright.records.stated import Basis, Meaning, Stated
from gaugewright.services.bench.coming import latest_steps
from gaugewright.services.bench.loss import (
    CALLIPER,
    DEPTH,
    DIAMETER,
    WIDTH,
    ZONE,
    has_opposite,
    measured,
)
from gaugewright.services.campaign.book import Book
from gaugewright.store.campaign import CampaignStore

__all__ = ["COVERED", "built"]

COVERED, ROUND = "covered length", "all round"
R = TypeVar("R")


def built(
    store: CampaignStore, book: Book, gauge: Entry[Gauge], method: Method, made: BenchStep
) -> tuple[str, ...]:
    """Write what was measured where results take it from; says which value of another stands.

    A value that another person wrote stays: both are kept with the step, and one is to be chosen.
    """
    step = next((one for one in method.steps if one.name == made.step), None)
    if step is None or made.parked:
        return ()
    if step.kind is StepKind.SMOOTH:
        return (*_flat(store, book, gauge, made), *_zone(store, book, gauge, made))
    if step.kind is StepKind.PROTECT:
        return _protection(store, book, gauge, (method, step), made)
    return ()


def _stated(made: BenchStep, what: str) -> Stated | None:
    values = measured(made.readings, what)
    if not values:
        return None
    limit = measured(made.readings, CALLIPER)
    plus_minus = limit[0] if limit else None
    value = sum(values) / len(values)
    return Stated(value, plus_minus, Meaning.LIMIT, Basis.MEASURED, "calliper at the bench")


def _flat(
    store: CampaignStore, book: Book, gauge: Entry[Gauge], made: BenchStep
) -> tuple[str, ...]:
    width = _stated(made, WIDTH)
    if width is None or width.value == 0:
        return ()
    twin = has_opposite(book, gauge)
    flat = Flat(gauge.record.station, width, _stated(made, DEPTH), opposite=twin)
    known = [one for one in book.of(Flat) if one.record.station == gauge.record.station]
    return _written(store, known[0] if known else None, flat, f"flat of {gauge.record.label}")


def _zone(
    store: CampaignStore, book: Book, gauge: Entry[Gauge], made: BenchStep
) -> tuple[str, ...]:
    left, length = _stated(made, DIAMETER), _stated(made, ZONE)
    if left is None or length is None:
        return ()
    zone = SmoothedZone(gauge.record.station, length, left)
    known = [one for one in book.of(SmoothedZone) if one.record.station == gauge.record.station]
    what = f"smoothed zone of {gauge.record.label}"
    return _written(store, known[0] if known else None, zone, what)


def _protection(
    store: CampaignStore,
    book: Book,
    gauge: Entry[Gauge],
    by: tuple[Method, MethodStep],
    made: BenchStep,
) -> tuple[str, ...]:
    method, step = by
    covered = measured(made.readings, COVERED)
    if not covered:
        return ()
    done = {*latest_steps(book, gauge.uid), step.name}
    layers = tuple(
        one.name.partition(": ")[2] or one.name
        for one in method.steps
        if one.kind is StepKind.PROTECT and one.name in done
    )
    words = {reading.what: reading.typed for reading in made.readings}
    length = Stated(covered[0], None, Meaning.UNKNOWN, Basis.MEASURED, "rule at the bench")
    is_round = words.get(ROUND, "").casefold() in ("yes", "y")
    cover = Protection(gauge.uid, layers, length, full_wrap=is_round)
    known = [one for one in book.of(Protection) if one.record.gauge == gauge.uid]
    what = f"protection of {gauge.record.label}"
    return _written(store, known[0] if known else None, cover, what)


def _written(store: CampaignStore, known: Entry[R] | None, record: R, what: str) -> tuple[str, ...]:
    """Add or revise a record; that of another person stays, and the words say so."""
    if known is None:
        store.add(record, reason=f"{what}, measured at the bench")
        return ()
    if known.record == record:
        return ()
    if known.person != store.context.person:
        thing = what.partition(" of ")[0]  # whose it is stands with the sentence
        return (f"{thing}: what was written before stands; both are kept, compare them",)
    store.revise(known.uid, known.version, record, reason=f"{what}, measured again at the bench")
    return ()
