"""The stops of a gauge's life in the order of the work: each leads to its part and its page."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING
from urllib.parse import quote

from gaugewright.records import Entry
from gaugewright.records.electrical import Connection
from gaugewright.records.gauges import Gauge
from gaugewright.services.handover import reports_built
from gaugewright.services.handover.reports_built import Built
from gaugewright.services.showing.page import Page
from gaugewright.web import frame

if TYPE_CHECKING:
    from gaugewright.web.rooms import Room

__all__ = ["LifeStop", "ReportLine", "counted", "life_stops", "report_lines"]

# Part of the page, its name on the line of stops, and what its link to the page of work says.
STOPS = (
    ("pack", "Pack", "Its card in the plan"),
    ("bench", "Bench", "To the bench"),
    ("gates", "Gates", "To the gates"),
    ("wiring", "Wiring", "To its channel"),
    ("readings", "Readings", "To the recordings"),
    ("findings", "Findings", "To the review"),
    ("results", "Results", "All results"),
    ("report", "Report", "To the handover"),
)


@dataclass(frozen=True, slots=True)
class LifeStop:
    """A part of the life: how it stands in a few words, and the page where its work is done."""

    part: str
    name: str
    words: str
    url: str
    link: str


@dataclass(frozen=True, slots=True)
class ReportLine:
    """A report of the campaign, and whether it knows all that is written of this gauge."""

    name: str
    built: str
    knows: str
    url: str


def counted(number: int, one: str, many: str) -> str:
    """A number with its noun; nothing when there is none."""
    return f"{number} {one if number == 1 else many}" if number else ""


def life_stops(
    room: "Room", page: Page, gauge: Entry[Gauge], words: Mapping[str, str]
) -> dict[str, LifeStop]:
    """Stops by the name of their part; ``words`` tell how each stands, empty for nothing yet."""
    pack = page.book.pack_of(gauge).record.label
    places = {
        "pack": f"plan/enter/pack/{quote(pack, safe='')}",
        "wiring": _channel_place(page, gauge),
        "findings": "review",
        "report": "handover",
    }
    return {
        part: LifeStop(
            part, name, words[part] or "nothing yet", room.url(places.get(part, part)), link
        )
        for part, name, link in STOPS
    }


def _channel_place(page: Page, gauge: Entry[Gauge]) -> str:
    """Sheet of the channel a gauge is on, or was on last; the list of channels before that."""
    circuit = page.circuit_of(gauge)
    mine = [
        entry.record
        for entry in page.book.of(Connection)
        if circuit is not None and entry.record.subject == circuit.uid
    ]
    if not mine:
        return "wiring"
    last = max(mine, key=lambda connection: connection.begins)
    return f"wiring/{quote(page.book.label(last.channel), safe='')}"


def report_lines(
    room: "Room", page: Page, gauge: Entry[Gauge], written: frozenset[str]
) -> tuple[ReportLine, ...]:
    """Reports of the campaign, newest first, each held against the records in ``written``."""
    changed = [entry for entry in page.book.every() if entry.uid in written]
    newest = max((entry.at for entry in changed), default=None)
    lines = []
    for report in reversed(reports_built.built_reports(room.store.folder, room.book)):
        knows = _knows(report, newest, gauge.record.label)
        url = room.url(f"handover/{quote(report.name, safe='')}") if report.path else ""
        name = f"report {report.revision}"
        lines.append(ReportLine(name, frame.instant_shown(report.built, room), knows, url))
    return tuple(lines)


def _knows(report: Built, newest: datetime | None, label: str) -> str:
    if report.as_of is None:
        return "the journal doesn’t say from which records"
    if newest is None or report.as_of >= newest:
        return f"all that is written of {label}"
    return f"{label} was written of again since: build the report anew"
