"""Zeros: taken from a recording of the unloaded state, and carried over remade connections."""

import math
from dataclasses import replace
from datetime import datetime

import numpy as np
import numpy.typing as npt

from gaugewright.calc.evaluation import mean_of_readings, stated_standard_uncertainty
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray
from gaugewright.records import Entry
from gaugewright.records.electrical import BridgeCircuit, Connection
from gaugewright.records.identity import Uid
from gaugewright.records.proof import Zero, ZeroKind
from gaugewright.records.stated import Basis, Meaning, Stated
from gaugewright.services.campaign.book import Book
from gaugewright.services.chaining.subject import ratio_of_reading
from gaugewright.services.reading.series import Stretch, campaign_seconds, series_of, stretches_of
from gaugewright.store.campaign import CampaignStore

__all__ = ["bridge_remade", "bridge_zero", "carry_over", "carry_zero", "take_zero"]

# Neighbouring readings are not independent (filters, slow change): a mean is judged by the
# scatter of the means of this many consecutive parts, so its doubt has one degree less.
PARTS = 10


def take_zero(
    store: CampaignStore,
    *,
    kind: ZeroKind,
    connection: Uid,
    recording: Uid,
    begins: datetime,
    ends: datetime,
    book: Book | None = None,
) -> Entry[Zero]:
    """Zero of a connection from a stretch of a recording; raw readings stay as they are.

    ``book`` spares reading all records again when many zeros are taken one after another.

    Raises
    ------
    InputError
        If the stretch holds too few readings, or the channel doesn't write a bridge reading.
    """
    book = Book.read(store) if book is None else book
    entry = book.entry(connection, Connection)
    circuit = book.entry(entry.record.subject, BridgeCircuit)
    stretch = _stretch(store, book, entry, recording)
    inside, ratio = _mean_ratio(book, entry, stretch, begins, ends)
    rows = np.flatnonzero(inside)
    gauge = book.gauges_of(circuit)[0]
    temperature = series_of(store, book, book.temperature_point_of(gauge).uid).at(
        stretch.time[inside]
    )
    zero = Zero(
        kind,
        connection,
        ratio,
        _steady_temperature(temperature, circuit.record.label),
        begins,
        recording,
        stretch.first_row + int(rows[0]),
        stretch.first_row + int(rows[-1]),
    )
    return store.add(zero, reason=f"zero {kind.value} of {circuit.record.label}")


def _stretch(
    store: CampaignStore, book: Book, connection: Entry[Connection], recording: Uid
) -> Stretch:
    for stretch in stretches_of(store, book, connection.record.subject):
        if stretch.connection.uid == connection.uid and stretch.recording.uid == recording:
            return stretch
    raise InputError(
        f"readings of {book.label(connection.record.subject)} in {book.label(recording)}",
        "none through this connection",
        "some",
        "look at the times of the connection and at the recording's clock",
    )


def _mean_ratio(
    book: Book,
    connection: Entry[Connection],
    stretch: Stretch,
    begins: datetime,
    ends: datetime,
) -> tuple[npt.NDArray[np.bool_], Stated]:
    inside = (stretch.time >= campaign_seconds(begins)) & (stretch.time < campaign_seconds(ends))
    ratios = stretch.reading[inside] * ratio_of_reading(book.setting_of(connection).record)
    good = ratios[np.isfinite(ratios)]
    if good.size < 2 * PARTS:
        raise InputError(
            f"readings for the zero of {book.label(connection.record.subject)}",
            int(good.size),
            f"{2 * PARTS} or more",
            "take a longer stretch, or say why this gauge has no zero",
        )
    mean = mean_of_readings([part.mean() for part in np.array_split(good, PARTS)])
    return inside, Stated(
        float(good.mean()),
        mean.standard_uncertainty,
        Meaning.ONE_SIGMA,
        Basis.MEASURED,
        "mean of a recording of the unloaded state",
        mean.degrees_of_freedom,
    )


def _steady_temperature(temperature: FloatArray, label: str) -> Stated:
    known = temperature[np.isfinite(temperature)]
    if not known.size:
        raise InputError(
            f"temperature at the zero of {label}", None, "recorded with it", "import it too"
        )
    half = float(known.max() - known.min()) / 2
    return Stated(
        float(known.mean()), half, Meaning.LIMIT, Basis.MEASURED, "mean of its temperature point"
    )


