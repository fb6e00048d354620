"""Stress and force at gauges at a load step, axial and bending parts of pairs."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from gaugewright.calc import net_area, steel
from gaugewright.calc.uncertainty import InputQuantity, Uncertain, combination
from gaugewright.errors import InputError
from gaugewright.records import Entry
from gaugewright.records.electrical import BridgeCircuit
from gaugewright.records.gauges import Gauge
from gaugewright.records.identity import Uid
from gaugewright.records.proof import ZeroKind
from gaugewright.records.readings import LoadStep
from gaugewright.records.specimen import Material, SteelLaw
from gaugewright.services.calibrating.calibrated_forces import are_calibrated, mean_force
from gaugewright.services.chaining.causes import input_of_limit, uncertain_of_stated
from gaugewright.services.members.bare_metal import area_by_measures
from gaugewright.services.reading.series import campaign_seconds
from gaugewright.services.steel.steel_laws import law_of
from gaugewright.services.steel.steel_stress import past_yield, stress_along_rows
from gaugewright.services.strain.strains import Desk

__all__ = [
    "SETTLED",
    "BarForce",
    "Bent",
    "bending_share",
    "distance_of",
    "force_of_pair",
    "force_of_single",
    "net_area_of",
    "strain_at_step",
    "stress_at_step",
    "stress_of",
]

BENDING = "bending of the bar itself, as the pairs show it"

# A load step counts once it has settled: its last part, the load held still.
SETTLED = 1 / 3


@dataclass(frozen=True, slots=True)
class BarForce:
    """Force in a bar at one place and load step, from two opposite gauges or from one.

    ``bending`` is half the difference of a pair, None for a single gauge, whose strain then
    carries the bending that its likes show as doubt. ``note`` names the law, and beyond yield the
    rates of coupon and test and what a hold leaves open; a force beyond what the law knows is NaN.
    A force by the bar's own calibration says so there, or why it isn't although there is one.
    """

    gauges: tuple[Entry[Gauge], ...]
    circuits: tuple[Uid, ...]
    step: Entry[LoadStep]
    axial: Uncertain
    bending: Uncertain | None
    stress: Uncertain
    force: Uncertain
    distance: Uncertain
    zero: ZeroKind
    note: str = ""

    @property
    def label(self) -> str:
        """Gauges it comes from."""
        return " with ".join(gauge.record.label for gauge in self.gauges)


class Bent(Protocol):
    """Strain of a pair of opposite gauges, parted into its mean and half its difference."""

    @property
    def axial(self) -> Uncertain:
        """Mean of the two."""

    @property
    def bending(self) -> Uncertain | None:
        """Half the difference; None for a single gauge."""


def settled_rows(
    desk: Desk, circuit: Entry[BridgeCircuit], zero: ZeroKind, step: LoadStep
) -> np.ndarray[tuple[int, ...], np.dtype[np.int64]]:
    """Rows of a circuit in the settled part of a load step, those with a strain."""
    begins, ends = campaign_seconds(step.begins), campaign_seconds(step.ends)
    strain = desk.strain(circuit, zero)
    rows = strain.rows_between(ends - SETTLED * (ends - begins), ends)
    return rows[np.isfinite(strain.strain[rows])]


def strain_at_step(
    desk: Desk, circuit: Entry[BridgeCircuit], zero: ZeroKind, step: Entry[LoadStep]
) -> Uncertain | None:
    """Mean mechanical strain in the settled part of a step; None where the gauge has no value."""
    rows = settled_rows(desk, circuit, zero, step.record)
    if not rows.size:
        return None
    return desk.strain(circuit, zero).uncertain(rows).mean()


def stress_at_step(
    desk: Desk,
    circuit: Entry[BridgeCircuit],
    zero: ZeroKind,
    step: Entry[LoadStep],
    *,
    bending: InputQuantity | None = None,
) -> tuple[Uncertain, str]:
    """Mean stress in the settled part of a step after all that went before it, and its note [Pa].

    ``bending`` is a doubt of strain over strain. NaN where the law knows no stress.

    Raises
    ------
    InputError
        If the gauge has no value there, or the law lacks a number.
    """
    rows = settled_rows(desk, circuit, zero, step.record)
    if not rows.size:
        raise InputError(f"strain at {step.record.label}", "none", "a settled part with readings")
    strain = desk.strain(circuit, zero)
    material = desk.book.material_of(desk.book.gauges_of(circuit)[0])
    if not past_yield(desk, material, strain.strain[: int(rows[-1]) + 1]):
        mean = strain.uncertain(rows).mean()
        if bending is not None:
            mean = mean + Uncertain.from_input(0.0, bending, mean.value)
        return stress_of(desk, material, mean), f"law: {material.record.law.value}; below yield"
    found = stress_along_rows(desk, circuit, zero, rows, held=True, bending=bending)
    return found.stress.mean(), found.note


def net_area_of(desk: Desk, gauge: Entry[Gauge]) -> Uncertain:
    """Area left at a gauge with the doubt of mass, diameter and flat [m^2].

    Raises
    ------
    InputError
        If the bar's area wasn't recorded and its measures don't tell it, or its diameter wasn't
        where a flat was ground.
    """
    entry = desk.book.bar_of(gauge)
    bar = entry.record
    flat = desk.book.flat_of(gauge)
    area = area_by_measures(desk.book, entry)
    if bar.area is not None:
        area = uncertain_of_stated(f"area@{entry.uid}", bar.area, "area of the bar")
    if area is None:
        raise InputError(f"area of {bar.label}", None, "recorded", "weigh a piece of the bar")
    if flat is None:
        return area
    if bar.diameter is None:
        raise InputError(
            f"diameter of {bar.label}", None, "recorded", "measure it: a flat was ground on it"
        )
    diameter = uncertain_of_stated(f"diameter@{entry.uid}", bar.diameter, "diameter of the bar")
    width = uncertain_of_stated(f"flat_width@{flat.uid}", flat.record.width, "width of the flat")
    left = net_area.net_area(
        area.value, diameter.value, width.value, flats=2 if flat.record.opposite else 1
    )
    return combination(
        left.value,
        [(area, left.by_area), (diameter, left.by_diameter), (width, left.by_flat_width)],
    )


def stress_of(desk: Desk, material: Entry[Material], strain: Uncertain) -> Uncertain:
    """Stress under a first loading with the doubt of strain and law [Pa].

    NaN beyond the end of the law. What was yielded before and unloaded has another stress: see
    ``stress_at_step``.

    Raises
    ------
    InputError
        If the law lacks a value it needs.
    """
    record = material.record
    modulus = uncertain_of_stated(
        f"modulus@{material.uid}", record.elastic_modulus, "modulus of the steel"
    )
    if record.law is SteelLaw.ELASTIC:
        return strain * modulus
    slope, limit = record.hardening_modulus, record.yield_strength
    if record.law is not SteelLaw.BILINEAR or slope is None or limit is None:
        return law_of(material).of_first_loading(strain)
    strength = uncertain_of_stated(
        f"yield_strength@{material.uid}", limit, "yield strength of the steel"
    )
    hardening = uncertain_of_stated(f"hardening@{material.uid}", slope, "hardening of the steel")
    numbers = (modulus.value, strength.value, hardening.value)
    stress = steel.bilinear_stress(strain.value, *numbers)
    slopes = steel.bilinear_stress_partials(strain.value, *numbers)
    return combination(
        stress,
        [
            (strain, slopes.strain),
            (modulus, slopes.elastic_modulus),
            (strength, slopes.yield_strength),
            (hardening, slopes.hardening_modulus),
        ],
    )


def force_of_pair(
    desk: Desk,
    gauges: tuple[Entry[Gauge], Entry[Gauge]],
    circuits: tuple[Entry[BridgeCircuit], Entry[BridgeCircuit]],
    step: Entry[LoadStep],
    zero: ZeroKind,
) -> BarForce | None:
    """Bar force from two opposite gauges at a step; None where either has no value there."""
    one, other = (strain_at_step(desk, circuit, zero, step) for circuit in circuits)
    if one is None or other is None:
        return None
    # Stress is not linear past yield: the mean of the two stresses carries the force, on the
    # area left at their common section.
    nearer, farther = (stress_at_step(desk, circuit, zero, step) for circuit in circuits)
    stress = (nearer[0] + farther[0]) / 2
    found, note = _calibrated(desk, circuits, step, zero)
    return BarForce(
        gauges,
        (circuits[0].uid, circuits[1].uid),
        step,
        (one + other) / 2,
        (one - other) / 2,
        stress,
        stress * net_area_of(desk, gauges[0]) if found is None else found,
        distance_of(desk, gauges[0]),
        zero,
        _told(note, nearer[1] if found is None else ""),
    )


def _calibrated(
    desk: Desk, circuits: tuple[Entry[BridgeCircuit], ...], step: Entry[LoadStep], zero: ZeroKind
) -> tuple[Uncertain | None, str]:
    """Force by the calibration of every circuit; None without one, or where it can't be used."""
    if not are_calibrated(desk, circuits, zero):
        return None, ""
    rows = [settled_rows(desk, circuit, zero, step.record) for circuit in circuits]
    try:
        return mean_force(desk, circuits, zero, rows), "by the calibration of the bar"
    except InputError as why:
        return None, f"by strain and area, not by the calibration: {why}"


