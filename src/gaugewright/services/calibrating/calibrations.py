"""Calibration of a gauged bar or bridge against a known load: kept as records, worked out again."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime

import numpy as np

from gaugewright.calc import axiality, calibration_terms
from gaugewright.calc.axiality import BendingShare
from gaugewright.calc.calibration import (
    BarCalibration,
    LoadSeries,
    bar_calibration,
    rising_readings,
)
from gaugewright.calc.chain import Chain
from gaugewright.calc.stages import kind_named
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray, parse_unit
from gaugewright.records import Entry
from gaugewright.records.electrical import BridgeCircuit, Connection
from gaugewright.records.gauges import Gauge
from gaugewright.records.identity import Uid
from gaugewright.records.proof import Calibration
from gaugewright.records.specimen import Bar
from gaugewright.records.stated import Basis, Meaning, Stated
from gaugewright.services.calibrating.table import CalibrationTable, Column
from gaugewright.services.campaign.book import Book
from gaugewright.services.chaining import electrical
from gaugewright.services.chaining.causes import Causes, input_of_stated
from gaugewright.services.chaining.subject import Wired, wired_of
from gaugewright.store.campaign import CampaignStore

__all__ = [
    "Bending",
    "Terms",
    "Told",
    "WorkedOut",
    "bending_of",
    "calibrations_of_bar",
    "carried_to_last",
    "carry_over",
    "circuits_of_bar",
    "kept",
    "worked_out",
]

ARM_CHANGE = "relative change of the arm"


@dataclass(frozen=True, slots=True)
class Told:
    """What a person says of a calibration beside its table.

    ``reference`` is the doubt of the load as a share of it, such as a certificate's.
    """

    measured: datetime
    reference: Stated
    certificate: str
    temperature: Stated
    degree: int = 1
    valid_until: date | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class Terms:
    """A calibration in the terms of ISO 376 and ASTM E74; shares of the reading or forces [N].

    ``repeatability`` compares the first two runs, ``reproducibility`` all of them, step by step;
    both are NaN for one run. ``reversibility`` is that of the first run at its ``falling`` loads.
    """

    steps: FloatArray
    repeatability: FloatArray
    reproducibility: FloatArray
    falling: FloatArray
    reversibility: FloatArray
    interpolation: FloatArray
    zero_return: float
    lower_limit_factor: float
    lowest_load_a: float
    lowest_load_aa: float


@dataclass(frozen=True, slots=True)
class Bending:
    """Bending of the bar in the machine at the largest load, by all gauges read beside it.

    ``own`` is what this circuit read more than the mean, as a share of the mean.
    """

    gauges: tuple[str, ...]
    share: BendingShare
    at_largest: float
    own: float


@dataclass(frozen=True, slots=True)
class WorkedOut:
    """A calibration record with everything that follows from its rows."""

    entry: Entry[Calibration]
    circuit: Entry[BridgeCircuit]
    wired: Wired
    runs: tuple[LoadSeries, ...]
    found: BarCalibration
    terms: Terms
    per_ratio: float

    @property
    def name(self) -> str:
        """Common name of its causes."""
        return f"calibration@{self.entry.uid}"


def circuits_of_bar(book: Book, bar: Entry[Bar]) -> tuple[Entry[BridgeCircuit], ...]:
    """Circuits whose gauges all sit on a bar."""
    return tuple(
        circuit
        for circuit in book.of(BridgeCircuit)
        if {book.bar_of(gauge).uid for gauge in book.gauges_of(circuit)} == {bar.uid}
    )


def calibrations_of_bar(book: Book, bar: Entry[Bar]) -> tuple[Entry[Calibration], ...]:
    """Calibrations to force of a bar's circuits, latest first."""
    mine = {circuit.uid for circuit in circuits_of_bar(book, bar)}
    found = [c for c in book.of(Calibration) if c.record.of in mine and c.record.series]
    return tuple(sorted(found, key=lambda entry: entry.record.measured, reverse=True))


def kept(
    store: CampaignStore, bar: Entry[Bar], table: CalibrationTable, told: Told
) -> tuple[Entry[Calibration], ...]:
    """Write a calibration down, one record for each circuit in the table.

    A lone column may be called ``reading`` where the bar has one circuit.

    Raises
    ------
    InputError
        If a column is no circuit of the bar, its unit isn't what its channel writes, the circuit
        was on no channel then, or the rows can't be fitted.
    Faults
        If several things are wrong with the rows.
    """
    book = Book.read(store)
    made = []
    for column in table.columns:
        circuit = _circuit_named(book, bar, column.name)
        wired = wired_of(book, _connection_then(book, circuit, told.measured))
        _refuse_unit(book, wired, column)
        draft = Calibration(
            circuit.uid,
            ARM_CHANGE,
            "force",
            Stated(1.0, basis=Basis.CALCULATED),
            Stated(0.0, basis=Basis.CALCULATED),
            told.measured,
            told.certificate,
            series=table.series(column),
            degree=told.degree,
            reference=told.reference,
            temperature=told.temperature,
            connection=wired.connection.uid,
            valid_until=told.valid_until,
            left_out=table.left_out,
            note=told.note,
        )
        runs = arm_runs(wired, draft)
        found = _fitted(draft, runs, "calibration")
        low, high = found.fit.span
        ends = found.fit.fitted(np.array([low, high]))
        made.append(
            replace(
                draft,
                slope=_coefficient(found, 1),
                offset=_coefficient(found, 0),
                lowest=float(ends.min()),
                highest=float(ends.max()),
            )
        )
    with store.several():
        return tuple(store.add(record, reason="calibrated") for record in made)


