"""A step at the bench written down, for one gauge or a batch, and what its air and supplies say."""

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from gaugewright.errors import Faults, InputError
from gaugewright.present.numbers import fixed_text
from gaugewright.present.typed import number_typed, quantity_typed
from gaugewright.present.units_shown import System
from gaugewright.records import Entry
from gaugewright.records.benching import (
    BenchOverride,
    BenchReading,
    MethodField,
    MethodStep,
)
from gaugewright.records.gauges import BenchStep, Gauge, Supply
from gaugewright.records.identity import Ref, Uid, instant_from_text, uid_from_text
from gaugewright.records.plain import canonical_text
from gaugewright.records.proof import Method, Person
from gaugewright.services.bench.built import built
from gaugewright.services.bench.clocks import STILL
from gaugewright.services.bench.coming import latest_steps
from gaugewright.services.bench.cure import fields_of
from gaugewright.services.bench.judged import CURED, LOG, LOST, judged
from gaugewright.services.bench.log import kept_log
from gaugewright.services.bench.methods import held_limit, held_method, step_named
from gaugewright.services.bench.typed import (
    BenchSlip,
    BoxFault,
    Question,
    key_of,
    one_fault,
    readings_typed,
)
from gaugewright.services.bench.unread import UNREAD, left_out, unread_asked
from gaugewright.services.campaign import campaigns
from gaugewright.services.campaign.book import Book
from gaugewright.services.campaign.events import instant_typed
from gaugewright.store.campaign import CampaignStore

__all__ = ["FIELDS", "batch_of", "batches", "noted", "overridden"]

# What may be typed of a step; gauges and supplies are labels with semicolons between. What a
# method asks besides is sent under ``bench_typed.key_of``.
FIELDS = (
    "method",
    "gauges",
    "step",
    "person",
    "initials",
    "begun",
    "ended",
    "supplies",
    "temperature",
    "humidity",
    "parked",
    "note",
    "as_typed",
    "override_person",
    "override_reason",
    "finish",
    "unread",
    "instead",
)
_AIR = MethodField("air", "temperature_degc", -10.0, 50.0)
_SHORT = 4  # letters of initials at most
_EARLY = timedelta(minutes=10)


@dataclass(frozen=True, slots=True)
class _Desk:
    """What is at hand while a form is taken in."""

    store: CampaignStore
    book: Book
    zone: ZoneInfo
    system: System
    typed: Mapping[str, str]

    def text(self, name: str) -> str:
        """What was typed for a field, without spaces around."""
        return self.typed.get(name, "").strip()

    def labels(self, name: str) -> list[str]:
        """Labels with semicolons between, each once."""
        return list(dict.fromkeys(one.strip() for one in self.text(name).split(";") if one.strip()))


def noted(
    store: CampaignStore, typed: Mapping[str, str], *, key: str = ""
) -> tuple[Entry[BenchStep], ...]:
    """Write down a step as typed, once for each gauge and ``key``: all are kept, or none.

    Raises
    ------
    BenchSlip
        If a reading is probably a slip or a supply is past its date, and wasn't confirmed.
    InputError
        If something typed can't be, or names what the campaign doesn't have.
    """
    uid = None
    if key:
        sending = store.sendings.received(key, _content(typed), store.context)
        uid = sending.uid
        known = next((e for e in Book.read(store).of(BenchStep) if e.uid == uid), None)
        if known is not None:
            return batch_of(Book.read(store), known)
    zone, system = ZoneInfo(store.campaign.record.zone), campaigns.system_of(store)
    with store.several():
        book = Book.read(store)
        desk = _Desk(store, book, zone, system, typed)
        return _noted(desk, uid)


def _noted(desk: _Desk, uid: Uid | None) -> tuple[Entry[BenchStep], ...]:
    gauges = [desk.book.labelled(Gauge, label) for label in desk.labels("gauges")]
    if not gauges:
        raise InputError("gauges", "", "one gauge or more, with semicolons between")
    method, step, limits = _method(desk)
    fields = () if step is None else fields_of(step)
    going_on, instead = _going_on(desk, gauges), _instead(desk)
    since = min((one.record.begun for one in going_on.values()), default=None)
    try:
        base, asked = _base(desk, gauges[0].uid, step, method, limits, since=since)
    except InputError as error:  # and what is wrong in the boxes is told with it
        raise one_fault([*_read(desk, gauges, fields)[1], error]) from error
    each, questions = _each(desk, gauges, step, base, going_on)
    questions = [*asked, *(one for one in questions if one not in asked)]
    unread = unread_asked(each)
    if questions and not desk.text("as_typed"):
        raise BenchSlip([*questions, *unread])
    if unread and not (desk.text("as_typed") or desk.text(UNREAD)):
        raise BenchSlip(unread)
    confirmed = tuple(f"{one.sentence.rstrip('?')}; confirmed as typed" for one in questions)
    kept: list[Entry[BenchStep]] = []
    for gauge, made in each:
        ended = None if gauge.uid in going_on else _ended_before(desk, gauge)
        if ended is not None:
            kept.append(ended)
            continue
        flagged = replace(made, flags=(*made.flags, *confirmed))
        before = instead.get(gauge.uid) or going_on.get(gauge.uid)
        kept.append(_kept(desk, (gauge, before), flagged, (step, method), None if kept else uid))
    _override(desk, kept)
    return tuple(kept)


