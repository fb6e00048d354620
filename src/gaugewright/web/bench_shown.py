"""The bench as its pages show it: clocks, what comes next, and the form of one step."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from urllib.parse import urlencode

from gaugewright.errors import GaugewrightError, InputError
from gaugewright.present.numbers import significant_text
from gaugewright.present.units_shown import in_shown, unit_shown
from gaugewright.records import Entry
from gaugewright.records.benching import ClockKind, MethodField, MethodStep
from gaugewright.records.gauges import Gauge, Supply
from gaugewright.records.identity import Uid, instant_text
from gaugewright.records.proof import Gate, GateCheck, Limit, Method, Person
from gaugewright.services.bench import clocks as bench_clocks
from gaugewright.services.bench import coming as bench_next
from gaugewright.services.bench.clocks import Running
from gaugewright.services.bench.coming import Place, Standing
from gaugewright.services.bench.judged import LOG
from gaugewright.services.bench.methods import method_of
from gaugewright.services.bench.supplies import sheet_words
from gaugewright.services.bench.typed import BenchSlip, key_of
from gaugewright.services.laboratory.laboratory import limit_or_shipped
from gaugewright.services.laboratory.limit_words import limit_text
from gaugewright.web import frame, sending
from gaugewright.web.forms import Choice, Field, told_beside
from gaugewright.web.rooms import Room

__all__ = [
    "ClockShown",
    "NextShown",
    "StepPage",
    "clocks_shown",
    "do_url",
    "limit_short",
    "limit_words",
    "next_shown",
    "standings",
    "step_page",
]


@dataclass(frozen=True, slots=True)
class ClockShown:
    """A running clock: what it shows now and until when, for the script to go on."""

    name: str
    kind: str
    gauges: str
    until: str
    words: str
    terms: str
    is_over: bool


@dataclass(frozen=True, slots=True)
class NextShown:
    """Gauges that wait for the same step, and where it is done."""

    method: str
    step: str
    gauges: str
    count: int
    place: str
    why: str
    url: str


@dataclass(frozen=True, slots=True)
class Box:
    """A box of the form: one field of one gauge, or of all."""

    name: str
    id: str
    label: str
    unit: str
    value: str
    hint: str
    wrong: str
    is_number: bool
    is_long: bool


@dataclass(frozen=True, slots=True)
class GaugeBoxes:
    """Boxes that one gauge of the batch has for itself, and its place on the specimen."""

    label: str
    place: str
    boxes: tuple[Box, ...]


@dataclass(frozen=True, slots=True)
class SupplyTick:
    """A supply to be ticked: batch, date, the times of its sheet."""

    name: str
    words: str
    terms: str
    is_past: bool
    is_ticked: bool


@dataclass(frozen=True, slots=True)
class Asked:
    """What is asked back before the form is taken in."""

    sentence: str
    probable: str
    failure: str


@dataclass(frozen=True, slots=True)
class StepPage:
    """The page of one step, for a gauge or a batch."""

    sheet: frame.Sheet
    title: str
    gauges: str
    method: str
    lines: tuple[str, ...]
    records: tuple[str, ...]
    limits: tuple[str, ...]
    hazards: tuple[str, ...]
    cautions: tuple[str, ...]
    clocks: tuple[ClockShown, ...]
    now: str
    goes_on: str
    action: str
    key: str
    draft: str
    hidden: tuple[tuple[str, str], ...]
    each: tuple[GaugeBoxes, ...]
    shared: tuple[Box, ...]
    terms: tuple[Field, ...]
    supplies: tuple[SupplyTick, ...]
    people: tuple[Field, ...]
    asked: Asked
    shows_loss: bool
    loss_url: str
    bench_url: str
    people_url: str
    unconfirmed: str


def do_url(room: Room, method: str, step: str, gauges: Sequence[str]) -> str:
    """Address of the form of a step for some gauges."""
    pairs = [("method", method), ("step", step), *(("gauge", label) for label in gauges)]
    return room.url("bench/do?") + urlencode(pairs)


def clocks_shown(room: Room, now: datetime, gauges: Sequence[str] = ()) -> tuple[ClockShown, ...]:
    """Clocks that run now, of some gauges or of all."""
    running = bench_clocks.running(room.book, now)
    return tuple(
        _clock(clock, now) for clock in running if not gauges or set(gauges) & set(clock.gauges)
    )


def _clock(clock: Running, now: datetime) -> ClockShown:
    bound = "at most" if clock.kind is ClockKind.AT_MOST else "at least"
    allowed = bench_clocks.duration_text((clock.until - clock.since).total_seconds())
    redo = f"; after that do again: {clock.redo}" if clock.redo and bound == "at most" else ""
    return ClockShown(
        clock.name,
        clock.kind.value,
        ", ".join(clock.gauges),
        instant_text(clock.until),
        clock.words(now),
        f"{bound} {allowed} ({clock.source}){redo}",
        clock.until <= now,
    )


def gauges_gone(room: Room) -> set[Uid]:
    """Gauges that have left the bench: read at a gate after the one that proves protection."""
    order = list(Gate)
    last = order.index(Gate.PROTECTED)
    return {
        check.record.gauge
        for check in room.book.of(GateCheck)
        if order.index(check.record.gate) > last
    }


def standings(room: Room) -> tuple[Standing, ...]:
    """Where each gauge is by its method."""
    return tuple(
        bench_next.standing(room.book, gauge, method_of(room.book, gauge))
        for gauge in room.book.of(Gauge)
    )


def next_shown(room: Room) -> tuple[NextShown, ...]:
    """Steps that are next, each with the gauges that wait for it, in the order of the methods."""
    found: dict[tuple[str, str, str, str], list[str]] = {}
    gone = gauges_gone(room)
    for one in standings(room):
        place = one.next_place
        if place is not None and one.gauge.uid not in gone:
            key = (one.method.label, place.step.name, place.place.value, place.why)
            found.setdefault(key, []).append(one.gauge.record.label)
    return tuple(
        NextShown(
            method,
            step,
            ", ".join(labels),
            len(labels),
            "" if place == Place.NOT_YET.value else place,
            why,
            do_url(room, method, step, labels),
        )
        for (method, step, place, why), labels in found.items()
    )


def step_page(
    room: Room,
    method: Method,
    step: MethodStep,
    gauges: Sequence[Entry[Gauge]],
    *,
    now: datetime,
    typed: Mapping[str, str],
    error: GaugewrightError | None,
) -> StepPage:
    """Everything that the page of a step shows."""
    labels = [gauge.record.label for gauge in gauges]
    wrong, failure = _wrong(error, step, labels)
    going_on = _goes_on(room, step, gauges)
    title = f"{step.name}: {', '.join(labels[:3])}" + (" …" if len(labels) > 3 else "")
    return StepPage(
        sheet=frame.Sheet(title, title, frame.room_block(room, title), step="bench"),
        title=step.name[:1].upper() + step.name[1:],
        gauges=", ".join(labels),
        method=method.label,
        lines=tuple(step.text.splitlines()),
        records=tuple(_record_words(field) for field in step.fields),
        limits=tuple(limit_words(room, label) for label in step.limits),
        hazards=step.hazards,
        cautions=step.cautions,
        clocks=clocks_shown(room, now, labels),
        now=instant_text(now),
        goes_on=going_on,
        action=room.url("bench/do"),
        key=sending.new_key(),
        draft=f"bench {step.name} {' '.join(labels)}",
        hidden=_hidden(method, step, labels, going_on),
        each=_each(room, step, gauges, typed, wrong),
        shared=tuple(
            _box(room, field, key_of(field.name), f"f{n}", typed, wrong)
            for n, field in enumerate(step.fields)
            if not field.each
        ),
        terms=_terms(room, typed, wrong),
        supplies=_supplies(room, step, typed, now),
        people=_people(room, typed, wrong),
        asked=_asked(error, failure),
        shows_loss=step.kind.value == "smooth",
        loss_url=room.url("bench/loss"),
        bench_url=room.url("bench"),
        people_url="" if room.person else "/people",
        unconfirmed=_unconfirmed(method),
    )


def _unconfirmed(method: Method) -> str:
    return f"{method.source}, unverified" if method.unverified else method.source


def _hidden(
    method: Method, step: MethodStep, labels: Sequence[str], going_on: str
) -> tuple[tuple[str, str], ...]:
    pairs = [("method", method.label), ("step", step.name), ("gauges", "; ".join(labels))]
    return (*pairs, ("finish", "1")) if going_on else tuple(pairs)


def _goes_on(room: Room, step: MethodStep, gauges: Sequence[Entry[Gauge]]) -> str:
    """Since when the step goes on for these gauges; "" where it isn't begun."""
    for gauge in gauges:
        entry = bench_next.latest_steps(room.book, gauge.uid).get(step.name)
        if entry is not None and entry.record.ended is None and not entry.record.parked:
            return frame.instant_shown(entry.record.begun, room)
    return ""


