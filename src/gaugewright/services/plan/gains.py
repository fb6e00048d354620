"""What would make a plan better, each proposal with what it gains in numbers and what it costs."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from gaugewright.calc.answer_chance import Needed, SharedFate, answer_chance
from gaugewright.records import Entry
from gaugewright.records.gauges import Gauge
from gaugewright.records.identity import Uid, new_uid_at
from gaugewright.records.proof import Limit
from gaugewright.records.specimen import Question, Specimen, SpecimenKind, Station
from gaugewright.services.campaign.book import Book
from gaugewright.services.campaign.coverage import COVERAGE
from gaugewright.services.campaign.limit_labels import INSTALLATION
from gaugewright.services.plan.answers import PlannedAnswer, Unit, expanded, units_of
from gaugewright.services.plan.answers_more import planned_answer
from gaugewright.services.plan.book import PlanChoice, planned_book, planned_limit
from gaugewright.services.plan.losses import Losses, bundle_of, chance_of, fates_of
from gaugewright.services.plan.strains import PlannedReadings, is_along
from gaugewright.services.tracing.budget import expanded_if_halved
from gaugewright.store.campaign import CampaignStore

__all__ = ["Gain", "Tried", "gains_of"]

_WORTH = 0.98  # an uncertainty that falls by less isn't worth a line
_WORTH_CHANCE = 0.002
_FEWEST = 5  # stations of a row from which every other one can be left out


@dataclass(frozen=True, slots=True)
class Gain:
    """A proposal: what to do, uncertainty and chance with it, and channels more or fewer."""

    words: str
    resolution: float
    chance: float | None
    channels: int
    note: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class Tried:
    """A question with its answer as planned, and all that proposals are tried with."""

    store: CampaignStore
    book: Book
    readings: PlannedReadings
    choice: PlanChoice
    answer: PlannedAnswer
    losses: Losses

    @property
    def chance(self) -> float | None:
        """As planned."""
        return chance_of(self.readings.plan, self.answer, self.losses)


def gains_of(tried: Tried) -> tuple[Gain, ...]:
    """Proposals that gain something, the cheapest in channels first."""
    if not tried.answer.parts:
        return ()
    found = [
        *_opposites(tried),
        *_two_bundles(tried),
        *_beside(tried),
        *_calibrated(tried),
        *_every_other(tried),
        *_halved(tried),
    ]
    return tuple(sorted(found, key=lambda gain: gain.channels))


def _again(tried: Tried, choice: PlanChoice) -> tuple[PlannedReadings, PlannedAnswer]:
    """The question asked of a changed plan."""
    plan = planned_book(tried.store, tried.book, choice)
    readings = PlannedReadings(plan, tried.readings)
    question = readings.book.entry(tried.answer.question.uid, Question)
    return readings, planned_answer(readings, question)


def _better(tried: Tried, resolution: float, chance: float | None) -> bool:
    finer = resolution < _WORTH * tried.answer.resolution
    before = tried.chance
    surer = chance is not None and before is not None and chance > before + _WORTH_CHANCE
    return finer or surer


def _of(tried: Tried, words: str, choice: PlanChoice, *, note: str = "") -> Iterator[Gain]:
    """The gain of a changed plan, where there is any."""
    readings, answer = _again(tried, choice)
    if len(answer.parts) < 1 or not math.isfinite(answer.resolution):
        return
    chance = chance_of(readings.plan, answer, tried.losses)
    if _better(tried, answer.resolution, chance):
        more = _channels(readings, answer) - _channels(tried.readings, tried.answer)
        yield Gain(words, answer.resolution, chance, more, note)


def _channels(readings: PlannedReadings, answer: PlannedAnswer) -> int:
    return len({readings.plan.circuits[gauge.uid].uid for gauge in answer.gauges})


def _opposites(tried: Tried) -> Iterator[Gain]:
    """A second gauge opposite each that stands alone on a bar."""
    question = tried.answer.question
    alone = [unit for unit in _units(tried) if len(unit.gauges) == 1 and is_along(unit.gauges[0])]
    if not alone:
        return
    more: list[tuple[Uid, object]] = []
    stations: list[Uid] = []
    for number, unit in enumerate(alone):
        there = _planned_opposite(tried.readings, unit.gauges[0])
        if there is not None:
            stations.append(there.record.station)
            continue
        uids = (new_uid_at(1, 2 * number), new_uid_at(1, 2 * number + 1))
        more += _opposite_of(tried, unit.gauges[0], uids)
        stations.append(uids[0])
    asked = replace(question.record, stations=(*question.record.stations, *stations))
    choice = replace(
        tried.choice,
        more=(*tried.choice.more, *more),
        changed={**tried.choice.changed, question.uid: asked},
    )
    labels = ", ".join(unit.label for unit in alone)
    yield from _of(
        tried,
        f"a second gauge opposite {labels}, their leads in another bundle",
        choice,
        note="bending of the bar itself drops out of a pair",
    )


def _planned_opposite(readings: PlannedReadings, gauge: Entry[Gauge]) -> Entry[Gauge] | None:
    """Gauge that is planned opposite already, though the question doesn't name its station."""
    for other in readings.book.of(Gauge):
        if other.uid == gauge.record.opposite or other.record.opposite == gauge.uid:
            return other
    return None


