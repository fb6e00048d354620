"""What share of its fatigue life a gauged bar has used, by the cycles that its gauge has seen."""

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np

from gaugewright.calc import quality
from gaugewright.calc.cycles import Cycles
from gaugewright.calc.fatigue import EN1992_LINES, FatigueLine, miner_damage
from gaugewright.calc.uncertainty import Uncertain
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray
from gaugewright.records import Entry
from gaugewright.records.coupons import FatigueCurve
from gaugewright.records.electrical import BridgeCircuit
from gaugewright.records.gauges import Gauge
from gaugewright.records.proof import ZeroKind
from gaugewright.services.campaign.book import Book
from gaugewright.services.campaign.circuits import circuit_of
from gaugewright.services.chaining.causes import uncertain_of_stated
from gaugewright.services.cycling import counted as load_cycles
from gaugewright.services.cycling.counted import Counted, History
from gaugewright.services.strain.strain_blocks import StrainBlock, strain_blocks
from gaugewright.services.strain.strains import Desk, joined
from gaugewright.store.campaign import CampaignStore

__all__ = [
    "DEFAULT_CURVE",
    "Damaged",
    "GaugeCycles",
    "curves",
    "cycles_of_gauge",
    "kept_curve",
    "line_of",
]

DEFAULT_CURVE = "straight bars"
# Damage is kept for these relative scales of all ranges, so that an interval needs no second count.
_SCALES = np.linspace(0.5, 1.5, 41)
_ZEROS = (ZeroKind.BEFORE_TEST, ZeroKind.BEFORE_POUR, ZeroKind.BARE_BAR)


@dataclass(frozen=True, slots=True)
class Damaged:
    """Share of life used, with the interval that the doubt of strain and modulus leaves (95 %).

    ``scale_doubt`` is the expanded relative uncertainty of the stress ranges, by ``cause``;
    ``high`` is infinite where that exceeds one half. ``by_step`` adds up over the record.
    """

    curve: str
    line: FatigueLine
    total: float
    low: float
    high: float
    scale_doubt: float
    cause: str
    by_step: FloatArray


@dataclass(frozen=True, slots=True)
class GaugeCycles:
    """Cycles of a gauge's strain and what they used up; ``why`` says why there is no damage."""

    gauge: Entry[Gauge]
    circuit: Entry[BridgeCircuit]
    zero: ZeroKind
    counted: Counted
    damage: Damaged | None
    why: str


def curves(book: Book) -> dict[str, FatigueLine]:
    """Lines that can be used: those of the laboratory, then those known from memory."""
    own = {
        entry.record.label: FatigueLine(
            entry.record.reference_range,
            entry.record.reference_cycles,
            entry.record.above,
            entry.record.below,
            entry.record.limit_range,
            entry.record.source,
        )
        for entry in book.of(FatigueCurve)
    }
    return own | {name: line for name, line in EN1992_LINES.items() if name not in own}


def kept_curve(store: CampaignStore, curve: FatigueCurve) -> Entry[FatigueCurve]:
    """Line in the store: a new version where its label is known and something changed."""
    for entry in store.entries(FatigueCurve):
        if entry.record.label == curve.label:
            if entry.record == curve:
                return entry
            return store.revise(entry.uid, entry.version, curve, reason="stated again")
    return store.add(curve, reason="stated")


def line_of(book: Book, name: str, partial_factor: float = 1.0) -> FatigueLine:
    """Line by its name, its ranges divided by a partial factor where a design is checked.

    Raises
    ------
    InputError
        If no line is called so, or the factor is below one.
    """
    known = curves(book)
    if name not in known:
        do = "keep one with: gaugewright fatigue-curve"
        raise InputError("curve", name, "one of " + "; ".join(known), do)
    if not (math.isfinite(partial_factor) and partial_factor >= 1):
        raise InputError("partial_factor", partial_factor, "1 or more")
    line = known[name]
    return replace(
        line,
        reference_range=line.reference_range / partial_factor,
        limit_range=line.limit_range / partial_factor,
    )


def cycles_of_gauge(
    desk: Desk,
    gauge: Entry[Gauge],
    *,
    gate: float | None = None,
    history: History = History.ONCE,
    curve: str = DEFAULT_CURVE,
    partial_factor: float = 1.0,
    block_rows: int = 65_536,
) -> GaugeCycles:
    """Count a gauge's strain and add up its damage; recordings are gone through in blocks.

    Stress is modulus times mechanical strain, so there is no damage where the bar has yielded.

    Raises
    ------
    InputError
        If the gauge has no circuit or readings, the curve isn't known, or the gate is negative.
    """
    circuit = _circuit(desk, gauge)
    zero = _zero(desk, circuit)
    line = line_of(desk.book, curve, partial_factor)

    def blocks() -> Iterable[tuple[FloatArray, FloatArray]]:
        found = strain_blocks(desk, circuit, zero, block_rows=block_rows)
        return ((block.time, block.strain) for block in found)

    extent = load_cycles.extent_of(blocks)
    material = desk.book.material_of(gauge)
    modulus = uncertain_of_stated(
        f"elastic_modulus@{material.uid}", material.record.elastic_modulus, "modulus of the steel"
    )
    why = _refusal(desk, gauge, max(abs(extent.lowest), abs(extent.highest)))
    running = _Running(line, float(modulus.value), extent.samples)
    found = load_cycles.counted(
        blocks, extent=extent, gate=gate, history=history, told=None if why else running.add
    )
    if why:
        return GaugeCycles(gauge, circuit, zero, found, None, why)
    everything = strain_blocks(desk, circuit, zero, block_rows=block_rows)
    scale = _scale(everything, found, line, modulus)
    return GaugeCycles(gauge, circuit, zero, found, running.damaged(curve, scale), "")


