"""What hand meters said of every gauge at every gate, and what the technician made of it."""

from dataclasses import dataclass, field
from datetime import datetime, timedelta

import numpy as np

from gaugewright.quantities import FloatArray
from gaugewright.records.proof import Censor, Gate, Verdict
from gaugewright.sources.demo_campaign import faults, plan
from gaugewright.sources.demo_campaign.episodes import Episode
from gaugewright.sources.demo_campaign.plan import GAUGES, GaugePlan
from gaugewright.sources.demo_campaign.protocol import DAYS
from gaugewright.sources.demo_campaign.world import Scenario, leaks_of
from gaugewright.sources.simulated import instrument
from gaugewright.sources.simulated.installation import stream
from gaugewright.sources.simulated.instrument import WiredBridge

__all__ = ["INSULATION_METER", "OHMMETER", "HandMeter", "SheetLine", "SheetReading", "sheet"]

_MEGA = 1e6
_OPEN_OHM = 1e12


@dataclass(frozen=True, slots=True)
class HandMeter:
    """A meter as its certificate states it, in ohm."""

    label: str
    error_share: float
    error_fixed: float
    highest: float
    test_voltage: float | None = None


OHMMETER = HandMeter("ohmmeter O2", 2e-4, 0.02, 2.0e6)
INSULATION_METER = HandMeter("insulation meter I1", 0.03, 2.0e5, 2.0e9, 50.0)


@dataclass(frozen=True, slots=True)
class SheetReading:
    """A reading as it was typed; ``value`` is in ohm, None when open."""

    what: str
    value: float | None
    censor: Censor
    meter: str
    typed: str


@dataclass(frozen=True, slots=True)
class SheetLine:
    """One gauge at one gate."""

    gauge: str
    gate: Gate
    at: datetime
    temperature_degc: float
    readings: tuple[SheetReading, ...]
    verdict: Verdict
    reason: str


@dataclass(frozen=True, slots=True)
class _Visit:
    """A gate: when the first gauge was read, how warm the gauges were, and what is there."""

    gate: Gate
    begins: datetime
    temperature_degc: float
    wired: bool = True
    poured: bool = False
    only_cast: bool = False
    wrong: dict[str, int] = field(default_factory=dict)


# Lead B of this gauge was a cold joint; it was found at the gate and made again an hour later.
_COLD_JOINT = {"L2-E-U": 1}
_VISITS = (
    _Visit(Gate.BONDED, DAYS.bonded, 21.5, wired=False),
    _Visit(Gate.WIRED, DAYS.wired, 20.8, wrong=_COLD_JOINT),
    _Visit(Gate.WIRED, DAYS.wired + timedelta(hours=4), 21.4),
    _Visit(Gate.PROTECTED, DAYS.protected, 22.0),
    _Visit(Gate.CAGED, DAYS.caged, 19.2, only_cast=True),
    _Visit(Gate.BEFORE_POUR, DAYS.before_pour, 17.5, only_cast=True),
    _Visit(Gate.AFTER_POUR, DAYS.after_pour, 24.3, poured=True, only_cast=True),
    _Visit(Gate.BEFORE_TEST, DAYS.before_test, 19.0, poured=True),
)


def sheet(world: Scenario, before_test: Episode) -> tuple[SheetLine, ...]:
    """Every line of every gate sheet, in order of time."""
    lines: list[SheetLine] = []
    for number, visit in enumerate(_VISITS):
        again = number > 0 and _VISITS[number - 1].gate is visit.gate
        for place, gauge in enumerate(GAUGES):
            if visit.only_cast and gauge.bar in (plan.PLATE, "offcut"):
                continue
            if again and gauge.label not in _VISITS[number - 1].wrong:
                continue
            at = visit.begins + timedelta(seconds=95 * place)
            lines.append(_line(world, before_test, visit, gauge, at))
    return tuple(lines)


def _line(
    world: Scenario, before_test: Episode, visit: _Visit, gauge: GaugePlan, at: datetime
) -> SheetLine:
    bridge = _bridge(world, before_test, visit, gauge)
    insulation = _insulation(world.seed, instrument.plug_insulation(bridge), at, gauge)
    found = instrument.plug_resistances(bridge)
    if not visit.wired:
        found = {"tab to tab": found["A-B"]}
    pairs = [_ohms(world.seed, what, true, at, gauge) for what, true in found.items()]
    verdict, reason = _judged(pairs, insulation, gauge, visit)
    readings = (*pairs, insulation)
    return SheetLine(gauge.label, visit.gate, at, visit.temperature_degc, readings, verdict, reason)


