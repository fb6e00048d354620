"""Is each gauge where its label says: proofs by a stimulus or by leads, and exchanged channels."""

from dataclasses import dataclass
from datetime import datetime

import numpy as np

from gaugewright.calc.stimulus import which_moved
from gaugewright.errors import InputError
from gaugewright.records import Entry
from gaugewright.records.electrical import BridgeCircuit, Connection
from gaugewright.records.gauges import Gauge
from gaugewright.records.identifying import IdentityProof, Stimulus
from gaugewright.records.identity import Uid
from gaugewright.records.proof import Gate
from gaugewright.records.readings import Recording
from gaugewright.records.stated import State
from gaugewright.services.campaign.book import Book
from gaugewright.services.chaining.subject import ratio_of_reading
from gaugewright.services.reading.series import campaign_seconds, stretches_of
from gaugewright.store.campaign import CampaignStore

__all__ = [
    "Identity",
    "Moved",
    "channels_that_moved",
    "identities",
    "prove",
    "proved_words",
    "reads_gauge",
    "words_at_gate",
]

_PLUGGED = (Gate.CAGED, Gate.BEFORE_POUR, Gate.AFTER_POUR, Gate.BEFORE_TEST)


@dataclass(frozen=True, slots=True)
class Identity:
    """How far one gauge's identity is proved; ``reads`` is the channel that should answer."""

    gauge: Entry[Gauge]
    state: State
    words: str
    reads: str
    proof: Entry[IdentityProof] | None
    exchanged_with: str = ""


@dataclass(frozen=True, slots=True)
class Moved:
    """A channel that moved in a stretch of a recording: departure and noise in bridge ratio."""

    connection: Entry[Connection]
    change: float
    noise: float


def reads_gauge(book: Book, gauge: Uid, at: datetime | None) -> Entry[Connection] | None:
    """Connection through which a gauge is read at an instant; None for the one that stands."""
    for circuit in book.of(BridgeCircuit):
        if any(arm.gauge == gauge for arm in circuit.record.arms):
            for connection in book.connections_of(circuit.uid):
                record = connection.record
                if record.ends is None if at is None else record.covers(at):
                    return connection
    return None


def channels_that_moved(
    store: CampaignStore, book: Book, recording: Entry[Recording], begins: datetime, ends: datetime
) -> tuple[Moved, ...]:
    """Channels that moved in a stretch of a recording, the one that moved most first.

    Raises
    ------
    InputError
        If the stretch ends before it begins, or no bridge was read in it.
    """
    if ends <= begins:
        raise InputError("ends", ends, f"after it begins ({begins})")
    low, high = campaign_seconds(begins), campaign_seconds(ends)
    read: list[tuple[Entry[Connection], np.ndarray]] = []
    for circuit in book.of(BridgeCircuit):
        for stretch in stretches_of(store, book, circuit.uid):
            if stretch.recording.uid != recording.uid:
                continue
            inside = (stretch.time >= low) & (stretch.time < high)
            if np.count_nonzero(np.isfinite(stretch.reading[inside])):
                scale = ratio_of_reading(book.setting_of(stretch.connection).record)
                read.append((stretch.connection, stretch.reading[inside] * scale))
    if not read:
        raise InputError(
            f"bridges read in {recording.record.label}",
            "none in this stretch",
            "some",
            "look at its times and at what was plugged in",
        )
    rows = min(len(values) for _, values in read)
    found = which_moved(np.stack([values[:rows] for _, values in read]))
    return tuple(Moved(read[place][0], change, noise) for place, change, noise in found)


def prove(store: CampaignStore, proof: IdentityProof) -> Entry[IdentityProof]:
    """Write down what moved when a gauge was touched.

    Raises
    ------
    InputError
        If the gauge was on no channel then.
    """
    book = Book.read(store)
    label = book.entry(proof.gauge, Gauge).record.label
    if reads_gauge(book, proof.gauge, proof.measured) is None:
        raise InputError(
            f"channel of {label} at {proof.measured:%Y-%m-%d %H:%M} UTC",
            None,
            "written down: what moved is held against it",
            "write down under Wiring what it was plugged into",
        )
    return store.add(proof, reason=f"{label} {proof.stimulus.value}")


