"""Tables an archive gives: gauges, results and everything they stand on, from the records."""

from collections.abc import Callable, Iterable, Iterator
from typing import Any

from gaugewright.records import Entry
from gaugewright.records.electrical import BridgeCircuit, Channel, Connection
from gaugewright.records.gauges import Gauge
from gaugewright.records.identity import Uid
from gaugewright.records.proof import GateCheck, Person, Zero
from gaugewright.records.readings import ClockMap, Event, Finding, Recording
from gaugewright.records.results import Chain, Result
from gaugewright.records.stated import Stated
from gaugewright.services.archiving.table import Cell, Column, Table
from gaugewright.services.campaign.book import Book
from gaugewright.services.campaign.states import state_of_gauge

__all__ = ["key_tables"]


def key_tables(book: Book) -> tuple[Table, ...]:
    """Gauges, results and what they stand on, as the records have them now."""
    return tuple(
        Table(name, title, columns, tuple(rows(book)), key)
        for name, title, columns, rows, key in _TABLES
    )


def _names(book: Book, uids: Iterable[Uid]) -> str:
    return "; ".join(book.label(uid) for uid in uids)


def _doubt(stated: Stated | None) -> tuple[float | None, float | None, str]:
    """Value, plus-minus and what the plus-minus means."""
    if stated is None:
        return None, None, ""
    meaning = "" if stated.plus_minus is None else stated.meaning.value
    return stated.value, stated.plus_minus, meaning


def _which(entry: Entry[Any]) -> tuple[str, int]:
    return entry.uid, entry.version


_WHICH = (
    Column("uid", "string", "identity of the record in the journal"),
    Column("version", "integer", "version of the record that stands here"),
)


def _stated_columns(name: str, meaning: str, unit: str) -> tuple[Column, Column, Column]:
    return (
        Column(name, "number", meaning, unit),
        Column(f"{name}_plus_minus", "number", f"doubt of it, as stated: {meaning}", unit),
        Column(f"{name}_plus_minus_means", "string", "what the doubt is: k=1, k=2, limit, unknown"),
    )


_GAUGE_COLUMNS = (
    Column("gauge", "string", "label of the gauge"),
    Column("state", "string", "sound, watch, repair, doubtful, lost or not yet"),
    Column("station", "string", "label of the place it sits at"),
    Column("bar", "string", "bar or other piece of metal under it"),
    Column("datum", "string", "where the distance is counted from"),
    Column("distance_planned", "number", "distance from the datum, as planned", "m"),
    *_stated_columns("distance_built", "distance from the datum, as built", "m"),
    Column("angle_planned", "number", "clock angle round the bar, as planned", "rad"),
    *_stated_columns("angle_built", "clock angle round the bar, as built", "rad"),
    Column("angle_to_axis", "number", "angle of the grid to the axis of the bar", "rad"),
    Column("opposite", "string", "gauge on the other side of the bar"),
    Column("pack", "string", "pack it came from"),
    Column("lot", "string", "lot of the pack"),
    *_stated_columns("gauge_resistance", "resistance by the card", "ohm"),
    *_stated_columns("gauge_factor", "gauge factor by the card", "1"),
    Column("grid_length", "number", "active length of the grid", "m"),
    *_WHICH,
)


def _gauges(book: Book) -> Iterator[tuple[Cell, ...]]:
    for entry in book.of(Gauge):
        station, pack = book.station_of(entry).record, book.pack_of(entry).record
        opposite = entry.record.opposite
        yield (
            entry.record.label,
            state_of_gauge(book, entry).value,
            station.label,
            book.label(station.bar),
            station.datum,
            station.distance_planned,
            *_doubt(station.distance_built),
            station.angle_planned,
            *_doubt(station.angle_built),
            entry.record.angle_to_axis,
            "" if opposite is None else book.label(opposite),
            pack.label,
            pack.lot,
            *_doubt(pack.gauge_resistance),
            *_doubt(pack.gauge_factor),
            pack.grid_length,
            *_which(entry),
        )


