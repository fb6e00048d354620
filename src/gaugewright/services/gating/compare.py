"""What changed at a gauge since each earlier gate, once temperature is taken off, as a strain."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime

from gaugewright.calc import conformity
from gaugewright.calc.between_gates import (
    grid_warmed,
    leak_strain,
    strain_of_change,
    wires_warmed,
)
from gaugewright.calc.thermal import thermal_output_of_polynomial
from gaugewright.calc.uncertainty import Uncertain
from gaugewright.errors import InputError
from gaugewright.records import Entry
from gaugewright.records.identity import Uid
from gaugewright.records.proof import Censor, Gate, GateCheck, GateReading, Meter
from gaugewright.services.campaign.book import Book
from gaugewright.services.gating.fields import (
    INSULATION,
    LAST_FOR_REPAIR,
    READING,
    GateField,
    Setup,
)
from gaugewright.services.gating.judge import uncertain_reading
from gaugewright.services.gating.typed import quantity_of, with_unit
from gaugewright.units import unit_named

__all__ = ["Change", "changes", "checks_of", "grown", "last_reading", "refuse_stale_reading"]

_ORDER = list(Gate)


@dataclass(frozen=True, slots=True)
class Change:
    """One reading now and at an earlier gate.

    ``change`` is what is left of it after ``by_temperature`` was taken off, with its uncertainty
    (SI); ``strain`` is what it would be taken for in the gauge's arm. Both are None where a bound
    or ``open`` stands on one side; ``note`` says what couldn't be done.
    """

    field: GateField
    gate: Gate
    at: datetime
    before: str
    now: str
    by_temperature: float | None
    change: Uncertain | None
    strain: float | None
    note: str = ""


def checks_of(book: Book, setup: Setup) -> tuple[Entry[GateCheck], ...]:
    """Every check of a gauge in order of gate and time, those of this gate among them."""
    return book.once("gate checks by gauge", _by_gauge).get(setup.gauge.uid, ())


def _by_gauge(book: Book) -> dict[Uid, tuple[Entry[GateCheck], ...]]:
    found: dict[Uid, list[Entry[GateCheck]]] = {}
    for check in sorted(book.of(GateCheck), key=_place):
        found.setdefault(check.record.gauge, []).append(check)
    return {gauge: tuple(checks) for gauge, checks in found.items()}


def _place(check: Entry[GateCheck]) -> tuple[int, datetime, str]:
    record = check.record
    return _ORDER.index(record.gate), max(r.entered for r in record.readings), check.uid


def last_reading(
    book: Book, setup: Setup, what: str, *, exact: bool = False
) -> tuple[Entry[GateCheck], GateReading] | None:
    """Latest reading of one kind at this gate or an earlier one."""
    reach = _ORDER.index(setup.gate)
    for check in reversed(checks_of(book, setup)):
        if _ORDER.index(check.record.gate) > reach:
            continue
        for reading in reversed(check.record.readings):
            if reading.what == what and (not exact or reading.censor is Censor.EXACT):
                return check, reading
    return None


def changes(book: Book, setup: Setup, readings: Sequence[GateReading]) -> tuple[Change, ...]:
    """Every reading against the same one at every earlier gate, the latest gate first."""
    reach = _ORDER.index(setup.gate)
    earlier = [c for c in checks_of(book, setup) if _ORDER.index(c.record.gate) < reach]
    latest = {check.record.gate: check for check in earlier}  # the last visit of a gate holds
    found = []
    for now in {reading.what: reading for reading in readings}.values():
        field = next((f for f in setup.fields if f.what == now.what), None)
        if field is None:
            continue
        for check in reversed(latest.values()):
            before = next((r for r in check.record.readings if r.what == now.what), None)
            if before is not None:
                found.append(_change(book, setup, field, (check.record.gate, before, now)))
    return tuple(found)


def grown(book: Book, setup: Setup, readings: Sequence[GateReading]) -> Iterator[str]:
    """Sentences about pairs that clearly changed since the last gate, where none should have.

    After the pour the concrete strains the bar, so that only wires are still held to be the same.
    """
    limit = book.limit("lead difference").record.value
    poured = _ORDER.index(setup.gate) > _ORDER.index(LAST_FOR_REPAIR)
    told: set[str] = set()
    for change in changes(book, setup, readings):
        field = change.field
        if field.what in told or change.change is None or field.quantity != "resistance":
            continue
        told.add(field.what)
        if poured and field.grids:
            continue
        value, doubt = float(change.change.value), float(change.change.expanded())
        if conformity.guarded(value, doubt, -limit, limit) == conformity.OUTSIDE:
            side = "grew" if value > 0 else "fell"
            words = f"{field.label} {side} by {abs(value):.2f} Ω since the gate {change.gate.value}"
            if change.strain is not None and field.grids:
                words += f", as much as {change.strain * 1e6:+.0f} µε in the gauge’s arm"
            yield words.replace("-", "\N{MINUS SIGN}") + (
                f" ({change.note})" if change.note else ""
            )


def _change(
    book: Book, setup: Setup, field: GateField, pair: tuple[Gate, GateReading, GateReading]
) -> Change:
    gate, before, now = pair
    meters = [book.entry(reading.meter, Meter) for reading in (before, now)]
    texts = (with_unit(before, meters[0].record), with_unit(now, meters[1].record))
    if field.what == INSULATION:
        strain, note = _leak_strain(setup, before, now)
        return Change(field, gate, before.measured, *texts, None, None, strain, note)
    if Censor.EXACT is not before.censor or Censor.EXACT is not now.censor:
        note = "a bound or open on one side: no difference"
        return Change(field, gate, before.measured, *texts, None, None, None, note)
    if field.what == READING:
        return _reading_change(setup, field, (gate, before, now), (meters[0], meters[1]), texts)
    difference = uncertain_reading(now, meters[1]) - uncertain_reading(before, meters[0])
    warmth, note = _by_temperature(book, setup, field, before, now)
    left = difference - (warmth or 0.0)
    strained, more = _as_strain(setup, field, left)
    told = "; ".join(part for part in (note, more) if part)
    return Change(field, gate, before.measured, *texts, warmth, left, strained, told)


def _as_strain(setup: Setup, field: GateField, left: Uncertain) -> tuple[float | None, str]:
    """Strain that a change would be taken for, and on which condition [1]."""
    as_grid = strain_of_change(left.value, *_card(setup)).item()
    if field.grids:
        return as_grid, ""
    if field.what != "B-C":
        return None, ""
    # Of the wires of one tab only B lies in the bridge, in the arm beside the gauge's.
    return -as_grid, "if lead B alone changed"


def _card(setup: Setup) -> tuple[float, float]:
    return setup.pack.gauge_resistance.value, setup.pack.gauge_factor.value


def _by_temperature(
    book: Book, setup: Setup, field: GateField, before: GateReading, now: GateReading
) -> tuple[float | None, str]:
    """What temperature did to a pair between two gates [ohm], and what couldn't be counted."""
    first, second = before.temperature_degc, now.temperature_degc
    if first is None or second is None:
        return None, "temperature wasn’t noted at both: not taken off"
    change, note = 0.0, ""
    if field.wires:
        wires = float(setup.wires(field.wires, first).value)
        change += wires_warmed(wires, first, second).item()
    if field.grids:
        output, note = _thermal(book, setup, first, second)
        grid, factor = _card(setup)
        change += field.grids * grid_warmed(grid, factor, output).item()
    return change, note


