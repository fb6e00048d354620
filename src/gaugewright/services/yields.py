"""At which load each gauge, and each bar by its opposite pair, first reached yield."""

from dataclasses import dataclass

import numpy as np

from gaugewright.calc import onset
from gaugewright.calc.uncertainty import Uncertain, combination
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray
from gaugewright.records import Entry
from gaugewright.records.electrical import BridgeCircuit
from gaugewright.records.gauges import Gauge
from gaugewright.records.identity import Uid
from gaugewright.records.proof import ZeroKind
from gaugewright.records.specimen import Material, SteelLaw
from gaugewright.services.causes import uncertain_of_stated
from gaugewright.services.loads import clock_doubt, load_at, load_uncertain
from gaugewright.services.series import Series
from gaugewright.services.strains import CircuitStrain, Desk

__all__ = ["CRITERION", "Onset", "stress_free_zero", "yield_of_gauge", "yield_of_pair"]

CRITERION = "mechanical strain passes yield strength over modulus for five scans in a row"


@dataclass(frozen=True, slots=True)
class Onset:
    """Load at yield of one gauge or of the mean of an opposite pair; why not, where there is none.

    ``load`` is one Uncertain value [N]; ``zero`` names the zero that strain was counted from.
    """

    label: str
    gauges: tuple[Uid, ...]
    circuits: tuple[Uid, ...]
    station: str
    load: Uncertain | None
    time: float | None
    zero: ZeroKind
    note: str = ""


def stress_free_zero(desk: Desk, circuit: Entry[BridgeCircuit]) -> ZeroKind:
    """Earliest zero that all the circuit's connections with readings can count from.

    A zero before the pour holds restrained shrinkage and dead load in the strain; a zero before
    the test leaves them out.
    """
    connections = desk.book.connections_of(circuit.uid)
    for kind in (ZeroKind.BARE_BAR, ZeroKind.BEFORE_POUR):
        if not any(desk.book.holds_zero(connection, kind) for connection in connections):
            continue
        try:
            desk.strain(circuit, kind)
        except InputError:
            continue
        return kind
    return ZeroKind.BEFORE_TEST


def yield_strain(desk: Desk, material: Entry[Material]) -> Uncertain:
    """Strain at yield f_y/E with the doubt of both.

    Raises
    ------
    InputError
        If the material has no yield strength.
    """
    record = material.record
    if record.yield_strength is None:
        raise InputError(
            f"yield strength of {record.label}", None, "given", "type in the coupon's value"
        )
    strength = uncertain_of_stated(
        f"yield_strength@{material.uid}", record.yield_strength, "yield strength of the steel"
    )
    modulus = uncertain_of_stated(
        f"modulus@{material.uid}", record.elastic_modulus, "modulus of the steel"
    )
    return strength / modulus


def yield_of_gauge(desk: Desk, circuit: Entry[BridgeCircuit], gauge: Entry[Gauge]) -> Onset | None:
    """Onset of yield at one gauge; None for metal whose law knows no yield."""
    material = desk.book.material_of(gauge)
    if material.record.law is not SteelLaw.BILINEAR:
        return None
    zero = stress_free_zero(desk, circuit)
    strain = desk.strain(circuit, zero)
    station = desk.book.station_of(gauge).record.label
    found = _passage(desk, strain.time, strain.strain, yield_strain(desk, material))
    if isinstance(found, str):
        return Onset(
            gauge.record.label, (gauge.uid,), (circuit.uid,), station, None, None, zero, found
        )
    rows = np.arange(found.first, found.last)
    load = _load(
        desk,
        found,
        strain.uncertain(rows).mean(),
        timed_by=strain,
        rows=rows,
        material=material,
    )
    time = float(strain.time[found.index])
    return Onset(gauge.record.label, (gauge.uid,), (circuit.uid,), station, load, time, zero)


