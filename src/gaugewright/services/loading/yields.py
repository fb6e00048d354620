"""At which load each gauge, and each bar by its opposite pair, first reached yield."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

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
from gaugewright.services.chaining.causes import uncertain_of_stated
from gaugewright.services.strain.strains import CircuitStrain, Desk
from gaugewright.services.under_load.loads import clock_doubt, load_at, load_uncertain
from gaugewright.services.under_load.record import pair_record, stress_free_zero

__all__ = [
    "CRITERION",
    "Onset",
    "criterion",
    "load_at_passage",
    "stress_free_zero",
    "yield_of_gauge",
    "yield_of_pair",
    "yield_strain",
]

CRITERION = "mechanical strain passes yield strength over modulus for five scans in a row"
PROOF = "mechanical strain passes proof strength over modulus and 0.2 % for five scans in a row"
PROOF_OFFSET = 0.002


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


def criterion(desk: Desk, gauges: tuple[Uid, ...]) -> str:
    """Criterion by which metal under these gauges is taken to yield, in words."""
    material = desk.book.material_of(desk.book.entry(gauges[0], Gauge))
    return PROOF if material.record.law is SteelLaw.RAMBERG_OSGOOD else CRITERION


def yield_strain(desk: Desk, material: Entry[Material]) -> Uncertain:
    """Strain at yield f_y/E with the doubt of both; 0.002 more where f_y is the proof strength.

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
    if record.law is SteelLaw.RAMBERG_OSGOOD:
        return strength / modulus + PROOF_OFFSET
    return strength / modulus


def yield_of_gauge(desk: Desk, circuit: Entry[BridgeCircuit], gauge: Entry[Gauge]) -> Onset | None:
    """Onset of yield at one gauge; None for metal whose law knows no yield."""
    material = desk.book.material_of(gauge)
    if material.record.law is SteelLaw.ELASTIC:
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
    load = load_at_passage(
        desk,
        found,
        strain.uncertain(rows).mean(),
        timed_by=strain,
        rows=rows,
        threshold=yield_strain(desk, material),
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
    if material.record.law is SteelLaw.ELASTIC:
        return None
    record = pair_record(desk, circuits, gauges)
    uids = (gauges[0].uid, gauges[1].uid)
    parts = (circuits[0].uid, circuits[1].uid)
    found = _passage(desk, record.time, record.strain, yield_strain(desk, material))
    told = (record.label, uids, parts, record.station)
    if isinstance(found, str):
        return Onset(*told, None, None, record.zero, found)
    rows = np.arange(found.first, found.last)
    load = load_at_passage(
        desk,
        found,
        record.mean(rows),
        timed_by=record.parts[0],
        rows=rows,
        threshold=yield_strain(desk, material),
    )
    return Onset(*told, load, float(record.time[found.index]), record.zero)


def _passage(
    desk: Desk, time: FloatArray, strain: FloatArray, threshold: Uncertain
) -> onset.Passage | str:
    load = load_at(desk, time)
    known = np.isfinite(load)
    if not known.any():
        return "no load was recorded together with this gauge"
    first, last = int(np.argmax(known)), known.size - int(np.argmax(known[::-1]))
    try:
        found = onset.passage(load[first:last], strain[first:last], threshold.value.item())
    except InputError as error:
        # One gauge that leaps to its threshold must not keep the others from theirs.
        return f"no load belongs to it: {error}; look at this gauge's findings"
    if found is None:
        lowest, highest = _lowest_and_highest(strain[first:last])
        if -lowest > 3 * abs(highest):
            return f"in compression, down to {lowest * 1e6:.0f} µε: this criterion is for tension"
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


def _lowest_and_highest(strain: FloatArray) -> tuple[float, float]:
    """Extremes of the numbers there are, 0 where there are none; nothing is copied for it."""
    found = float(np.fmin.reduce(strain)), float(np.fmax.reduce(strain))
    return (0.0, 0.0) if np.isnan(found[0]) else found


def load_at_passage(
    desk: Desk,
    found: onset.Passage,
    strain: Uncertain,
    *,
    timed_by: CircuitStrain,
    rows: npt.ArrayLike,
    threshold: Uncertain,
) -> Uncertain:
    """Load at the threshold: the measured load there, moved along the slope to the threshold."""
    there = load_uncertain(desk, np.asarray([found.load_there]))
    clock = clock_doubt(
        desk, timed_by, np.asarray(rows, dtype=np.float64)[:1], np.asarray([found.load_there])
    )
    return combination(
        np.asarray(found.load),
        [
            (there[0], 1.0),
            (clock[0], 1.0),
            (threshold, 1 / found.slope),
            (strain, -1 / found.slope),
        ],
    )