_RESULT_COLUMNS = (
    Column("result", "string", "label of the result"),
    Column("quantity", "string", "what was found"),
    Column("value", "number", "best estimate, in the unit of the row; empty where there is none"),
    Column("expanded_uncertainty", "number", "half of the interval, in the unit of the row"),
    Column("coverage", "number", "probability that the interval was made for", "1"),
    Column("unit", "string", "unit of value and uncertainty (SI)"),
    Column("criterion", "string", "by which rule it was found"),
    Column("gauges", "string", "gauges or other records it speaks of, with '; ' between them"),
    Column("zero", "string", "which zero it counts from"),
    Column("main_cause", "string", "largest cause of the uncertainty"),
    Column("note", "string", "why there is no value, or what else to know"),
    Column("question", "string", "question of the campaign that it answers"),
    Column("software", "string", "what worked it out"),
    *_WHICH,
)


def _results(book: Book) -> Iterator[tuple[Cell, ...]]:
    for entry in book.of(Result):
        told = entry.record
        yield (
            told.label,
            told.quantity,
            told.value,
            told.expanded_uncertainty,
            told.coverage,
            told.unit,
            told.criterion,
            _names(book, told.subjects),
            told.zero,
            told.main_cause,
            told.note,
            "" if told.question is None else book.label(told.question),
            told.software,
            *_which(entry),
        )


_BUDGET_COLUMNS = (
    Column("result", "string", "label of the result"),
    Column("number", "integer", "place in the budget, the largest cause first"),
    Column("cause", "string", "what is not known well"),
    Column("basis", "string", "measured, stated, calculated or assumed"),
    Column("distribution", "string", "how it is spread"),
    Column("standard_uncertainty", "number", "of the cause, in its own SI unit"),
    Column("sensitivity", "number", "change of the result per unit of the cause"),
    Column("degrees_of_freedom", "number", "empty when unlimited"),
    Column("value", "number", "best estimate of what the cause disturbs, where it is one number"),
    Column("quantity", "string", "quantity of that value"),
    Column("source_uid", "string", "record it came from"),
    Column("source_version", "integer", "version of that record"),
    Column("uid", "string", "identity of the result"),
)


def _budgets(book: Book) -> Iterator[tuple[Cell, ...]]:
    for entry in book.of(Result):
        for number, line in enumerate(entry.record.budget, 1):
            yield (
                entry.record.label,
                number,
                line.meaning,
                line.basis,
                line.distribution,
                line.standard_uncertainty,
                line.sensitivity,
                line.degrees_of_freedom,
                line.value,
                line.quantity,
                None if line.source is None else line.source.uid,
                None if line.source is None else line.source.version,
                entry.uid,
            )


_CHAIN_COLUMNS = (
    Column("chain", "string", "label of the chain of corrections"),
    Column("circuit", "string", "circuit whose readings it corrects"),
    Column("stage", "string", "kind and number of the stage a parameter belongs to"),
    Column("parameter", "string", "name of the parameter"),
    Column("basis", "string", "measured, stated, calculated or assumed"),
    Column("from", "string", "where it came from, in words"),
    Column("source_uid", "string", "record it came from"),
    Column("source_version", "integer", "version of that record"),
    *_WHICH,
)


def _chains(book: Book) -> Iterator[tuple[Cell, ...]]:
    for entry in book.of(Chain):
        for one in entry.record.sources:
            yield (
                entry.record.label,
                book.label(entry.record.circuit),
                one.stage,
                one.parameter,
                one.basis,
                one.words,
                None if one.source is None else one.source.uid,
                None if one.source is None else one.source.version,
                *_which(entry),
            )


_ZERO_COLUMNS = (
    Column("circuit", "string", "circuit it was read of"),
    Column("zero", "string", "state of the specimen it was taken in"),
    Column("measured", "datetime", "when, in UTC"),
    *_stated_columns("bridge_ratio", "ratio of the bridge then", "1"),
    *_stated_columns("temperature_degc", "temperature then, in degrees Celsius", "degC"),
    *_stated_columns("transfer", "doubt for carrying it to later connections", "1"),
    Column("recording", "string", "recording it was read from"),
    *_WHICH,
)


