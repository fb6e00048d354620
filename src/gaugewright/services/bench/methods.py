"""Methods of the bench: which there are, which a gauge is worked by, and a new version of one."""

from gaugewright.errors import InputError, StaleEdit
from gaugewright.records import Entry
from gaugewright.records.benching import MethodStep
from gaugewright.records.gauges import Gauge
from gaugewright.records.proof import Limit, Method
from gaugewright.records.specimen import Specimen, SpecimenKind
from gaugewright.services.bench.coming import steps_of
from gaugewright.services.campaign.book import Book
from gaugewright.services.campaign.laboratory import limit_or_shipped, shipped_records
from gaugewright.store.campaign import CampaignStore

__all__ = [
    "complete_methods",
    "held_limit",
    "held_method",
    "method_named",
    "method_of",
    "revised_limit",
    "revised_method",
    "step_named",
]

_USUAL = {
    SpecimenKind.CAST_MEMBER: "bar to be cast in",
    SpecimenKind.STRAND: "strand",
}
_ELSE = "bare metal in a dry hall"


def complete_methods(book: Book) -> tuple[Method, ...]:
    """Methods with all their steps: the campaign's own, and shipped ones that it lacks."""
    own = {entry.record.label: entry.record for entry in book.of(Method)}
    shipped = book.once("shipped records", lambda _: shipped_records())
    lacking = [m for m in shipped if isinstance(m, Method) and m.label not in own]
    # A campaign older than the steps of a method has its text only: the shipped steps serve it.
    return tuple(method for method in (*own.values(), *lacking) if method.steps)


def method_named(book: Book, label: str) -> Method:
    """Complete method by its label.

    Raises
    ------
    InputError
        If there is none.
    """
    for method in complete_methods(book):
        if method.label == label:
            return method
    known = ", ".join(method.label for method in complete_methods(book))
    raise InputError("method", label, f"one of: {known}")


def step_named(method: Method, name: str) -> MethodStep:
    """Step of a method by its name.

    Raises
    ------
    InputError
        If the method has none of that name.
    """
    for step in method.steps:
        if step.name == name:
            return step
    known = ", ".join(step.name for step in method.steps)
    raise InputError("step", name, f"one of {method.label}: {known}")


def method_of(book: Book, gauge: Entry[Gauge]) -> Method:
    """Method a gauge is worked by: that of its last step, else the usual one for its specimen."""
    labels = [
        book.label(entry.record.method.uid)
        for entry in steps_of(book).get(gauge.uid, [])
        if entry.record.method is not None
    ]
    specimen = book.entry(book.bar_of(gauge).record.specimen, Specimen).record
    known = {method.label: method for method in complete_methods(book)}
    for label in (*reversed(labels), _USUAL.get(specimen.kind, _ELSE)):
        if label in known:
            return known[label]
    return method_named(book, _ELSE)


def held_method(store: CampaignStore, book: Book, label: str) -> Entry[Method]:
    """Method as the campaign holds it; a shipped one is copied in at its first use."""
    method = method_named(book, label)
    for entry in book.of(Method):
        if entry.record.label == label:
            return entry
    return store.add(method, reason="copied from what was shipped, at its first use")


def held_limit(store: CampaignStore, book: Book, label: str) -> Entry[Limit]:
    """Limit as the campaign holds it; a shipped one is copied in at its first use."""
    for entry in book.of(Limit):
        if entry.record.label == label:
            return entry
    shipped = limit_or_shipped(book, label)
    return store.add(shipped, reason="copied from what was shipped, at its first use")


def revised_method(
    store: CampaignStore, method: Method, *, from_version: int | None, reason: str
) -> Entry[Method]:
    """Write a method's next version, or its first where the campaign has none of that label.

    Raises
    ------
    InputError
        If a limit it names isn't there, no reason is given, or it has no steps.
    StaleEdit
        If somebody changed it since ``from_version``.
    """
    book = Book.read(store)
    if not method.steps:
        raise InputError("steps", "none", "one step or more")
    for step in method.steps:
        for label in (*step.limits, *(clock.limit for clock in step.clocks if clock.limit)):
            limit_or_shipped(book, label)
    if not reason.strip():
        raise InputError("reason", reason, "why the method is changed")
    with store.several():
        try:
            entry = held_method(store, book, method.label)
        except InputError:
            return store.add(method, reason=reason)
        if from_version is not None and from_version != entry.version:
            raise StaleEdit(entry.uid, from_version, entry.version, entry.record, method)
        if entry.record == method:
            raise InputError("method", method.label, "changed: it is as it was")
        return store.revise(entry.uid, entry.version, method, reason=reason)


def revised_limit(
    store: CampaignStore, limit: Limit, *, from_version: int | None, reason: str
) -> Entry[Limit]:
    """Write a limit's next version; verdicts given before keep the version they were held to.

    Raises
    ------
    InputError
        If there is no such limit, or no reason is given.
    StaleEdit
        If somebody changed it since ``from_version``.
    """
    book = Book.read(store)
    if not reason.strip():
        raise InputError("reason", reason, "why the limit is changed")
    with store.several():
        entry = held_limit(store, book, limit.label)
        if from_version is not None and from_version != entry.version:
            raise StaleEdit(entry.uid, from_version, entry.version, entry.record, limit)
        if entry.record == limit:
            raise InputError("limit", limit.label, "changed: it is as it was")
        return store.revise(entry.uid, entry.version, limit, reason=reason)
