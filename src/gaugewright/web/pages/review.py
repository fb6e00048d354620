"""Review: what looks wrong, one finding at a time, decided by a person with a reason."""

from collections.abc import Mapping
from dataclasses import dataclass
from http import HTTPStatus

from fastapi import APIRouter, Form
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from gaugewright.errors import GaugewrightError, InputError, StaleEdit
from gaugewright.present.plots import drawn
from gaugewright.records.identity import Ref, Uid, uid_from_text
from gaugewright.records.readings import Decision, Finding, Recording
from gaugewright.records.results import Result
from gaugewright.services.deciding import queue as review_queue
from gaugewright.services.deciding.plot import span_plot
from gaugewright.services.deciding.queue import Case
from gaugewright.services.reviewing import review
from gaugewright.services.showing.page import Page
from gaugewright.services.strain.strains import Desk
from gaugewright.services.work import jobs
from gaugewright.services.work.jobs import JobState
from gaugewright.web import frame, rooms
from gaugewright.web.forms import Field
from gaugewright.web.links import GaugeLink, gauge_url
from gaugewright.web.not_there import NotThere
from gaugewright.web.pages.jobs import job_url
from gaugewright.web.pages.undo import Undo, offered
from gaugewright.web.rooms import Room

__all__ = ["CaseShown", "ReviewPage", "router"]

router = APIRouter()

JOB = "review"
WIDE, NARROW = (800.0, 330.0), (360.0, 300.0)
VERBS = {
    Decision.ACCEPTED: ("Accept", "a"),
    Decision.EXCLUDED: ("Exclude these rows", "e"),
    Decision.REJECTED: ("Reject", "r"),
}
_DECISIONS = {decision.value: decision for decision in VERBS}


@dataclass(frozen=True, slots=True)
class QueueRow:
    """A finding in the list of those that wait."""

    url: str
    gauge: str
    state: str
    code: str
    where: str
    is_here: bool


@dataclass(frozen=True, slots=True)
class OutcomeShown:
    """A decision on the form: its name and key, what follows, or why it can't be made."""

    value: str
    name: str
    key: str
    sentence: str
    is_allowed: bool
    is_chosen: bool


@dataclass(frozen=True, slots=True)
class GateShown:
    """One gate of the gauge: verdict, reason, and when."""

    gate: str
    at: str
    verdict: str
    reason: str


@dataclass(frozen=True, slots=True)
class CompanionShown:
    """A gauge that should read alike."""

    gauge: GaugeLink
    how: str
    why: str


@dataclass(frozen=True, slots=True)
class OtherShown:
    """Another finding about the same gauge."""

    url: str
    sentence: str
    decision: str


@dataclass(frozen=True, slots=True)
class CaseShown:
    """The finding on the desk: ``stands`` is its gauge's state now, ``says`` what it claims."""

    gauge: GaugeLink
    says: str
    stands: str
    code: str
    sentence: str
    measured: str
    limit: str
    limit_source: str
    recording: str
    rows: str
    time: str
    wide: str
    narrow: str
    caption: str
    decision: str
    decided_by: str
    reason_given: str
    action: str
    verdict_url: str
    version: int
    outcomes: tuple[OutcomeShown, ...]
    reason: Field
    gates: tuple[GateShown, ...]
    company: tuple[CompanionShown, ...]
    others: tuple[OtherShown, ...]


@dataclass(frozen=True, slots=True)
class DecidedRow:
    """A finding that was decided, by whom and why."""

    url: str
    gauge: GaugeLink
    sentence: str
    decision: str
    reason: str
    person: str
    at: str


@dataclass(frozen=True, slots=True)
class Both:
    """A decision that met another: what stands now, and what was chosen here."""

    name: str
    theirs: str
    yours: str


@dataclass(frozen=True, slots=True)
class ReviewPage:
    """The queue of findings, the one on the desk, and those decided."""

    sheet: frame.Sheet
    title: str
    lead: str
    place: str
    queue: tuple[QueueRow, ...]
    previous_url: str
    next_url: str
    case: CaseShown | None
    both: tuple[Both, ...]
    failure: str
    undo: Undo | None
    look_url: str
    can_look: bool
    was_looked: bool
    decided: tuple[DecidedRow, ...]


@router.get("/c/{name}/review")
def show(request: Request, decided: str = "") -> Response:
    """The first finding that waits, and the others; the one just decided can be taken back."""
    return _page(request, rooms.room(request), decided=decided)


@router.post("/c/{name}/review/look")
def look(request: Request) -> Response:
    """Look through the readings again, in a process of its own; once at a time."""
    room = rooms.room_to_write(request)
    going_on = [j.uid for j in jobs.jobs(room.store) if j.kind == JOB and not j.state.is_over]
    uid = going_on[0] if going_on else jobs.submit(room.store, JOB, {})
    return RedirectResponse(job_url(room, uid), status_code=303)