def carry_zero(
    store: CampaignStore, zero: Uid, to_connection: Uid, transfer: Stated, *, reason: str
) -> Entry[Zero]:
    """Let a zero hold for a later connection too, with the extra doubt of doing so [V/V]."""
    entry = store.entry(zero)
    record = entry.record
    if not isinstance(record, Zero):
        raise InputError("zero", zero, "the uid of a zero")
    book = Book.read(store)
    from_subject = book.entry(record.connection, Connection).record.subject
    if book.entry(to_connection, Connection).record.subject != from_subject:
        raise InputError(
            "to_connection", to_connection, "a connection of the same circuit as the zero's"
        )
    carried = replace(record, carried_to=(*record.carried_to, to_connection), transfer=transfer)
    return store.revise(zero, entry.version, carried, reason=reason)


def bridge_zero(
    store: CampaignStore,
    zero: Uid,
    to_connection: Uid,
    *,
    before: Stated,
    after: Stated,
    reason: str,
) -> Entry[Zero]:
    """Zero for a remade connection from the readings just before and just after remaking it.

    Specimen untouched and equally warm, both readings in bridge ratio [V/V]: what changed is the
    contact, so the zero moves by the same step. The doubts of zero and both readings combine.

    Raises
    ------
    InputError
        If either reading was given without its doubt.
    """
    record = store.entry(zero).record
    if not isinstance(record, Zero):
        raise InputError("zero", zero, "the uid of a zero")
    parts: list[float] = []
    for name, stated in (("zero", record.bridge_ratio), ("before", before), ("after", after)):
        if stated.plus_minus is None:
            raise InputError(
                f"plus_minus of {name}", None, "given", "state what the reading is worth"
            )
        parts.append(stated_standard_uncertainty(stated.plus_minus, stated.meaning.value))
    moved = replace(
        record,
        connection=to_connection,
        bridge_ratio=Stated(
            record.bridge_ratio.value + after.value - before.value,
            math.sqrt(sum(part**2 for part in parts)),
            Meaning.ONE_SIGMA,
            Basis.MEASURED,
            "zero of the earlier connection, moved by the step at remaking it",
        ),
        carried_to=(),
        transfer=None,
    )
    return store.add(moved, reason=reason)


def bridge_remade(
    store: CampaignStore,
    zero: Uid,
    to_connection: Uid,
    *,
    before: tuple[Uid, datetime, datetime],
    after: tuple[Uid, datetime, datetime],
    reason: str,
) -> Entry[Zero]:
    """``bridge_zero`` with both readings taken from recordings: (recording, begins, ends) each."""
    book = Book.read(store)
    record = book.entry(zero, Zero).record
    ratios: list[Stated] = []
    for connection, (recording, begins, ends) in (
        (record.connection, before),
        (to_connection, after),
    ):
        entry = book.entry(connection, Connection)
        stretch = _stretch(store, book, entry, recording)
        ratios.append(_mean_ratio(book, entry, stretch, begins, ends)[1])
    return bridge_zero(store, zero, to_connection, before=ratios[0], after=ratios[1], reason=reason)


def carry_over(
    store: CampaignStore, kind: ZeroKind, *, reason: str, circuit: Uid | None = None
) -> tuple[Entry[Zero], ...]:
    """Let every zero of one kind hold for later connections of its circuit that have none.

    Only those of one ``circuit`` where it is named.

    Two contacts lie in the arms, that of lead A in the gauge's and that of lead B in its
    neighbour's, and each may have changed: ΔR in an arm of resistance R_g moves the bridge ratio
    by ΔR/(4 R_g), to first order. The campaign's "contact change" is the standard uncertainty of
    one contact; the third carries no current.
    """
    book = Book.read(store)
    contact = book.limit("contact change")
    carried: list[Entry[Zero]] = []
    zeros = [zero for zero in book.of(Zero) if zero.record.kind is kind]
    settled = {zero.record.connection for zero in zeros}
    for zero in zeros:
        connection = book.entry(zero.record.connection, Connection)
        mine = book.entry(connection.record.subject, BridgeCircuit)
        if circuit is not None and mine.uid != circuit:
            continue
        later = [
            c.uid
            for c in book.connections_of(mine.uid)
            if c.record.begins > connection.record.begins and c.uid not in settled
        ]
        if not later:
            continue
        grid = book.pack_of(book.gauges_of(mine)[0]).record.gauge_resistance.value
        transfer = Stated(
            0.0,
            math.sqrt(2) * contact.record.value / (4 * grid),
            Meaning.ONE_SIGMA,
            Basis.ASSUMED,
            f"two contacts remade: {contact.record.source}",
        )
        moved = replace(
            zero.record, carried_to=(*zero.record.carried_to, *later), transfer=transfer
        )
        carried.append(store.revise(zero.uid, zero.version, moved, reason=reason))
    return tuple(carried)
