"""A step that was written down wrongly: put right as a new version, or taken back with a reason."""

from collections.abc import Sequence
from zoneinfo import ZoneInfo

from gaugewright.errors import InputError
from gaugewright.present.numbers import significant_text
from gaugewright.present.typed import text_to_type
from gaugewright.present.units_shown import System
from gaugewright.records import Entry
from gaugewright.records.benching import MethodStep, StepKind
from gaugewright.records.gauges import Attachment, BenchStep, Gauge
from gaugewright.records.identity import Uid
from gaugewright.services.bench.cure import fields_of
from gaugewright.services.bench.log import FILE_NAME
from gaugewright.services.bench.methods import method_named, step_named
from gaugewright.services.bench.typed import key_of
from gaugewright.services.campaign.book import Book
from gaugewright.store.campaign import CampaignStore

__all__ = ["built_words", "method_step", "taken_back", "typed_before"]

_LOG = "temperature log"
_LEAVES = {
    StepKind.SMOOTH: "the flat and the smoothed zone that it measured stay until they are measured",
    StepKind.PROTECT: "the protection that it measured stays until it is measured",
}


def taken_back(
    store: CampaignStore, steps: Sequence[Entry[BenchStep]], reason: str
) -> tuple[Entry[BenchStep], ...]:
    """Take steps back, all or none: they leave every list and stay in the journal.

    Raises
    ------
    InputError
        If no step is named, or no reason is given.
    StaleEdit
        If somebody changed one of them since.
    """
    if not steps:
        raise InputError("gauges", "", "one or more of those that it was written down for")
    if not reason.strip():
        raise InputError("reason", "", "why it is taken back")
    with store.several():
        return tuple(
            store.withdraw(one.uid, one.version, reason=f"taken back: {reason.strip()}")
            for one in steps
        )


def built_words(book: Book, step: BenchStep) -> str:
    """What a step that is taken back leaves behind all the same; "" for nothing."""
    named = method_step(book, step)
    return f"{_LEAVES[named.kind]} again" if named is not None and named.kind in _LEAVES else ""


def method_step(book: Book, step: BenchStep) -> MethodStep | None:
    """Step of the method that a record was made by, None without one or where it has none now."""
    if step.method is None:
        return None
    try:
        return step_named(method_named(book, book.label(step.method.uid)), step.step)
    except InputError:
        return None  # the method was changed and has no such step any more


def typed_before(
    store: CampaignStore,
    book: Book,
    steps: Sequence[Entry[BenchStep]],
    fields: MethodStep,
    *,
    zone: ZoneInfo,
    system: System,
) -> dict[str, str]:
    """What a form of these steps, written down together, was filled with."""
    first = steps[0].record
    typed = {
        "begun": f"{first.begun.astimezone(zone):%Y-%m-%d %H:%M}",
        "ended": f"{first.ended.astimezone(zone):%Y-%m-%d %H:%M}" if first.ended else "",
        "supplies": "; ".join(book.label(uid) for uid in first.supplies),
        "note": first.note,
        "parked": first.parked,
        "initials": first.initials,
        "instead": steps[0].uid,
    }
    if first.temperature_degc is not None:
        typed["temperature"] = text_to_type(first.temperature_degc, "temperature_degc", system)
    if first.humidity is not None:
        typed["humidity"] = significant_text(100 * first.humidity)
    for one in steps:
        label = book.entry(one.record.gauge, Gauge).record.label
        for field in fields_of(fields):
            key = key_of(field.name, label) if field.each else key_of(field.name)
            read = [r.typed for r in one.record.readings if r.what == field.name]
            typed[key] = "; ".join(read)
    log = _log(store, book, steps[0].uid)
    if log:
        typed[key_of(_LOG)] = log
    return {name: text for name, text in typed.items() if text}


def _log(store: CampaignStore, book: Book, step: Uid) -> str:
    """Text of the log that came with a step; "" where none did."""
    kept = [e.record for e in book.of(Attachment) if e.record.of == step]
    logs = [one for one in kept if one.file_name == FILE_NAME]
    return store.original_bytes(logs[-1].sha256).decode("utf-8") if logs else ""
