"""Where a number came from, step by step: result, chain, readings, gates, person, time."""

import json
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from typing import Any

from gaugewright.errors import InputError
from gaugewright.present.captions import listed
from gaugewright.records import Entry, kind_said, label_of
from gaugewright.records.electrical import (
    BridgeCircuit,
    Channel,
    ChannelSetting,
    Connection,
    Instrument,
)
from gaugewright.records.gauges import BenchStep, Gauge, GaugePack
from gaugewright.records.identity import Ref, Uid
from gaugewright.records.proof import GateCheck, Person, Signature, Zero
from gaugewright.records.readings import ClockMap, Finding, Recording
from gaugewright.records.results import Chain, Result
from gaugewright.records.specimen import Question, Station
from gaugewright.services.campaign.book import Book
from gaugewright.services.showing.listings import Column, Listing
from gaugewright.services.showing.page import Page
from gaugewright.services.wiring.lists import setting_words

__all__ = ["Trail", "short_id", "trail_of"]

ID_LENGTH = 8
_COLUMNS = (
    Column("record"),
    Column("which"),
    Column("by"),
    Column("written"),
    Column("id, version"),
    Column("told"),
)


@dataclass(frozen=True, slots=True)
class Trail:
    """What a number stands on; each list is a step nearer to the readings.

    ``result`` is None for numbers told of a gauge that are worked out when they are asked for,
    such as its first cracking: then the trail is that of the gauge's strain.
    """

    title: str
    id: str
    steps: tuple[Listing, ...]
    result: Entry[Result] | None = None


def short_id(uid: Uid) -> str:
    """End of a uid: what is printed beside a number.

    Examples
    --------
    >>> short_id(Uid("01M4WFY1R000000000000000V3"))
    '000000V3'
    """
    return uid[-ID_LENGTH:]


def trail_of(page: Page, typed: str) -> Trail:
    """Follow a number back to raw: by uid, the id printed beside it, its label, or its gauge.

    Raises
    ------
    InputError
        If no result and no gauge is meant, or more than one.
    """
    rows, wanted = _Rows(page), " ".join(typed.split())
    gauge = next((g for g in page.book.of(Gauge) if g.record.label == wanted), None)
    if gauge is not None:
        chains = [c for c in page.book.of(Chain) if gauge in _on_circuit(page.book, c)]
        return Trail(f"Strain at {wanted}", wanted, _below(page, rows, chains, [gauge]))
    entry = _result(page, typed)
    chains = [page.desk.store.entry(ref.uid, ref.version) for ref in entry.record.chains]
    steps = (
        _step("result", "The number", rows.of([entry, *_question(page.book, entry.record)])),
        _step("signatures", "Who signed it", rows.of(_signatures(page.book, entry.ref))),
        _step("budget", "What its uncertainty came from", rows.of(_sources(page, entry.record))),
        *_below(page, rows, chains, _gauges(page.book, entry.record)),
    )
    return Trail(entry.record.label, short_id(entry.uid), steps, entry)


def _on_circuit(book: Book, chain: Entry[Chain]) -> tuple[Entry[Gauge], ...]:
    circuit = book.found(chain.record.circuit)
    return () if circuit is None else book.gauges_of(circuit)


def _below(
    page: Page, rows: "_Rows", chains: list[Entry[Chain]], gauges: list[Entry[Gauge]]
) -> tuple[Listing, ...]:
    """What chains and gauges stand on."""
    connections = _connections(page.book, chains)
    return (
        _step("chains", "How readings became this", rows.of(chains)),
        _step("channels", "What was on which channel", rows.of(_wired(page.book, connections))),
        _step("zeros", "Zeros", rows.of(_zeros(page.book, connections))),
        _step("readings", "Files as received", rows.of(_recordings(page.book, connections))),
        _step("gauges", "Gauges, their places and packs", rows.of(_placed(page.book, gauges))),
        _step("gates", "Proof at the gates", rows.of(_gates(page.book, gauges))),
        _step("bench", "At the bench", rows.of(_bench(page.book, gauges))),
        _step("findings", "What looked wrong", rows.of(_findings(page.book, gauges))),
    )


