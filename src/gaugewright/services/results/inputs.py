"""Which record, at which version, gave the value behind one cause of a result's uncertainty?

Names of causes are made where chains and results are worked out: what it is, @, and the uid of
the record that it belongs to; what else tells it from others follows after a slash or a space.
Here each name is followed back to that record. A name that isn't listed below is a number of the
record itself, of the cyclic law of a metal, or one that was typed for a stage.
"""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from gaugewright.calc.stages import kind_named
from gaugewright.calc.uncertainty import InputQuantity, Uncertain
from gaugewright.quantities import QUANTITIES
from gaugewright.records import Entry
from gaugewright.records.corrections import StageSwitch
from gaugewright.records.electrical import BridgeCircuit, Channel, Instrument
from gaugewright.records.identity import Ref, Uid
from gaugewright.records.proof import Calibration, GateCheck
from gaugewright.records.results import BudgetInput
from gaugewright.records.specimen import Material
from gaugewright.records.stated import Stated
from gaugewright.services.campaign.book import Book
from gaugewright.services.campaign.limit_labels import (
    DRIFT_RATE,
    HOLD_HIGH,
    HOLD_LOW,
    INSTALLATION,
    LEAD_WARMING,
    LOCAL_BENDING,
    MISALIGNMENT,
    REFERENCE_LOAD,
    ZERO_DRIFT,
)

__all__ = ["Origin", "budget_inputs", "origin_of"]


@dataclass(frozen=True, slots=True)
class Origin:
    """Value that a cause disturbs, what quantity it is, and the record's version it came from.

    ``value`` is None where it isn't one number; ``quantity`` is "" for plain numbers.
    """

    value: float | None = None
    quantity: str = ""
    source: Ref | None = None


_Follow = Callable[[Book, Entry[Any], InputQuantity], Origin]


def _stated(field: str, quantity: str) -> _Follow:
    """A stated value of the record that the name ends with; dots lead into its parts."""

    def follow(book: Book, entry: Entry[Any], cause: InputQuantity) -> Origin:
        value: Any = entry.record
        for part in field.split("."):
            value = getattr(value, part)
        return Origin(None if value is None else float(value.value), quantity, entry.ref)

    return follow


def _of_pack(field: str, quantity: str) -> _Follow:
    """A stated value of the pack that a gauge came from."""

    def follow(book: Book, entry: Entry[Any], cause: InputQuantity) -> Origin:
        return _stated(field, quantity)(book, book.pack_of(entry), cause)

    return follow


def _of_limit(label: str, quantity: str, value: Callable[[float], float | None]) -> _Follow:
    """An allowance: the campaign's own limit is the record behind it."""

    def follow(book: Book, entry: Entry[Any], cause: InputQuantity) -> Origin:
        limit = book.limit(label)
        return Origin(value(limit.record.value), quantity, limit.ref)

    return follow


def _itself(quantity: str, value: float | None = None) -> _Follow:
    """The record alone: the value changes with time, or is nothing by definition."""

    def follow(book: Book, entry: Entry[Any], cause: InputQuantity) -> Origin:
        return Origin(value, quantity, entry.ref)

    return follow


def _bending(book: Book, entry: Entry[Any], cause: InputQuantity) -> Origin:
    """Bending of the bar: measured on this campaign's pairs, or the limit that stands in."""
    if cause.basis == "measured":
        return Origin(0.0, "", None)
    return Origin(0.0, "", book.limit(LOCAL_BENDING).ref)


def _instrument(book: Book, entry: Entry[Any], cause: InputQuantity) -> Origin:
    """Zero of a channel's instrument, named by the connection."""
    channel = book.entry(entry.record.channel, Channel)
    return Origin(0.0, "bridge_ratio", book.entry(channel.record.instrument, Instrument).ref)


