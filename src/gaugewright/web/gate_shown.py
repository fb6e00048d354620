"""What the page of one gauge at one gate shows: boxes, drawing, verdict, what changed."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

from gaugewright.calc import conformity
from gaugewright.errors import GaugewrightError, InputError
from gaugewright.present.numbers import fixed_text
from gaugewright.present.units_shown import ohm_signs, quantity_shown
from gaugewright.records import Entry
from gaugewright.records.gauges import Gauge
from gaugewright.records.identity import Uid
from gaugewright.records.proof import Gate, GateCheck, Meter, Verdict
from gaugewright.records.stated import State
from gaugewright.services.campaign.gates import gate_number
from gaugewright.services.gating import checks as gate_checks
from gaugewright.services.gating import table as gate_table
from gaugewright.services.gating.checks import SlipError, judgement_at, readings_at
from gaugewright.services.gating.compare import Change, changes, checks_of, last_reading
from gaugewright.services.gating.fields import (
    INSULATION,
    READING,
    GateField,
    Setup,
    open_connection,
)
from gaugewright.services.gating.judge import Judgement
from gaugewright.web import frame, sending
from gaugewright.web.bench_shown import short_name
from gaugewright.web.forms import Choice, Field
from gaugewright.web.gate_leads import drawing
from gaugewright.web.gate_visits import Visit, visits_of
from gaugewright.web.links import gauge_url
from gaugewright.web.pages.gates import gate_url
from gaugewright.web.plan_ways import entry_url
from gaugewright.web.rooms import Room

__all__ = ["TabletPage", "neighbours", "place_of", "tablet"]


@dataclass(frozen=True, slots=True)
class GaugeMark:
    """A gauge in the row that shows how far the gate is."""

    name: str
    state: str
    is_here: bool


@dataclass(frozen=True, slots=True)
class Box:
    """One reading's box; ``like`` are the digits it had before, ``special`` its own key."""

    name: str
    label: str
    unit: str
    value: str
    was: str
    like: str
    special: str
    wrong: str


@dataclass(frozen=True, slots=True)
class Said:
    """A check in words: state, sentence, what more there is to say."""

    label: str
    url: str
    state: str
    verdict: str
    sentence: str
    more: tuple[str, ...]
    diagnosis_url: str = ""


@dataclass(frozen=True, slots=True)
class ChangeRow:
    """One reading against an earlier gate."""

    reading: str
    gate: str
    before: str
    now: str
    by_temperature: str
    left: str
    strain: str
    note: str


@dataclass(frozen=True, slots=True)
class Links:
    """Where to go from here."""

    gates: str
    gauge: str
    earlier: str
    earlier_label: str
    later: str
    later_label: str
    meters: str
    full: str
    people: str
    lead: str
    lead_label: str


@dataclass(frozen=True, slots=True)
class Asked:
    """What is asked of the person before a form is taken in."""

    sentence: str
    probable: str
    needs_unplug: str
    failure: str


@dataclass(frozen=True, slots=True)
class TabletPage:
    """The page of one gauge at one gate."""

    sheet: frame.Sheet
    label: str
    place: str
    where: str
    marks: tuple[GaugeMark, ...]
    action: str
    key: str
    draft: str
    is_full: bool
    links: Links
    drawing: str
    boxes: tuple[Box, ...]
    hidden_units: tuple[tuple[str, str], ...]
    asked: Asked
    temperature: Field
    measured: Field
    meters: tuple[Field, ...]
    drawn_meters: tuple[tuple[str, str], ...]
    terms: str
    no_meter: tuple[str, ...]
    done: Said | None
    stands: Said | None
    lines: tuple[tuple[str, str], ...]
    changes: tuple[ChangeRow, ...]
    visits: tuple[Visit, ...]
    second_action: str
    second_wrong: str
    diagnosis_url: str
    is_odd: bool


_WHEN = "Day and time of the hall; empty for now. It is kept with each reading."
_GROUPS = (
    ("pairs", "Meter for the pairs"),
    ("insulation", "Meter for leads to bar"),
    ("reading", "Channel"),
)
_OUTCOMES = {
    conformity.INSIDE: "keeps",
    conformity.OUTSIDE: "breaks",
    conformity.UNDECIDED: "can’t tell",
    "odd": "odd",
}


