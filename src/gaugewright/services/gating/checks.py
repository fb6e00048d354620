"""Gate checks: what was typed at a gate becomes a record with its verdict, once a sending."""

import hashlib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from gaugewright.calc import conformity
from gaugewright.errors import GaugewrightError, InputError, InputFaults
from gaugewright.records import Entry
from gaugewright.records.identity import Uid, instant_text
from gaugewright.records.plain import canonical_text
from gaugewright.records.proof import Censor, Gate, GateCheck, GateReading, Meter, Person, Verdict
from gaugewright.records.stated import State
from gaugewright.services.campaign.book import Book
from gaugewright.services.gating.compare import checks_of, grown, last_reading, refuse_stale_reading
from gaugewright.services.gating.fields import (
    LAST_FOR_REPAIR,
    TABS,
    GateField,
    Setup,
    is_leak,
    open_connection,
    shared_with,
)
from gaugewright.services.gating.judge import Judgement, judged, uncertain_reading
from gaugewright.services.gating.typed import Question, Typed, fits, questioned, reading_typed
from gaugewright.store.campaign import CampaignStore
from gaugewright.units import parse_unit, unit_named

__all__ = [
    "Both",
    "Recorded",
    "Sent",
    "SlipError",
    "beyond_words",
    "box_unit",
    "is_fit",
    "judgement_at",
    "meter_for",
    "readings_at",
    "record",
    "sign_second",
    "state_of_check",
]

_ORDER = list(Gate)
_FAR = 2.0  # two readings of one insulation apart by more than this factor: choice, no source


class SlipError(InputError):
    """Readings that are probably slips; each question holds the value that was probably meant."""

    def __init__(self, questions: Sequence[Question]) -> None:
        self.questions = tuple(questions)
        self.name, self.value = questions[0].what, questions[0].probable
        self.allowed = "a likely reading, or one confirmed as typed"
        self.do = "correct it, or confirm that it is as typed"
        told = "; ".join(question.sentence for question in questions)
        GaugewrightError.__init__(self, f"{told}; {self.do}")


@dataclass(frozen=True, slots=True)
class Sent:
    """A gate's form: texts, meters and units of boxes by field, and what was confirmed."""

    texts: Mapping[str, str]
    meters: Mapping[str, Uid]
    measured: datetime
    units: Mapping[str, str]
    temperature_degc: float | None = None
    as_typed: bool = False
    unplugged: bool = False


@dataclass(frozen=True, slots=True)
class Both:
    """One field that two people read: what the other wrote, and who; what was typed now."""

    label: str
    theirs: str
    who: str
    yours: str


@dataclass(frozen=True, slots=True)
class Recorded:
    """A check as it was written, what it stands on, and other people's values beside it."""

    entry: Entry[GateCheck]
    judgement: Judgement
    both: tuple[Both, ...]
    is_new: bool


def record(store: CampaignStore, book: Book, setup: Setup, sent: Sent, *, key: str) -> Recorded:
    """Write down what was read of a gauge at a gate, once for each ``key``.

    Nothing typed before is changed: a second value of a field, by whomever, stands beside the
    first. Readings of a circuit count for every gauge in it.

    Raises
    ------
    SlipError
        If a value is impossible or probably a slip, and wasn't confirmed.
    InputError
        If nothing was typed, nobody is at work, or the zero that unplugging ends wasn't given up.
    Faults
        If several readings can't be used.
    """
    person = store.context.person
    if person is None:
        raise InputError("person", None, "named: a check needs who read it", "say who you are")
    sending = store.sendings.received(key, _content(setup, sent), store.context)
    with store.several():
        kept = _kept(store, sending.uid)
        if kept is not None:
            found = judged(book, setup, _holding(book, setup, ()))
            return Recorded(kept, found, (), is_new=False)
        readings, questions = _typed_readings(book, setup, sent, store.context.now())
        if questions and not sent.as_typed:
            raise SlipError(questions)
        refuse_stale_reading(book, setup, readings)
        _unplug(store, book, setup, sent, readings)
        both = tuple(dict.fromkeys(_both(book, setup, readings, person)))
        found = judged(book, setup, _holding(book, setup, readings))
        flags = (
            *(f"{question.sentence}; confirmed as typed" for question in questions),
            *found.flags,
            *grown(book, setup, readings),
            *_disagreements(book, setup, readings, person),
        )
        made = GateCheck(
            setup.gauge.uid,
            setup.gate,
            readings,
            found.verdict,
            found.reason,
            found.limits,
            person,
            flags=flags,
        )
        entry = store.add(made, reason=_why(setup), uid=sending.uid)
        for partner in shared_with(setup):
            store.add(replace(made, gauge=partner), reason=_why(setup) + ", same circuit")
    return Recorded(entry, replace(found, flags=flags), both, is_new=True)


def _why(setup: Setup) -> str:
    return f"gate {setup.gate.value} of {setup.gauge.record.label}"