def _insulation(book: Book, entry: Entry[BridgeCircuit], cause: InputQuantity) -> Origin:
    """Leak of a circuit: the last gate check of its gauges that read insulation."""
    gauges = {gauge.uid for gauge in book.gauges_of(entry)}
    checks = [
        (reading.measured, check.ref.uid, check.ref)
        for check in book.of(GateCheck)
        if check.record.gauge in gauges
        for reading in check.record.readings
        if reading.what == "insulation" and reading.value is not None
    ]
    return Origin(0.0, "strain", max(checks)[2] if checks else entry.ref)


def _held(book: Book, entry: Entry[Any], cause: InputQuantity) -> Origin:
    """Stress in a hold: the middle of two limits, as a share of the law's."""
    if not {HOLD_LOW, HOLD_HIGH} <= book.limit_labels():
        return Origin(None, "", entry.ref)  # the shipped limits hold, which are no records
    low, high = book.limit(HOLD_LOW), book.limit(HOLD_HIGH)
    return Origin((low.record.value + high.record.value) / 2, "", high.ref)


def _calibrated(book: Book, entry: Entry[Calibration], cause: InputQuantity) -> Origin:
    """What a calibration's own rows leave open: nothing by itself, in newtons or as one of fit."""
    of_fit = cause.name.partition("/")[2].startswith("fit")
    return Origin(0.0, "" if of_fit else "force", entry.ref)


def _machine(book: Book, entry: Entry[Any], cause: InputQuantity) -> Origin:
    """Bending in the machine: seen by gauges read side by side, or the limit that stands in."""
    if not isinstance(entry.record, BridgeCircuit):
        return Origin(0.0, "", entry.ref)
    return Origin(0.0, "", book.limit(LOCAL_BENDING).ref)


def _reference_load(book: Book, certificate: str) -> Origin:
    """Relative error of the load that calibrated: the latest calibration against it."""
    found = [
        entry
        for entry in book.of(Calibration)
        if entry.record.reference is not None and entry.record.certificate == certificate
    ]
    if not found:
        return Origin()
    last = max(found, key=lambda entry: entry.record.measured)
    reference = last.record.reference
    return Origin(None if reference is None else reference.value, "", last.ref)


# Parameters of stages and laws that are another name's quantity.
_LIKE = {
    "drift_strain": "strain",
    "initial_strain": "strain",
    "test_temperature_degc": "temperature_degc",
    "lead_temperature_zero_degc": "temperature_degc",
    "hardening_strain": "strain",
    "ultimate_strain": "strain",
    "card_thermal_expansion": "thermal_expansion",
    "net_area": "area",
    "bore": "diameter",
}


def _by_name(entry: Entry[Any], what: str) -> Origin:
    """A number that is called so in the record itself; the record alone where there is none."""
    record = entry.record
    if isinstance(record, StageSwitch):
        return _typed(entry, what)
    stated = getattr(record, what, None)
    if stated is None and isinstance(record, Material) and record.cyclic is not None:
        stated = getattr(record.cyclic, what, None)
    if not isinstance(stated, Stated):
        return Origin(None, "", entry.ref)
    return Origin(stated.value, _quantity(what), entry.ref)


def _typed(entry: Entry[StageSwitch], what: str) -> Origin:
    """A number typed with the decision about a stage, or one that is right by definition."""
    for number in entry.record.numbers:
        if number.name == what:
            return Origin(number.stated.value, _quantity(what), entry.ref)
    wanted = {parameter.name for parameter in kind_named(entry.record.stage).parameters}
    return Origin(0.0 if what == "law_error" and what in wanted else None, "", entry.ref)


def _quantity(what: str) -> str:
    name = _LIKE.get(what, what)
    return name if name in QUANTITIES else ""


