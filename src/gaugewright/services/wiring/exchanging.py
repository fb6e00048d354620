"""Two plugs that were exchanged all along: what the records say of them put right, both at once."""

from dataclasses import replace

from gaugewright.errors import InputError
from gaugewright.records import Entry
from gaugewright.records.electrical import BridgeCircuit, Connection
from gaugewright.records.proof import Calibration, Zero
from gaugewright.records.stated import State
from gaugewright.services.campaign.book import Book
from gaugewright.services.wiring.identifying import identities, reads_gauge
from gaugewright.store.campaign import CampaignStore

__all__ = ["exchanged_pairs", "put_right"]


def exchanged_pairs(book: Book) -> tuple[tuple[str, str], ...]:
    """Gauges that were proved to sit on each other's channels, pair by pair."""
    found = {one.gauge.record.label: one.exchanged_with for one in identities(book)}
    return tuple(
        (label, other)
        for label, other in found.items()
        if other and found.get(other) == label and label < other
    )


def put_right(store: CampaignStore, first: str, second: str) -> tuple[Entry[Connection], ...]:
    """Exchange what two connections read, for as long as they stand, as two proofs found it.

    Zeros and steps of a resistor are what a channel read: they stay with their connections, and
    so with the gauge that was read in truth. Results aren't changed: they are to be reduced again.

    Raises
    ------
    InputError
        If the two aren't proved to be exchanged, or something was written down for a circuit that
        would then stand for the other.
    """
    with store.several():
        book = Book.read(store)
        if tuple(sorted((first, second))) not in exchanged_pairs(book):
            pairs = "; ".join(" with ".join(pair) for pair in exchanged_pairs(book)) or "none"
            allowed = f"gauges proved to be exchanged: {pairs}"
            raise InputError("exchanged", f"{first} with {second}", allowed, "touch both first")
        ones = [_connection(book, label) for label in (first, second)]
        for one in ones:
            _refuse(book, one)
        subjects = [one.record.subject for one in reversed(ones)]
        for one, subject in zip(ones, subjects, strict=True):
            _refuse_overlap(book, ones, replace(one.record, subject=subject))
        reason = f"{first} and {second} were exchanged, as their proofs of identity say"
        return tuple(
            store.revise(one.uid, one.version, replace(one.record, subject=subject), reason=reason)
            for one, subject in zip(ones, subjects, strict=True)
        )


def _connection(book: Book, label: str) -> Entry[Connection]:
    """The connection that stood when a gauge's identity was looked for."""
    one = next(i for i in identities(book) if i.gauge.record.label == label)
    proof = one.proof
    found = None if proof is None else reads_gauge(book, one.gauge.uid, proof.record.measured)
    if found is None or one.state is not State.REPAIR:
        raise InputError(f"identity of {label}", "not wrong", "proved to be exchanged")
    circuit = book.entry(found.record.subject, BridgeCircuit)
    if len(book.gauges_of(circuit)) != 1:
        allowed = "one that reads this gauge alone"
        raise InputError(f"circuit of {label}", circuit.record.label, allowed, "plug it by hand")
    return found


def _refuse(book: Book, one: Entry[Connection]) -> None:
    """Refuse where a word about the circuit would come to stand for the other one."""
    label = book.label(one.record.subject)
    if any(c.record.connection == one.uid for c in book.of(Calibration)):
        raise InputError(
            f"calibration of {label}",
            "made on this connection",
            "taken back first: nobody but you knows which gauge its rows were read from",
            "undo it in the journal, put the plugs right, and enter it again",
        )
    carried = [z for z in book.of(Zero) if one.uid in z.record.carried_to]
    if carried or any(z.record.carried_to for z in book.of(Zero) if z.record.connection == one.uid):
        raise InputError(
            f"zero of {label}",
            "carried over a plug that was remade",
            "one that holds for this connection alone",
            "undo that plug first",
        )


def _refuse_overlap(book: Book, ones: list[Entry[Connection]], wanted: Connection) -> None:
    apart = {one.uid for one in ones}
    for other in book.connections_of(wanted.subject):
        ends, begins = other.record.ends, other.record.begins
        is_later = wanted.ends is not None and begins >= wanted.ends
        is_earlier = ends is not None and ends <= wanted.begins
        if other.uid not in apart and not (is_later or is_earlier):
            raise InputError(
                book.label(wanted.subject),
                f"on {book.label(other.record.channel)} from {begins:%Y-%m-%d %H:%M} UTC as well",
                "on no other channel meanwhile",
                "give that connection its end first",
            )
