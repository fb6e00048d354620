"""What is wrong with a gauge: its gate checks, and what is read now, held against known faults."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from gaugewright.calc.conductors import temperature_factor
from gaugewright.calc.diagnosis import Diagnosis
from gaugewright.calc.diagnosis_causes import Cause, Reading, ReadingError, Sign
from gaugewright.calc.diagnosis_circuit import Setup
from gaugewright.calc.diagnosis_harness import EVERY_READING, names_of
from gaugewright.calc.diagnosis_next import NextStep, next_steps
from gaugewright.errors import InputError
from gaugewright.present.typed import number_typed, quantity_typed
from gaugewright.records import Entry
from gaugewright.records.electrical import Arm, BridgeCircuit, Lead
from gaugewright.records.gauges import Gauge
from gaugewright.records.proof import Censor, Gate, GateCheck, GateReading, Meter, Verdict
from gaugewright.services.campaign.book import Book
from gaugewright.services.campaign.circuits import circuit_of
from gaugewright.services.diagnosis.faults_known import FaultBook, fault_book_kept
from gaugewright.services.gating import fields as gate_fields
from gaugewright.services.gating.checks import readings_at
from gaugewright.services.gating.compare import checks_of
from gaugewright.services.gating.fields import READING, harness_name, is_leak
from gaugewright.services.gating.typed import digit_of, quantity_of, with_unit
from gaugewright.settings import Settings
from gaugewright.units import unit_named

__all__ = ["Look", "Taken", "catalogue", "diagnose", "known_faults", "taken_typed"]

_BOUNDS = {Censor.ABOVE: "above", Censor.OPEN: "above", Censor.BELOW: "below", Censor.EXACT: ""}
_BRIDGE = "bridge"  # what the finder calls the channel's reading
_ORDER = list(Gate)


@dataclass(frozen=True, slots=True)
class Taken:
    """A reading as it goes into the diagnosis, and as it was typed."""

    reading: Reading
    typed: str


@dataclass(frozen=True, slots=True)
class Look:
    """Diagnosis of one gauge at one gate.

    ``taken`` are the readings used, ``unused`` what the gate has besides; ``earlier`` the gates
    passed before. ``cable_length`` is that of its lead in m; ``grids`` names the gauge of each grid
    where there are several. ``faults`` is what was known about faults.
    """

    gauge: str
    gate: Gate
    setup: Setup
    cable_length: float
    grids: Mapping[int, str]
    taken: tuple[Taken, ...]
    seen: Mapping[str, bool]
    unused: tuple[str, ...]
    earlier: tuple[Gate, ...]
    diagnosis: Diagnosis
    steps: tuple[NextStep, ...]
    faults: FaultBook


def known_faults(settings: Settings) -> FaultBook:
    """Faults as shipped, or as the laboratory's folder has them."""
    laboratory = settings["laboratory"]
    return fault_book_kept(Path(laboratory) if laboratory else None)


def taken_typed(faults: FaultBook, text: str) -> Taken:
    """A reading typed as ``WHAT=VALUE``: a number, ``open``, or a bound such as ``> 2000 MΩ``.

    Raises
    ------
    InputError
        If it can't be read, or no meter for it is known.
    """
    what, equals, typed = (part.strip() for part in text.rpartition("="))
    if not equals or what not in EVERY_READING:
        raise InputError("reading", text, "WHAT=VALUE, WHAT one of " + ", ".join(EVERY_READING))
    error = faults.meter(what)
    if error is None:
        raise InputError(f"meter for {what}", None, "given in faults.toml of the laboratory")
    if typed.casefold() in ("open", "ol"):
        return Taken(Reading(what, error.highest, error, "above"), typed)
    bound = {">": "above", "<": "below"}.get(typed[:1], "")
    number = typed[1:].strip() if bound else typed
    if EVERY_READING[what] == "ohm":
        value = quantity_typed(what, number, "resistance")
    elif EVERY_READING[what] == "V/V":
        value = quantity_typed(what, number, "bridge_ratio")
    else:
        value = number_typed(what, number)
    return Taken(Reading(what, value, error, bound), typed)


