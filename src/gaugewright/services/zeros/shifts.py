"""From one zero of a gauge to its next: how far, and what explains it."""

import itertools
import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from gaugewright.calc.between_gates import strain_of_change
from gaugewright.calc.conductors import resistance_at_20_degc
from gaugewright.calc.shunt import shunt_strain
from gaugewright.calc.uncertainty import Uncertain
from gaugewright.errors import InputError
from gaugewright.present.numbers import significant_text
from gaugewright.records import Entry
from gaugewright.records.electrical import BridgeCircuit, Topology
from gaugewright.records.gauges import Gauge
from gaugewright.records.identity import Uid
from gaugewright.records.proof import Censor, GateCheck, Zero, ZeroKind
from gaugewright.services.campaign.book import Book
from gaugewright.services.campaign.coverage import COVERAGE
from gaugewright.services.chaining.causes import uncertain_of_stated
from gaugewright.services.chaining.chains import THERMAL, BuiltChain, chain_for
from gaugewright.services.chaining.subject import ratio_of_reading
from gaugewright.services.reading.series import campaign_seconds

__all__ = ["Leak", "Shift", "shifts", "told", "zeros_of"]

_ORDER = {kind: place for place, kind in enumerate(ZeroKind)}
_LEAK_WORTH = 1e-6  # below the digit in which zeros are told


@dataclass(frozen=True, slots=True)
class Leak:
    """Insulation read last before a zero [ohm], what the meter could tell, what it can stand for.

    ``strain`` is None where the reading bounds nothing: below the meter's range, or a short.
    """

    insulation_resistance: float
    censor: Censor
    strain: float | None


@dataclass(frozen=True, slots=True)
class Shift:
    """One circuit from one zero to its next.

    ``strain`` is what the correction chain makes of the later zero, counted from the earlier,
    temperature taken off; ``thermal`` is what it took off, None where nothing was. ``mean`` and
    ``bending`` are half sum and half difference with the opposite face, None without one.
    ``pair`` is wires B and C in series at the gates before the two zeros, at 20 °C [ohm], and
    ``pair_limit`` by how much it may differ; ``wire_strain`` is what their change would be taken
    for if lead B alone changed. ``why`` says why there is no number.
    """

    circuit: Entry[BridgeCircuit]
    earlier: Entry[Zero]
    later: Entry[Zero]
    strain: Uncertain | None = None
    thermal: float | None = None
    mean: Uncertain | None = None
    bending: Uncertain | None = None
    opposite: str = ""
    before: Leak | None = None
    after: Leak | None = None
    pair: tuple[float, float] | None = None
    pair_limit: float = math.inf
    wire_strain: float = 0.0
    why: str = ""

    @property
    def is_remade(self) -> bool:
        """Whether the two were read through different plugs."""
        return self.earlier.record.connection != self.later.record.connection


def zeros_of(book: Book, circuit: Entry[BridgeCircuit]) -> tuple[Entry[Zero], ...]:
    """Zeros of a circuit, one after another in order of kind and time."""
    mine = {connection.uid for connection in book.connections_of(circuit.uid)}
    found = [zero for zero in book.of(Zero) if zero.record.connection in mine]
    return tuple(sorted(found, key=lambda zero: (_ORDER[zero.record.kind], zero.record.measured)))


def shifts(book: Book) -> tuple[Shift, ...]:
    """Every step from one kind of zero to the next, circuit by circuit."""
    found = {circuit.uid: _of_circuit(book, circuit) for circuit in book.of(BridgeCircuit)}
    by_gauge = _by_gauge(book)
    return tuple(
        _with_opposite(book, shift, found, by_gauge) for part in found.values() for shift in part
    )


def _of_circuit(book: Book, circuit: Entry[BridgeCircuit]) -> tuple[Shift, ...]:
    """The latest of each kind, each counted from the one before it."""
    latest = {zero.record.kind: zero for zero in zeros_of(book, circuit)}
    in_order = [latest[kind] for kind in ZeroKind if kind in latest]
    return tuple(
        _shift(book, circuit, earlier, later) for earlier, later in itertools.pairwise(in_order)
    )


