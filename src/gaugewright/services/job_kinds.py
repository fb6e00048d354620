"""Which long pieces of work can be handed to a process of their own."""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from gaugewright.services import arrivals, handover, reduction, review
from gaugewright.services.jobs import JobKind, Progress
from gaugewright.store.campaign import CampaignStore

__all__ = ["KINDS"]


def _reduce(store: CampaignStore, parameters: Mapping[str, Any], progress: Progress) -> str:
    findings = review.find(store, progress=progress)
    done = reduction.reduce(store, progress=progress)
    return f"{len(findings)} findings, {len(done.results)} results"


def _report(store: CampaignStore, parameters: Mapping[str, Any], progress: Progress) -> str:
    out = parameters.get("out")
    return str(handover.report(store, out=Path(out) if out else None, progress=progress))


KINDS: dict[str, JobKind] = {
    "reduce": _reduce,
    "report": _report,
    arrivals.JOB: arrivals.bring_in_job,
}