def diagnose(
    book: Book,
    label: str,
    faults: FaultBook,
    *,
    gate: Gate | None = None,
    further: Sequence[Taken] = (),
    seen: Mapping[str, bool] | None = None,
) -> Look:
    """Evidence, ranking and next measurement for one gauge at its latest gate, or at one named.

    All readings that hold at that gate are used; gates passed before it are evidence. ``further``
    readings take the place of the gate's own.

    Raises
    ------
    InputError
        If there is no such gauge or gate check, or it isn't known how the gauge is wired.
    """
    gauge = book.labelled(Gauge, label)
    visited = _visited(book, gauge)
    if not visited or (gate is not None and gate not in visited):
        there = ", ".join(one.value for one in visited) or "none yet"
        asked = gate.value if gate else None
        raise InputError(f"gate check of {label}", asked, f"one there is: {there}")
    at = gate or visited[-1]
    held = _held(book, gauge, at)
    used = {one.reading.what: one for one in (*_taken(book, gauge, held), *further)}
    circuit, lead = _circuit(book, gauge)
    setup = _setup(book, gauge, (circuit, lead), _degc(held))
    finder = faults.finder(setup)
    readings = [one.reading for one in used.values()]
    passed = [one for one in visited[: visited.index(at)] if _passed(book, gauge, one)]
    before = [[one.reading for one in _taken(book, gauge, _held(book, gauge, g))] for g in passed]
    looked = dict(seen or {})
    told = finder.diagnosis(readings, looked, before)
    steps = next_steps(
        finder, told, (readings, looked), faults.efforts_for(setup), faults.meters_for(setup)
    )
    return Look(
        label,
        at,
        setup,
        lead.record.length,
        _grids(book, circuit),
        tuple(used.values()),
        looked,
        tuple(sorted({r.what for r in held if _name(r) not in used})),
        tuple(passed),
        told,
        steps,
        faults,
    )


def _visited(book: Book, gauge: Entry[Gauge]) -> list[Gate]:
    """Gates with a reading of the leads, in order of time."""
    found = {
        check.record.gate
        for check in book.of(GateCheck)
        if check.record.gauge == gauge.uid
        and check.record.gate is not Gate.BONDED
        and any(_name(reading) in EVERY_READING for reading in check.record.readings)
    }
    return sorted(found, key=_ORDER.index)


def _held(book: Book, gauge: Entry[Gauge], gate: Gate) -> tuple[GateReading, ...]:
    """Readings that hold at a gate, of every visit."""
    return tuple(readings_at(book, gate_fields.setup(book, gauge, gate)).values())


def _passed(book: Book, gauge: Entry[Gauge], gate: Gate) -> bool:
    """Whether the last visit of a gate passed it."""
    made = gate_fields.setup(book, gauge, gate)
    last = [c for c in checks_of(book, made) if c.record.gate is gate]
    return bool(last) and last[-1].record.verdict is Verdict.PASS


def _degc(held: Sequence[GateReading]) -> float | None:
    found = [r.temperature_degc for r in held if r.temperature_degc is not None]
    return found[0] if found else None


def _name(reading: GateReading) -> str:
    """What the finder calls a reading."""
    return _BRIDGE if reading.what == READING else reading.what


def _taken(book: Book, gauge: Entry[Gauge], held: Sequence[GateReading]) -> tuple[Taken, ...]:
    """Readings the finder knows; insulation of nothing is below a digit."""
    known = names_of(_plain_setup(book, gauge))
    found = []
    for reading in held:
        if _name(reading) not in known:
            continue
        if reading.what == READING and reading.censor is Censor.OPEN:
            continue  # beyond its range, and nobody knows on which side
        found.append(_one_taken(book, gauge, reading))
    return tuple(found)


def _plain_setup(book: Book, gauge: Entry[Gauge]) -> Setup:
    circuit, lead = _circuit(book, gauge)
    return Setup(1.0, 1.0, 1.0, harness=harness_name(circuit.record, lead.record))


