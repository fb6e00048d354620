"""Which long pieces of work can be handed to a process of their own."""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from gaugewright.errors import InputError, StoreError
from gaugewright.records.readings import Finding
from gaugewright.services.campaign.book import Book
from gaugewright.services.following import end as follow_end
from gaugewright.services.handover import report as handover
from gaugewright.services.packing import archive
from gaugewright.services.packing import verify as archive_verify
from gaugewright.services.packing.analyst_files import analyst_files
from gaugewright.services.packing.handed_files import ANALYST, found
from gaugewright.services.reading import arrivals
from gaugewright.services.reducing import reduction
from gaugewright.services.reviewing import review
from gaugewright.services.scheduling import solver as plan_schedule_solver
from gaugewright.services.sheets import sheets
from gaugewright.services.work.jobs import JobKind, Progress
from gaugewright.store.campaign import CampaignStore

__all__ = ["KINDS"]


def _reduce(store: CampaignStore, parameters: Mapping[str, Any], progress: Progress) -> str:
    findings = review.find(store, progress=_part(progress, 0, 2))
    done = reduction.reduce(store, progress=_part(progress, 1, 2))
    told = [f"{len(findings)} findings, {len(done.results)} results", reduction.unreduced(done)]
    return "; ".join(words for words in told if words)


def _part(progress: Progress, place: int, parts: int) -> Progress:
    """Progress of one of several works after another: what is told never goes back."""
    return lambda done, total, what: progress(place * total + done, parts * total, what)


def _review(store: CampaignStore, parameters: Mapping[str, Any], progress: Progress) -> str:
    before = {entry.uid for entry in Book.read(store).of(Finding)}
    findings = review.find(store, progress=progress)
    new = sum(entry.uid not in before for entry in findings)
    many = f"{len(findings)} finding{'' if len(findings) == 1 else 's'}"
    return f"{many}, {new} of them new"


def _report(store: CampaignStore, parameters: Mapping[str, Any], progress: Progress) -> str:
    handover.refuse_without_gauges(Book.read(store))
    out = parameters.get("out")
    path = handover.report(store, out=Path(out) if out else None, progress=progress)
    return str(path) if out else f"{path.name} is written"


def _sheets(store: CampaignStore, parameters: Mapping[str, Any], progress: Progress) -> str:
    made = sheets.sheets(store, progress=progress)
    analyst_files(store, store.folder / "handover" / ANALYST, progress=progress)
    return f"{len(made)} sheets and the analyst's files are written"


def _archive(store: CampaignStore, parameters: Mapping[str, Any], progress: Progress) -> str:
    path = archive.make(store, licence=str(parameters["licence"]), progress=progress)
    return f"{path.name} is written; prove it once before it is handed over"


def _prove(store: CampaignStore, parameters: Mapping[str, Any], progress: Progress) -> str:
    path = found(store, Book.read(store), str(parameters["file"]))
    if path is None:
        raise InputError("file", parameters["file"], "an archive in the campaign's folder")
    proof = archive_verify.verify(path, progress=progress)
    if not proof.holds:
        faults = [fault for check in proof.checks for fault in check.faults]
        more = f", and {len(faults) - 1} more" if len(faults) > 1 else ""
        raise StoreError(f"{path.name} does NOT hold: {faults[0]}{more}")
    return f"{path.name} holds: {proof.outcome}; head of its journal {proof.head[:16]}…"


KINDS: dict[str, JobKind] = {
    "archive": _archive,
    "prove": _prove,
    "sheets": _sheets,
    "reduce": _reduce,
    "report": _report,
    "review": _review,
    arrivals.JOB: arrivals.bring_in_job,
    follow_end.JOB: follow_end.bring_in_job,
    plan_schedule_solver.JOB: plan_schedule_solver.improve_job,
}