def _bridge(world: Scenario, before_test: Episode, visit: _Visit, gauge: GaugePlan) -> WiredBridge:
    """The circuit behind the plug, or the bare gauge before it was wired."""
    partners = tuple(g for g in GAUGES if g.column == gauge.column)
    if visit.wired is False:
        partners = (gauge,)
    grids = [_grid(world, before_test, visit, partner) for partner in partners]
    wires = world.leads[partners[0].label].at(visit.temperature_degc - 20.0)
    if not visit.wired:
        wires = np.full(3, 1e-6)
    if gauge.label in visit.wrong:
        wires = wires.copy()
        wires[visit.wrong[gauge.label]] = _OPEN_OHM
    crushed = gauge.label == faults.CRUSHED and visit.poured
    return WiredBridge(
        grid=grids[0],
        wires=wires,
        leaks=leaks_of(world.sites[gauge.label], gauge, poured=visit.poured),
        completion=world.completions[gauge.label],
        second_grid=grids[1] if len(grids) == 2 else None,
        crush=faults.CRUSH_OHM if crushed else None,
        crush_place=faults.CRUSH_PLACE,
    )


def _grid(world: Scenario, before_test: Episode, visit: _Visit, gauge: GaugePlan) -> FloatArray:
    strain = np.zeros(2)
    if visit.poured:
        early = 0.2 if visit.gate is Gate.AFTER_POUR else 1.0
        strain = early * before_test.strain(gauge, np.zeros(1))[:, 0]
    metal = world.plate if gauge.bar in (plan.PLATE, "offcut") else world.bar
    return world.gauges[gauge.label].resistance_at(
        strain[0], strain[1], visit.temperature_degc, metal.thermal_expansion
    )


def _meter_error(seed: int, meter: HandMeter) -> tuple[float, float]:
    """Share and fixed part by which one meter is off, within its limits, for good."""
    rng = stream(seed, meter.label)
    share, fixed = rng.uniform(-1.0, 1.0, size=2)
    return float(share) * meter.error_share, float(fixed) * meter.error_fixed


def _ohms(seed: int, what: str, true: float, at: datetime, gauge: GaugePlan) -> SheetReading:
    meter = OHMMETER
    share, fixed = _meter_error(seed, meter)
    shaking = 0.006 * float(stream(seed, f"{gauge.label} {what} {at}").standard_normal())
    shown = round(true * (1 + share) + fixed + shaking, 2) if np.isfinite(true) else true
    if shown > meter.highest:
        return SheetReading(what, None, Censor.OPEN, meter.label, "open")
    shown = max(shown, 0.0)
    return SheetReading(what, shown, Censor.EXACT, meter.label, f"{shown:.2f}")


def _insulation(seed: int, true: float, at: datetime, gauge: GaugePlan) -> SheetReading:
    meter = INSULATION_METER
    share, fixed = _meter_error(seed, meter)
    unsteady = 0.01 * float(stream(seed, f"{gauge.label} insulation {at}").standard_normal())
    shown = true * (1 + share + unsteady) + fixed
    if shown > meter.highest:
        typed = f"> {meter.highest / _MEGA:.0f} MΩ"
        return SheetReading("insulation", meter.highest, Censor.ABOVE, meter.label, typed)
    digits = 1 if shown < 200 * _MEGA else 0
    typed = f"{shown / _MEGA:.{digits}f}"
    return SheetReading(
        "insulation", float(typed) * _MEGA, Censor.EXACT, meter.label, f"{typed} MΩ"
    )


def _judged(
    pairs: list[SheetReading], insulation: SheetReading, gauge: GaugePlan, visit: _Visit
) -> tuple[Verdict, str]:
    """Verdict of the technician, by the sheet's own rules of thumb."""
    opened = [pair.what for pair in pairs if pair.value is None]
    if opened:
        return Verdict.FAIL, f"{' and '.join(opened)} open: the lead they share is to be made again"
    nominal = 350.0 if gauge.pack.startswith("350") else 120.0
    wire = plan.CABLES[gauge.pack].resistance.value if visit.wired else 0.0
    expected = {
        "tab to tab": nominal,
        "A-B": nominal + 2 * wire,
        "A-C": nominal + 2 * wire,
        "B-C": 2 * wire,
    }
    if gauge.column == "B12" and visit.wired:
        expected["A-B"] += nominal
        expected["B-C"] += nominal
    for pair in pairs:
        off = (pair.value or 0.0) - expected[pair.what]
        if abs(off) > 0.01 * nominal:
            return Verdict.FAIL, f"{pair.what} reads {pair.typed} Ω, {off:+.1f} Ω off"
    resistances = "resistances within 1 % of what pack and cable give"
    found = insulation.value or 0.0
    if visit.poured and found < 1e8:
        return Verdict.PASS, f"{resistances}; insulation {insulation.typed}: watch it"
    if not visit.poured and found < 1e9:
        return Verdict.FAIL, f"insulation {insulation.typed}, 1000 MΩ wanted"
    return Verdict.PASS, f"{resistances}; insulation {insulation.typed}"
