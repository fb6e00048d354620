"""Methods of the bench: steps and limits as data, each change a new version of its own."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Annotated
from urllib.parse import quote

from fastapi import APIRouter, Depends
from starlette.requests import Request
from starlette.responses import PlainTextResponse, RedirectResponse, Response

from gaugewright.errors import GaugewrightError, InputError
from gaugewright.records.benching import MethodStep
from gaugewright.records.proof import Limit, Method
from gaugewright.services.bench.limit_words import limit_text, limit_value_typed
from gaugewright.services.bench.method_text import method_toml, methods_typed
from gaugewright.services.bench.methods import (
    complete_methods,
    method_named,
    revised_limit,
    revised_method,
    step_named,
)
from gaugewright.services.campaign.laboratory import limit_or_shipped
from gaugewright.web import frame, rooms
from gaugewright.web.forms import Choice, Field, typed_form
from gaugewright.web.not_there import NotThere
from gaugewright.web.rooms import Room

__all__ = ["MethodPage", "MethodsPage", "router"]

router = APIRouter()
_LINES = ("limits", "hazards", "cautions", "supplies")
_CONFIRMED = (Choice("no", "no: unverified"), Choice("yes", "yes: somebody has confirmed it"))


@dataclass(frozen=True, slots=True)
class MethodRow:
    """A method in the list."""

    label: str
    url: str
    about: str
    steps: int
    terms: str


@dataclass(frozen=True, slots=True)
class MethodsPage:
    """Every complete method of the campaign."""

    sheet: frame.Sheet
    rows: tuple[MethodRow, ...]
    bench_url: str


@dataclass(frozen=True, slots=True)
class StepShown:
    """A step: its words, and the fields of the form that changes it."""

    name: str
    key: str
    text: tuple[str, ...]
    records: tuple[str, ...]
    clocks: tuple[str, ...]
    lists: tuple[tuple[str, tuple[str, ...]], ...]
    fields: tuple[Field, ...]


@dataclass(frozen=True, slots=True)
class LimitShown:
    """A limit of the method, and the fields of the form that changes it."""

    label: str
    key: str
    number: str
    meaning: str
    source: str
    version: int
    is_unverified: bool
    fields: tuple[Field, ...]


@dataclass(frozen=True, slots=True)
class VersionRow:
    """A version of the method: when, by whom, why."""

    version: int
    at: str
    who: str
    reason: str


@dataclass(frozen=True, slots=True)
class MethodPage:
    """One method with its steps, limits and versions."""

    sheet: frame.Sheet
    label: str
    about: str
    source: str
    is_unverified: bool
    version: int
    steps: tuple[StepShown, ...]
    limits: tuple[LimitShown, ...]
    versions: tuple[VersionRow, ...]
    whole: Field
    confirmed: tuple[Field, ...]
    reason: Field
    failure: str
    own_url: str
    toml_url: str
    blank_url: str
    methods_url: str


def method_url(room: Room, label: str) -> str:
    """Address of a method's page."""
    return room.url(f"bench/methods/{quote(label, safe='')}")


@router.get("/c/{name}/bench/methods")
def show(request: Request) -> Response:
    """Every complete method."""
    room = rooms.room(request)
    rows = tuple(
        MethodRow(
            method.label,
            method_url(room, method.label),
            method.text,
            len(method.steps),
            _terms(room, method),
        )
        for method in complete_methods(room.book)
    )
    sheet = frame.Sheet("Methods", "Methods", frame.room_block(room, "Methods"), "bench")
    page = MethodsPage(sheet, rows, room.url("bench"))
    return frame.page(request, "bench_methods.html", page)


def _terms(room: Room, method: Method) -> str:
    version = _version(room, method.label)
    which = f"version {version}" if version else "as shipped"
    unsure = "unverified" if method.unverified else "confirmed"
    return f"{method.source}; {unsure}; {which}"


def _version(room: Room, label: str) -> int:
    """Version of the method that the campaign holds; 0 for one as shipped."""
    return next((e.version for e in room.book.of(Method) if e.record.label == label), 0)


@router.get("/c/{name}/bench/methods/{label}")
def method(request: Request, label: str, text: str = "") -> Response:
    """One method; ``text`` asks for it as a laboratory's file holds it."""
    room = rooms.room(request)
    made = _method(room, label)
    if text:
        return PlainTextResponse(method_toml(made))
    return frame.page(request, "bench_method.html", _context(room, made))


def _method(room: Room, label: str) -> Method:
    try:
        return method_named(room.book, label)
    except InputError as error:
        raise NotThere("method", label, error.allowed) from error


@router.post("/c/{name}/bench/methods/{label}")
def change(
    request: Request, label: str, typed: Annotated[dict[str, str], Depends(typed_form)]
) -> Response:
    """Write the next version of a method, or of one of its limits."""
    room = rooms.room(request)
    made = _method(room, label)
    try:
        room = rooms.room_to_write(request)
        _changed(room, made, typed)
    except GaugewrightError as error:
        page = _context(rooms.room(request), made, typed=typed, failure=str(error))
        return frame.page(request, "bench_method.html", page, status=422)
    return RedirectResponse(method_url(room, label), status_code=303)