def _zeros(book: Book) -> Iterator[tuple[Cell, ...]]:
    for entry in book.of(Zero):
        told = entry.record
        connection = book.entry(told.connection, Connection).record
        yield (
            book.label(connection.subject),
            told.kind.value,
            told.measured,
            *_doubt(told.bridge_ratio),
            *_doubt(told.temperature),
            *_doubt(told.transfer),
            "" if told.recording is None else book.label(told.recording),
            *_which(entry),
        )


_RECORDING_COLUMNS = (
    Column("recording", "string", "label of the recording; its folder is readings/ and its uid"),
    Column("file", "string", "name of the file as received"),
    Column("original_sha256", "string", "SHA-256 of its bytes"),
    Column("rows", "integer", "rows kept"),
    Column("rows_reported", "integer", "rows not kept, each told of at import"),
    Column("first_stamp", "string", "first time in the file, as written"),
    Column("clock", "string", "clock that stamped it"),
    Column("epoch", "datetime", "instant that elapsed zero stands for, before the offset"),
    Column("offset", "number", "added to the epoch", "s"),
    Column("offset_plus_minus", "number", "doubt of the offset", "s"),
    Column("rate", "number", "time of campaign = offset + (1 + rate) x elapsed", "1"),
    Column("joined", "string", "how the clocks were joined"),
    *_WHICH,
)


def _recordings(book: Book) -> Iterator[tuple[Cell, ...]]:
    maps = {entry.record.recording: entry.record for entry in book.of(ClockMap)}
    for entry in book.of(Recording):
        told, joined = entry.record, maps.get(entry.uid)
        clock: tuple[Cell, ...] = (None, None, None, None, "")
        if joined is not None:
            offset = joined.offset
            clock = (joined.epoch, offset.value, offset.plus_minus, joined.rate, joined.method)
        yield (
            told.label,
            told.file_name,
            told.original_sha256,
            told.rows,
            told.rows_reported,
            told.first_stamp,
            book.label(told.clock),
            *clock,
            *_which(entry),
        )


_COLUMN_COLUMNS = (
    Column("recording", "string", "label of the recording"),
    Column("column", "string", "name in the file as received"),
    Column("field", "string", "name in the Parquet parts"),
    Column("unit", "string", "unit of its numbers, as in the file"),
    Column("role", "string", "value, time or text"),
    Column("channel", "string", "channel of the recorder that wrote it"),
    Column("uid", "string", "identity of the recording"),
)


def _columns(book: Book) -> Iterator[tuple[Cell, ...]]:
    for entry in book.of(Recording):
        for column in entry.record.columns:
            channel = book.channel_of_column(entry, column.name)
            yield (
                entry.record.label,
                column.name,
                column.field,
                column.unit,
                column.role,
                "" if channel is None else channel.record.label,
                entry.uid,
            )


_CONNECTION_COLUMNS = (
    Column("subject", "string", "circuit, sensor or temperature point"),
    Column("channel", "string", "channel it was on"),
    Column("begins", "datetime", "from this instant on"),
    Column("ends", "datetime", "up to this instant; empty while it stands"),
    Column("gauges", "string", "gauges of the circuit, with '; ' between them"),
    *_WHICH,
)


def _connections(book: Book) -> Iterator[tuple[Cell, ...]]:
    circuits = {entry.uid: entry for entry in book.of(BridgeCircuit)}
    for entry in book.of(Connection):
        told = entry.record
        circuit = circuits.get(told.subject)
        gauges = () if circuit is None else book.gauges_of(circuit)
        yield (
            book.label(told.subject),
            book.entry(told.channel, Channel).record.label,
            told.begins,
            told.ends,
            _names(book, (gauge.uid for gauge in gauges)),
            *_which(entry),
        )


_GATE_COLUMNS = (
    Column("gauge", "string", "label of the gauge"),
    Column("gate", "string", "gate it was read at"),
    Column("verdict", "string", "verdict of the whole check"),
    Column("reading", "string", "which reading"),
    Column("value", "number", "value or bound, in the coherent unit of the reading"),
    Column("bound", "string", "exact, above, below or open"),
    Column("typed", "string", "as it was typed"),
    Column("temperature_degc", "number", "temperature then, in degrees Celsius", "degC"),
    Column("measured", "datetime", "when, in UTC"),
    Column("meter", "string", "meter it was read with"),
    Column("person", "string", "who did the check"),
    *_WHICH,
)


