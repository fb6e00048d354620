"""Zeros of everything that was plugged in, taken from one quiet stretch."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime

from gaugewright.errors import InputError
from gaugewright.records import Entry
from gaugewright.records.electrical import BridgeCircuit, Channel, Connection
from gaugewright.records.identity import Uid
from gaugewright.records.proof import Zero, ZeroKind
from gaugewright.services.campaign.book import Book
from gaugewright.services.zeros import zeros
from gaugewright.store.campaign import CampaignStore

__all__ = ["Zeros", "take_zeros"]

Progress = Callable[[int, int, str], None]


@dataclass(frozen=True, slots=True)
class Zeros:
    """Zeros taken, and for every circuit without one the sentence that says why."""

    taken: tuple[Entry[Zero], ...]
    missed: tuple[tuple[Uid, str], ...]


def take_zeros(
    store: CampaignStore,
    kind: ZeroKind,
    recordings: tuple[Uid, ...],
    *,
    begins: datetime,
    ends: datetime,
    progress: Progress | None = None,
) -> Zeros:
    """Take one kind of zero of every bridge circuit plugged in through the whole stretch.

    A circuit that reads nothing usable there, or has one of this kind through this plug already,
    is named with the reason: it must not keep the others from having their zero.

    Raises
    ------
    InputError
        If the stretch ends before it begins, or no circuit was plugged in.
    """
    if ends <= begins:
        raise InputError("ends", ends, f"after it begins ({begins})")
    book = Book.read(store)
    by_instrument = {store.entry(uid).record.instrument: uid for uid in recordings}
    todo = [
        (circuit, connection, by_instrument[instrument])
        for circuit in book.of(BridgeCircuit)
        for connection in book.connections_of(circuit.uid)
        if connection.record.covers(begins)
        and (connection.record.ends is None or ends <= connection.record.ends)
        and (instrument := book.entry(connection.record.channel, Channel).record.instrument)
        in by_instrument
    ]
    if not todo:
        raise InputError(
            "circuits plugged in", "none", f"some from {begins} to {ends}", "look at connections"
        )
    taken: list[Entry[Zero]] = []
    missed: list[tuple[Uid, str]] = []
    for number, (circuit, connection, recording) in enumerate(todo):
        try:
            _refuse_second(book, connection, kind)
            zero = zeros.take_zero(
                store,
                kind=kind,
                connection=connection.uid,
                recording=recording,
                begins=begins,
                ends=ends,
                book=book,
            )
            taken.append(zero)
        except InputError as error:
            missed.append((circuit.uid, str(error)))
        if progress is not None:
            progress(number + 1, len(todo), f"zeros {kind.value} [circuits]")
    return Zeros(tuple(taken), tuple(missed))


def _refuse_second(book: Book, connection: Entry[Connection], kind: ZeroKind) -> None:
    for zero in book.of(Zero):
        if zero.record.kind is kind and zero.record.connection == connection.uid:
            raise InputError(
                f"zero {kind.value} of {book.label(connection.record.subject)}",
                f"taken at {zero.record.measured:%Y-%m-%d %H:%M} UTC through this plug",
                "one for each plug",
                "take that one back first",
            )