def _one_taken(book: Book, gauge: Entry[Gauge], reading: GateReading) -> Taken:
    meter = book.entry(reading.meter, Meter).record
    unit = unit_named(meter.unit).factor
    if reading.what == READING and quantity_of(meter) == "strain":
        # A channel that writes strain reckons ratio times four over the gauge factor.
        unit *= book.pack_of(gauge).record.gauge_factor.value / 4
    inside = unit / unit_named(meter.unit).factor
    highest = meter.highest * unit if meter.highest is not None else math.inf
    digit = digit_of(reading, meter) * inside
    error = ReadingError(meter.error_share, meter.error_fixed * unit, digit, 0.0, highest)
    value, bound = reading.value, _BOUNDS[reading.censor]
    if value is None:
        if not math.isfinite(highest):
            do = "give the meter its highest reading: what open means depends on it"
            raise InputError(f"highest reading of {meter.label}", None, "given", do)
        value = highest
    else:
        value *= inside
    if value <= 0 and is_leak(reading.what):
        value, bound = digit + error.fixed, "below"
    return Taken(
        Reading(_name(reading), value, error, bound, reading.temperature_degc),
        with_unit(reading, meter),
    )


def _circuit(book: Book, gauge: Entry[Gauge]) -> tuple[Entry[BridgeCircuit], Entry[Lead]]:
    circuit = circuit_of(book, gauge)
    if circuit is None:
        do = "enter how it is wired"
        raise InputError(f"circuit of {gauge.record.label}", None, "entered", do)
    return circuit, book.entry(circuit.record.lead, Lead)


def _grids(book: Book, circuit: Entry[BridgeCircuit]) -> dict[int, str]:
    arms = {arm.number: arm.gauge for arm in circuit.record.arms if arm.gauge is not None}
    if len(arms) < 2:
        return {}
    return {number: book.label(uid) for number, uid in sorted(arms.items())}


def _setup(
    book: Book,
    gauge: Entry[Gauge],
    wired: tuple[Entry[BridgeCircuit], Entry[Lead]],
    degc: float | None,
) -> Setup:
    """Card, cable at the temperature of the gate, and the fixed arm beside the gauge."""
    circuit, lead = wired
    card = book.pack_of(gauge).record.gauge_resistance.value
    wire, at = lead.record.resistance.value, lead.record.temperature_degc
    warm = at if degc is None else degc
    copper = float(temperature_factor(at) / temperature_factor(warm))
    fixed = [
        arm.resistance.value
        for arm in circuit.record.arms
        if _is_beside(arm) and arm.resistance is not None
    ]
    name = harness_name(circuit.record, lead.record)
    return Setup(card, wire * copper, fixed[0] if fixed else card, None, card, name)


def _is_beside(arm: Arm) -> bool:
    """Whether an arm is the fixed one that works against the gauge's own."""
    return arm.gauge is None and arm.sign < 0


def catalogue(faults: FaultBook, words: str = "") -> tuple[tuple[Cause, ...], tuple[Sign, ...]]:
    """Causes whose symptom, label, family or signs hold all the words, the likeliest first.

    Raises
    ------
    InputError
        If nothing holds them.
    """
    parts = words.casefold().split()

    def held(cause: Cause) -> bool:
        text = " ".join((cause.label, cause.family, cause.symptom, *cause.signs)).casefold()
        return all(part in text for part in parts)

    found = [cause for cause in faults.causes if held(cause)]
    if not found:
        signs = ", ".join(sign.name for sign in faults.signs)
        raise InputError("symptom", words, "words of the catalogue", f"signs in it are: {signs}")
    found.sort(key=lambda cause: (-_often(cause, parts), cause.label))
    named = {name for cause in found for name in cause.signs}
    return tuple(found), tuple(sign for sign in faults.signs if sign.name in named)


def _often(cause: Cause, parts: Sequence[str]) -> float:
    """Prior, times how often the sign is seen that the words name best."""
    shares = [
        share
        for name, share in cause.signs.items()
        if parts and all(part in name.casefold() for part in parts)
    ]
    return cause.prior * max(shares, default=1.0)
