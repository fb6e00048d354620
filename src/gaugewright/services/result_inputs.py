"""Which record, at which version, gave the value behind one cause of a result's uncertainty?

Names of causes are made where chains and results are worked out: what it is, @, and the uid of
the record that it belongs to. Here each name is followed back to that record.
"""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from gaugewright.calc.uncertainty import InputQuantity, Uncertain
from gaugewright.records import Entry
from gaugewright.records.electrical import BridgeCircuit, Channel, Instrument
from gaugewright.records.identity import Ref, Uid
from gaugewright.records.proof import GateCheck
from gaugewright.records.results import BudgetInput
from gaugewright.services.book import Book

__all__ = ["Origin", "budget_inputs", "origin_of"]

INSTALLATION = "installation scatter"
MISALIGNMENT = "misalignment allowance"
LEAD_WARMING = "lead warming difference"
ZERO_DRIFT = "zero drift allowance"
LOCAL_BENDING = "local bending share"


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


_ORIGINS: Mapping[str, _Follow] = {
    "alignment": _of_limit(MISALIGNMENT, "", lambda angle: angle**2),
    "area": _stated("area", "area"),
    "clock": _itself("time"),
    "diameter": _stated("diameter", "diameter"),
    "distance": _stated("distance_built", "distance"),
    "drift": _of_limit(ZERO_DRIFT, "strain", lambda _: 0.0),
    "dummy": _itself("temperature_degc"),
    "expansion": _stated("thermal_expansion", "thermal_expansion"),
    "flat_width": _stated("width", "flat_width"),
    "gain": _stated("gain", ""),
    "gauge_factor_lot": _stated("gauge_factor", "gauge_factor"),
    "gauge_factor_own": _of_pack("gauge_factor", "gauge_factor"),
    "gauge_factor_slope": _stated("gauge_factor_slope", "gauge_factor_slope"),
    "gauge_resistance": _of_pack("gauge_resistance", "gauge_resistance"),
    "hardening": _stated("hardening_modulus", "hardening_modulus"),
    "installation": _of_limit(INSTALLATION, "", lambda _: 1.0),
    "insulation": _insulation,
    "large_strain_law": _itself("", 0.0),
    "lead_resistance": _stated("resistance", "lead_resistance"),
    "load_gain": _stated("gain", ""),
    "load_zero": _stated("offset", "force"),
    "local_bending": _bending,
    "modulus": _stated("elastic_modulus", "elastic_modulus"),
    "poisson": _stated("poisson_ratio", "poisson_ratio"),
    "stability": _instrument,
    "temperature": _itself("temperature_degc"),
    "temperature_zero": _stated("temperature", "temperature_degc"),
    "thermal_slope": _itself("thermal_expansion", 0.0),
    "transfer": _itself("bridge_ratio", 0.0),
    "transverse_sensitivity": _stated("transverse_sensitivity", "transverse_sensitivity"),
    "warming": _of_limit(LEAD_WARMING, "temperature_degc", lambda _: None),
    "yield_strength": _stated("yield_strength", "yield_strength"),
    "zero": _stated("bridge_ratio", "bridge_ratio"),
}


def origin_of(book: Book, cause: InputQuantity) -> Origin:
    """Where a cause's value came from; nothing but its record for a name not listed here."""
    what, _, uid = cause.name.rpartition("@")
    entry = book.found(Uid(uid))
    if entry is None:
        return Origin()
    follow = _ORIGINS.get(what)
    return Origin(None, "", entry.ref) if follow is None else follow(book, entry, cause)


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