def _each(
    desk: _Desk,
    gauges: Sequence[Entry[Gauge]],
    step: MethodStep | None,
    base: BenchStep,
    going_on: Mapping[Uid, Entry[BenchStep]],
) -> tuple[list[tuple[Entry[Gauge], BenchStep]], list[Question]]:
    """The step of each gauge as typed, and what is asked about it; every fault is told at once."""
    each: list[tuple[Entry[Gauge], BenchStep]] = []
    questions: list[Question] = []
    read, faults = _read(desk, gauges, () if step is None else fields_of(step))
    if faults:
        raise one_fault(faults)
    for gauge, readings, asked in read:
        made = _joined(going_on.get(gauge.uid), replace(base, gauge=gauge.uid, readings=readings))
        each.append((gauge, _with_unread(step, made)))
        questions += [one for one in asked if one not in questions]
    return each, questions


def _read(
    desk: _Desk, gauges: Sequence[Entry[Gauge]], fields: Sequence[MethodField]
) -> tuple[
    list[tuple[Entry[Gauge], tuple[BenchReading, ...], tuple[Question, ...]]], list[InputError]
]:
    """Readings of each gauge with what is asked about them, and every fault in their boxes."""
    read = []
    faults: list[InputError] = []
    for gauge in gauges:
        try:
            found = readings_typed(desk.book, gauge, fields, desk.typed, desk.system)
        except InputError as error:
            parts = error.faults if isinstance(error, Faults) else (error,)
            faults += [one for one in parts if isinstance(one, InputError)]
            continue
        read.append((gauge, *found))
    return read, faults


def _with_unread(step: MethodStep | None, made: BenchStep) -> BenchStep:
    open_ones = left_out(step, made)
    if not open_ones:
        return made
    flags = (*made.flags, f"not read: {', '.join(open_ones)}")
    return replace(made, not_read=open_ones, flags=flags)


def _instead(desk: _Desk) -> dict[Uid, Entry[BenchStep]]:
    """Steps that this form puts right, by gauge: those written down together with the one named."""
    if not desk.text("instead"):
        return {}
    entry = desk.book.entry(uid_from_text(desk.text("instead")), BenchStep)
    if entry.record.step != desk.text("step"):
        do = "take that one back, and write this one down"
        raise InputError("step", desk.text("step"), f"that of the record: {entry.record.step}", do)
    return {one.record.gauge: one for one in batch_of(desk.book, entry)}


def _going_on(desk: _Desk, gauges: Sequence[Entry[Gauge]]) -> dict[Uid, Entry[BenchStep]]:
    """Steps begun earlier that this form is the end of, by gauge."""
    if not desk.text("finish"):
        return {}
    latest = {g.uid: latest_steps(desk.book, g.uid).get(desk.text("step")) for g in gauges}
    return {
        uid: entry
        for uid, entry in latest.items()
        if entry is not None and entry.record.ended is None and not entry.record.parked
    }


def _ended_before(desk: _Desk, gauge: Entry[Gauge]) -> Entry[BenchStep] | None:
    """The step where this form would end it once more, as one sent again does."""
    if not desk.text("finish"):
        return None
    return latest_steps(desk.book, gauge.uid).get(desk.text("step"))


def _joined(earlier: Entry[BenchStep] | None, made: BenchStep) -> BenchStep:
    """A step at its end: what was written at its beginning stays where nothing new was typed."""
    if earlier is None:
        return made
    before = earlier.record
    # What is worked out is worked out anew.
    named = {reading.what for reading in made.readings} | {LOG, CURED, LOST, STILL}
    old = tuple(r for r in before.readings if r.what not in named)
    return replace(
        made,
        begun=before.begun,
        supplies=made.supplies or before.supplies,
        temperature_degc=_or(made.temperature_degc, before.temperature_degc),
        humidity=_or(made.humidity, before.humidity),
        note="; ".join(words for words in (before.note, made.note) if words),
        readings=(*old, *made.readings),
    )