def _thermal(book: Book, setup: Setup, first: float, second: float) -> tuple[float, str]:
    """Thermal output between two temperatures on the gauge's own metal [1]."""
    card = setup.pack.thermal_output
    if card is None:
        return 0.0, "the card has no curve of thermal output: only the wires’ warmth is taken off"
    output = thermal_output_of_polynomial(
        card.coefficients,
        (card.low_degc, card.high_degc),
        temperature_unit=unit_named("degC"),
        strain_unit=unit_named("m/m"),
        stated_gauge_factor=card.gauge_factor,
        card_thermal_expansion=card.thermal_expansion,
    )
    metal = book.material_of(setup.gauge).record.thermal_expansion.value
    change = output.change(
        second, first, gauge_factor=setup.pack.gauge_factor.value, thermal_expansion=metal
    ).item()
    if change != change:
        return 0.0, "outside the card’s thermal output: only the wires’ warmth is taken off"
    return change, ""


def _leak_strain(setup: Setup, before: GateReading, now: GateReading) -> tuple[float | None, str]:
    """Strain that the leak feigns more than before, if it lay across the whole grid [1]."""
    if now.censor is Censor.OPEN or (now.censor is Censor.ABOVE and before.censor is now.censor):
        return None, "beyond the meter both times"
    if now.value is None or now.value <= 0 or now.censor is Censor.BELOW:
        return None, "no number now"
    then = 0.0
    if before.value is not None and before.value > 0:
        then = leak_strain(before.value, *_card(setup)).item()
    note = "if the leak lies across the whole grid"
    return leak_strain(now.value, *_card(setup)).item() - then, note


def _reading_change(
    setup: Setup,
    field: GateField,
    pair: tuple[Gate, GateReading, GateReading],
    meters: tuple[Entry[Meter], Entry[Meter]],
    texts: tuple[str, str],
) -> Change:
    gate, before, now = pair
    factor = setup.pack.gauge_factor.value
    strains = [
        uncertain_reading(reading, meter)
        * (4 / factor if quantity_of(meter.record) == "bridge_ratio" else 1.0)
        for reading, meter in zip((before, now), meters, strict=True)
    ]
    left = strains[1] - strains[0]
    note = "temperature not taken off; a plug made anew shifts it by its contacts"
    return Change(field, gate, before.measured, *texts, None, left, float(left.value), note)


def refuse_stale_reading(book: Book, setup: Setup, readings: Sequence[GateReading]) -> None:
    """Readings with the plug out end the zero: one taken before at this gate no longer counts.

    Raises
    ------
    InputError
        If pairs are typed after a reading of this gate and no new one comes with them.
    """
    unplugged = {field.what for field in setup.every if field.is_unplugged}
    has_pairs = any(reading.what in unplugged for reading in readings)
    if not has_pairs or any(reading.what == READING for reading in readings):
        return
    at_gate = [c for c in checks_of(book, setup) if c.record.gate is setup.gate]
    before = [r for c in at_gate for r in c.record.readings if r.what == READING]
    if before:
        raise InputError(
            "reading",
            f"{before[-1].typed}, taken before the plug was pulled again",
            "taken anew, last of all",
            "plug in, lock the plug, warm up, and type the reading with the pairs",
        )