def _step(key: str, title: str, rows: tuple[tuple[str, ...], ...]) -> Listing:
    return Listing(key, title, _COLUMNS, rows, "Nothing is recorded.")


def _result(page: Page, typed: str) -> Entry[Result]:
    wanted = " ".join(typed.split())
    results = page.book.of(Result)
    tail = wanted.upper()
    by_id = [e for e in results if len(tail) >= 4 and e.uid.endswith(tail)]
    # An answer names its parts without what they all are: "L3-M-T with L3-M-U at 160 kN".
    ends = [e for e in results if wanted and e.record.label.endswith(f" {wanted}")]
    found = by_id or [e for e in results if e.record.label == wanted] or ends
    if not found and len(tail) >= 4:
        # Printed in a report before a later reduction took the number back.
        found = [e for e in _taken_back(page) if e.uid.endswith(tail)]
    if len(found) == 1:
        return found[0]
    some = listed([f"{e.record.label} ({short_id(e.uid)})" for e in (found or results)], most=6)
    allowed = "an id or label of one result" if not found else "more of its characters"
    raise InputError("result", typed, allowed, f"such as: {some}" if results else "reduce first")


def _taken_back(page: Page) -> list[Entry[Result]]:
    every = page.desk.store.written_after(0)
    return [entry for entry in every if entry.withdrawn and isinstance(entry.record, Result)]


class _Rows:
    """Records as rows: what each is, what it says in short, who wrote this version and when."""

    def __init__(self, page: Page) -> None:
        self._page = page

    def of(self, entries: Iterable[Entry[Any]]) -> tuple[tuple[str, ...], ...]:
        """A row for each record, none twice."""
        made: dict[tuple[Uid, int], tuple[str, ...]] = {}
        for entry in entries:
            made.setdefault((entry.uid, entry.version), self._row(entry))
        return tuple(made.values())

    def _row(self, entry: Entry[Any]) -> tuple[str, ...]:
        person = entry.person
        name = "" if person is None else self._page.book.entry(person, Person).record.name
        return (
            kind_said(entry.record),
            label_of(entry.record) or self._about(entry.record),
            name or "nobody named",
            self._page.moment(entry.at),
            f"{short_id(entry.uid)}, {entry.version}",
            f"{self._says(entry.record)}{'; taken back since' if entry.withdrawn else ''}",
        )

    def _about(self, record: Any) -> str:
        for name in ("gauge", "subject", "connection", "recording", "person"):
            uid = getattr(record, name, None)
            if uid is not None:
                label = self._page.book.label(uid)
                found = self._page.book.found(uid)
                if found is not None and isinstance(found.record, Connection):
                    return self._page.book.label(found.record.subject)
                return label
        return ""

    def _says(self, record: Any) -> str:
        say = _SAYS.get(type(record))
        return (say(self._page, record) if say is not None else "") or "as written"


def _say_result(page: Page, record: Result) -> str:
    shown = page.result(record)
    value = record.note if shown is None else shown.text
    return f"{value}; {record.criterion}; {record.zero}".rstrip("; ")


def _say_recording(page: Page, record: Recording) -> str:
    kept = f"{record.rows} rows kept, {record.rows_reported} reported"
    return f"file {record.file_name}, SHA-256 {record.original_sha256[:16]}…, {kept}"


def _say_connection(page: Page, record: Connection) -> str:
    until = "still there" if record.ends is None else page.moment(record.ends)
    return f"{page.moment(record.begins)} to {until}"


def _say_zero(page: Page, record: Zero) -> str:
    ratio = page.stated("bridge_ratio", record.bridge_ratio).text
    return f"{record.kind.value}: {ratio}, {page.moment(record.measured)}"


def _say_chain(page: Page, record: Chain) -> str:
    stages = json.loads(record.stages)["stages"]
    on = [stage["kind"].partition("@")[0] for stage in stages if stage["on"]]
    return f"{len(on)} of {len(stages)} corrections on: {', '.join(on)}"


