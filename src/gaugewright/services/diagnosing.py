"""What is wrong with a gauge: its gate checks, and what is read now, held against known faults."""

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from gaugewright.calc.conductors import temperature_factor
from gaugewright.calc.diagnosis import Diagnosis, Finder
from gaugewright.calc.diagnosis_causes import Cause, Reading, ReadingError, Sign
from gaugewright.calc.diagnosis_circuit import MEASURABLE, Setup
from gaugewright.calc.diagnosis_next import NextStep, next_steps
from gaugewright.errors import InputError
from gaugewright.present.typed import number_typed, quantity_typed
from gaugewright.records import Entry
from gaugewright.records.electrical import Arm, BridgeCircuit, Lead, Topology
from gaugewright.records.gauges import Gauge
from gaugewright.records.proof import Censor, Gate, GateCheck, GateReading, Meter, Verdict
from gaugewright.services.book import Book
from gaugewright.services.faults_known import FaultBook, fault_book
from gaugewright.settings import Settings

__all__ = ["Look", "Taken", "catalogue", "diagnose", "known_faults", "taken_typed"]

_BOUNDS = {Censor.ABOVE: "above", Censor.OPEN: "above", Censor.BELOW: "below", Censor.EXACT: ""}
_THREE = (Topology.QUARTER_THREE_WIRE, Topology.QUARTER_TWO_WIRE)


@dataclass(frozen=True, slots=True)
class Taken:
    """A reading as it goes into the diagnosis, and as it was typed."""

    reading: Reading
    typed: str


@dataclass(frozen=True, slots=True)
class Look:
    """Diagnosis of one gauge at one gate.

    ``taken`` are the readings used, ``unused`` what the gate has besides; ``earlier`` the gates
    passed before. ``faults`` is what was known about faults.
    """

    gauge: str
    gate: Gate
    setup: Setup
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
    return fault_book(Path(laboratory) if laboratory else None)


def taken_typed(faults: FaultBook, text: str) -> Taken:
    """A reading typed as ``WHAT=VALUE``: a number, ``open``, or a bound such as ``> 2000 MΩ``.

    Raises
    ------
    InputError
        If it can't be read, or no meter for it is known.
    """
    what, equals, typed = (part.strip() for part in text.rpartition("="))
    if not equals or what not in MEASURABLE:
        raise InputError("reading", text, "WHAT=VALUE, WHAT one of " + ", ".join(MEASURABLE))
    if what not in faults.meters:
        raise InputError(f"meter for {what}", None, "given in faults.toml of the laboratory")
    error = faults.meters[what]
    if typed.casefold() in ("open", "ol"):
        return Taken(Reading(what, error.highest, error, "above"), typed)
    bound = {">": "above", "<": "below"}.get(typed[:1], "")
    number = typed[1:].strip() if bound else typed
    if MEASURABLE[what] == "ohm":
        value = quantity_typed(what, number, "resistance")
    elif MEASURABLE[what] == "V/V":
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

    Gates passed before it are evidence. ``further`` readings take the place of the gate's own.

    Raises
    ------
    InputError
        If there is no such gauge or gate check, or the gauge isn't in a quarter bridge.
    """
    gauge = book.labelled(Gauge, label)
    checks = _checks(book, gauge)
    wanted = [check for check in checks if gate is None or check.record.gate is gate]
    if not wanted:
        there = ", ".join(dict.fromkeys(c.record.gate.value for c in checks)) or "none yet"
        asked = gate.value if gate else None
        raise InputError(f"gate check of {label}", asked, f"one there is: {there}")
    check = wanted[-1]
    earlier = [c for c in checks[: checks.index(check)] if c.record.verdict is Verdict.PASS]
    now = _taken(book, check.record)
    used = {one.reading.what: one for one in (*now, *further)}
    whats = {reading.what for reading in check.record.readings}
    circuit, lead = _circuit(book, gauge)
    setup = _setup(book, gauge, (circuit, lead), _degc(check.record))
    finder = Finder(setup, faults.causes_for(setup), faults.allowances, faults.signs)
    readings = [one.reading for one in used.values()]
    before = [[one.reading for one in _taken(book, c.record)] for c in earlier]
    looked = dict(seen or {})
    told = finder.diagnosis(readings, looked, before)
    steps = next_steps(finder, told, (readings, looked), faults.efforts, faults.meters)
    return Look(
        label,
        check.record.gate,
        setup,
        tuple(used.values()),
        looked,
        tuple(sorted(whats - set(used))),
        tuple(c.record.gate for c in earlier),
        told,
        steps,
        faults,
    )


def _checks(book: Book, gauge: Entry[Gauge]) -> list[Entry[GateCheck]]:
    """In order of time, those from before the leads were on left out."""
    mine = [
        check
        for check in book.of(GateCheck)
        if check.record.gauge == gauge.uid
        and any(reading.what in MEASURABLE for reading in check.record.readings)
        and check.record.gate is not Gate.BONDED
    ]
    return sorted(mine, key=lambda c: (min(r.measured for r in c.record.readings), c.uid))


def _degc(check: GateCheck) -> float | None:
    found = [r.temperature_degc for r in check.readings if r.temperature_degc is not None]
    return found[0] if found else None


def _taken(book: Book, check: GateCheck) -> tuple[Taken, ...]:
    """Readings the finder knows, the latest of each; insulation of nothing is below a digit."""
    found = {}
    for reading in sorted(check.readings, key=lambda one: one.measured):
        if reading.what in MEASURABLE:
            found[reading.what] = _one_taken(book, reading)
    return tuple(found.values())


def _one_taken(book: Book, reading: GateReading) -> Taken:
    meter = book.entry(reading.meter, Meter).record
    highest = meter.highest if meter.highest is not None else math.inf
    digit = _digit(reading)
    error = ReadingError(meter.error_share, meter.error_fixed, digit, 0.0, highest)
    value, bound = reading.value, _BOUNDS[reading.censor]
    if value is None:
        if not math.isfinite(highest):
            do = "give the meter its highest reading: what open means depends on it"
            raise InputError(f"highest reading of {meter.label}", None, "given", do)
        value = highest
    if value <= 0 and MEASURABLE[reading.what] == "ohm" and "insulation" in reading.what:
        value, bound = digit + meter.error_fixed, "below"
    return Taken(
        Reading(reading.what, value, error, bound, reading.temperature_degc), reading.typed
    )


def _digit(reading: GateReading) -> float:
    """Size of the last digit typed, in the unit inside."""
    number = re.search(r"\d+(?:[.,](\d+))?", reading.typed)
    if number is None or reading.value is None:
        return 0.0
    typed = float(number.group(0).replace(",", "."))
    last = 10.0 ** -len(number.group(1) or "")
    return last * abs(reading.value) / typed if typed else last


def _circuit(book: Book, gauge: Entry[Gauge]) -> tuple[Entry[BridgeCircuit], Entry[Lead]]:
    for circuit in book.of(BridgeCircuit):
        if any(arm.gauge == gauge.uid for arm in circuit.record.arms):
            if circuit.record.topology not in _THREE:
                allowed = "in a quarter bridge: the finder knows no other circuit yet"
                raise InputError(
                    f"circuit of {gauge.record.label}", circuit.record.topology.value, allowed
                )
            return circuit, book.entry(circuit.record.lead, Lead)
    raise InputError(f"circuit of {gauge.record.label}", None, "entered", "enter how it is wired")


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
    return Setup(card, wire * copper, fixed[0] if fixed else card, None, card)


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
