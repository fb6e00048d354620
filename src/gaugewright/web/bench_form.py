"""The form of one step at the bench: its boxes, what is wrong with them, what is asked back."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from gaugewright.errors import Faults, GaugewrightError, InputError
from gaugewright.present.numbers import significant_text
from gaugewright.present.units_shown import in_shown, unit_shown
from gaugewright.records import Entry
from gaugewright.records.benching import MethodField, MethodStep, StepKind
from gaugewright.records.gauges import BenchStep, Gauge, Supply
from gaugewright.records.identity import Uid, instant_text
from gaugewright.records.proof import Method, Person
from gaugewright.services.bench import coming as bench_next
from gaugewright.services.bench.cure import fields_of, gap_words
from gaugewright.services.bench.judged import LOG
from gaugewright.services.bench.supplies import sheet_words
from gaugewright.services.bench.typed import BenchSlip, BoxFault, key_of
from gaugewright.services.bench.unread import UNREAD
from gaugewright.web import frame, sending
from gaugewright.web.bench_shown import ClockShown, clocks_shown, limit_words
from gaugewright.web.forms import Choice, Field
from gaugewright.web.rooms import Room

__all__ = ["Filled", "Refused", "StepPage", "confirm_words", "refused", "step_page"]


@dataclass(frozen=True, slots=True)
class Filled:
    """What a form was filled with, what was wrong with it, and which record it puts right."""

    typed: Mapping[str, str]
    error: GaugewrightError | None = None
    instead: Entry[BenchStep] | None = None


@dataclass(frozen=True, slots=True)
class Refused:
    """One thing that wasn't taken in: the name of its field, "" where it is of none; the words."""

    key: str
    sentence: str
    place: str = ""


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
    is_first_wrong: bool = False


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
    confirm: str


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
    phase: str
    draft: str
    hidden: tuple[tuple[str, str], ...]
    each: tuple[GaugeBoxes, ...]
    for_all: tuple[Box, ...]
    shared: tuple[Box, ...]
    terms: tuple[Field, ...]
    supplies: tuple[SupplyTick, ...]
    people: tuple[Field, ...]
    asked: Asked
    refused: tuple[Refused, ...]
    before: str
    takes_file: bool
    shows_loss: bool
    loss_url: str
    bench_url: str
    people_url: str
    unconfirmed: str


def _shared(
    room: Room, step: MethodStep, typed: Mapping[str, str], wrong: Mapping[str, str]
) -> tuple[Box, ...]:
    """Boxes for what all gauges of the batch have in common."""
    return tuple(
        _box(room, field, key_of(field.name), f"f{n}", typed, wrong)
        for n, field in enumerate(fields_of(step))
        if not field.each
    )