def _record_words(field: MethodField) -> str:
    each = "" if field.each else ", once for all"
    return f"{field.name}{each}" + (f": {field.note}" if field.note else "")


def limit_short(room: Room, label: str) -> str:
    """A limit with its number alone, for paper."""
    limit = limit_or_shipped(room.book, label)
    return f"{label} {limit_text(limit, room.units)}" + (" (unverified)" * limit.unverified)


def limit_words(room: Room, label: str) -> str:
    """A limit with its number, its meaning, its version and whether anybody has confirmed it."""
    limit = limit_or_shipped(room.book, label)
    version = next((e.version for e in room.book.of(Limit) if e.record.label == label), 0)
    number = limit_text(limit, room.units)
    source = limit.source + (", unverified" if limit.unverified else "")
    which = f"version {version}" if version else "as shipped"
    return f"{label}: {number}; {limit.meaning} ({source}; {which})"


def _each(
    room: Room,
    step: MethodStep,
    gauges: Sequence[Entry[Gauge]],
    typed: Mapping[str, str],
    wrong: Mapping[str, str],
) -> tuple[GaugeBoxes, ...]:
    fields = [(n, field) for n, field in enumerate(step.fields) if field.each]
    if not fields:
        return ()
    return tuple(
        GaugeBoxes(
            gauge.record.label,
            f"{room.book.bar_of(gauge).record.label}",
            tuple(
                _box(room, f, key_of(f.name, gauge.record.label), f"f{n}-{at}", typed, wrong)
                for n, f in fields
            ),
        )
        for at, gauge in enumerate(gauges)
    )