def _changed(room: Room, made: Method, typed: Mapping[str, str]) -> None:
    reason = typed.get("reason", "")
    version = int(typed["version"]) if typed.get("version", "").isdecimal() else None
    if typed.get("limit"):
        limit = limit_or_shipped(room.book, typed["limit"])
        revised_limit(
            room.store,
            _limit_typed(room, limit, typed),
            from_version=version or None,
            reason=reason,
        )
        return
    if typed.get("whole"):
        (new,) = methods_typed(typed["whole"], name="the method as text")
    elif typed.get("step"):
        step = step_named(made, typed["step"])
        others = tuple(_step_typed(one, typed) if one == step else one for one in made.steps)
        new = replace(made, steps=others)
    else:
        source = typed.get("source", "").strip() or made.source
        new = replace(made, source=source, unverified=typed.get("confirmed") != "yes")
    if new.label != made.label:
        raise InputError("label", new.label, made.label, "a method with another name is a new one")
    revised_method(room.store, new, from_version=version or None, reason=reason)


def _step_typed(step: MethodStep, typed: Mapping[str, str]) -> MethodStep:
    def lines(name: str) -> tuple[str, ...]:
        return tuple(line.strip() for line in typed.get(name, "").splitlines() if line.strip())

    return replace(
        step,
        text="\n".join(lines("text")),
        limits=lines("limits"),
        hazards=lines("hazards"),
        cautions=lines("cautions"),
        supplies=lines("supplies"),
    )


def _limit_typed(room: Room, limit: Limit, typed: Mapping[str, str]) -> Limit:
    return replace(
        limit,
        value=limit_value_typed(limit, typed.get("value", ""), room.units),
        source=typed.get("source", "").strip(),
        unverified=typed.get("confirmed") != "yes",
    )


def _context(
    room: Room, made: Method, *, typed: Mapping[str, str] | None = None, failure: str = ""
) -> MethodPage:
    title = f"Method {made.label}"
    given = typed or {}
    return MethodPage(
        sheet=frame.Sheet(title, title, frame.room_block(room, title), "bench"),
        label=made.label,
        about=made.text,
        source=made.source,
        is_unverified=made.unverified,
        version=_version(room, made.label),
        steps=tuple(_step(step, n, given) for n, step in enumerate(made.steps)),
        limits=_limits(room, made, given),
        versions=_versions(room, made.label),
        whole=Field(
            "whole",
            "The whole method as text",
            given.get("whole", "") or method_toml(made),
            hint="What is recorded and clocks too. Numbers in SI.",
            is_long=True,
        ),
        confirmed=(
            Field("source", "Source", given.get("source", made.source)),
            Field("confirmed", "Confirmed", "no" if made.unverified else "yes", choices=_CONFIRMED),
        ),
        reason=Field("reason", "Why", given.get("reason", ""), hint="Kept with the new version."),
        failure=failure,
        own_url=method_url(room, made.label),
        toml_url=method_url(room, made.label) + "?text=1",
        blank_url=room.url(f"bench/blank?method={quote(made.label)}"),
        methods_url=room.url("bench/methods"),
    )


def _step(step: MethodStep, number: int, given: Mapping[str, str]) -> StepShown:
    mine = given if given.get("step") == step.name else {}
    words = {name: "\n".join(getattr(step, name)) for name in _LINES}
    labels = {
        "limits": "Limits it is held to",
        "hazards": "Hazards",
        "cautions": "Mind",
        "supplies": "Supplies it needs",
    }
    fields = (
        Field("text", "What to do", mine.get("text", step.text), is_long=True),
        *(
            Field(
                name, labels[name], mine.get(name, words[name]), hint="A line each.", is_long=True
            )
            for name in _LINES
        ),
    )
    clocks = tuple(
        f"{clock.name}: {clock.kind.value} {clock.limit or 'by the sheet'}, from {clock.since}"
        + (f" (the sheet’s {clock.sheet} goes first)" if clock.sheet and clock.limit else "")
        + (f"; else do {clock.redo} again" if clock.redo else "")
        for clock in step.clocks
    )
    return StepShown(
        step.name,
        f"step-{number}",
        tuple(step.text.splitlines()),
        tuple(f.name + (f" ({f.note})" if f.note else "") for f in step.fields),
        clocks,
        tuple((labels[name], getattr(step, name)) for name in _LINES if getattr(step, name)),
        fields,
    )


def _limits(room: Room, made: Method, given: Mapping[str, str]) -> tuple[LimitShown, ...]:
    labels = [label for step in made.steps for label in step.limits]
    labels += [clock.limit for step in made.steps for clock in step.clocks if clock.limit]
    versions = {entry.record.label: entry.version for entry in room.book.of(Limit)}
    shown = []
    for number, label in enumerate(dict.fromkeys(labels)):
        limit = limit_or_shipped(room.book, label)
        text = limit_text(limit, room.units)
        mine = given if given.get("limit") == label else {}
        fields = (
            Field("value", "Value", mine.get("value", text)),
            Field("source", "Source", mine.get("source", limit.source)),
            Field(
                "confirmed", "Confirmed", "no" if limit.unverified else "yes", choices=_CONFIRMED
            ),
        )
        key, version = f"limit-{number}", versions.get(label, 0)
        row = LimitShown(
            label, key, text, limit.meaning, limit.source, version, limit.unverified, fields
        )
        shown.append(row)
    return tuple(shown)


def _versions(room: Room, label: str) -> tuple[VersionRow, ...]:
    entry = next((e for e in room.book.of(Method) if e.record.label == label), None)
    if entry is None:
        return ()
    return tuple(
        VersionRow(
            one.version,
            frame.instant_shown(one.at, room),
            room.book.label(one.person) if one.person else "with the campaign",
            one.reason,
        )
        for one in reversed(room.store.history(entry.uid))
    )
