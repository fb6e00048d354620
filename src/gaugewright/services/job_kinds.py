"""Which long pieces of work can be handed to a process of their own."""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from gaugewright.records.readings import Finding
from gaugewright.services import arrivals, handover, reduction, review
from gaugewright.services.book import Book
from gaugewright.services.jobs import JobKind, Progress
from gaugewright.store.campaign import CampaignStore

__all__ = ["KINDS"]


def _reduce(store: CampaignStore, parameters: Mapping[str, Any], progress: Progress) -> str:
    findings = review.find(store, progress=progress)
    done = reduction.reduce(store, progress=progress)
    told = [f"{len(findings)} findings, {len(done.results)} results", reduction.unreduced(done)]
    return "; ".join(words for words in told if words)


def _review(store: CampaignStore, parameters: Mapping[str, Any], progress: Progress) -> str:
    before = {entry.uid for entry in Book.read(store).of(Finding)}
    findings = review.find(store, progress=progress)
    new = sum(entry.uid not in before for entry in findings)
    return f"{len(findings)} findings, {new} of them new"


def _report(store: CampaignStore, parameters: Mapping[str, Any], progress: Progress) -> str:
    handover.refuse_without_gauges(Book.read(store))
    out = parameters.get("out")
    path = handover.report(store, out=Path(out) if out else None, progress=progress)
    return str(path) if out else f"{path.name} is written"


KINDS: dict[str, JobKind] = {
    "reduce": _reduce,
    "report": _report,
    "review": _review,
    arrivals.JOB: arrivals.bring_in_job,
}
