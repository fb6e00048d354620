"""Forms of the plan: one for each kind of record, one for what is entered many at once."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Form
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from gaugewright.errors import GaugewrightError, InputError, StaleEdit
from gaugewright.records import Entry, label_of
from gaugewright.records.electrical import Connection
from gaugewright.records.identity import Ref, uid_from_text
from gaugewright.services.campaign.exact import exact_in
from gaugewright.services.entering import entry as plan_entry
from gaugewright.services.entering.kinds import Asking, EntryKind, ManyKind
from gaugewright.web import frame, rooms
from gaugewright.web.forms import typed_form
from gaugewright.web.not_there import NotThere
from gaugewright.web.pages.undo import checked, returned
from gaugewright.web.plan_form import Group, Wrong, groups_of, quantities_of, wrong_of
from gaugewright.web.plan_ways import before, entry_url, following, ways

__all__ = [
    "Beside",
    "EntryPage",
    "TakeBack",
    "refs_text",
    "router",
    "take_back",
]

router = APIRouter()

# Fields of the page itself, which no record has.
_OWN = ("version", "more", "asked", "done")
# A phone's screen of labels; the rest is on the plan's own lists.
_SHOWN = 60
_ROWS = 6  # more of them at a time


@dataclass(frozen=True, slots=True)
class TakeBack:
    """What was just written, in words, and the form that takes it back."""

    words: str
    action: str
    refs: str
    back: str


@dataclass(frozen=True, slots=True)
class Beside:
    """One field of a stale change: what stands there now, and what was typed."""

    label: str
    theirs: str
    yours: str


@dataclass(frozen=True, slots=True)
class EntryPage:
    """A form with what was entered so far."""

    sheet: frame.Sheet
    title: str
    lead: str
    key: str
    done: TakeBack | None
    exact: str
    exact_url: str
    failure: str
    wrong: tuple[Wrong, ...]
    has_doubts: bool
    stale: tuple[Beside, ...]
    groups: tuple[Group, ...]
    more_rows: int
    action: str
    button: str
    version: int
    known: tuple[tuple[str, str], ...]
    more_known: int
    ways: tuple[tuple[str, str], ...]
    following: tuple[str, str] | None
    out_action: str
    name: str
    plan_url: str
    enter_url: str
    nothing: str
    before: tuple[str, str] | None


def refs_text(refs: Sequence[Ref]) -> str:
    """What was written, for an address: it is offered to be taken back there."""
    return ",".join(f"{ref.uid}.{ref.version}" for ref in refs)


def _refs(text: str) -> tuple[Ref, ...]:
    refs = []
    for part in text.split(","):
        uid, _, version = part.partition(".")
        if not version.isdecimal():
            raise InputError("entry", part, "a uid and a version")
        refs.append(Ref(uid_from_text(uid), int(version)))
    return tuple(refs)


def take_back(room: rooms.Room, done: str, back: str) -> TakeBack | None:
    """What was written, if it still stands as it was written; None where nothing is to be told."""
    if not done:
        return None
    found = [(ref, room.book.found(ref.uid)) for ref in _refs(done)]
    standing = [entry for ref, entry in found if entry is not None and entry.version == ref.version]
    if not standing or len(standing) < len(found):
        return None
    labels = [label for entry in standing if (label := _called(room, entry))]
    # A flat or a setting has no label of its own.
    named = ", ".join(dict.fromkeys(labels[:8])) or (
        "one entry" if len(standing) == 1 else f"{len(standing)} entries"
    )
    more = f" and {len(labels) - 8} more" if len(labels) > 8 else ""
    return TakeBack(f"Kept: {named}{more}", room.url("plan/take-back"), done, back)


def _called(room: rooms.Room, entry: Entry[Any]) -> str:
    record = entry.record
    if isinstance(record, Connection):
        return f"{room.book.label(record.subject)} on {room.book.label(record.channel)}"
    return label_of(record)


@router.get("/c/{name}/plan/enter/{key}")
def new_form(request: Request, key: str) -> Response:
    """The empty form of a kind; what the address gives stands in it."""
    room = rooms.room(request)
    texts = {k: v for k, v in request.query_params.items() if k not in _OWN}
    return _answer(
        request,
        room,
        _kind(key),
        texts,
        more=_more(request.query_params.get("more", "")),
        done=request.query_params.get("done", ""),
    )


@router.post("/c/{name}/plan/enter/{key}")
def enter(
    request: Request, key: str, typed: Annotated[dict[str, str], Depends(typed_form)]
) -> Response:
    """Write what was typed, or show the form again with what is wrong beside its fields."""
    kind = _kind(key)
    texts = {k: v for k, v in typed.items() if k not in _OWN}
    try:
        room = rooms.room_to_write(request)
        if isinstance(kind, ManyKind):
            refs = plan_entry.many_written(room.store, key, texts)
        else:
            refs = tuple(entry.ref for entry in plan_entry.written(room.store, key, texts))
    except GaugewrightError as error:
        return _answer(request, rooms.room(request), kind, texts, error=error)
    url = f"{entry_url(room, key)}?done={refs_text(refs)}"
    # Hundreds of records don't fit in an address: they can be taken out one by one.
    return RedirectResponse(url if len(url) < 4000 else entry_url(room, key), status_code=303)


@router.get("/c/{name}/plan/enter/{key}/{label:path}")
def change_form(request: Request, key: str, label: str) -> Response:
    """The form of a record that is there."""
    room = rooms.room(request)
    kind, entry = _entry(room, key, label)
    query = request.query_params
    version = int(query["version"]) if query.get("version", "").isdecimal() else entry.version
    if "version" in query:
        texts = {k: v for k, v in query.items() if k not in _OWN}
    else:
        texts = plan_entry.texts_of(kind, room.book, entry, room.units)
    return _answer(
        request,
        room,
        kind,
        texts,
        entry=entry,
        version=version,
        more=_more(query.get("more", "")),
        done=query.get("done", ""),
    )


@router.post("/c/{name}/plan/enter/{key}/{label:path}")
def change(
    request: Request,
    key: str,
    label: str,
    typed: Annotated[dict[str, str], Depends(typed_form)],
) -> Response:
    """Write a new version; a stale change shows both."""
    texts = {k: v for k, v in typed.items() if k not in _OWN}
    version = int(typed["version"]) if typed.get("version", "").isdecimal() else 0
    room = rooms.room(request)
    kind, entry = _entry(room, key, label)
    try:
        room = rooms.room_to_write(request)
        made = plan_entry.changed(room.store, key, label, version, texts)
    except GaugewrightError as error:
        room = rooms.room(request)
        kind, entry = _entry(room, key, label)
        return _answer(request, room, kind, texts, entry=entry, version=version, error=error)
    room = rooms.room(request)
    name = kind.named(room.book, made)
    return RedirectResponse(
        f"{entry_url(room, key, name)}?done={refs_text((made.ref,))}", status_code=303
    )


@router.post("/c/{name}/plan/take-out")
def take_out(
    request: Request, key: str = Form(""), label: str = Form(""), version: int = Form(0)
) -> Response:
    """Take a record out of the plan; its versions stay in the journal."""
    room = rooms.room_to_write(request)
    plan_entry.taken_out(room.store, key, label, version)
    return RedirectResponse(entry_url(room, key), status_code=303)


@router.post("/c/{name}/plan/take-back")
def undo(request: Request, refs: str = Form(""), back: str = Form("")) -> Response:
    """Take back what was written together."""
    checked(back)
    room = rooms.room_to_write(request)
    plan_entry.taken_back(room.store, _refs(refs))
    return returned(room, back)


def _kind(key: str) -> EntryKind | ManyKind:
    if key in plan_entry.MANY:
        return plan_entry.MANY[key]
    try:
        return plan_entry.kind_named(key)
    except InputError as error:
        raise NotThere("form", key, error.allowed) from error


def _more(text: str) -> int:
    """How many rows were asked for; 0 for as many as are needed."""
    return int(text) if text.isdecimal() and len(text) < 5 else 0


def _more_rows(groups: tuple[Group, ...]) -> int:
    """How many rows a form has after more were asked for; 0 where it has none."""
    counts = [len(field.rows.lines) for group in groups for field in group.fields if field.rows]
    return max(counts) + _ROWS if counts else 0


def _entry(room: rooms.Room, key: str, label: str) -> tuple[EntryKind, Entry[Any]]:
    try:
        kind = plan_entry.kind_named(key)
        return kind, plan_entry.entry_named(room.book, kind, label)
    except InputError as error:
        raise NotThere(error.name, error.value, error.allowed) from error


def _answer(
    request: Request,
    room: rooms.Room,
    kind: EntryKind | ManyKind,
    texts: Mapping[str, str],
    *,
    entry: Entry[Any] | None = None,
    version: int = 0,
    more: int = 0,
    done: str = "",
    error: GaugewrightError | None = None,
) -> Response:
    blanks = kind.blanks(Asking(room.book, texts, room.units))
    if entry is None and error is None:
        # What is chosen of itself may decide what else is asked.
        texts = plan_entry.standing_texts(blanks, texts, room.book)
        blanks = kind.blanks(Asking(room.book, texts, room.units))
        texts = plan_entry.standing_texts(blanks, texts, room.book)
    stale: tuple[Beside, ...] = ()
    if isinstance(error, StaleEdit) and isinstance(kind, EntryKind) and entry is not None:
        stale, version, error = _both(room, kind, entry, texts), entry.version, None
    groups, failure = groups_of(kind, blanks, texts, room.book, room.units, error=error, more=more)
    context = _page(
        room,
        kind,
        entry,
        groups=groups,
        failure=failure,
        stale=stale,
        quantities=quantities_of(blanks),
        version=version,
        done=done,
    )
    status = 422 if error else 409 if stale else 200
    return frame.page(request, "plan_form.html", context, part="_plan_fields.html", status=status)


def _both(
    room: rooms.Room, kind: EntryKind, entry: Entry[Any], texts: Mapping[str, str]
) -> tuple[Beside, ...]:
    """What differs between the record as it is now and what was typed."""
    now = plan_entry.texts_of(kind, room.book, entry, room.units)
    labels = {
        blank.name: blank.label for blank in kind.blanks(Asking(room.book, texts, room.units))
    }
    return tuple(
        Beside(_named(name, labels), now.get(name, ""), texts.get(name, ""))
        for name in dict.fromkeys([*now, *texts])
        if now.get(name, "").strip() != texts.get(name, "").strip()
    )


def _named(name: str, labels: Mapping[str, str]) -> str:
    """What a page calls a field, also one of a row or one that says where a value is from."""
    rows, _, cell = name.partition(".")
    if cell:
        number, _, column = cell.partition(".")
        return f"{labels.get(rows, rows)}, row {number}, {column}"
    for end, words in (("_basis", "how it is known"), ("_source", "by what")):
        if name.endswith(end):
            stem = name.removesuffix(end)
            return f"{labels.get(stem, stem)}: {words}"
    return labels.get(name, name)


def _page(
    room: rooms.Room,
    kind: EntryKind | ManyKind,
    entry: Entry[Any] | None,
    *,
    groups: tuple[Group, ...],
    failure: str,
    stale: tuple[Beside, ...],
    quantities: tuple[str, ...],
    version: int,
    done: str,
) -> EntryPage:
    name = "" if entry is None or isinstance(kind, ManyKind) else kind.named(room.book, entry)
    title, button = _title(kind, name)
    url = entry_url(room, kind.key, name)
    back = take_back(room, done, f"plan/enter/{kind.key}")
    exact, exact_url = _exact(room, kind, done) if back is not None else ("", "")
    known = _known(room, kind)
    return EntryPage(
        sheet=frame.Sheet(title, title, frame.room_block(room, title), "plan", quantities),
        title=title,
        lead=_lead(room, kind, entry),
        key=kind.key,
        done=back,
        exact=exact,
        exact_url=exact_url,
        failure=failure,
        wrong=wrong_of(groups),
        has_doubts=any(field.basis is not None for group in groups for field in group.fields),
        stale=stale,
        groups=groups,
        more_rows=_more_rows(groups),
        action=url,
        button=button,
        version=version,
        known=known[:_SHOWN],
        more_known=max(0, len(known) - _SHOWN),
        ways=ways(room, kind),
        following=following(room, kind),
        out_action=room.url("plan/take-out") if name else "",
        name=name,
        plan_url=room.url("plan"),
        enter_url=room.url("plan/enter"),
        nothing="" if groups or not isinstance(kind, ManyKind) else kind.nothing,
        before=before(room, kind),
    )


def _exact(room: rooms.Room, kind: EntryKind | ManyKind, done: str) -> tuple[str, str]:
    """Numbers without ± in what was just written, and the form in which they can be given."""
    for ref in _refs(done):
        entry = room.book.found(ref.uid)
        numbers = () if entry is None else exact_in(entry.record)
        if entry is None or not numbers:
            continue
        own = plan_entry.kind_of_record(type(entry.record))
        url = "" if own is None else entry_url(room, own.key, own.named(room.book, entry))
        words = ", ".join(numbers)
        told = "without a ±, and no budget counts how far off it may be."
        return f"{words[:1].upper()}{words[1:]}: {told}", url
    return "", ""


def _title(kind: EntryKind | ManyKind, name: str) -> tuple[str, str]:
    """What a form is called, and its button."""
    if isinstance(kind, ManyKind):
        return kind.title, kind.button
    if name:
        return f"{_bare(kind.one)} {name}", "Keep the change"
    return f"Enter {kind.one}", "Keep it"


def _bare(one: str) -> str:
    """What a single one is called, without its article and with a capital."""
    words = one.split(" ", 1)[1]
    return words[:1].upper() + words[1:]


def _lead(room: rooms.Room, kind: EntryKind | ManyKind, entry: Entry[Any] | None) -> str:
    if entry is None:
        return kind.about
    who = room.book.label(entry.person) if entry.person is not None else "nobody named"
    at = frame.instant_shown(entry.at, room)
    return f"Version {entry.version}, written {at} by {who}. A change is a new version."


def _known(room: rooms.Room, kind: EntryKind | ManyKind) -> tuple[tuple[str, str], ...]:
    """Names of what was entered, each with the address of its form."""
    of = kind if isinstance(kind, EntryKind) else plan_entry.KINDS.get(kind.of)
    if of is None:
        return ()
    entries: tuple[Entry[Any], ...] = room.book.of(of.record)
    names = [of.named(room.book, entry) for entry in entries]
    return tuple((name, entry_url(room, of.key, name)) for name in names)