def carry_over(
    store: CampaignStore, entry: Entry[Calibration], connections: Sequence[Uid], why: str
) -> Entry[Calibration]:
    """Let a calibration hold for later connections of its circuit, with the reason.

    Raises
    ------
    InputError
        If a connection is of another circuit, or no reason is given.
    """
    for uid in connections:
        connection = store.entry(uid).record
        if not isinstance(connection, Connection) or connection.subject != entry.record.of:
            raise InputError("connection", uid, "a connection of the circuit that was calibrated")
    all_of_them = tuple(dict.fromkeys((*entry.record.carried_to, *connections)))
    record = replace(entry.record, carried_to=all_of_them, carried_why=why)
    return store.revise(entry.uid, entry.version, record, reason=f"carried over: {why}")


def carried_to_last(
    store: CampaignStore, circuit: Entry[BridgeCircuit], why: str
) -> Entry[Calibration]:
    """Let the latest calibration of a circuit hold for every connection after its own.

    Raises
    ------
    InputError
        If there is no calibration or no later connection, or no reason is given.
    """
    book = Book.read(store)
    mine = [c for c in book.of(Calibration) if c.record.of == circuit.uid and c.record.series]
    if not mine:
        do = "enter it with gaugewright calibrate"
        raise InputError(f"calibration of {circuit.record.label}", None, "made before", do)
    entry = max(mine, key=lambda one: one.record.measured)
    later = [
        connection.uid
        for connection in book.connections_of(circuit.uid)
        if connection.record.begins > entry.record.measured
    ]
    if not later:
        allowed = "at least one; on its own connection a calibration holds anyway"
        raise InputError(f"later connections of {circuit.record.label}", "none", allowed)
    return carry_over(store, entry, later, why)


def _coefficient(found: BarCalibration, power: int) -> Stated:
    return Stated(
        float(found.fit.coefficients[power]),
        float(found.fit.standard_uncertainties[power]),
        Meaning.ONE_SIGMA,
        Basis.MEASURED,
        "fit of the calibration, without the reference's doubt",
        float(found.fit.degrees_of_freedom),
    )


def _circuit_named(book: Book, bar: Entry[Bar], name: str) -> Entry[BridgeCircuit]:
    mine = circuits_of_bar(book, bar)
    for circuit in mine:
        if circuit.record.label == name:
            return circuit
    if name.lower() == "reading" and len(mine) == 1:
        return mine[0]
    known = ", ".join(circuit.record.label for circuit in mine) or "none yet"
    raise InputError(f"column {name}", "no circuit of bar " + bar.record.label, f"one of: {known}")


def _connection_then(
    book: Book, circuit: Entry[BridgeCircuit], instant: datetime
) -> Entry[Connection]:
    for connection in book.connections_of(circuit.uid):
        if connection.record.covers(instant):
            return connection
    raise InputError(
        f"connection of {circuit.record.label} at {instant.astimezone(book.zone):%Y-%m-%d %H:%M}",
        "none on record",
        "on a channel when it was calibrated",
        "enter that connection, or correct the instant of the calibration",
    )


def _refuse_unit(book: Book, wired: Wired, column: Column) -> None:
    unit = parse_unit(wired.setting.record.unit)
    if unit is None or unit.dimension != column.unit.dimension:
        raise InputError(
            f"unit of column {column.name}",
            column.unit.name,
            f"of the kind its channel is set to write ({wired.setting.record.unit})",
            "correct the heading, or the setting of the channel",
        )


def arm_runs(wired: Wired, record: Calibration) -> tuple[LoadSeries, ...]:
    """Runs as changes of the arm: back through instrument and bridge, as any reading goes."""
    causes = Causes()
    stages = (electrical.reading(wired, causes), electrical.bridge(wired, causes))
    back = Chain(tuple(stage for stage in stages if stage), tuple(causes.inputs.values()))
    return tuple(
        LoadSeries.of(run.force, back.strain(np.array(run.reading), {})) for run in record.series
    )


def _fitted(record: Calibration, runs: tuple[LoadSeries, ...], name: str) -> BarCalibration:
    if record.reference is None or record.temperature is None:
        raise InputError("reference and temperature of the calibration", None, "given")
    reference = input_of_stated(
        f"reference load@{record.certificate or name}", record.reference, "the reference load"
    )
    if reference is None:
        raise InputError(
            "doubt of the reference load", None, "given, as a share of the load", "see certificate"
        )
    return bar_calibration(
        runs, reference, name, degree=record.degree, temperature_degc=record.temperature.value
    )