def _or(value: float | None, before: float | None) -> float | None:
    return before if value is None else value


def _kept(
    desk: _Desk,
    whose: tuple[Entry[Gauge], Entry[BenchStep] | None],
    made: BenchStep,
    by: tuple[MethodStep | None, Entry[Method] | None],
    uid: Uid | None,
) -> Entry[BenchStep]:
    """Write one gauge's step, or the end of the one that goes on."""
    store, book = desk.store, desk.book
    (gauge, before), (step, method) = whose, by
    log = None
    if step is not None and not made.parked:
        try:
            made, log = judged(book, gauge, step, made, zone=desk.zone, system=desk.system)
        except InputError as error:
            raise _of_gauge(error, gauge, made) from error
    if method is not None:
        words = built(store, book, gauge, method.record, made)
        made = replace(made, flags=(*made.flags, *words))
    reason = f"{made.step} of {gauge.record.label}"
    if before is not None and before.record == made:
        return before  # sent again
    if before is not None:
        how = "put right" if desk.text("instead") else "its end"
        entry = store.revise(before.uid, before.version, made, reason=f"{reason}, {how}")
    else:
        entry = store.add(made, reason=reason, uid=uid)
    if log is not None:
        kept_log(store, entry.uid, log)
    return entry


def _of_gauge(error: InputError, gauge: Entry[Gauge], made: BenchStep) -> InputError:
    """A refusal with the gauge that it is about, and what was typed instead of a number in SI."""
    if isinstance(error, Faults):
        return error
    name = error.name.replace("_", " ")
    typed = [reading.typed for reading in made.readings if reading.what == name]
    if not typed:
        return error
    key = key_of(name, gauge.record.label)
    named = InputError(name, "; ".join(typed), error.allowed, error.do)
    return BoxFault(key, f"{name} of {gauge.record.label}", named)


def _method(
    desk: _Desk,
) -> tuple[Entry[Method] | None, MethodStep | None, tuple[Ref, ...]]:
    """Method and limits in the versions that hold now; none where none was named."""
    if not desk.text("method"):
        return None, None, ()
    method = held_method(desk.store, desk.book, desk.text("method"))
    step = step_named(method.record, desk.text("step"))
    labels = (*step.limits, *(clock.limit for clock in step.clocks if clock.limit))
    limits = tuple(held_limit(desk.store, desk.book, one).ref for one in dict.fromkeys(labels))
    return method, step, limits


def _base(
    desk: _Desk,
    gauge: Uid,
    step: MethodStep | None,
    method: Entry[Method] | None,
    limits: tuple[Ref, ...],
    *,
    since: datetime | None,
) -> tuple[BenchStep, list[Question]]:
    """The step with all that a batch has in common, and what is to be asked about that.

    ``since`` is when a step began that goes on and that this form is the end of.
    """
    book = desk.book
    written = desk.store.context.now()
    # A form that waited on a device tells when it was sent there.
    now = instant_from_text(desk.text("at")) if desk.text("at") else written
    begun = since or _moment(desk, "begun", now) or now
    person = _person(desk, "person")
    supplies = [book.labelled(Supply, label) for label in desk.labels("supplies")]
    day = begun.astimezone(desk.zone).date()
    questions = [_expired(one.record) for one in supplies if _is_past(one.record, day)]
    air, asked = _air(desk)
    questions += asked if step is not None else []
    if step is None:  # without a method nothing is asked back: what is odd is told afterwards
        questions = []
    ended = now if desk.text("ended") == "now" else _moment(desk, "ended", now)
    if ended is not None and ended < begun:
        hour = f"{begun.astimezone(desk.zone):%Y-%m-%d %H:%M}"
        raise InputError("ended", desk.text("ended"), f"no earlier than it began, {hour}")
    flags = ("begun later than it was written down: is the day right?",)
    made = BenchStep(
        gauge,
        desk.text("step"),
        begun,
        ended,
        person,
        tuple(one.uid for one in supplies),
        air,
        _humidity(desk),
        desk.text("parked"),
        desk.text("note"),
        method.ref if method else None,
        limits,
        initials=desk.text("initials") or _initials(book.entry(person, Person).record),
        flags=flags if begun > now + _EARLY else (),
    )
    return made, questions


def _is_past(supply: Supply, day: date) -> bool:
    return supply.expires is not None and day > supply.expires


def _expired(supply: Supply) -> Question:
    sentence = (
        f"{supply.what}, batch {supply.batch}, was good until {supply.expires}: take another, or "
        "confirm that it was used all the same"
    )
    return Question("supplies", sentence, "")


