"""Handover: reports built from the records, who signed, and gauges no answer rests on."""

import hashlib
import re
from dataclasses import dataclass, replace
from pathlib import Path

from fastapi import APIRouter, Form
from starlette.requests import Request
from starlette.responses import FileResponse, RedirectResponse, Response

from gaugewright.errors import GaugewrightError, InputError
from gaugewright.present.captions import coverage_text
from gaugewright.present.numbers import fixed_text
from gaugewright.records.gauges import Gauge
from gaugewright.records.proof import Signature
from gaugewright.records.readings import Decision, Finding
from gaugewright.records.results import Chain, Result
from gaugewright.services.campaign.coverage import COVERAGE
from gaugewright.services.handover.origin import open_points
from gaugewright.services.handover.reports_built import Built, built_reports
from gaugewright.services.laboratory import signing
from gaugewright.services.showing.page import Page
from gaugewright.services.strain.strains import Desk
from gaugewright.services.telling.gauges import register_rows
from gaugewright.web import frame, rooms
from gaugewright.web.forms import Choice, Field
from gaugewright.web.job_shown import JobShown
from gaugewright.web.links import gauge_url
from gaugewright.web.not_there import NotThere
from gaugewright.web.pages import results, work
from gaugewright.web.people import People

__all__ = ["HandoverPage", "router"]

router = APIRouter()

OWN_WORDS = "own"
STATEMENTS = {"made": "I made these results", "checked": "I checked these results"}


@dataclass(frozen=True, slots=True)
class ReportRow:
    """A report as it lies in the campaign: revision, when, how large, SHA-256 of the file.

    ``url`` is "" when the file was written elsewhere, ``page_url`` where there is no page of it;
    ``as_of`` says what records it knows of; ``is_other`` that its bytes aren't those that were
    written.
    """

    revision: str
    built: str
    as_of: str
    size: str
    sha256: str
    url: str
    page_url: str
    file_name: str
    is_other: bool
    is_behind: bool


@dataclass(frozen=True, slots=True)
class RegisterLine:
    """A gauge that is doubtful or lost, since when and why."""

    label: str
    url: str
    state: str
    since: str
    reason: str


@dataclass(frozen=True, slots=True)
class Signing:
    """The form to sign the results, or why this device's person can't: ``cannot``.

    ``what`` says exactly what will be signed, and ``seen`` tells it from every other state.
    """

    url: str
    cannot: str
    mend_url: str
    mend_words: str
    who: str
    what: str
    head: str
    seen: str
    fields: tuple[Field, ...]
    pin_wrong: str
    failure: str


@dataclass(frozen=True, slots=True)
class SignatureShown:
    """Who signed, when, with what words, and whether that still holds."""

    name: str
    signed: str
    statement: str
    stands: str
    holds: bool


@dataclass(frozen=True, slots=True)
class HandoverPage:
    """What the handover page shows."""

    sheet: frame.Sheet
    lead: str
    open_points: tuple[str, ...]
    behind: str
    reduce_url: str
    begin_url: str
    job: JobShown | None
    reducing: JobShown | None
    is_next: bool
    cannot: str
    reports: tuple[ReportRow, ...]
    signing: Signing
    signatures: tuple[SignatureShown, ...]
    register: tuple[RegisterLine, ...]
    handed_url: str


@router.get("/c/{name}/handover")
def show(request: Request) -> Response:
    """Reports of a campaign, and what to know before one is handed over."""
    return _page(request, rooms.room(request))


@router.post("/c/{name}/handover/sign")
def sign(
    request: Request,
    statement: str = Form(""),
    own: str = Form(""),
    seen: str = Form(""),
    pin: str = Form(""),
) -> Response:
    """Sign the results as the page showed them, for the person at work here who knows the PIN."""
    typed = {"statement": statement, "own": own}
    try:
        words = _statement(statement, own)
        _refuse_unseen(rooms.room(request), seen)
        who = rooms.device(request).person
        if who is None:
            raise InputError("person", "not chosen", "who is at work on this device")
        _people(request).check_pin(who.label, pin)
        room = rooms.room_to_write(request)  # nobody enters a campaign by a wrong PIN
        _refuse_unseen(room, seen)
        if room.person is None or room.person.record.label != who.label:
            raise InputError("person", "another one by now", who.name, "sign again")
        refs = signing.results_to_sign(room.book)
        signing.sign(room.store, person=room.person.uid, statement=words, of=refs)
    except NotThere:
        raise
    except GaugewrightError as error:
        return _page(request, rooms.room(request), typed=typed, error=error)
    return RedirectResponse(room.url("handover#signatures"), status_code=303)


