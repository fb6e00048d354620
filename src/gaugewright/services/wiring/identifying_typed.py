"""What a person typed when a gauge was touched, and the list of what is proved by now."""

from collections.abc import Mapping
from datetime import datetime
from zoneinfo import ZoneInfo

from gaugewright.errors import InputError
from gaugewright.present.numbers import significant_text
from gaugewright.records import Entry
from gaugewright.records.electrical import Channel
from gaugewright.records.gauges import Gauge
from gaugewright.records.identifying import IdentityProof, Stimulus
from gaugewright.records.identity import Uid
from gaugewright.records.readings import Recording
from gaugewright.services.campaign.book import Book
from gaugewright.services.campaign.events import instant_typed
from gaugewright.services.showing.listings import Column, Listing
from gaugewright.services.showing.page import Page
from gaugewright.services.wiring.identifying import (
    Identity,
    channels_that_moved,
    identities,
    prove,
    proved_words,
)
from gaugewright.services.wiring.identifying_leads import by_leads
from gaugewright.store.campaign import CampaignStore

__all__ = ["NOTHING", "identity_lists", "proved", "told_of"]

NOTHING = "none"


def proved(store: CampaignStore, typed: Mapping[str, str]) -> Entry[IdentityProof]:
    """Write down a proof as typed: gauge, stimulus, and moved channels or a recording.

    ``moved`` are labels of channels with commas, "none" where nothing moved; left empty, they
    are found in ``recording`` between ``begins`` and ``ends``.

    Raises
    ------
    InputError
        If something typed can't be.
    """
    book, now = Book.read(store), store.context.now()
    zone = ZoneInfo(store.campaign.record.zone)
    gauge = book.labelled(Gauge, typed.get("gauge", "").strip())
    stimulus = _stimulus(typed.get("stimulus", ""))
    if stimulus is Stimulus.LEADS:
        return by_leads(store, gauge.record.label)[0]
    if typed.get("moved", "").strip():
        at = typed.get("at", "").strip()
        moved = _moved(book, typed["moved"])
        measured = instant_typed(at, zone, now) if at else now
        return prove(store, IdentityProof(gauge.uid, stimulus, moved, measured))
    return prove(store, _found(store, book, gauge, stimulus, (typed, zone, now)))


def _found(
    store: CampaignStore,
    book: Book,
    gauge: Entry[Gauge],
    stimulus: Stimulus,
    told: tuple[Mapping[str, str], ZoneInfo, datetime],
) -> IdentityProof:
    typed, zone, now = told
    label = typed.get("recording", "").strip()
    if not label:
        do = f"type the channels that moved, {NOTHING} if none did, or name a recording"
        raise InputError("moved", "", "given, or a recording with its times", do)
    recording = book.labelled(Recording, label)
    times = []
    for name in ("begins", "ends"):
        text = typed.get(name, "").strip()
        if not text:
            raise InputError(name, "", "a time of the hall, such as 2026-10-13 09:00:30")
        times.append(instant_typed(text, zone, now))
    found = channels_that_moved(store, book, recording, times[0], times[1])
    first = found[0] if found else None
    return IdentityProof(
        gauge.uid,
        stimulus,
        tuple(dict.fromkeys(one.connection.record.channel for one in found)),
        times[0],
        recording.uid,
        None if first is None else first.change,
        None if first is None else first.noise,
    )


def _stimulus(text: str) -> Stimulus:
    for stimulus in Stimulus:
        if stimulus.value == text.strip():
            return stimulus
    raise InputError("stimulus", text, "one of " + "; ".join(one.value for one in Stimulus))


def _moved(book: Book, text: str) -> tuple[Uid, ...]:
    if text.strip().casefold() == NOTHING:
        return ()
    labels = [one.strip() for one in text.replace(";", ",").split(",") if one.strip()]
    known = {entry.record.label: entry.uid for entry in book.of(Channel)}
    unknown = [label for label in labels if label not in known]
    if unknown:
        some = ", ".join(list(known)[:12]) or "none yet"
        raise InputError("moved", ", ".join(unknown), f"channels of this campaign: {some} …")
    return tuple(known[label] for label in labels)


def told_of(book: Book, proof: Entry[IdentityProof]) -> str:
    """What a proof says of its gauge, in a sentence."""
    mine = next(one for one in identities(book) if one.gauge.uid == proof.record.gauge)
    return f"{mine.gauge.record.label}: {mine.words}"


def identity_lists(page: Page) -> tuple[Listing, ...]:
    """Every gauge with what is proved, and every proof there ever was."""
    return (_standing(page), _proofs(page))


def _standing(page: Page) -> Listing:
    rows = tuple(_row(page, one) for one in identities(page.book))
    return Listing(
        "identity",
        "Gauge by gauge",
        (
            Column("gauge"),
            Column("identity"),
            Column("channel"),
            Column("proved"),
            Column("exchanged with"),
            Column("told"),
        ),
        rows,
        "Gauges will stand here once they are entered.",
        f"{proved_words(page.book)}. A finger, a warm hand or a rubber on one gauge: "
        "the channel that moves is its own. Which way it moves says nothing.",
    )


def _row(page: Page, one: Identity) -> tuple[str, ...]:
    when = "" if one.proof is None else page.moment(one.proof.record.measured)
    return (
        one.gauge.record.label,
        one.state.value,
        one.reads or "none",
        when,
        one.exchanged_with,
        one.words,
    )


def _proofs(page: Page) -> Listing:
    book = page.book
    found = sorted(book.of(IdentityProof), key=lambda one: one.record.measured)
    rows = tuple(
        (
            book.label(one.record.gauge),
            one.record.stimulus.value,
            page.moment(one.record.measured),
            ", ".join(book.label(uid) for uid in one.record.moved) or NOTHING,
            one.record.change,
            _times_noise(one.record),
            "typed" if one.record.recording is None else book.label(one.record.recording),
            one.record.note,
        )
        for one in found
    )
    return Listing(
        "proofs",
        "Every proof",
        (
            Column("gauge"),
            Column("was"),
            Column("at"),
            Column("moved"),
            Column("by", "bridge_ratio"),
            Column("times its noise"),
            Column("from"),
            Column("told"),
        ),
        rows,
        "Proofs will stand here, also those that were done again.",
    )


def _times_noise(proof: IdentityProof) -> str:
    if proof.change is None or not proof.noise:
        return ""
    return significant_text(proof.change / proof.noise, 2)