def _opposite_of(
    tried: Tried, gauge: Entry[Gauge], uids: tuple[Uid, Uid]
) -> list[tuple[Uid, object]]:
    """Station opposite a gauge, and a gauge of its pack where the first is on record."""
    station = tried.readings.book.station_of(gauge).record
    turned = (station.angle_planned + math.pi) % (2 * math.pi)
    label = f"opposite {station.label}"[:80]
    across = Station(label, station.bar, station.datum, station.distance_planned, turned)
    if tried.book.found(gauge.uid) is None:
        return [(uids[0], across)]
    partner = Gauge(label, gauge.record.pack, uids[0], opposite=gauge.uid)
    return [(uids[0], across), (uids[1], partner)]


def _two_bundles(tried: Tried) -> Iterator[Gain]:
    """The second gauge of each pair in another bundle, where both share one."""
    plan = tried.readings.plan
    moved = {
        unit.gauges[1].uid: "another bundle"
        for unit in _units(tried)
        if unit.is_pair and bundle_of(plan, unit.gauges[0]) == bundle_of(plan, unit.gauges[1])
    }
    if not moved:
        return
    chance = chance_of(plan, tried.answer, tried.losses, bundles=moved)
    if _better(tried, tried.answer.resolution, chance):
        yield Gain(
            "route the pair in two bundles"
            + (f": {len(moved)} pairs share one" if len(moved) > 1 else ""),
            tried.answer.resolution,
            chance,
            0,
        )


def _beside(tried: Tried) -> Iterator[Gain]:
    """Every place once more, a little beside, its leads in another bundle."""
    answer, plan = tried.answer, tried.readings.plan
    if answer.needed is None:
        return
    alone = [tried.losses.of_gauge(plan.book, gauge) for gauge in answer.gauges]
    count = len(answer.gauges)
    fates = fates_of(plan, answer.gauges, tried.losses)
    bars = {
        number: fate
        for fate in fates
        for number in fate.gauges
        if len({plan.book.bar_of(answer.gauges[n]).uid for n in fate.gauges}) == 1
    }
    doubled = [
        SharedFate(fate.survival, (*fate.gauges, *(n + count for n in fate.gauges)))
        if fate in bars.values()
        else fate
        for fate in fates
    ]
    doubled += [
        SharedFate(fate.survival, tuple(n + count for n in fate.gauges))
        for fate in fates
        if fate not in bars.values()
    ]
    chance = answer_chance(_twice(answer.needed, count), [*alone, *alone], doubled)
    if _better(tried, answer.resolution, chance):
        yield Gain(
            "every place a second time, a little beside it, leads in another bundle",
            answer.resolution,
            chance,
            _channels(tried.readings, answer),
            "resolution as planned: the second set is for losses",
        )


def _twice(needed: Needed, count: int) -> Needed:
    """A need that either of two like sets can meet, place by place."""
    if any(isinstance(part, Needed) for part in needed.parts):
        return Needed(
            needed.least,
            tuple(
                _twice(part, count) if isinstance(part, Needed) else part for part in needed.parts
            ),
        )
    other = tuple(part + count for part in needed.parts if isinstance(part, int))
    return Needed(1, (needed, Needed(needed.least, other)))


def _calibrated(tried: Tried) -> Iterator[Gain]:
    """Bars calibrated before they are cast: the scatter of bonding goes."""
    limit = next((e for e in tried.book.of(Limit) if e.record.label == INSTALLATION), None)
    share = planned_limit(tried.book, "planned calibration doubt")
    if limit is None or limit.record.value <= share:
        return
    kinds = {entry.record.kind for entry in tried.book.of(Specimen)}
    before = "casting" if SpecimenKind.CAST_MEMBER in kinds else "the test"
    better = replace(limit.record, value=share)
    choice = replace(tried.choice, changed={**tried.choice.changed, limit.uid: better})
    yield from _of(
        tried,
        f"calibrate every gauged bar before {before}: {100 * share:.2g} % in place of "
        f"{100 * limit.record.value:.2g} % scatter of bonding",
        choice,
        note="limit “planned calibration doubt”; doubts of modulus and area fall as well",
    )


def _every_other(tried: Tried) -> Iterator[Gain]:
    """Every other place of a row: bond stress over twice the length."""
    question = tried.answer.question
    units = _units(tried)
    if question.record.quantity != "bond stress" or len(units) < _FEWEST:
        return
    kept = {tried.readings.book.station_of(g).uid for unit in units[::2] for g in unit.gauges}
    stations = tuple(uid for uid in question.record.stations if uid in kept)
    asked = replace(question.record, stations=stations)
    choice = replace(tried.choice, changed={**tried.choice.changed, question.uid: asked})
    yield from _of(
        tried,
        "every other place of the row only",
        choice,
        note="the mean is then over twice the length",
    )


def _halved(tried: Tried) -> Iterator[Gain]:
    """The largest cause known twice as well."""
    worst = tried.answer.worst
    if worst is None:
        return
    lines = worst.value.budget(0 if worst.value.value.ndim else None, coverage=COVERAGE).lines
    if not lines:
        return
    meaning = lines[0].meaning
    same = [line.input for line in lines if line.meaning == meaning and line.input]
    value = worst.value
    for name in same[1:]:
        cause = value.inputs[name]
        better = replace(cause, standard_uncertainty=cause.standard_uncertainty / 2)
        value = replace(value, inputs={**value.inputs, name: better})
    left = expanded_if_halved(value, lines[0].input, COVERAGE)
    if left < _WORTH * expanded(worst.value):
        yield Gain(f"{meaning} known twice as well", left, tried.chance, 0, "the largest cause")


def _units(tried: Tried) -> tuple[Unit, ...]:
    found: Sequence[Unit] = units_of(tried.readings, tried.answer.question.record.stations)
    return tuple(found)
