"""What was done at the bench: gauges against steps, each step in full, supplies and expiry."""

from datetime import datetime
from zoneinfo import ZoneInfo

from gaugewright.records import Entry
from gaugewright.records.gauges import BenchStep, Gauge, Protection, Supply
from gaugewright.records.identity import Uid
from gaugewright.records.proof import Person
from gaugewright.services.bench.unread import unread
from gaugewright.services.campaign.book import Book
from gaugewright.services.showing.listings import Cell, Column, Listing

__all__ = ["bench_lists", "steps_known"]


def bench_lists(book: Book, zone: ZoneInfo) -> tuple[Listing, ...]:
    """Every list of the bench; moments are those of the campaign's own zone."""
    done = sorted(book.of(BenchStep), key=lambda entry: entry.record.begun)
    return (
        _sheet(book, done, zone),
        _parked(book, done, zone),
        _unread(book, zone),
        _supplies(book, done, zone),
        _covers(book),
        _steps(book, done, zone),
    )


def steps_known(done: list[Entry[BenchStep]]) -> tuple[str, ...]:
    """Names of steps in the order in which they were first begun."""
    return tuple(dict.fromkeys(entry.record.step for entry in done))


def _sheet(book: Book, done: list[Entry[BenchStep]], zone: ZoneInfo) -> Listing:
    """Gauges down, steps across: day, hour and who; the latest where one was done again."""
    steps = steps_known(done)
    of_gauge: dict[Uid, dict[str, list[BenchStep]]] = {}
    for entry in done:
        mine = of_gauge.setdefault(entry.record.gauge, {})
        mine.setdefault(entry.record.step, []).append(entry.record)
    rows = tuple(
        (
            gauge.record.label,
            *(_in_sheet(book, of_gauge.get(gauge.uid, {}).get(step, []), zone) for step in steps),
        )
        for gauge in book.of(Gauge)
    )
    return Listing(
        "sheet",
        "Gauges and steps",
        (Column("gauge"), *(Column(step) for step in steps)),
        rows if steps else (),
        "Gauges will stand here against the steps done for them.",
        "When each step began and whose it was; an open place: not written down.",
    )


def _in_sheet(book: Book, done: list[BenchStep], zone: ZoneInfo) -> str:
    if not done:
        return ""
    last = done[-1]
    local = last.begun.astimezone(zone)
    words = f"{local.day} {local:%b %H:%M}, {book.label(last.person)}"
    if last.parked:
        return f"parked since {words}"
    words += "" if last.ended else ", not ended"
    return words if len(done) == 1 else f"{words}, done {len(done)} times"


def _parked(book: Book, done: list[Entry[BenchStep]], zone: ZoneInfo) -> Listing:
    """Steps put aside that nobody has done since."""
    rows = tuple(
        (
            book.label(entry.record.gauge),
            entry.record.step,
            entry.record.parked,
            _moment(entry.record.begun, zone),
            _person(book, entry.record.person),
        )
        for entry in done
        if entry.record.parked and not _done_since(done, entry.record)
    )
    return Listing(
        "parked",
        "Put aside",
        (Column("gauge"), Column("step"), Column("reason"), Column("since"), Column("by")),
        rows,
        "No step is put aside.",
    )


def _unread(book: Book, zone: ZoneInfo) -> Listing:
    """Readings that a step is done for and that nobody took."""
    rows = tuple(
        (
            one.gauge.record.label,
            one.entry.record.step,
            ", ".join(one.entry.record.not_read),
            _moment(one.entry.record.begun, zone),
            _person(book, one.entry.record.person),
        )
        for one in unread(book)
    )
    return Listing(
        "unread",
        "Not read",
        (Column("gauge"), Column("step"), Column("not read"), Column("begun"), Column("by")),
        rows,
        "No step was kept without what it is done for.",
    )


def _done_since(done: list[Entry[BenchStep]], parked: BenchStep) -> bool:
    return any(
        entry.record.gauge == parked.gauge
        and entry.record.step == parked.step
        and not entry.record.parked
        and entry.record.begun >= parked.begun
        for entry in done
    )


def _supplies(book: Book, done: list[Entry[BenchStep]], zone: ZoneInfo) -> Listing:
    rows: list[tuple[Cell, ...]] = []
    for entry in book.of(Supply):
        used = [step.record for step in done if entry.uid in step.record.supplies]
        record = entry.record
        last = max((step.ended or step.begun for step in used), default=None)
        rows.append(
            (
                record.label,
                record.what,
                record.batch,
                record.expires.isoformat() if record.expires else "not stated",
                len(used),
                "" if last is None else _moment(last, zone),
                _expiry(book, record, used, zone),
            )
        )
    return Listing(
        "supplies",
        "Supplies",
        (
            Column("supply"),
            Column("what"),
            Column("batch"),
            Column("best before"),
            Column("steps"),
            Column("last used"),
            Column("in date when used"),
        ),
        tuple(rows),
        "Supplies will stand here: what was used, of which batch, and until when it is good.",
    )


def _expiry(book: Book, supply: Supply, used: list[BenchStep], zone: ZoneInfo) -> str:
    if not used:
        return "not used yet"
    expires = supply.expires
    if expires is None:
        return "can’t be told: no date"
    late = [step for step in used if step.begun.astimezone(zone).date() > expires]
    if not late:
        return "yes"
    gauges = dict.fromkeys(book.label(step.gauge) for step in late)
    return "no: used after it for " + ", ".join(gauges)


def _covers(book: Book) -> Listing:
    rows = tuple(
        (
            book.label(entry.record.gauge),
            ", ".join(entry.record.layers),
            entry.record.covered_length,
            "all round the bar" if entry.record.full_wrap else "over the gauge",
        )
        for entry in book.of(Protection)
    )
    return Listing(
        "covers",
        "Protection",
        (
            Column("gauge"),
            Column("layers, from the metal out"),
            Column("covered", "covered_length"),
            Column("how far round"),
        ),
        rows,
        "What covers each gauge will stand here, layer by layer.",
    )


def _steps(book: Book, done: list[Entry[BenchStep]], zone: ZoneInfo) -> Listing:
    rows = tuple(_step_row(book, entry.record, zone) for entry in done)
    return Listing(
        "steps",
        "Every step",
        (
            Column("gauge"),
            Column("step"),
            Column("begun"),
            Column("ended"),
            Column("by"),
            Column("supplies"),
            Column("air", "temperature_degc"),
            Column("humidity [%]"),
            Column("parked because"),
            Column("note"),
        ),
        rows,
        "Steps at the bench will stand here: who did what, when, with which batch.",
    )


def _step_row(book: Book, step: BenchStep, zone: ZoneInfo) -> tuple[Cell, ...]:
    supplies = [book.entry(uid, Supply).record for uid in step.supplies]
    return (
        book.label(step.gauge),
        step.step,
        _moment(step.begun, zone),
        _moment(step.ended, zone) if step.ended else "not ended",
        _person(book, step.person),
        "; ".join(f"{one.what}, batch {one.batch}" for one in supplies),
        step.temperature_degc,
        None if step.humidity is None else 100 * step.humidity,
        step.parked,
        step.note,
    )


def _person(book: Book, uid: Uid) -> str:
    return book.entry(uid, Person).record.name


def _moment(instant: datetime, zone: ZoneInfo) -> str:
    return f"{instant.astimezone(zone):%Y-%m-%d %H:%M}"