def yield_of_pair(
    desk: Desk,
    circuits: tuple[Entry[BridgeCircuit], Entry[BridgeCircuit]],
    gauges: tuple[Entry[Gauge], Entry[Gauge]],
) -> Onset | None:
    """Onset of yield of a bar by the mean of two opposite gauges: local bending drops out."""
    material = desk.book.material_of(gauges[0])
    if material.record.law is not SteelLaw.BILINEAR:
        return None
    kinds = {stress_free_zero(desk, circuit) for circuit in circuits}
    zero = ZeroKind.BEFORE_TEST if len(kinds) > 1 else kinds.pop()
    one, other = (desk.strain(circuit, zero) for circuit in circuits)
    label = f"{gauges[0].record.label} with {gauges[1].record.label}"
    station = " and ".join(desk.book.station_of(gauge).record.label for gauge in gauges)
    uids = (gauges[0].uid, gauges[1].uid)
    parts = (circuits[0].uid, circuits[1].uid)
    mean = (one.strain + Series(other.time, other.strain).at(one.time)) / 2
    # Interpolation would bridge what the other gauge lost: keep its gaps.
    mean[~_alive(other, one.time)] = np.nan
    found = _passage(desk, one.time, mean, yield_strain(desk, material))
    if isinstance(found, str):
        return Onset(label, uids, parts, station, None, None, zero, found)
    rows = np.arange(found.first, found.last)
    near = np.unique(np.searchsorted(other.time, one.time[rows]).clip(0, other.time.size - 1))
    strain = (one.uncertain(rows).mean() + other.uncertain(near).mean()) / 2
    load = _load(desk, found, strain, timed_by=one, rows=rows, material=material)
    time = float(one.time[found.index])
    return Onset(label, uids, parts, station, load, time, zero)


def _alive(
    strain: CircuitStrain, time: FloatArray
) -> np.ndarray[tuple[int, ...], np.dtype[np.bool_]]:
    """Whether the nearest samples on both sides are there."""
    right = np.searchsorted(strain.time, time).clip(1, strain.time.size - 1)
    good = np.isfinite(strain.strain)
    return np.asarray(good[right] & good[right - 1])


def _passage(
    desk: Desk, time: FloatArray, strain: FloatArray, threshold: Uncertain
) -> onset.Passage | str:
    load = load_at(desk, time)
    known = np.isfinite(load)
    if not known.any():
        return "no load was recorded together with this gauge"
    rows = np.flatnonzero(known)
    first, last = int(rows[0]), int(rows[-1]) + 1
    found = onset.passage(load[first:last], strain[first:last], threshold.value.item())
    if found is None:
        seen = strain[first:last][np.isfinite(strain[first:last])]
        highest = float(seen.max()) if seen.size else 0.0
        if seen.size and -seen.min() > 3 * abs(highest):
            return (
                f"in compression, down to {seen.min() * 1e6:.0f} µε: this criterion is for tension"
            )
        return (
            f"not reached: highest strain {highest * 1e6:.0f} µε, yield begins at "
            f"{threshold.value.item() * 1e6:.0f} µε"
        )
    return onset.Passage(
        found.index + first,
        found.load,
        found.slope,
        found.strain,
        found.load_there,
        found.first + first,
        found.last + first,
    )


def _load(
    desk: Desk,
    found: onset.Passage,
    strain: Uncertain,
    *,
    timed_by: CircuitStrain,
    rows: FloatArray | np.ndarray[tuple[int, ...], np.dtype[np.int64]],
    material: Entry[Material],
) -> Uncertain:
    """Load at the threshold: the measured load there, moved along the slope to the threshold."""
    there = load_uncertain(desk, np.asarray([found.load_there]))
    clock = clock_doubt(
        desk, timed_by, np.asarray(rows, dtype=np.float64)[:1], np.asarray([found.load_there])
    )
    threshold = yield_strain(desk, material)
    return combination(
        np.asarray(found.load),
        [
            (there[0], 1.0),
            (clock[0], 1.0),
            (threshold, 1 / found.slope),
            (strain, -1 / found.slope),
        ],
    )