def _box(
    room: Room,
    field: MethodField,
    key: str,
    place: str,
    typed: Mapping[str, str],
    wrong: Mapping[str, str],
) -> Box:
    is_number = bool(field.quantity)
    unit = unit_shown(field.quantity, room.units).text if is_number else ""
    hints = [field.note] if field.note else []
    if is_number and field.lowest is not None and field.highest is not None and field.highest < 1e6:
        low, high = (
            significant_text(in_shown(value, field.quantity, room.units), 3)
            for value in (field.lowest, field.highest)
        )
        hints.append(f"{low} to {high} {unit}")
    return Box(
        key,
        place,
        field.name[:1].upper() + field.name[1:],
        unit,
        typed.get(key, ""),
        "; ".join(hints),
        wrong.get(key, "") or wrong.get(field.name, ""),
        is_number,
        field.name == LOG,
    )


def _terms(room: Room, typed: Mapping[str, str], wrong: Mapping[str, str]) -> tuple[Field, ...]:
    at = "14:05, or with the day; empty for now"

    def one(name: str, label: str, unit: str = "", hint: str = "", kind: str = "text") -> Field:
        value = typed.get(name, "")
        return Field(name, label, value, unit, hint, wrong.get(name, ""), kind)

    temperature = unit_shown("temperature_degc", room.units).text
    return (
        one("temperature", "Air", temperature, kind="number"),
        one("humidity", "Humidity", "%", kind="number"),
        one("begun", "Begun", hint=at),
        one("ended", "Ended", hint=at),
        one("note", "Note"),
        one("parked", "Put aside, because", hint="Empty unless it is put aside."),
    )


def _people(room: Room, typed: Mapping[str, str], wrong: Mapping[str, str]) -> tuple[Field, ...]:
    named = tuple(Choice(p.record.label, p.record.name) for p in room.book.of(Person))

    def one(name: str, label: str, hint: str, choices: tuple[Choice, ...] = ()) -> Field:
        value, told = typed.get(name, ""), wrong.get(name, "")
        return Field(name, label, value, hint=hint, wrong=told, choices=choices)

    return (
        one("initials", "Initials", "Those of whoever is at work here, when empty."),
        one(
            "override_person",
            "A limit ran out and it stands all the same: by",
            "Who answers for it.",
            (Choice("", "nobody"), *named),
        ),
        one("override_reason", "Because", "Kept as a record with the name."),
    )


def _supplies(
    room: Room, step: MethodStep, typed: Mapping[str, str], now: datetime
) -> tuple[SupplyTick, ...]:
    """Supplies of the campaign, those that the step asks for first."""
    chosen = {label.strip() for label in typed.get("supplies", "").split(";")}
    day = now.astimezone(room.zone).date()
    ticks = []
    for entry in room.book.of(Supply):
        supply = entry.record
        is_past = supply.expires is not None and day > supply.expires
        until = f"good until {supply.expires}" if supply.expires else "no date of expiry"
        terms = "; ".join(words for words in (until, sheet_words(supply)) if words)
        fits = any(word in f"{supply.what} {supply.label}".casefold() for word in step.supplies)
        tick = SupplyTick(
            f"supply:{supply.label}",
            f"{supply.what}, batch {supply.batch}",
            f"past its date: {terms}" if is_past else terms,
            is_past,
            supply.label in chosen,
        )
        ticks.append((not fits, tick))
    return tuple(tick for _, tick in sorted(ticks, key=lambda pair: pair[0]))


def _wrong(
    error: GaugewrightError | None, step: MethodStep, labels: Sequence[str]
) -> tuple[dict[str, str], str]:
    if isinstance(error, BenchSlip):
        return {one.key: one.sentence for one in error.questions}, ""
    known = {"temperature", "humidity", "begun", "ended", "note", "parked", "initials"}
    known |= {"override_person", "override_reason", *(field.name for field in step.fields)}
    return told_beside(error, known, lambda name: {"time": "begun"}.get(name, name))


def _asked(error: GaugewrightError | None, failure: str) -> Asked:
    if isinstance(error, BenchSlip):
        probable = " and ".join(one.probable for one in error.questions if one.probable)
        return Asked("; ".join(one.sentence for one in error.questions), probable, "")
    if isinstance(error, InputError) and not failure:
        return Asked("", "", str(error))
    return Asked("", "", failure)