_ORIGINS: Mapping[str, _Follow] = {
    "alignment": _of_limit(MISALIGNMENT, "", lambda angle: angle**2),
    "area": _stated("area", "area"),
    "calibration": _calibrated,
    "calibration_bending": _machine,
    "calibration_temperature": _stated("temperature", "temperature_degc"),
    "calibration_modulus": _stated("temperature", "temperature_degc"),
    "clock": _itself("time"),
    "curve": _stated("curve.doubt", ""),
    "diameter": _stated("diameter", "diameter"),
    "distance": _stated("distance_built", "distance"),
    "drift": _of_limit(ZERO_DRIFT, "strain", lambda _: 0.0),
    "drift_rate": _of_limit(DRIFT_RATE, "", lambda _: 0.0),
    "dummy": _itself("temperature_degc"),
    "expansion": _stated("thermal_expansion", "thermal_expansion"),
    "extensometer": _stated("strain_scale", ""),
    "flat_width": _stated("width", "flat_width"),
    "force": _stated("force_scale", ""),
    "gain": _stated("gain", ""),
    "gauge length": _stated("gauge_length", "length"),
    "gauge_factor_lot": _stated("gauge_factor", "gauge_factor"),
    "gauge_factor_own": _of_pack("gauge_factor", "gauge_factor"),
    "gauge_factor_slope": _stated("gauge_factor_slope", "gauge_factor_slope"),
    "gauge_resistance": _of_pack("gauge_resistance", "gauge_resistance"),
    "hardening": _stated("hardening_modulus", "hardening_modulus"),
    "hardening_onset": _stated("hardening_onset_modulus", "hardening_modulus"),
    "hardening_strain": _stated("hardening_strain", "strain"),
    "hold": _held,
    "installation": _of_limit(INSTALLATION, "", lambda _: 1.0),
    "insulation": _insulation,
    "large_strain_law": _itself("", 0.0),
    "lead_resistance": _stated("resistance", "lead_resistance"),
    "load_gain": _stated("gain", ""),
    "load_zero": _stated("offset", "force"),
    "local_bending": _bending,
    "misfit": _stated("cyclic.misfit", "stress"),
    "modulus": _stated("elastic_modulus", "elastic_modulus"),
    "poisson": _stated("poisson_ratio", "poisson_ratio"),
    "scatter_of_pull": _itself("strain", 0.0),
    "stability": _instrument,
    "temperature": _itself("temperature_degc"),
    "temperature_zero": _stated("temperature", "temperature_degc"),
    "thermal_slope": _itself("thermal_expansion", 0.0),
    "transfer": _itself("bridge_ratio", 0.0),
    "transverse_sensitivity": _stated("transverse_sensitivity", "transverse_sensitivity"),
    "turn": _of_limit(MISALIGNMENT, "angle", lambda _: 0.0),
    "ultimate_strain": _stated("ultimate_strain", "strain"),
    "warming": _of_limit(LEAD_WARMING, "temperature_degc", lambda _: None),
    "yield_strength": _stated("yield_strength", "yield_strength"),
    "zero": _stated("bridge_ratio", "bridge_ratio"),
}


def origin_of(book: Book, cause: InputQuantity) -> Origin:
    """Where a cause's value came from; by its own name in its record if not listed here."""
    what, _, place = cause.name.partition("@")
    if what == REFERENCE_LOAD:
        return _reference_load(book, place)
    entry = book.found(Uid(place.partition("/")[0].partition(" ")[0]))
    if entry is None:
        return Origin()
    follow = _ORIGINS.get(what)
    return _by_name(entry, what) if follow is None else follow(book, entry, cause)


def budget_inputs(book: Book, value: Uncertain) -> tuple[BudgetInput, ...]:
    """Every cause of one value's uncertainty with its origin, the largest contribution first."""
    budget = value.budget(0 if value.value.ndim else None)
    found = []
    for line in budget.lines:
        cause = value.inputs.get(line.input)
        origin = Origin() if cause is None else origin_of(book, cause)
        freedom = line.degrees_of_freedom
        found.append(
            BudgetInput(
                line.input,
                line.meaning,
                line.basis,
                "normal" if cause is None else cause.distribution,
                line.standard_uncertainty,
                line.sensitivity,
                None if math.isinf(freedom) else freedom,
                origin.value,
                origin.quantity,
                origin.source,
            )
        )
    return tuple(found)