def _told(*sentences: str) -> str:
    return "; ".join(sentence for sentence in sentences if sentence)


def force_of_single(
    desk: Desk,
    gauge: Entry[Gauge],
    circuit: Entry[BridgeCircuit],
    step: Entry[LoadStep],
    *,
    zero: ZeroKind,
    bending: InputQuantity,
) -> BarForce | None:
    """Bar force from one gauge: bending of the bar itself can't be taken out, so it is doubt.

    ``bending`` is the standard uncertainty of bending strain over axial strain, as
    ``bending_share`` finds it.
    """
    strain = strain_at_step(desk, circuit, zero, step)
    if strain is None:
        return None
    axial = strain + Uncertain.from_input(0.0, bending, strain.value)
    stress, law = stress_at_step(desk, circuit, zero, step, bending=bending)
    found, note = _calibrated(desk, (circuit,), step, zero)
    if found is None:
        force = stress * net_area_of(desk, gauge)
    else:
        force = found + Uncertain.from_input(0.0, bending, found.value)
    return BarForce(
        (gauge,),
        (circuit.uid,),
        step,
        axial,
        None,
        stress,
        force,
        distance_of(desk, gauge),
        zero,
        _told(note, law if found is None else ""),
    )


def bending_share(desk: Desk, name: str, pairs: Sequence[Bent]) -> InputQuantity:
    """Bending over axial strain that a single gauge must allow for: what the pairs here show.

    Root mean square of the pairs' shares, with as many degrees of freedom as there are pairs;
    with fewer than two pairs the campaign's limit stands in, and is assumed.
    """
    shares = [
        float(pair.bending.value / pair.axial.value)
        for pair in pairs
        if pair.bending is not None and pair.axial.value
    ]
    if len(shares) < 2:
        return input_of_limit(name, desk.book.limit("local bending share"), BENDING)
    return InputQuantity(
        name,
        float(np.sqrt(np.mean(np.square(shares)))),
        degrees_of_freedom=float(len(shares)),
        basis="measured",
        meaning=BENDING,
    )


def distance_of(desk: Desk, gauge: Entry[Gauge]) -> Uncertain:
    """Place of a gauge along its bar as built, with its doubt; as planned where nobody measured."""
    entry = desk.book.station_of(gauge)
    built = entry.record.distance_built
    if built is None:
        return Uncertain.exact(entry.record.distance_planned)
    return uncertain_of_stated(f"distance@{entry.uid}", built, "place along the bar")