def worked_out(book: Book, entry: Entry[Calibration]) -> WorkedOut:
    """Everything that follows from a calibration's rows, by the formulas of this version.

    Raises
    ------
    InputError
        If the record has no rows, or its circuit or connection is gone.
    """
    record = entry.record
    if not record.series or record.connection is None:
        raise InputError("rows of the calibration", "none", "kept with it")
    wired = wired_of(book, book.entry(record.connection, Connection))
    runs = arm_runs(wired, record)
    found = _fitted(record, runs, f"calibration@{entry.uid}")
    return WorkedOut(
        entry,
        wired.circuit,
        wired,
        runs,
        found,
        _terms(runs, found),
        found.force_per_reading * _arm_per_reading(wired, runs[0].reading[0]),
    )


def _arm_per_reading(wired: Wired, zero: float) -> float:
    """Change of the arm since the zero per unit of reading, at the zero, in SI."""
    per_unit = 1.0
    causes = Causes()
    for stage in (electrical.reading(wired, causes), electrical.bridge(wired, causes)):
        if stage is not None:
            numbers = dict(stage.parameters)
            slope, _ = kind_named(stage.kind).partials(np.zeros(1), numbers, {})
            per_unit *= float(slope[0])
    return per_unit / (1 + zero)


def _terms(runs: tuple[LoadSeries, ...], found: BarCalibration) -> Terms:
    rising = rising_readings(runs)
    first = runs[0]
    steps = first.force[: first.turn + 1]
    mean = np.mean(rising, axis=0)
    down = slice(first.turn, None)
    at = first.force[down]
    order = np.argsort(steps)
    up = np.interp(at, steps[order], first.relative[: first.turn + 1][order])
    several = len(runs) > 1
    none = np.full(steps.shape, math.nan)
    factor = found.lower_limit_factor
    return Terms(
        steps,
        calibration_terms.repeatability(rising[0], rising[1]) if several else none,
        calibration_terms.reproducibility(rising) if several else none,
        at[::-1],
        calibration_terms.reversibility(up, first.relative[down])[::-1],
        calibration_terms.interpolation_error(steps, found.fit.fitted(mean)),
        max((run.zero_shift / run.relative[run.turn] for run in runs), key=abs).item(),
        factor,
        calibration_terms.lowest_load(factor, "A").item(),
        calibration_terms.lowest_load(factor, "AA").item(),
    )


def bending_of(book: Book, worked: WorkedOut) -> Bending | None:
    """Bending in the machine from every single gauge read beside this one at the same section.

    None where nothing was read beside it, or its bridge takes bending out by its own wiring.

    Raises
    ------
    InputError
        If the gauges' angles can't tell bending from pull, or the bar's diameter is missing.
    """
    if len(worked.wired.gauges) != 1:
        return None
    beside = [
        other
        for other in _beside(book, worked)
        if len(other.wired.gauges) == 1
        and _distance(book, other.wired.gauge) == _distance(book, worked.wired.gauge)
    ]
    if len(beside) < 2:
        return None
    bar = worked.wired.bar.record
    if bar.diameter is None:
        raise InputError(f"diameter of {bar.label}", None, "recorded, to tell bending from pull")
    turn = worked.runs[0].turn
    largest = np.array([np.mean([r.relative[r.turn] for r in o.runs]) for o in beside])
    angles = np.array([_angle(book, other.wired.gauge) for other in beside])
    rising = np.stack([o.runs[0].relative[: turn + 1] for o in beside], axis=-1)
    share = axiality.bending_share(rising, angles, bar.diameter.value / 2)
    whole = axiality.bending_share(largest, angles, bar.diameter.value / 2)
    mine = next(n for n, other in enumerate(beside) if other.entry.uid == worked.entry.uid)
    axial = whole.axial.item()
    labels = tuple(other.wired.gauge.record.label for other in beside)
    return Bending(labels, share, whole.share.item(), float(largest[mine] / axial - 1))


def _beside(book: Book, worked: WorkedOut) -> list[WorkedOut]:
    """All calibrations of a bar at the instant of one, in order of circuits."""
    entries = [
        entry
        for entry in calibrations_of_bar(book, worked.wired.bar)
        if entry.record.measured == worked.entry.record.measured
    ]
    entries.sort(key=lambda entry: book.label(entry.record.of))
    return [
        worked if entry.uid == worked.entry.uid else worked_out(book, entry) for entry in entries
    ]


def _distance(book: Book, gauge: Entry[Gauge]) -> float:
    return book.station_of(gauge).record.distance_planned


def _angle(book: Book, gauge: Entry[Gauge]) -> float:
    station = book.station_of(gauge).record
    return station.angle_planned if station.angle_built is None else station.angle_built.value