def identities(book: Book) -> tuple[Identity, ...]:
    """Every gauge and how far its identity is proved, in the order gauges were entered."""
    return book.once(
        "identities", lambda book: tuple(_identity(book, gauge) for gauge in book.of(Gauge))
    )


def proved_words(book: Book) -> str:
    """How many gauges are proved to be where their labels say, in a sentence."""
    found = identities(book)
    sound = sum(one.state is State.SOUND for one in found)
    wrong = [one.gauge.record.label for one in found if one.state is State.REPAIR]
    told = f"Identity proved for {sound} of {len(found)} gauges"
    return told + (f"; not where their labels say: {', '.join(wrong)}" if wrong else "")


def words_at_gate(book: Book, gate: Gate) -> str:
    """What is proved, at the gates where it can be read off a channel; "" before."""
    if gate not in _PLUGGED or not book.of(Gauge):
        return ""
    return f"{proved_words(book)}."


def _last(book: Book, gauge: Uid) -> Entry[IdentityProof] | None:
    mine = [proof for proof in book.of(IdentityProof) if proof.record.gauge == gauge]
    return max(mine, key=lambda one: (one.record.measured, one.at), default=None)


def _identity(book: Book, gauge: Entry[Gauge]) -> Identity:
    standing = reads_gauge(book, gauge.uid, None)
    reads = "" if standing is None else book.label(standing.record.channel)
    proof = _last(book, gauge.uid)
    if proof is None:
        words = "not proved" if reads else "on no channel, not proved"
        return Identity(gauge, State.NOT_YET, words, reads, None)
    then = reads_gauge(book, gauge.uid, proof.record.measured)
    if then is None:
        words = "the connection it was proved on was taken back: prove it anew"
        return Identity(gauge, State.WATCH, words, reads, proof)
    state, words, other = _told(book, proof, then)
    if state is State.SOUND and standing is not None and standing.uid != then.uid:
        words += "; plugged anew since: compare its leads"
        state = State.WATCH
    return Identity(gauge, state, words, reads, proof, other)


def _told(
    book: Book, proof: Entry[IdentityProof], then: Entry[Connection]
) -> tuple[State, str, str]:
    """What one proof says, held against the connection of its moment."""
    record, own = proof.record, then.record.channel
    done, label = record.stimulus.value, book.label(own)
    if not record.moved:
        return State.WATCH, f"{done}: no channel moved, try again", ""
    if record.moved == (own,):
        words = done if record.stimulus is Stimulus.LEADS else f"{done}: {label} moved alone"
        return State.SOUND, words, ""
    if record.moved[0] == own:
        others = ", ".join(book.label(uid) for uid in record.moved[1:])
        return State.WATCH, f"{done}: {label} moved, but with {others}", ""
    moved = record.moved[0]
    told = f"{done}: {book.label(moved)} moved, not {label}"
    other = _gauge_on(book, moved, record.measured)
    if other is None:
        return State.REPAIR, f"{told}; nothing is written down for {book.label(moved)}", ""
    name = book.label(other)
    back = _last(book, other)
    if back is not None and back.record.moved[:1] == (own,):
        return State.REPAIR, f"{told}: exchanged with {name}", name
    return State.REPAIR, f"{told}, which should read {name}: touch {name} too", ""


def _gauge_on(book: Book, channel: Uid, at: datetime) -> Uid | None:
    for connection in book.of(Connection):
        if connection.record.channel == channel and connection.record.covers(at):
            circuit = book.found(connection.record.subject)
            if circuit is not None and isinstance(circuit.record, BridgeCircuit):
                return book.gauges_of(circuit)[0].uid
    return None