@router.get("/c/{name}/handover/{file_name}")
def report(request: Request, file_name: str) -> Response:
    """One report, to be kept; only names of reports that are listed count."""
    room = rooms.room(request)
    listed = [path for one in _built(room) if one.path for path in (one.path, _page_of(one.path))]
    found = next((path for path in listed if path.is_file() and path.name == file_name), None)
    if found is None:
        raise NotThere("report", file_name, "one of those listed under Handover")
    # The name a receiver sees: the campaign's label, in letters that every system takes.
    label = re.sub(r"[^A-Za-z0-9]+", "-", room.store.campaign.record.label).strip("-")
    kind = "application/pdf" if found.suffix == ".pdf" else "text/html; charset=utf-8"
    return FileResponse(found, media_type=kind, filename=f"{label or 'campaign'}-{file_name}")


def _page_of(path: Path) -> Path:
    """The same report as one page for a browser, beside the PDF."""
    return path.with_suffix(".html")


def _page(
    request: Request,
    room: rooms.Room,
    *,
    typed: dict[str, str] | None = None,
    error: GaugewrightError | None = None,
) -> Response:
    context = handover_page(room, _signing(request, room, typed or {}, error))
    return frame.page(request, "handover.html", context, status=422 if error else 200)


def handover_page(room: rooms.Room, form: Signing) -> HandoverPage:
    """Everything the handover page shows."""
    page = Page.of(Desk(room.store, room.book))
    reports = tuple(_row(room, built) for built in reversed(_built(room)))
    chains = len(room.book.of(Chain))
    block = frame.room_block(
        room,
        "Handover",
        coverage=coverage_text(COVERAGE),
        chain=f"{chains} applied" if chains else "none applied yet",
    )
    return HandoverPage(
        sheet=frame.Sheet("Handover", "Handover", block, "handover"),
        lead=_lead(reports),
        open_points=(*_undecided(room), *open_points(page)),
        behind=results.behind(room) if room.book.of(Gauge) else "",
        reduce_url=work.begin_url(room, "reduce"),
        begin_url=work.begin_url(room, "report"),
        job=work.going_on(room, "report"),
        reducing=work.going_on(room, "reduce"),
        is_next=not reports or reports[0].is_behind,
        cannot="" if room.book.of(Gauge) else "There is no gauge to report on yet.",
        reports=reports,
        signing=form,
        signatures=_signatures(room),
        register=tuple(
            RegisterLine(r.gauge, gauge_url(room, r.gauge), r.state, r.since, r.reason)
            for r in register_rows(page)
        ),
        handed_url=room.url("handed"),
    )


def _statement(chosen: str, own: str) -> str:
    """Words that will be signed: ours, or the person's own."""
    if chosen in STATEMENTS:
        return STATEMENTS[chosen]
    if chosen != OWN_WORDS:
        allowed = ", ".join((*STATEMENTS, OWN_WORDS))
        raise InputError("statement", chosen, f"one of: {allowed}")
    try:
        return signing.plain_statement(own)
    except InputError as error:
        raise InputError("own words", error.value, error.allowed) from error


def _refuse_unseen(room: rooms.Room, seen: str) -> None:
    """Nobody signs what this page didn't show: results may have changed while it was open."""
    if seen != signing.digest(signing.results_to_sign(room.book)):
        raise InputError(
            "state of the results",
            "another one than you were shown",
            "the one you sign",
            "look at them as they are now, then sign",
        )