class _Running:
    """Damage added up as cycles close, for some scales of all ranges at once."""

    def __init__(self, line: FatigueLine, modulus: float, samples: int) -> None:
        self._line = line
        self._modulus = modulus
        self._samples = samples
        self._by_scale = np.zeros(_SCALES.size)
        self._by_step = np.zeros(load_cycles.STEPS)
        self.total = 0.0

    def add(self, cycles: Cycles) -> None:
        ranges = self._modulus * cycles.ranges
        self.total += miner_damage(ranges, cycles.counts, self._line).total
        self._by_scale += [
            miner_damage(scale * ranges, cycles.counts, self._line).total for scale in _SCALES
        ]
        late = np.maximum(cycles.first_place, cycles.second_place)
        step = np.minimum(late * load_cycles.STEPS // self._samples, load_cycles.STEPS - 1)
        for number in np.unique(step).tolist():
            here = step == number
            found = miner_damage(ranges[here], cycles.counts[here], self._line)
            self._by_step[number] += found.total

    def damaged(self, curve: str, scale: Uncertain) -> Damaged:
        doubt = float(scale.expanded())
        main = scale.budget().dominant
        low, high = (self._at(1 - doubt), self._at(1 + doubt))
        return Damaged(
            curve,
            self._line,
            self.total,
            low,
            high,
            doubt,
            main.meaning if main else "",
            np.cumsum(self._by_step),
        )

    def _at(self, scale: float) -> float:
        """Damage with all ranges scaled; beyond the scales kept nothing is known."""
        if scale < _SCALES[0]:
            return 0.0
        return math.inf if scale > _SCALES[-1] else float(np.interp(scale, _SCALES, self._by_scale))


def _circuit(desk: Desk, gauge: Entry[Gauge]) -> Entry[BridgeCircuit]:
    found = circuit_of(desk.book, gauge)
    if found is None:
        raise InputError(f"circuit of {gauge.record.label}", None, "entered, with its channel")
    return found


def _zero(desk: Desk, circuit: Entry[BridgeCircuit]) -> ZeroKind:
    """A zero to count from: ranges don't depend on it, means do."""
    connections = desk.book.connections_of(circuit.uid)
    for kind in _ZEROS:
        if any(desk.book.holds_zero(connection, kind) for connection in connections):
            return kind
    raise InputError(f"zero of {circuit.record.label}", None, "taken", "take one first")


def _refusal(desk: Desk, gauge: Entry[Gauge], greatest: float) -> str:
    """Why modulus times strain isn't the bar's stress, or ""."""
    metal = desk.book.material_of(gauge).record
    if metal.yield_strength is None:
        return (
            f"the yield strength of {metal.label} isn't stated: whether it stayed elastic can't be "
            "told; state it, or evaluate a coupon"
        )
    limit = metal.yield_strength.value / metal.elastic_modulus.value
    if greatest > limit:
        return (
            f"strain reached {1e6 * greatest:.0f} µε and {metal.label} yields at "
            f"{1e6 * limit:.0f} µε: beyond it a range of strain isn't a range of stress by the "
            "modulus, and lines of fatigue are for stress"
        )
    return ""


def _scale(
    blocks: Iterable[StrainBlock], found: Counted, line: FatigueLine, modulus: Uncertain
) -> Uncertain:
    """All stress ranges over what they were taken for: 1, with what strain and modulus leave open.

    From the largest cycles, weighted by what a relative change of each does to the damage; the
    smaller ones are taken to be known as well as these.
    """
    largest = found.largest
    if not largest.counts.size:
        return Uncertain.exact(1.0)
    places = np.unique(np.concatenate([largest.first_place, largest.second_place]))
    parts: list[Uncertain] = []
    for block in blocks:
        rows = places[(places >= block.place) & (places < block.place + block.strain.size)]
        if rows.size:
            noise = _reading_noise(block)
            parts.append(block.uncertain((rows - block.place).astype(np.float64), noise))
    strain = parts[0] if len(parts) == 1 else joined(parts)
    first = strain[np.searchsorted(places, largest.first_place)]
    second = strain[np.searchsorted(places, largest.second_place)]
    ranges = second - first
    stress = float(modulus.value) * np.abs(ranges.value)
    weights = np.array(
        [
            miner_damage([one], [count], line).by_scale
            for one, count in zip(stress, largest.counts, strict=True)
        ]
    )
    weights = weights if weights.sum() > 0 else np.ones(stress.size)
    relative = ranges * (weights * weights.size / weights.sum() / ranges.value)
    mean: Uncertain = relative.mean()
    return mean * (modulus / float(modulus.value))


def _reading_noise(block: StrainBlock) -> float:
    floor = quality.noise_floor(block.reading)
    return 0.0 if math.isnan(floor) else floor