def _meters(room: Room, made: Setup, drawn: Mapping[str, str]) -> tuple[Field, ...]:
    return tuple(_meter_field(room, made, group, label, drawn) for group, label in _GROUPS)


def tablet(
    room: Room,
    made: Setup,
    *,
    texts: Mapping[str, str],
    temperature: str,
    measured: str,
    error: GaugewrightError | None,
    done: Entry[GateCheck] | None,
    is_full: bool,
    second_wrong: str = "",
) -> TabletPage:
    """Everything that the page shows."""
    found = judgement_at(room.book, made)
    wants_all = is_full or any(texts.get(f.what) for f in made.every if not f.fewest)
    drawn, units, no_meter = _at_hand(room, made)
    shown = [f for f in made.fields if (f.fewest or wants_all) and f.what in units]
    shown += [f for f in made.further if texts.get(f.what) and f.what in units]
    warmth = temperature or _last_temperature(room, made)
    number = gate_number(room.book, made.gate)
    title = f"{made.gauge.record.label} at the gate {made.gate.value}"
    return TabletPage(
        sheet=frame.Sheet(title, title, frame.room_block(room, title), step="gates"),
        label=made.gauge.record.label,
        place=place_of(room, made),
        where=f"Gate {number}, {made.gate.value}",
        marks=_marks(room, made),
        action=gate_url(room, made.gate, made.gauge.record.label),
        key=sending.new_key(),
        draft=f"gate {made.gate.value}",
        is_full=wants_all,
        links=_links(room, made, wants_all=wants_all),
        drawing=drawing(made, found),
        boxes=tuple(_box(room, made, f, units[f.what], texts, error) for f in shown),
        hidden_units=tuple((f.name, units[f.what]) for f in shown),
        asked=_asked(room, made, error),
        temperature=Field("temperature", "Temperature", warmth, "°C", kind="number"),
        measured=Field("measured", "Measured", measured, hint=_WHEN, kind="datetime-local"),
        meters=_meters(room, made, dict(drawn)),
        drawn_meters=drawn,
        terms=_terms(warmth, measured, [room.book.label(uid) for _, uid in drawn]),
        no_meter=no_meter,
        done=None if done is None else _just_kept(room, made.gate, done),
        stands=_stands(room, made, found),
        lines=_lines(found),
        changes=_changes(room, made),
        visits=visits_of(room, made),
        second_action=gate_url(room, made.gate, made.gauge.record.label) + "/second",
        second_wrong=second_wrong,
        diagnosis_url=_diagnosis_url(room, made.gate, made.gauge.record.label) if found else "",
        is_odd=found is not None and any(one.outcome != conformity.INSIDE for one in found.lines),
    )


def _diagnosis_url(room: Room, gate: Gate, label: str) -> str:
    """Where the reasons are; before leads are on there is nothing to reason about."""
    return "" if gate is Gate.BONDED else gate_url(room, gate, label) + "/diagnosis"


def _lines(found: Judgement | None) -> tuple[tuple[str, str], ...]:
    if found is None:
        return ()
    return tuple((_OUTCOMES[line.outcome], line.sentence) for line in found.lines)


def _at_hand(
    room: Room, made: Setup
) -> tuple[tuple[tuple[str, Uid], ...], dict[str, str], tuple[str, ...]]:
    """Meter of each group of fields, unit of each box that has one, and fields without a meter."""
    person = room.person.uid if room.person else None
    meters = {f.what: gate_checks.meter_for(room.book, f, person) for f in made.every}
    units = {
        field.what: gate_checks.box_unit(room.book, meter, field)
        for field in made.every
        if (meter := meters[field.what]) is not None
    }
    drawn = tuple(
        (group, meter.uid)
        for group, _ in _GROUPS
        if (meter := _of_group(made, meters, group)) is not None
    )
    return drawn, units, tuple(f.label for f in made.fewest if meters[f.what] is None)


def neighbours(room: Room, made: Setup) -> tuple[str, str]:
    """Gauge before, and the next one that wasn't measured yet, else simply the next."""
    gauges = room.book.of(Gauge)
    here = next(n for n, gauge in enumerate(gauges) if gauge.uid == made.gauge.uid)
    latest = gate_table.latest_checks(room.book)
    after = [*gauges[here + 1 :], *gauges[:here]]
    waiting = [g for g in after if (g.uid, made.gate) not in latest]
    later = waiting[0] if waiting else (after[0] if after else None)
    earlier = gauges[here - 1] if here else None
    return (
        earlier.record.label if earlier else "",
        later.record.label if later else "",
    )


