"""The command that lists what looks wrong and keeps what a person decides of it: review."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from gaugewright.cli.options import AsJson, CampaignFolder, settings_of
from gaugewright.cli.progress import Progress
from gaugewright.cli.speech import aside, result, table
from gaugewright.cli.teaching import teaching
from gaugewright.errors import InputError

if TYPE_CHECKING:
    from gaugewright.records.readings import Decision
    from gaugewright.services.deciding.queue import Case
    from gaugewright.services.showing.page import Page

__all__ = ["add_to"]

REVIEW = teaching(
    does="""List what looks wrong, each finding with its number, the limit it broke and its rows;
    or decide one. Accepted, it counts against its gauge; excluded, its rows are left out of every
    strain; rejected, it counts for nothing. No reading is ever changed, and deciding again writes
    a new version.""",
    when="after reduce, or with --again after new readings; before the report.",
    example='gaugewright review beams-2026 --decide G07 --reject --reason "bar bends here"',
    after="gaugewright reduce beams-2026, so that numbers know what was excluded",
)


def add_to(app: typer.Typer) -> None:
    """Give the command of this module its name."""
    app.command("review", help=REVIEW)(review)


def review(
    context: typer.Context,
    folder: CampaignFolder,
    decide: Annotated[
        str,
        typer.Option(
            metavar="GAUGE|UID",
            help="Finding to decide: its uid, or its gauge's label when that has one open finding.",
        ),
    ] = "",
    accept: Annotated[bool, typer.Option("--accept", help="It is so.")] = False,
    exclude: Annotated[
        bool, typer.Option("--exclude", help="It is so, of these rows only: leave them out.")
    ] = False,
    reject: Annotated[bool, typer.Option("--reject", help="It isn't so.")] = False,
    reason: Annotated[str, typer.Option(help="Why, in your words; a decision needs one.")] = "",
    again: Annotated[
        bool, typer.Option("--again", help="First look through every reading once more.")
    ] = False,
    weigh: Annotated[
        str,
        typer.Option(
            metavar="GAUGE|UID",
            help="Gauge or specimen? Weigh the evidence on one finding; nothing is written.",
        ),
    ] = "",
    as_json: AsJson = False,
) -> None:
    """List what looks wrong, or decide one finding."""
    if weigh:
        _weigh(context, folder, weigh, as_json=as_json)
        return
    chosen = _chosen(decide, accept=accept, exclude=exclude, reject=reject)
    from gaugewright.services.campaign import campaigns
    from gaugewright.services.campaign.book import Book
    from gaugewright.services.deciding import queue as review_queue
    from gaugewright.services.reviewing import review as service
    from gaugewright.services.showing.page import Page
    from gaugewright.services.strain.strains import Desk

    only_looks = chosen is None and not again
    with campaigns.opened(folder, settings_of(context), read_only=only_looks) as store:
        if again:
            with Progress() as progress:
                service.find(store, progress=progress)
        if chosen is not None:
            entry = review_queue.finding_named(Book.read(store), decide)
            service.decide(store, entry.uid, entry.version, chosen, reason)
            if store.context.person is None:
                aside("Nobody is named as the one who decided; --set person=LABEL names you.")
        page = Page.of(Desk(store, Book.read(store)))
        found = review_queue.cases(page)
        if chosen is not None:
            found = tuple(case for case in found if case.entry.uid == entry.uid)
        plain = {"campaign": str(folder), "findings": [_plain(page, case) for case in found]}
        lines = _lines(page, found, is_decided=chosen is not None)
    result(as_json, plain, lines)


def _weigh(context: typer.Context, folder: Path, finding: str, *, as_json: bool) -> None:
    from gaugewright.services.campaign import campaigns
    from gaugewright.services.campaign.book import Book
    from gaugewright.services.deciding import queue as review_queue
    from gaugewright.services.reviewing import arbiter
    from gaugewright.services.strain.strains import Desk

    with campaigns.opened(folder, settings_of(context), read_only=True) as store:
        book = Book.read(store)
        judged = arbiter.judged_of(Desk(store, book), review_queue.finding_named(book, finding))
    plain = {
        "campaign": str(folder),
        "speaks_for": judged.side.value,
        "verdict": judged.cause,
        "sentence": judged.sentence,
        "evidence": [
            {"speaks_for": one.side.value, "weight": one.weight, "what": one.words}
            for one in judged.signs
        ],
        "not_told": list(judged.unasked),
    }
    rows = [(one.side.value, f"{one.weight:g}", one.words) for one in judged.signs]
    lines = [f"{judged.cause[:1].upper()}{judged.cause[1:]}.", ""]
    lines += table(("speaks for", "weight", "what"), rows) if rows else ["No sign speaks for any."]
    lines += ["", *(f"Not told: {words}." for words in judged.unasked)]
    result(as_json, plain, lines)


def _chosen(decide: str, *, accept: bool, exclude: bool, reject: bool) -> "Decision | None":
    """Decision that was typed; None when findings are only listed."""
    from gaugewright.records.readings import Decision

    typed = [
        decision
        for decision, is_typed in (
            (Decision.ACCEPTED, accept),
            (Decision.EXCLUDED, exclude),
            (Decision.REJECTED, reject),
        )
        if is_typed
    ]
    if not decide and not typed:
        return None
    if not decide:
        raise InputError("--decide", decide, "the finding that you mean: its uid or its gauge")
    if len(typed) != 1:
        words = " and ".join(decision.value for decision in typed) or "nothing"
        raise InputError("decision", words, "one of --accept, --exclude and --reject")
    return typed[0]


def _lines(page: "Page", found: "tuple[Case, ...]", *, is_decided: bool) -> list[str]:
    from gaugewright.services.deciding import queue as review_queue

    if not found:
        return ["No findings: nothing looks wrong, or nobody has looked yet (--again looks)."]
    rows = [
        (
            case.gauge,
            case.says.value,
            case.entry.record.code,
            f"{case.measured} against {case.limit}",
            ", ".join(part for part in (case.recording, case.rows) if part) or "at a gate",
            case.entry.record.decision.value,
            case.entry.uid,
        )
        for case in found
    ]
    heads = ("gauge", "says", "finding", "measured against limit", "where", "decision", "uid")
    lines = table(heads, rows)
    if is_decided:
        case = found[0]
        who = review_queue.decided_by(page, case)
        return [
            *lines,
            "",
            f"{case.gauge} is {case.stands.value} now. Decided by {who}: "
            f"{case.entry.record.reason}",
        ]
    waiting = sum(case.is_open for case in found)
    return [*lines, "", f"{waiting} to decide." if waiting else "Every finding is decided."]


def _plain(page: "Page", case: "Case") -> dict[str, Any]:
    """A finding as JSON values, numbers in its own unit and nothing rounded."""
    from gaugewright.services.deciding import queue as review_queue

    finding = case.entry.record
    return {
        "uid": case.entry.uid,
        "version": case.entry.version,
        "gauge": case.gauge,
        "code": finding.code,
        "says": case.says.value,
        "gauge_state": case.stands.value,
        "sentence": finding.sentence,
        "measured": finding.measured,
        "limit": finding.limit,
        "unit": finding.unit,
        "limit_source": finding.limit_source,
        "recording": case.recording or None,
        "first_row": finding.first_row,
        "last_row": finding.last_row,
        "decision": finding.decision.value,
        "reason": finding.reason,
        "decided_by": review_queue.decided_by(page, case),
        "would_follow": {
            one.decision.value: one.sentence
            for one in review_queue.outcomes(page, case)
            if one.is_allowed
        },
    }
