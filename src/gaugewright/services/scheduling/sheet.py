"""The days at the bench as a sheet for the wall: each day's work with who does it."""

from dataclasses import replace
from pathlib import Path
from typing import Literal

from gaugewright.report import build
from gaugewright.report.handout import Handout
from gaugewright.report.parts import Figure, Part, PartTable
from gaugewright.services.handover import origin as handover_origin
from gaugewright.services.scheduling.drawn import all_days, days_drawn
from gaugewright.services.scheduling.lists import lead_words
from gaugewright.services.scheduling.schedule import BenchSchedule
from gaugewright.services.showing.page import Page
from gaugewright.services.strain.strains import Desk
from gaugewright.store.campaign import CampaignStore

__all__ = ["TITLE", "schedule_sheet"]

TITLE = "Days at the bench"
_HEADS = ("time", "gauge and step", "who, and what then waits", "done")


def schedule_sheet(
    store: CampaignStore,
    desk: Desk,
    made: BenchSchedule,
    out: Path,
    *,
    paper: Literal["a4", "letter"] = "a4",
) -> Path:
    """Write the sheet as PDF.

    Raises
    ------
    InputError
        If the folder of ``out`` isn't there.
    """
    page, now, head = Page.of(desk), store.context.now(), store.head()
    campaign = store.campaign.record
    block = handover_origin.title_block(page, 0, page.moment(now))
    parts = [*_overview(made), *_days(desk, made), *_words(made)]
    sheet = Handout(
        title=TITLE,
        campaign=f"{campaign.label}: {campaign.title}",
        laboratory=Path(campaign.laboratory).name,
        invented=campaign.invented,
        prepared=page.moment(now),
        prepared_epoch=int(now.timestamp()),
        lead=lead_words(made),
        parts=tuple(parts),
        title_block=replace(block, sheet=TITLE),
        journal_head=f"journal head {head.seq} {head.sha256}",
    )
    return build.pdf(sheet, out, paper=paper)


def _overview(made: BenchSchedule) -> list[Part]:
    svg = all_days(made, width=640.0, where="paper")
    if not svg:
        return [Part("Nothing to do", words="Nothing is left to be done at the bench.")]
    figure = Figure(
        svg, "Gauges over the days", "", "Gauges over the days", "working hours of the hall"
    )
    return [Part("All days", "Nights are left out.", figure=figure)]


def _days(desk: Desk, made: BenchSchedule) -> list[Part]:
    return [
        Part(
            one.day,
            table=PartTable(_HEADS, tuple((*line, "") for line in one.lines), wide=(2,)),
        )
        for one in days_drawn(desk.book, made, where="paper")
    ]


def _words(made: BenchSchedule) -> list[Part]:
    told = (*made.binds, *made.nearest, *made.bench.told)
    if not told:
        return []
    return [Part("What was assumed", lines=tuple(told))]