def _content(setup: Setup, sent: Sent) -> str:
    plain = {
        "gauge": setup.gauge.uid,
        "gate": setup.gate.value,
        "texts": dict(sent.texts),
        "meters": dict(sent.meters),
        "measured": instant_text(sent.measured),
        "temperature": sent.temperature_degc,
        "as_typed": sent.as_typed,
    }
    return hashlib.sha256(canonical_text(plain).encode("utf-8")).hexdigest()


def _kept(store: CampaignStore, uid: Uid) -> Entry[GateCheck] | None:
    """Check with a uid that was put aside for it, if it was written."""
    try:
        entry: Entry[GateCheck] = store.entry(uid)
    except InputError:
        return None
    return entry


def _typed_readings(
    book: Book, setup: Setup, sent: Sent, now: datetime
) -> tuple[tuple[GateReading, ...], list[Question]]:
    readings: list[GateReading] = []
    questions: list[Question] = []
    faults: list[InputError] = []
    for field in setup.every:
        text = sent.texts.get(field.what, "").strip()
        if not text:
            continue
        try:
            typed = Typed(field, text, _meter(book, field, sent), sent.units.get(field.what, ""))
            reading = reading_typed(typed, sent.temperature_degc, sent.measured, now)
        except InputError as error:
            faults.append(error)
            continue
        readings.append(reading)
        before = last_reading(book, setup, field.what, exact=True)
        question = questioned(
            reading,
            typed,
            setup.expected(field, sent.temperature_degc),
            None if before is None else before[1].value,
        )
        questions += [question] if question is not None else []
    if len(faults) == 1:
        raise faults[0]
    if faults:
        raise InputFaults("readings at the gate", faults)
    if not readings:
        names = ", ".join(field.label for field in setup.fewest)
        raise InputError("every box", "", "filled in, or one at least", f"read {names} first")
    return tuple(readings), questions


def _meter(book: Book, field: GateField, sent: Sent) -> Entry[Meter]:
    uid = sent.meters.get(field.what)
    if uid:
        return book.entry(uid, Meter)
    found = meter_for(book, field, None)
    if found is None:
        raise InputError(
            f"meter for {field.label}",
            None,
            "one of this campaign",
            "enter the meter with its limits of error first",
        )
    return found


def _unplug(
    store: CampaignStore,
    book: Book,
    setup: Setup,
    sent: Sent,
    readings: Sequence[GateReading],
) -> None:
    """End the connection that a reading with the plug out has ended in truth."""
    standing = open_connection(book, setup)
    unplugged = {field.what for field in setup.every if field.is_unplugged}
    if standing is None or not any(reading.what in unplugged for reading in readings):
        return
    if standing.record.begins >= sent.measured:
        return  # it was plugged in later than this was read
    if not sent.unplugged:
        raise InputError(
            "the plug",
            "in, as far as anybody said",
            "out: these readings need it, and that ends the zero of the connection",
            "record the channel’s reading by itself, then unplug, tick “Unplugged” and record the "
            "pairs; plugged in again it needs a new zero",
        )
    ended = replace(standing.record, ends=sent.measured)
    why = f"unplugged at the gate {setup.gate.value}; a zero taken before ends with it"
    store.revise(standing.uid, standing.version, ended, reason=why)


def _holding(book: Book, setup: Setup, readings: Sequence[GateReading]) -> tuple[GateReading, ...]:
    """Readings of a gate that hold together: earlier visits and what was typed now.

    What isn't read anew still holds, as long as the pairs that were read anew say what they said
    before; else something was changed in between, and older pairs tell of another gauge.
    """
    limit = book.limit("lead difference").record.value
    pairs = {field.what for field in setup.fields if field.quantity == "resistance"}
    visits = [c.record.readings for c in checks_of(book, setup) if c.record.gate is setup.gate]
    held: dict[str, GateReading] = {}
    for visit in (*visits, tuple(readings)):
        anew = [r for r in visit if r.what in pairs and r.what in held]
        if any(_far_apart(book, r, held[r.what], limit) for r in anew):
            held = {what: reading for what, reading in held.items() if what not in pairs}
        held |= {reading.what: reading for reading in visit}
    return tuple(held.values())


def judgement_at(book: Book, setup: Setup) -> Judgement | None:
    """Judgement of what holds of a gauge at a gate; None when nothing was read."""
    readings = _holding(book, setup, ())
    return judged(book, setup, readings) if readings else None


def readings_at(book: Book, setup: Setup) -> dict[str, GateReading]:
    """Readings that hold at a gate, by what they read."""
    return {reading.what: reading for reading in _holding(book, setup, ())}


def _others(
    book: Book, setup: Setup, reading: GateReading, person: Uid
) -> tuple[tuple[GateReading, Uid], ...]:
    """What other people read last in the same field at the same gate."""
    last = {
        check.record.person: other
        for check in checks_of(book, setup)
        if check.record.gate is setup.gate and check.record.person != person
        for other in check.record.readings
        if other.what == reading.what
    }
    return tuple((other, who) for who, other in last.items())


def _both(book: Book, setup: Setup, readings: Sequence[GateReading], person: Uid) -> Iterator[Both]:
    for reading in readings:
        for other, who in _others(book, setup, reading, person):
            if other.typed != reading.typed:
                name = book.entry(who, Person).record.name
                yield Both(setup.field(reading.what).label, other.typed, name, reading.typed)