def _shift(
    book: Book, circuit: Entry[BridgeCircuit], earlier: Entry[Zero], later: Entry[Zero]
) -> Shift:
    pair = _pair(book, circuit, earlier, later)
    start = Shift(
        circuit,
        earlier,
        later,
        before=_leak(book, circuit, earlier),
        after=_leak(book, circuit, later),
        pair=pair,
        pair_limit=book.limit("lead difference").record.value,
        wire_strain=0.0 if pair is None else _as_lead_b(book, circuit, pair[1] - pair[0]),
    )
    try:
        connection = next(
            one for one in book.connections_of(circuit.uid) if one.uid == later.record.connection
        )
        built = chain_for(book, connection, zero_kind=earlier.record.kind)
        reading = uncertain_of_stated(
            f"zero@{later.uid}", later.record.bridge_ratio, "reading of the later zero"
        ) / ratio_of_reading(built.subject.setting.record)
        columns = _columns(book, built, earlier, later)
        strain = built.chain.uncertain(reading, columns)
        lost = built.chain.stopped(np.atleast_1d(reading.value), columns)
        thermal = _thermal(built, float(reading.value), columns)
    except InputError as error:
        if isinstance(error.value, Uncertain):  # the zero itself went through the chain
            return replace(start, why="the earlier zero is no usable reading")
        return replace(start, why=str(error))
    if lost:
        return replace(start, why=f"the later zero stops at {lost[0].kind}: {lost[0].why}")
    return replace(start, strain=strain, thermal=thermal)


def _columns(
    book: Book, built: BuiltChain, earlier: Entry[Zero], later: Entry[Zero]
) -> Mapping[str, float]:
    """What the chain needs beside the reading, at the later zero."""
    given: dict[str, float] = {
        "temperature_degc": later.record.temperature.value,
        "time": float(campaign_seconds(later.record.measured)),
    }
    if "dummy_strain" in built.chain.columns:
        given["dummy_strain"] = _dummy(book, built, earlier.record.kind, later.record.kind)
    for name in built.chain.columns:
        if name not in given:
            raise InputError(f"{name} at the zero", None, "kept with the zero", "switch its stage")
    return {name: given[name] for name in built.chain.columns}


def _dummy(book: Book, built: BuiltChain, earlier: ZeroKind, later: ZeroKind) -> float:
    """What the compensating circuit moved between the same two zeros, temperature left in."""
    uid = built.subject.circuit.record.dummy
    for part in _of_circuit(book, book.entry(uid, BridgeCircuit)) if uid is not None else ():
        if (part.earlier.record.kind, part.later.record.kind) == (earlier, later):
            if part.strain is None:
                raise InputError("zeros of the dummy", part.why, "both of these kinds")
            return float(part.strain.value) + (part.thermal or 0.0)
    raise InputError("zeros of the dummy", "missing", f"{earlier.value} and {later.value}")


def _thermal(built: BuiltChain, reading: float, columns: Mapping[str, float]) -> float | None:
    """What temperature added, as its stage took it off."""
    for step in built.chain.trail(reading, columns):
        if step.kind == THERMAL:
            return float(step.before) - float(step.after)
    return None


def _by_gauge(book: Book) -> dict[Uid, Uid]:
    """Circuit of every gauge that is alone in one."""
    return {
        gauges[0].uid: circuit.uid
        for circuit in book.of(BridgeCircuit)
        if len(gauges := book.gauges_of(circuit)) == 1
    }


def _with_opposite(
    book: Book,
    shift: Shift,
    found: Mapping[Uid, tuple[Shift, ...]],
    by_gauge: Mapping[Uid, Uid],
) -> Shift:
    """A shift with half sum and half difference of it and its opposite face."""
    gauges = book.gauges_of(shift.circuit)
    other = _opposite(book, gauges[0]) if len(gauges) == 1 and shift.strain is not None else None
    if other is None or other.uid not in by_gauge or shift.strain is None:
        return shift
    kinds = (shift.earlier.record.kind, shift.later.record.kind)
    for facing in found[by_gauge[other.uid]]:
        same = (facing.earlier.record.kind, facing.later.record.kind) == kinds
        if same and facing.strain is not None:
            return replace(
                shift,
                mean=(shift.strain + facing.strain) / 2,
                bending=(shift.strain - facing.strain) / 2,
                opposite=other.record.label,
            )
    return shift


def _opposite(book: Book, gauge: Entry[Gauge]) -> Entry[Gauge] | None:
    for other in book.of(Gauge):
        if gauge.record.opposite == other.uid or other.record.opposite == gauge.uid:
            return other
    return None