def _of_group(
    made: Setup, meters: Mapping[str, Entry[Meter] | None], group: str
) -> Entry[Meter] | None:
    wanted = {"insulation": INSULATION, "reading": READING}.get(group)
    for field in made.fields:
        is_pair = field.what not in (INSULATION, READING)
        if field.what == wanted or (wanted is None and is_pair):
            return meters[field.what]
    return None


def place_of(room: Room, made: Setup) -> str:
    """Where a gauge sits, in a line."""
    station = room.book.station_of(made.gauge).record
    built = station.distance_built
    distance = station.distance_planned if built is None else built.value
    at = quantity_shown("distance", distance, None, room.units).text
    return (
        f"{room.book.bar_of(made.gauge).record.label}, {station.label}, {at} from {station.datum}"
    )


def _marks(room: Room, made: Setup) -> tuple[GaugeMark, ...]:
    found = []
    for row in gate_table.rows(room.book):
        cell = next(cell for cell in row.cells if cell.gate is made.gate)
        here = row.gauge.uid == made.gauge.uid
        found.append(GaugeMark(row.gauge.record.label, cell.state.value, here))
    return tuple(found)


def _links(room: Room, made: Setup, *, wants_all: bool) -> Links:
    earlier, later = neighbours(room, made)
    here = gate_url(room, made.gate, made.gauge.record.label)
    has_more = any(not field.fewest for field in made.fields)
    return Links(
        gates=room.url("gates") + f"?gate={made.gate.value.replace(' ', '+')}",
        gauge=gauge_url(room, made.gauge.record.label),
        earlier=gate_url(room, made.gate, earlier) if earlier else "",
        earlier_label=earlier,
        later=gate_url(room, made.gate, later) if later else "",
        later_label=later,
        meters=room.url("gates/meters"),
        full=here + "?full=1" if has_more and not wants_all else "",
        people="" if room.person else "/people",
        lead=entry_url(room, "lead", made.lead.label) if made.lead else "",
        lead_label=made.lead.label if made.lead else "",
    )


def _box(
    room: Room,
    made: Setup,
    field: GateField,
    unit: str,
    texts: Mapping[str, str],
    error: GaugewrightError | None,
) -> Box:
    before = last_reading(room.book, made, field.what)
    was = before[1].typed.removesuffix(unit).strip().replace("-", "−") if before else ""
    special = {"insulation": _beyond(room, made, was), READING: "−"}.get(field.what, "open")
    is_about = isinstance(error, InputError) and error.name in (field.what, field.label)
    wrong = str(error) if is_about and not isinstance(error, SlipError) else ""
    digits = was if was.replace(".", "", 1).isdigit() else _digits(made, field, unit)
    value = texts.get(field.what, "")
    return Box(field.name, field.label, unit, value, was, digits, special, wrong)


def _digits(made: Setup, field: GateField, unit: str) -> str:
    """Digits that a pair should have where none was read before: the point goes there."""
    expected = made.expected(field, None)
    is_plain = expected is not None and unit == "Ω" and 1 <= expected < 1000
    return fixed_text(expected, 2) if is_plain and expected is not None else ""


def _beyond(room: Room, made: Setup, was: str) -> str:
    """What a leak tester says beyond its range, as the key that types it."""
    if was.startswith(">"):
        return was
    field = made.field(INSULATION)
    meter = gate_checks.meter_for(room.book, field, None)
    if meter is None or meter.record.highest is None:
        return "open"
    unit = gate_checks.box_unit(room.book, meter, field)
    return gate_checks.beyond_words(meter.record, unit)


def _asked(room: Room, made: Setup, error: GaugewrightError | None) -> Asked:
    sentence = probable = failure = ""
    if isinstance(error, SlipError):
        sentence = str(error)
        probable = " and ".join(q.probable for q in error.questions if q.probable)
    elif error is not None:
        failure = str(error)
    standing = open_connection(room.book, made)
    unplug = ""
    if standing is not None:
        unplug = f"Unplugged from {room.book.label(standing.record.channel)}: its zero ends here"
    return Asked(sentence, probable, unplug, failure)


