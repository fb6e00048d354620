"""Strain at the load that a question names, of each gauge and opposite pair it asks about."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from gaugewright.calc import onset
from gaugewright.calc.uncertainty import Uncertain, combination
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray
from gaugewright.records import Entry
from gaugewright.records.gauges import Gauge
from gaugewright.records.results import Result
from gaugewright.records.specimen import Question
from gaugewright.services.bars.together import opposite_pairs, quarter_circuits, usable
from gaugewright.services.campaign.states import state_of_gauge
from gaugewright.services.results import results as reduction_results
from gaugewright.services.strain.strains import Desk
from gaugewright.services.under_load.loads import clock_doubt, load_uncertain
from gaugewright.services.under_load.record import GaugeRecord, pair_record, single_record

__all__ = ["QUANTITY", "AtLoad", "strain_results", "strain_where_load_passes"]

QUANTITY = "strain"


@dataclass(frozen=True, slots=True)
class AtLoad:
    """Strain where the load passes what is asked, in the way of both; rows ``first`` to ``last``.

    ``slope`` is the rise of load over strain there [N], ``load`` the mean load of the rows [N].
    """

    strain: float
    slope: float
    load: float
    first: int
    last: int


def strain_results(desk: Desk) -> list[Result]:
    """Results for every question that asks for a strain at a load; gauges first, then pairs."""
    made: dict[str, Result] = {}
    for question in desk.book.of(Question):
        load = question.record.load
        if question.record.quantity != QUANTITY or not load:
            continue
        for record in _records(desk, question.record):
            result = _result(desk, record, load)
            made.setdefault(result.label, replace(result, question=question.uid))
    return list(made.values())


def strain_where_load_passes(load: FloatArray, strain: FloatArray, asked: float) -> AtLoad | str:
    """Strain where the load first passes ``asked`` for five scans in a row, or why there is none.

    The last scans before are moved to the load asked for along the local line, as loads at yield
    are to their strain, with load and strain in each other's place.

    Parameters
    ----------
    load : array, shape (n_samples,)
        In order of time, NaN where none was recorded [N].
    strain : array, shape (n_samples,)
        At the same instants [1].
    asked : float
        Load asked for; below zero it is passed downwards [N].

    Returns
    -------
    AtLoad or str
        In words why there is none.
    """
    loads = load * np.sign(asked)
    known = np.flatnonzero(np.isfinite(loads))
    if not known.size:
        return "no load was recorded together with this gauge"
    begin, end = int(known[0]), int(known[-1]) + 1
    index = onset.first_passage(loads[begin:end], abs(asked))
    if index is None:
        return f"not reached: the highest load is {np.nanmax(loads) / 1e3:.4g} kN"
    near = strain[begin + max(0, index - 5) : begin + index + 1]
    if not np.isfinite(near).any():
        return "no reading of it where the load is reached"
    way = -1.0 if np.nanmean(near) < 0 else 1.0
    try:
        found = onset.passage(way * strain[begin:end], loads[begin:end], abs(asked))
    except InputError as error:
        return f"no strain belongs to this load: {error}; look at this gauge's findings"
    if found is None or not np.isfinite(found.load):
        return "no reading of it where the load is reached"
    signed = float(np.sign(asked)) * way
    return AtLoad(
        way * found.load,
        signed * found.slope,
        float(np.sign(asked)) * found.strain,
        found.first + begin,
        found.last + begin,
    )


def _records(desk: Desk, question: Question) -> Iterator[GaugeRecord]:
    """Gauges and usable opposite pairs at the stations that a question names."""
    stations = set(question.stations)
    for circuit, gauge in quarter_circuits(desk):
        if gauge.record.station in stations:
            yield single_record(desk, circuit, gauge)
    for circuits, gauges in opposite_pairs(desk):
        if {gauge.record.station for gauge in gauges} <= stations:
            yield pair_record(desk, circuits, gauges)


def _result(desk: Desk, record: GaugeRecord, load: float) -> Result:
    words = f"{load / 1e3:g} kN"
    found = _why_not(desk, record.gauges) or strain_where_load_passes(
        record.load, record.strain, load
    )
    return reduction_results.result_of(
        desk.book,
        _uncertain(desk, record, found) if isinstance(found, AtLoad) else None,
        label=f"{QUANTITY} {record.label} at {words}",
        quantity=QUANTITY,
        unit="1",
        criterion=f"strain where the load first passes {words} for five scans in a row",
        subjects=tuple(gauge.uid for gauge in record.gauges),
        circuits=tuple(circuit.uid for circuit in record.circuits),
        zero=f"zero {record.zero.value}",
        note="" if isinstance(found, AtLoad) else found,
    )


def _why_not(desk: Desk, gauges: tuple[Entry[Gauge], ...]) -> str:
    """Why nothing is told of gauges that can't be believed."""
    bad = [gauge for gauge in gauges if not usable(desk, gauge)]
    return f"{state_of_gauge(desk.book, bad[0]).value}: no value is given" if bad else ""


def _uncertain(desk: Desk, record: GaugeRecord, found: AtLoad) -> Uncertain:
    """The strain with what it owes itself, and what is open of the load it was read at."""
    rows = np.arange(found.first, found.last)
    at = np.asarray([found.load])
    clock = clock_doubt(desk, record.parts[0], rows[:1].astype(np.float64), at)
    return combination(
        np.asarray(found.strain),
        [
            (record.mean(rows), 1.0),
            (load_uncertain(desk, at)[0], -1 / found.slope),
            (clock[0], -1 / found.slope),
        ],
    )