def _signing(
    request: Request, room: rooms.Room, typed: dict[str, str], error: GaugewrightError | None
) -> Signing:
    refs = signing.results_to_sign(room.book)
    who = rooms.device(request).person
    cannot, url, words = "", "", ""
    if not refs:
        cannot = "There is no result to sign yet."
    elif who is None:
        cannot = "A signature needs a name."
        url, words = "/people", "Say who is at work on this device"
    elif not _people(request).has_pin(who.label):
        cannot = f"{who.name} has no PIN yet and can’t sign."
        url, words = "/people", "Set a PIN under People"
    at = error.name if isinstance(error, InputError) else ""
    beside = {"own words": "own", "statement": "statement"}.get(at, "")
    is_pin = at.startswith("PIN of") or at == "number of wrong tries"
    many = len(refs) != 1
    return Signing(
        url=room.url("handover/sign"),
        cannot=cannot,
        mend_url=url,
        mend_words=words,
        who=who.name if who else "",
        what=f"{fixed_text(len(refs), 0)} result{'s' if many else ''}, as "
        f"{'they stand' if many else 'it stands'} under Results now",
        head=f"entry {fixed_text(room.head.seq, 0)}, {room.head.sha256[:12]}",
        seen=signing.digest(refs),
        fields=tuple(
            replace(
                field,
                value=typed.get(field.name, field.value),
                wrong=str(error) if field.name == beside else "",
            )
            for field in _sign_fields()
        ),
        pin_wrong=str(error) if is_pin and not cannot else "",
        failure="" if error is None or beside or (is_pin and not cannot) else str(error),
    )


def _sign_fields() -> tuple[Field, ...]:
    ours = tuple(Choice(value, words) for value, words in STATEMENTS.items())
    return (
        Field("statement", "Statement", choices=(*ours, Choice(OWN_WORDS, "In my own words:"))),
        Field(
            "own",
            "Own words",
            is_long=True,
            hint=f"Only for a statement of your own, up to {signing.LONGEST} characters.",
        ),
    )


def _signatures(room: rooms.Room) -> tuple[SignatureShown, ...]:
    """Signatures of the results, the newest first."""
    found = signing.signatures_of(room.book, signing.results_to_sign(room.book))
    return tuple(
        SignatureShown(
            signing.signer(room.store, standing.entry.record),
            frame.instant_shown(standing.entry.record.signed, room),
            standing.entry.record.statement,
            signing.standing_words(standing),
            standing.holds,
        )
        for standing in reversed(found)
    )


def _people(request: Request) -> People:
    found: People = request.app.state.people
    return found


def _lead(reports: tuple[ReportRow, ...]) -> str:
    if not reports:
        return "No report is built yet. It is made from the records, as they stand, in one go."
    if reports[0].is_behind:
        return f"Records changed since report {reports[0].revision} was built."
    return f"Report {reports[0].revision} says what the records say."


def _undecided(room: rooms.Room) -> list[str]:
    number = sum(entry.record.decision is Decision.OPEN for entry in room.book.of(Finding))
    if not number:
        return []
    are = "finding is" if number == 1 else "findings are"
    return [f"{number} {are} open: the report says so, and nobody has decided."]


def _built(room: rooms.Room) -> tuple[Built, ...]:
    return built_reports(room.store.folder, room.book)


def _row(room: rooms.Room, built: Built) -> ReportRow:
    size, digest = "written elsewhere", built.sha256
    if built.path is not None:
        size = f"{fixed_text(built.path.stat().st_size / 1000, 0)} kB"
        with built.path.open("rb") as file:
            digest = hashlib.file_digest(file, "sha256").hexdigest()
    changed = [entry.at for entry in room.book.of(Result)]
    changed += [entry.at for entry in room.book.of(Finding)]
    changed += [entry.at for entry in room.book.of(Signature)]
    known = built.as_of or built.built
    return ReportRow(
        str(built.revision),
        frame.instant_shown(built.built, room),
        frame.instant_shown(built.as_of, room) if built.as_of else "not written down",
        size,
        digest,
        room.url(f"handover/{built.path.name}") if built.path else "",
        room.url(f"handover/{_page_of(built.path).name}")
        if built.path and _page_of(built.path).is_file()
        else "",
        built.name,
        bool(built.sha256) and digest != built.sha256,
        bool(changed) and max(changed) > known,
    )