def _disagreements(
    book: Book, setup: Setup, readings: Sequence[GateReading], person: Uid
) -> Iterator[str]:
    limit = book.limit("lead difference").record.value
    for reading in readings:
        for other, who in _others(book, setup, reading, person):
            if not _far_apart(book, reading, other, limit):
                continue
            name = book.entry(who, Person).record.name
            label = setup.field(reading.what).label
            yield f"{label} is {reading.typed} here and {other.typed} by {name}: both are kept"


def _far_apart(book: Book, one: GateReading, other: GateReading, limit: float) -> bool:
    if one.censor is not other.censor:
        return Censor.OPEN in (one.censor, other.censor)
    if one.value is None or other.value is None or one.censor is not Censor.EXACT:
        return False
    if is_leak(one.what):
        low, high = sorted((abs(one.value), abs(other.value)))
        return high > _FAR * low
    gap = uncertain_reading(one, book.entry(one.meter, Meter)) - uncertain_reading(
        other, book.entry(other.meter, Meter)
    )
    value, doubt = float(gap.value), float(gap.expanded())
    return conformity.guarded(value, doubt, -limit, limit) == conformity.OUTSIDE


def sign_second(
    store: CampaignStore, uid: Uid, version: int, *, person: Uid | None = None
) -> Entry[GateCheck]:
    """Second person's name under a check, given by that person.

    Whether it is that person has to be found out before; without one it is who is at work.

    Raises
    ------
    InputError
        If nobody is at work, it is the first person again, or it was signed before.
    StaleEdit
        If the check was changed since it was looked at.
    """
    entry: Entry[GateCheck] = store.entry(uid)
    person = person or store.context.person
    check = entry.record
    if not isinstance(check, GateCheck):
        raise InputError("uid of a gate check", uid, "a record of that kind")
    if person is None or person == check.person:
        raise InputError("second person", person, "somebody else than who read the gauge")
    if check.second_person is not None:
        raise InputError("second person", check.second_person, "not given yet")
    signed = replace(check, second_person=person)
    return store.as_person(person).revise(uid, version, signed, reason="seen by a second person")


def meter_for(book: Book, field: GateField, person: Uid | None) -> Entry[Meter] | None:
    """Meter last used for a field, by this person if there is one, else one that fits."""
    fitting = {m.uid: m for m in book.of(Meter) if parse_unit(m.record.unit) and is_fit(m, field)}
    used = [
        (check.record.person == person, reading.entered, reading.meter)
        for check in book.of(GateCheck)
        for reading in check.record.readings
        if reading.what == field.what and reading.meter in fitting
    ]
    if used:
        return fitting[max(used)[2]]
    # What tests insulation has a voltage for it, or reads in megohms; pairs are read in ohms.
    ranked = sorted(fitting.values(), key=_suits_leaks)
    return (ranked[-1] if is_leak(field.what) else ranked[0]) if ranked else None


def _suits_leaks(meter: Entry[Meter]) -> tuple[bool, float]:
    return meter.record.test_voltage is not None, unit_named(meter.record.unit).factor


def is_fit(meter: Entry[Meter], field: GateField) -> bool:
    """Whether a meter reads what a field asks."""
    try:
        return fits(meter.record, field)
    except InputError:
        return False  # a meter of something else, such as a thermometer


def box_unit(book: Book, meter: Entry[Meter], field: GateField) -> str:
    """Unit that the box of a field shows: the one last typed with this meter, else its own."""
    latest: tuple[datetime, str] | None = None
    for check in book.of(GateCheck):
        for reading in check.record.readings:
            if reading.what != field.what or reading.meter != meter.uid:
                continue
            word = "".join(sign for sign in reading.typed if sign.isalpha() or sign in "/µΩ")
            unit = parse_unit(word) if word else None
            if unit is not None and (latest is None or reading.entered > latest[0]):
                latest = (reading.entered, unit.name)
    own = unit_named(meter.record.unit).name
    if latest is not None:
        return latest[1]
    return "MΩ" if is_leak(field.what) and own == "Ω" else own


def beyond_words(meter: Meter, unit: str) -> str:
    """What a meter at the end of its range is written down as, in the unit of a box."""
    if meter.highest is None:
        return "open"
    end = meter.highest * unit_named(meter.unit).factor / unit_named(unit).factor
    return f"> {end:g}"


def state_of_check(check: GateCheck) -> State:
    """Where a check stands on the one scale."""
    if check.verdict is Verdict.PASS:
        return State.WATCH if check.flags else State.SOUND
    if check.verdict is Verdict.CANNOT_TELL:
        return State.WATCH
    if _ORDER.index(check.gate) <= _ORDER.index(LAST_FOR_REPAIR):
        return State.REPAIR
    # Of pairs and tabs, not of what has to be open, such as a lead to the bar.
    through = [r for r in check.readings if "-" in r.what or r.what == TABS]
    is_open = any(r.censor is Censor.OPEN for r in through)
    return State.LOST if is_open else State.DOUBTFUL