def _last_temperature(room: Room, made: Setup) -> str:
    """Temperature last noted at this gate, so that it is typed once."""
    found = [
        (reading.entered, reading.temperature_degc)
        for row in gate_table.latest_checks(room.book).items()
        if row[0][1] is made.gate
        for reading in row[1][0].record.readings
        if reading.temperature_degc is not None
    ]
    return f"{max(found)[1]:g}" if found else ""


def _terms(warmth: str, measured: str, meters: list[str]) -> str:
    told = [f"{warmth} °C" if warmth else "No temperature yet", *dict.fromkeys(meters)]
    told += [f"measured {measured.replace('T', ' ')}"] if measured else []
    return ", ".join(told)


def _meter_field(
    room: Room, made: Setup, group: str, label: str, drawn: Mapping[str, str]
) -> Field:
    wanted = {"insulation": INSULATION, "reading": READING}.get(group)
    field = next(
        (
            f
            for f in made.fields
            if f.what == wanted or (wanted is None and f.what not in (INSULATION, READING))
        ),
        None,
    )
    fitting = [m for m in room.book.of(Meter) if field and gate_checks.is_fit(m, field)]
    choices = tuple(Choice(meter.uid, meter.record.label) for meter in fitting)
    choices = choices or (Choice("", "none entered"),)
    return Field(f"meter_{group}", label, drawn.get(group, ""), choices=choices)


def _just_kept(room: Room, gate: Gate, entry: Entry[GateCheck]) -> Said:
    """What was kept of the gauge before, and when the laptop wrote it down."""
    said = _said(room, gate, room.book.label(entry.record.gauge), entry.record)
    kept = f"kept on {frame.instant_shown(entry.at, room)} as #{short_name(entry.uid)}"
    return replace(said, verdict=f"{said.verdict}, {kept}")


def _said(room: Room, gate: Gate, label: str, check: GateCheck) -> Said:
    return Said(
        label,
        gate_url(room, gate, label),
        gate_checks.state_of_check(check).value,
        check.verdict.value,
        check.reason,
        check.flags,
        _diagnosis_url(room, gate, label) if check.verdict is Verdict.FAIL or check.flags else "",
    )


def _stands(room: Room, made: Setup, found: Judgement | None) -> Said | None:
    """The last check of this gauge at this gate in words."""
    mine = [c for c in checks_of(room.book, made) if c.record.gate is made.gate]
    if not mine or found is None:
        return None
    said = _said(room, made.gate, made.gauge.record.label, mine[-1].record)
    missing: tuple[str, ...] = ()
    if found.missing and mine[-1].record.verdict is not Verdict.PASS:
        missing = ("not read yet: " + ", ".join(found.missing),)
    # What was judged stands in the lines below; here is told what none of them says.
    judged = {sentence for _, sentence in _lines(found)}
    more = tuple(flag for flag in said.more if flag not in judged)
    is_watched = said.verdict == Verdict.PASS.value and said.state == State.WATCH.value
    verdict = said.verdict + ", to be watched" * is_watched
    return replace(said, verdict=verdict, sentence="", more=(*more, *missing))


def _changes(room: Room, made: Setup) -> tuple[ChangeRow, ...]:
    readings = tuple(readings_at(room.book, made).values())
    return tuple(_change(change) for change in changes(room.book, made, readings))


def _change(change: Change) -> ChangeRow:
    left, unit = "", "Ω"
    if change.change is not None:
        scale = 1.0
        if change.field.what == READING:
            scale, unit = 1e6, "µε"
        value = float(change.change.value) * scale
        doubt = float(change.change.expanded()) * scale
        places = 2 if unit == "Ω" else 0
        left = f"{fixed_text(value, places, sign=True)} ± {fixed_text(doubt, places + 1)} {unit}"
    warm = change.by_temperature
    strain = change.strain
    return ChangeRow(
        change.field.label,
        change.gate.value,
        ohm_signs(change.before),
        ohm_signs(change.now),
        "" if warm is None else f"{fixed_text(warm, 2, sign=True)} Ω",
        left,
        "" if strain is None else f"{fixed_text(strain * 1e6, 0, sign=True)} µε",
        change.note,
    )