@router.get("/c/{name}/review/{uid}")
def one(request: Request, uid: str) -> Response:
    """One finding on the desk."""
    return _page(request, rooms.room(request), uid=uid)


@router.post("/c/{name}/review/{uid}")
def decide(
    request: Request,
    uid: str,
    version: int = Form(0),
    decision: str = Form(""),
    reason: str = Form(""),
) -> Response:
    """Decide a finding; one that somebody else decided meanwhile shows both decisions."""
    typed = {"decision": decision, "reason": reason}
    room = rooms.room(request)
    try:
        if decision not in _DECISIONS:
            raise InputError("decision", decision, f"one of {', '.join(_DECISIONS)}")
        room = rooms.room_to_write(request)
        finding = _uid_of(room, uid)
        review.decide(room.store, finding, version, _DECISIONS[decision], reason)
    except GaugewrightError as error:
        if isinstance(error, NotThere):
            raise
        return _page(request, rooms.room(request), uid=uid, typed=typed, error=error)
    return RedirectResponse(room.url(f"review?decided={finding}"), status_code=303)


def _uid_of(room: Room, typed: str) -> Uid:
    uid = uid_from_text(typed)
    if not any(entry.uid == uid for entry in room.book.of(Finding)):
        raise NotThere("finding", typed, "one of this campaign", "look at the list of findings")
    return uid


def _page(
    request: Request,
    room: Room,
    *,
    uid: str = "",
    decided: str = "",
    typed: Mapping[str, str] | None = None,
    error: GaugewrightError | None = None,
) -> Response:
    page = Page.of(Desk(room.store, room.book))
    found = review_queue.cases(page)
    waiting = [case for case in found if case.is_open]
    wanted = _uid_of(room, uid) if uid else None
    here = next((case for case in found if case.entry.uid == wanted), None)
    if wanted is None and waiting:
        here = waiting[0]
    stale = isinstance(error, StaleEdit)
    context = ReviewPage(
        sheet=frame.Sheet("Review", "Review", frame.room_block(room, "Review"), step="review"),
        title=_title(waiting) if found else _unfound(room)[0],
        lead=_lead(waiting) if found else _unfound(room)[1],
        place=_place(waiting, here),
        queue=tuple(_queue_row(room, case, here) for case in waiting),
        previous_url=_beside(room, waiting, here, -1),
        next_url=_beside(room, waiting, here, +1),
        case=_case_shown(page, room, found, here, typed or {}, error) if here else None,
        both=_both(page, here, typed or {}) if here and stale else (),
        failure="" if error is None or stale or _is_beside(error) else str(error),
        undo=_undo(room, found, decided),
        look_url=room.url("review/look"),
        can_look=bool(room.book.of(Recording)),
        was_looked=bool(found or room.book.of(Result) or _looks(room)),
        decided=tuple(_decided_row(page, room, case) for case in found if not case.is_open),
    )
    status = HTTPStatus.CONFLICT if stale else HTTPStatus.UNPROCESSABLE_ENTITY
    return frame.page(request, "review.html", context, status=status if error else HTTPStatus.OK)


def _is_beside(error: GaugewrightError) -> bool:
    return isinstance(error, InputError) and error.name == "reason"


def _looks(room: Room) -> list[jobs.Job]:
    """Every look through the readings that was asked for, the last first."""
    return [job for job in jobs.jobs(room.store) if job.kind in (JOB, "reduce")]


def _unfound(room: Room) -> tuple[str, str]:
    """Heading and words where no finding is on record: a look that found nothing, or no look."""
    never = "Readings are never changed here."
    looks = _looks(room)
    last = looks[0] if looks else None
    if last is not None and not last.state.is_over:
        return "The readings are looked through", f"What looks wrong will stand here. {never}"
    if last is not None and last.state is not JobState.DONE:
        words = f"The last look didn’t come to its end: {last.message}. Look again below. {never}"
        return "Not looked through", words
    # Reducing looks first, also from the command line, where no job is kept.
    if last is None and not room.book.of(Result):
        return "Not looked through yet", f"Nothing is known of what looks wrong. {never}"
    at = f" on {frame.instant_shown(last.ended, room)}" if last and last.ended else ""
    return "Nothing was found", f"Readings were looked through{at}; nothing looks wrong. {never}"


def _title(waiting: list[Case]) -> str:
    if not waiting:
        return "Every finding is decided"
    return f"{len(waiting)} finding{'s' if len(waiting) > 1 else ''} to decide"


def _lead(waiting: list[Case]) -> str:
    gauges = len({case.entry.record.subject for case in waiting})
    if not waiting:
        return "Each can be opened again; what was decided before stays in the journal."
    about = "one gauge" if gauges == 1 else f"{gauges} gauges"
    return f"They are about {about}. Whatever you decide, no reading is changed."


def _place(waiting: list[Case], here: Case | None) -> str:
    if here is None or here not in waiting:
        return ""
    return f"{waiting.index(here) + 1} of {len(waiting)} that wait"