# What each kind of record says in short.
_SAYS: dict[type, Callable[[Page, Any], str]] = {
    BenchStep: lambda page, record: record.step,
    BridgeCircuit: lambda page, record: record.topology.value,
    Chain: _say_chain,
    Channel: lambda page, record: f"column {record.column} of its files",
    ChannelSetting: lambda page, record: setting_words(record, page.system),
    ClockMap: lambda page, record: record.method,
    Connection: _say_connection,
    Finding: lambda page, record: f"{record.sentence} ({record.decision.value})",
    GateCheck: lambda page, record: f"{record.gate.value}: {record.verdict.value}; {record.reason}",
    GaugePack: lambda page, record: f"lot {record.lot}",
    Instrument: lambda page, record: record.certificate or "no certificate told",
    Question: lambda page, record: record.text,
    Recording: _say_recording,
    Result: _say_result,
    Signature: lambda page, record: f"{record.statement}; {page.moment(record.signed)}",
    Station: lambda page, record: f"from the {record.datum}",
    Zero: _say_zero,
}


def _question(book: Book, result: Result) -> Iterator[Entry[Any]]:
    found = None if result.question is None else book.found(result.question)
    if found is not None:
        yield found


def _signatures(book: Book, ref: Ref) -> list[Entry[Signature]]:
    return [entry for entry in book.of(Signature) if ref in entry.record.of]


def _sources(page: Page, result: Result) -> list[Entry[Any]]:
    """Versions of the records that the causes in the budget came from, the largest first."""
    refs = dict.fromkeys(line.source for line in result.budget if line.source is not None)
    return [page.desk.store.entry(ref.uid, ref.version) for ref in refs]


def _connections(book: Book, chains: list[Entry[Chain]]) -> list[Entry[Connection]]:
    uids = dict.fromkeys(chain.record.connection for chain in chains)
    return [found for uid in uids if (found := book.found(uid)) is not None]


def _gauges(book: Book, result: Result) -> list[Entry[Gauge]]:
    found: list[Entry[Gauge]] = []
    for uid in result.subjects:
        entry = book.found(uid)
        if entry is not None and isinstance(entry.record, Gauge):
            found.append(entry)
        elif entry is not None and isinstance(entry.record, BridgeCircuit):
            found += book.gauges_of(entry)
    return found


def _wired(book: Book, connections: list[Entry[Connection]]) -> Iterator[Entry[Any]]:
    for connection in connections:
        yield connection
        circuit = book.found(connection.record.subject)
        if circuit is not None:
            yield circuit
        channel = book.entry(connection.record.channel, Channel)
        yield channel
        yield book.setting_of(connection)
        yield book.entry(channel.record.instrument, Instrument)


def _zeros(book: Book, connections: list[Entry[Connection]]) -> list[Entry[Zero]]:
    """Zeros taken on these connections, and those carried to them."""
    uids = {connection.uid for connection in connections}
    return [
        entry
        for entry in book.of(Zero)
        if entry.record.connection in uids or uids & set(entry.record.carried_to)
    ]


def _recordings(book: Book, connections: list[Entry[Connection]]) -> Iterator[Entry[Any]]:
    """Recordings of the instruments, with the joining of their clocks."""
    instruments = {book.entry(c.record.channel, Channel).record.instrument for c in connections}
    for entry in book.of(Recording):
        if entry.record.instrument in instruments:
            yield entry
            yield from (m for m in book.of(ClockMap) if m.record.recording == entry.uid)


def _placed(book: Book, gauges: list[Entry[Gauge]]) -> Iterator[Entry[Any]]:
    for gauge in gauges:
        yield gauge
        yield book.station_of(gauge)
        yield book.pack_of(gauge)
        yield book.bar_of(gauge)
        yield book.material_of(gauge)


def _gates(book: Book, gauges: list[Entry[Gauge]]) -> list[Entry[GateCheck]]:
    uids = {gauge.uid for gauge in gauges}
    return [entry for entry in book.of(GateCheck) if entry.record.gauge in uids]


def _bench(book: Book, gauges: list[Entry[Gauge]]) -> list[Entry[BenchStep]]:
    uids = {gauge.uid for gauge in gauges}
    return [entry for entry in book.of(BenchStep) if entry.record.gauge in uids]


def _findings(book: Book, gauges: list[Entry[Gauge]]) -> list[Entry[Finding]]:
    uids = {gauge.uid for gauge in gauges}
    return [entry for entry in book.of(Finding) if entry.record.subject in uids]