def step_page(
    room: Room,
    method: Method,
    step: MethodStep,
    gauges: Sequence[Entry[Gauge]],
    *,
    now: datetime,
    filled: Filled,
) -> StepPage:
    """Everything that the page of a step shows."""
    labels = [gauge.record.label for gauge in gauges]
    typed, told = filled.typed, refused(filled.error, step, filled.typed)
    wrong = _beside(filled.error, told)
    going_on = "" if typed.get("instead") else _goes_on(room, step, gauges)
    title = f"{step.name}: {', '.join(labels[:3])}" + (" …" if len(labels) > 3 else "")
    return StepPage(
        sheet=frame.Sheet(title, title, frame.room_block(room, title), step="bench"),
        title=step.name[:1].upper() + step.name[1:],
        gauges=", ".join(labels),
        method=method.label,
        lines=tuple(step.text.splitlines()),
        records=tuple(_record_words(field) for field in fields_of(step)),
        limits=tuple(limit_words(room, label) for label in step.limits),
        hazards=step.hazards,
        cautions=step.cautions,
        clocks=clocks_shown(room, now, labels),
        now=instant_text(now),
        goes_on=going_on,
        action=room.url("bench/do"),
        key=sending.new_key(),
        phase=typed.get("phase", ""),  # what is asked back is answered for the button pressed first
        draft=f"bench {step.name} {' '.join(labels)}" + typed.get("instead", ""),
        hidden=(*_hidden(method, step, labels, going_on), *_instead(typed)),
        each=_each(room, step, gauges, typed, wrong),
        for_all=_for_all(room, step, gauges, typed, wrong),
        shared=_shared(room, step, typed, wrong),
        terms=_terms(room, typed, wrong),
        supplies=_supplies(room, step, typed, now, used=_used(room, gauges, filled, going_on)),
        people=_people(room, typed, wrong),
        asked=_asked(filled.error),
        refused=_placed(step, labels, told),
        before=_before(room, filled.instead),
        takes_file=step.kind is StepKind.CURE,
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


def _instead(typed: Mapping[str, str]) -> tuple[tuple[str, str], ...]:
    return (("instead", typed["instead"]),) if typed.get("instead") else ()


def _before(room: Room, instead: Entry[BenchStep] | None) -> str:
    """What a form puts right; "" where it writes a step down for the first time."""
    if instead is None:
        return ""
    return f"{frame.instant_shown(instead.at, room)}, version {instead.version}"


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


def _each(
    room: Room,
    step: MethodStep,
    gauges: Sequence[Entry[Gauge]],
    typed: Mapping[str, str],
    wrong: Mapping[str, str],
) -> tuple[GaugeBoxes, ...]:
    fields = [(n, field) for n, field in enumerate(fields_of(step)) if field.each]
    if not fields:
        return ()
    is_short = len(gauges) > 1  # what a field is for stands once, above
    return tuple(
        GaugeBoxes(
            gauge.record.label,
            f"{room.book.bar_of(gauge).record.label}",
            tuple(
                _box(
                    room,
                    replace(f, note="", lowest=None) if is_short else f,
                    key_of(f.name, gauge.record.label),
                    f"f{n}-{at}",
                    typed,
                    wrong,
                )
                for n, f in fields
            ),
        )
        for at, gauge in enumerate(gauges)
    )


def _for_all(
    room: Room,
    step: MethodStep,
    gauges: Sequence[Entry[Gauge]],
    typed: Mapping[str, str],
    wrong: Mapping[str, str],
) -> tuple[Box, ...]:
    """Boxes whose value counts for every gauge of a batch that has none of its own."""
    if len(gauges) < 2:
        return ()
    return tuple(
        _box(room, field, key_of(field.name), f"f{n}", typed, wrong)
        for n, field in enumerate(fields_of(step))
        if field.each
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
    hints = [_log_hint(room)] if field.name == LOG else [field.note] if field.note else []
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
        wrong.get(key, ""),
        is_number,
        field.name == LOG,
        bool(wrong) and next(iter(wrong)) == key,
    )


def _log_hint(room: Room) -> str:
    day = room.store.context.now().astimezone(room.zone)
    return (
        f"A line for each reading, as {day:%Y-%m-%d} 18:00; 21.4. From one line to the next "
        f"{gap_words(room.book)}; what lies further apart isn’t counted. The day may be left out "
        "after the first line. Without a log the lowest temperature below decides; without both "
        "the step has to be done again before the gauge is wired."
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


def _used(
    room: Room, gauges: Sequence[Entry[Gauge]], filled: Filled, going_on: str
) -> frozenset[Uid]:
    """Supplies that every gauge of a batch had at an earlier step; none once a form was sent."""
    if going_on or filled.error is not None or filled.instead is not None:
        return frozenset()
    known = bench_next.steps_of(room.book)
    each = [
        {uid for one in known.get(gauge.uid, ()) for uid in one.record.supplies} for gauge in gauges
    ]
    return frozenset(set.intersection(*each)) if each else frozenset()


def _supplies(
    room: Room,
    step: MethodStep,
    typed: Mapping[str, str],
    now: datetime,
    *,
    used: frozenset[Uid] = frozenset(),
) -> tuple[SupplyTick, ...]:
    """Supplies of the campaign, those that the step asks for first.

    What the gauges had before, and this step asks for too, is ticked: an adhesive cures as bonded.
    """
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
            supply.label in chosen or (fits and entry.uid in used),
        )
        ticks.append((not fits, tick))
    return tuple(tick for _, tick in sorted(ticks, key=lambda pair: pair[0]))


_PLACES = {"time": "begun", "label of a Supply": "supplies", "label of a Person": "override_person"}


def refused(
    error: GaugewrightError | None, step: MethodStep, typed: Mapping[str, str]
) -> tuple[Refused, ...]:
    """What wasn't taken in, each with the name of the field that it is about."""
    if error is None or isinstance(error, BenchSlip):
        return ()
    if isinstance(error, Faults) and error.what != LOG:
        return tuple(_refused(one, step, typed) for one in error.faults)
    return (_refused(error, step, typed),)


def _refused(error: GaugewrightError, step: MethodStep, typed: Mapping[str, str]) -> Refused:
    if isinstance(error, Faults):
        lines = "; ".join(str(one) for one in error.faults[:5])
        more = f"; and {len(error.faults) - 5} more" if len(error.faults) > 5 else ""
        return Refused(key_of(LOG), lines + more)
    if isinstance(error, BoxFault):
        return Refused(error.key, str(error))
    name = error.name if isinstance(error, InputError) else ""
    if name in {field.name for field in fields_of(step)}:
        return Refused(key_of(name), str(error))
    if isinstance(error, InputError) and name == "time" and error.value == typed.get("ended"):
        return Refused("ended", str(error))
    return Refused(_PLACES.get(name, name if name in _TERMS else ""), str(error))


_TERMS = (
    *("temperature", "humidity", "begun", "ended", "note", "parked", "initials"),
    *("override_person", "override_reason"),
)


def _beside(error: GaugewrightError | None, told: Sequence[Refused]) -> dict[str, str]:
    """Sentences beside the boxes that they are about."""
    if isinstance(error, BenchSlip):
        return {one.key: one.sentence for one in error.questions if one.key != UNREAD}
    found: dict[str, list[str]] = {}
    for one in told:
        found.setdefault(one.key, []).append(one.sentence)
    return {key: "; ".join(sentences) for key, sentences in found.items() if key}


def _placed(
    step: MethodStep, labels: Sequence[str], told: Sequence[Refused]
) -> tuple[Refused, ...]:
    """The same with the place of each field on the page."""
    places = {name: name for name in _TERMS}
    for n, field in enumerate(fields_of(step)):
        places[key_of(field.name)] = f"f{n}"
        for at, label in enumerate(labels):
            places[key_of(field.name, label)] = f"f{n}-{at}"
    return tuple(replace(one, place=places.get(one.key, "")) for one in told)


def confirm_words(slip: BenchSlip) -> str:
    """What the button says that lets a step stand as it was sent."""
    is_unread = all(one.key == UNREAD for one in slip.questions)
    return "Keep it, not read" if is_unread else "It is as typed"


def _asked(error: GaugewrightError | None) -> Asked:
    if not isinstance(error, BenchSlip):
        return Asked("", "", "")
    probable = " and ".join(one.probable for one in error.questions if one.probable)
    sentence = "; ".join(one.sentence for one in error.questions)
    return Asked(sentence, probable, confirm_words(error))