def _beside(room: Room, waiting: list[Case], here: Case | None, step: int) -> str:
    """Address of the finding before or after the one on the desk; "" at the ends."""
    if here is None or here not in waiting:
        return _case_url(room, waiting[0]) if waiting and here is not None else ""
    place = waiting.index(here) + step
    return _case_url(room, waiting[place]) if 0 <= place < len(waiting) else ""


def _case_url(room: Room, case: Case) -> str:
    return room.url(f"review/{case.entry.uid}")


def _queue_row(room: Room, case: Case, here: Case | None) -> QueueRow:
    return QueueRow(
        _case_url(room, case),
        case.gauge,
        case.says.value,
        case.entry.record.code,
        case.recording or "at a gate",
        case is here,
    )


def _other_shown(room: Room, other: Case) -> OtherShown:
    finding = other.entry.record
    return OtherShown(_case_url(room, other), finding.sentence, finding.decision.value)


def _reason_field(typed: Mapping[str, str], error: GaugewrightError | None) -> Field:
    return Field(
        "reason",
        "Why",
        value=typed.get("reason", ""),
        hint="In your words. It goes into the journal and the report.",
        wrong=str(error) if error is not None and _is_beside(error) else "",
    )


def _case_shown(
    page: Page,
    room: Room,
    found: tuple[Case, ...],
    case: Case,
    typed: Mapping[str, str],
    error: GaugewrightError | None,
) -> CaseShown:
    finding = case.entry.record
    plot = span_plot(page, case.entry)
    return CaseShown(
        gauge=_link(room, case.gauge, case.stands.value),
        says=case.says.value,
        stands=case.stands.value,
        code=finding.code,
        sentence=finding.sentence,
        measured=case.measured,
        limit=case.limit,
        limit_source=finding.limit_source,
        recording=case.recording,
        rows=case.rows,
        time=case.time,
        wide=drawn(plot.plot, *WIDE) if plot else "",
        narrow=drawn(plot.narrow, *NARROW) if plot else "",
        caption=plot.caption if plot else "",
        decision="" if case.is_open else finding.decision.value,
        decided_by=review_queue.decided_by(page, case),
        reason_given=finding.reason,
        action=_case_url(room, case),
        verdict_url=_case_url(room, case) + "/verdict" if case.rows else "",
        version=case.entry.version,
        outcomes=_outcomes(page, case, typed.get("decision", "")),
        reason=_reason_field(typed, error),
        gates=_gates(page, case),
        company=tuple(
            CompanionShown(_link(room, one.label, one.state.value), one.how, one.why)
            for one in review_queue.company_of(page, case)
        ),
        others=tuple(
            _other_shown(room, other) for other in review_queue.other_findings(found, case)
        ),
    )


def _outcomes(page: Page, case: Case, chosen: str) -> tuple[OutcomeShown, ...]:
    return tuple(
        OutcomeShown(
            one.decision.value,
            *VERBS[one.decision],
            one.sentence,
            one.is_allowed,
            one.decision.value == chosen,
        )
        for one in review_queue.outcomes(page, case)
    )


def _gates(page: Page, case: Case) -> tuple[GateShown, ...]:
    """Every gate; in words only the last and those that weren't passed: the rest read alike."""
    lines = review_queue.gates_of(page, case)
    return tuple(
        GateShown(
            line.gate,
            line.at,
            line.verdict,
            "" if line.passed and line is not lines[-1] else line.reason,
        )
        for line in lines
    )


def _link(room: Room, label: str, state: str) -> GaugeLink:
    return GaugeLink(label, gauge_url(room, label), state)


def _decided_row(page: Page, room: Room, case: Case) -> DecidedRow:
    finding = case.entry.record
    return DecidedRow(
        _case_url(room, case),
        _link(room, case.gauge, case.stands.value),
        finding.sentence,
        finding.decision.value,
        finding.reason,
        review_queue.decided_by(page, case),
        page.moment(case.entry.at),
    )


def _both(page: Page, case: Case, typed: Mapping[str, str]) -> tuple[Both, ...]:
    """What stands now and what was chosen, field by field."""
    finding = case.entry.record
    return (
        Both("Decision", finding.decision.value, typed.get("decision", "") or "none"),
        Both("Reason", finding.reason or "none", typed.get("reason", "") or "none"),
        Both("By", review_queue.decided_by(page, case) or "nobody", "you"),
    )


def _undo(room: Room, found: tuple[Case, ...], decided: str) -> Undo | None:
    """Offer to take back a decision that was just made, with what followed from it."""
    if not decided:
        return None
    case = next((case for case in found if case.entry.uid == decided), None)
    if case is None or case.is_open:
        return None
    words = f"{case.gauge}, {case.entry.record.code}: {case.entry.record.decision.value}"
    words += f". The gauge is {case.stands.value} now"
    return offered(room, words, Ref(case.entry.uid, case.entry.version), f"review/{decided}")