def _leak(book: Book, circuit: Entry[BridgeCircuit], zero: Entry[Zero]) -> Leak | None:
    """Insulation read last before a zero and the compression it can stand for at most.

    A reading is the parallel of the leaks of both ends of the grid; in series across the grid
    they are at least four times that.
    """
    gauges = {gauge.uid for gauge in book.gauges_of(circuit)}
    read = [
        one
        for check in book.of(GateCheck)
        if check.record.gauge in gauges
        for one in check.record.readings
        if one.what == "insulation"
        and one.value is not None
        and one.measured <= zero.record.measured
    ]
    if not read:
        return None
    last = max(read, key=lambda one: one.measured)
    value = float(last.value or 0.0)
    if value <= 0 or last.censor is Censor.BELOW:
        return Leak(value, last.censor, None)
    pack = book.pack_of(book.gauges_of(circuit)[0]).record
    worst = shunt_strain(pack.gauge_resistance.value, 4 * value, pack.gauge_factor.value)
    return Leak(value, last.censor, float(worst))


def _leaked(before: Leak, after: Leak) -> list[str]:
    """What the insulation read before two zeros explains of what lies between them."""
    if after.strain is None or before.strain is None:
        which = "later" if after.strain is None else "earlier"
        return [f"insulation before the {which} zero bounds no leak: it may be any part of it"]
    grown = after.strain - before.strain
    if abs(grown) < _LEAK_WORTH:
        return []
    moved = "fell" if grown < 0 else "rose"
    return [f"insulation {moved}: a leak can be {1e6 * grown:.0f} µε of it"]


def _pair(
    book: Book, circuit: Entry[BridgeCircuit], earlier: Entry[Zero], later: Entry[Zero]
) -> tuple[float, float] | None:
    """Wires B and C in series, as read last before each zero, brought to 20 °C [ohm].

    Only a quarter bridge has both on one tab: in others a grid lies between them.
    """
    if circuit.record.topology is not Topology.QUARTER_THREE_WIRE:
        return None
    gauges = {gauge.uid for gauge in book.gauges_of(circuit)}
    read = sorted(
        (one.measured, float(resistance_at_20_degc(one.value, one.temperature_degc)))
        for check in book.of(GateCheck)
        if check.record.gauge in gauges
        for one in check.record.readings
        if one.what == "B-C" and one.value is not None and one.temperature_degc is not None
    )
    before = [ohm for at, ohm in read if at <= earlier.record.measured]
    after = [ohm for at, ohm in read if at <= later.record.measured]
    if not before or len(after) == len(before):  # not read again between the two
        return None
    return before[-1], after[-1]


def _as_lead_b(book: Book, circuit: Entry[BridgeCircuit], grown: float) -> float:
    """Strain that a longer lead B is taken for: it lies in the arm beside the gauge's [1]."""
    pack = book.pack_of(book.gauges_of(circuit)[0]).record
    return -float(strain_of_change(grown, pack.gauge_resistance.value, pack.gauge_factor.value))


def told(shift: Shift) -> str:
    """What explains a shift, in words; only what the records allow is said."""
    if shift.strain is None:
        return f"can’t be told: {shift.why}"
    parts = []
    if shift.after is not None and shift.before is not None:
        parts += _leaked(shift.before, shift.after)
    if shift.pair is not None and abs(shift.pair[1] - shift.pair[0]) > shift.pair_limit:
        was, now = (significant_text(ohm) for ohm in shift.pair)
        parts.append(
            f"a wire changed: B and C together {was} Ω, then {now} Ω, both at 20 °C; if lead B "
            f"alone did, that is {1e6 * shift.wire_strain:+.0f} µε of it".replace("-", "−")
        )
    if not _beyond(shift.strain):
        parts.insert(0, "within its doubt")
    elif shift.mean is None or shift.bending is None:
        parts.insert(0, "beyond its doubt; no opposite gauge, so bending can’t be told apart")
    else:
        parts.insert(0, _faces(shift.mean, shift.bending))
    if shift.is_remade:
        parts.append("the plug was remade between the two: its doubt holds two contacts")
    return "; ".join(parts)


def _faces(mean: Uncertain, bending: Uncertain) -> str:
    bent, moved = _beyond(bending), _beyond(mean)
    if bent and moved:
        return f"{_along(mean)} on both faces, and bent: the faces moved apart"
    if bent:
        return "bent: the faces moved apart, their mean didn’t move beyond its doubt"
    if moved:
        return f"{_along(mean)} on both faces"
    return "beyond its doubt by itself; mean and bending of the two faces aren’t"


def _along(mean: Uncertain) -> str:
    if float(mean.value) < 0:
        return "shorter, as shrinkage and unloading do,"
    return "longer, as load and swelling do,"


def _beyond(value: Uncertain) -> bool:
    return abs(float(value.value)) > float(value.expanded(COVERAGE))