def _air(desk: _Desk) -> tuple[float | None, list[Question]]:
    text = desk.text("temperature")
    if not text:
        return None, []
    value = quantity_typed("temperature", text, "temperature_degc", desk.system)
    if _AIR.lowest is not None and _AIR.highest is not None:
        meant = [v for v in ((value - 32) / 1.8, value / 10) if _AIR.lowest <= v <= _AIR.highest]
        if not _AIR.lowest <= value <= _AIR.highest and meant:
            probable = f"{fixed_text(meant[0], 1)} °C"
            sentence = f"air at {text}: did you mean {probable}?"
            return value, [Question("temperature", sentence, probable)]
    return value, []


def _humidity(desk: _Desk) -> float | None:
    text = desk.text("humidity").removesuffix("%").strip()
    if not text:
        return None
    percent = number_typed("humidity", text)
    if 0 < percent <= 100:
        return percent / 100
    do = f"did you mean {percent / 10:g} %?" if 100 < percent <= 1000 else ""
    raise InputError("humidity", desk.typed["humidity"], "above 0 and up to 100 %", do)


def _moment(desk: _Desk, name: str, now: datetime) -> datetime | None:
    text = desk.text(name)
    try:
        return instant_typed(text, desk.zone, now) if text else None
    except InputError as error:
        raise InputError(name, text, error.allowed, error.do) from error


def _person(desk: _Desk, name: str) -> Uid:
    label = desk.text(name)
    if label:
        return desk.book.labelled(Person, label).uid
    if desk.store.context.person is None:
        raise InputError("person", "", "the label of whoever did it")
    return desk.store.context.person


def _initials(person: Person) -> str:
    """What a person is called by in the journal where that is short; else made of the name."""
    if len(person.label) <= _SHORT:
        return person.label
    return "".join(part[0] for part in person.name.split() if part[0].isalnum())[:_SHORT].upper()


def _content(typed: Mapping[str, str]) -> str:
    # How a form was confirmed isn't what it says: asked back and confirmed, it is the same form.
    apart = ("key", "at", "sent", "use", "as_typed", "unread")
    plain = {name: text for name, text in typed.items() if name not in apart}
    return hashlib.sha256(canonical_text(plain).encode("utf-8")).hexdigest()


def batch_of(book: Book, entry: Entry[BenchStep]) -> tuple[Entry[BenchStep], ...]:
    """Steps that were written down together with one: the same step, moment and person."""
    return next(run for run in batches(book) if entry.uid in {other.uid for other in run})


def batches(book: Book) -> tuple[tuple[Entry[BenchStep], ...], ...]:
    """Steps that were written down together, the latest first.

    A batch has each gauge once: the same step written down again with the same moment, as a cure
    that wasn't long enough is, begins a batch of its own.
    """
    together: dict[tuple[object, ...], list[list[Entry[BenchStep]]]] = {}
    for entry in book.of(BenchStep):
        made = entry.record
        runs = together.setdefault((made.step, made.begun, made.person, made.supplies), [[]])
        if any(other.record.gauge == made.gauge for other in runs[-1]):
            runs.append([])
        runs[-1].append(entry)
    found = (tuple(run) for runs in together.values() for run in runs)
    return tuple(sorted(found, key=lambda run: (run[0].record.begun, run[0].uid), reverse=True))


def _override(desk: _Desk, kept: Sequence[Entry[BenchStep]]) -> None:
    """Put the name that the form gave under every limit that ran out."""
    reason = desk.text("override_reason")
    if not reason and not desk.text("override_person"):
        return
    for entry in kept:
        for one in entry.record.ran_out:
            overridden(desk.store, entry, one.what, desk.text("override_person"), reason)


def overridden(
    store: CampaignStore, step: Entry[BenchStep], what: str, person: str, reason: str
) -> Entry[BenchOverride]:
    """Let a step stand although a limit ran out: a named person, with a reason, is kept.

    Raises
    ------
    InputError
        If the step broke no such limit, nobody is named, or no reason is given.
    """
    broken = [one.what for one in step.record.ran_out]
    if what not in broken:
        allowed = "one that ran out for this step: " + (", ".join(broken) or "none did")
        raise InputError("limit", what, allowed)
    if not person.strip():
        raise InputError("override_person", "", "the label of the person who answers for it")
    if not reason.strip():
        raise InputError("override_reason", "", "why the step stands all the same")
    named = Book.read(store).labelled(Person, person.strip())
    made = BenchOverride(step.uid, what, named.uid, reason.strip())
    return store.add(made, reason=f"{what} overridden by {named.record.label}")