def _gates(book: Book) -> Iterator[tuple[Cell, ...]]:
    for entry in book.of(GateCheck):
        for reading in entry.record.readings:
            yield (
                book.label(entry.record.gauge),
                entry.record.gate.value,
                entry.record.verdict.value,
                reading.what,
                reading.value,
                reading.censor.value,
                reading.typed,
                reading.temperature_degc,
                reading.measured,
                book.label(reading.meter),
                book.label(entry.record.person),
                *_which(entry),
            )


_FINDING_COLUMNS = (
    Column("subject", "string", "gauge or other record that looks wrong"),
    Column("kind", "string", "what looks wrong, in one word"),
    Column("meaning", "string", "note, doubtful or lost"),
    Column("decision", "string", "open, accepted, excluded or rejected"),
    Column("reason", "string", "why it was decided so"),
    Column("sentence", "string", "what was seen"),
    Column("measured", "number", "number that was seen, in the unit of the row"),
    Column("limit", "number", "limit it was held to, in the unit of the row"),
    Column("unit", "string", "unit of both"),
    Column("recording", "string", "recording it was seen in"),
    Column("first_row", "integer", "first row, counted from 0"),
    Column("last_row", "integer", "last row, included"),
    *_WHICH,
)


def _findings(book: Book) -> Iterator[tuple[Cell, ...]]:
    for entry in book.of(Finding):
        told = entry.record
        yield (
            book.label(told.subject),
            told.code,
            told.severity.value,
            told.decision.value,
            told.reason,
            told.sentence,
            told.measured,
            told.limit,
            told.unit,
            "" if told.recording is None else book.label(told.recording),
            told.first_row,
            told.last_row,
            *_which(entry),
        )


_EVENT_COLUMNS = (
    Column("at", "datetime", "when, in UTC"),
    Column("kind", "string", "what kind of event"),
    Column("text", "string", "what happened, in words"),
    Column("subject", "string", "record it is about"),
    *_WHICH,
)


def _events(book: Book) -> Iterator[tuple[Cell, ...]]:
    for entry in book.of(Event):
        subject = entry.record.subject
        yield (
            entry.record.at,
            entry.record.kind,
            entry.record.text,
            "" if subject is None else book.label(subject),
            *_which(entry),
        )


_PERSON_COLUMNS = (
    Column("label", "string", "initials or short name"),
    Column("name", "string", "name"),
    Column("role", "string", "what they do in the campaign"),
    *_WHICH,
)


def _people(book: Book) -> Iterator[tuple[Cell, ...]]:
    for entry in book.of(Person):
        yield entry.record.label, entry.record.name, entry.record.role, *_which(entry)


_Rows = Callable[[Book], Iterator[tuple[Cell, ...]]]
_UID = ("uid",)
_TABLES: tuple[tuple[str, str, tuple[Column, ...], _Rows, tuple[str, ...]], ...] = (
    ("gauges", "Gauges, where they sit and what their cards say", _GAUGE_COLUMNS, _gauges, _UID),
    ("results", "Results with their uncertainty", _RESULT_COLUMNS, _results, _UID),
    ("budgets", "Causes of each uncertainty", _BUDGET_COLUMNS, _budgets, ("uid", "number")),
    (
        "chains",
        "Parameters of the corrections and their sources",
        _CHAIN_COLUMNS,
        _chains,
        ("uid", "stage", "parameter"),
    ),
    ("zeros", "Zeros", _ZERO_COLUMNS, _zeros, _UID),
    ("recordings", "Recordings and their clocks", _RECORDING_COLUMNS, _recordings, _UID),
    ("columns", "Columns of the recordings", _COLUMN_COLUMNS, _columns, ("uid", "field")),
    ("connections", "What was on which channel, when", _CONNECTION_COLUMNS, _connections, _UID),
    ("gate-readings", "Readings at the gates", _GATE_COLUMNS, _gates, ()),
    ("findings", "What looked wrong, and what was decided", _FINDING_COLUMNS, _findings, _UID),
    ("events", "Events", _EVENT_COLUMNS, _events, _UID),
    ("people", "People", _PERSON_COLUMNS, _people, _UID),
)
