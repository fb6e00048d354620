"""A sheet for each who gets something from a campaign: what they must know, and nothing else."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Literal

from gaugewright.errors import InputError
from gaugewright.report import build
from gaugewright.report.handout import Handout
from gaugewright.report.parts import Part
from gaugewright.services.campaign.book import Book
from gaugewright.services.handover import origin as handover_origin
from gaugewright.services.handover.report import refuse_without_gauges
from gaugewright.services.sheets import analyst as sheet_analyst
from gaugewright.services.sheets import crew as sheet_crew
from gaugewright.services.sheets import rig as sheet_rig
from gaugewright.services.sheets import sponsor as sheet_sponsor
from gaugewright.services.sheets import technician as sheet_technician
from gaugewright.services.showing.page import Page
from gaugewright.services.showing.sheet_parts import Said
from gaugewright.services.strain.strains import Desk
from gaugewright.store.campaign import CampaignStore

__all__ = ["RECEIVERS", "file_name", "sheet", "sheets"]

Paper = Literal["a4", "letter"]
# Who gets a sheet: the key, its title, and what says what stands on it.
RECEIVERS: dict[str, tuple[str, Callable[[Page], Said]]] = {
    "crew": ("For the crew at the formwork", sheet_crew.said),
    "technician": ("For who wires and reads the channels", sheet_technician.said),
    "rig": ("For who runs the loading rig", sheet_rig.said),
    "analyst": ("For who works with the numbers", sheet_analyst.said),
    "sponsor": ("For who asked", sheet_sponsor.said),
}


def file_name(receiver: str) -> str:
    """File of a sheet in the campaign's folder of things handed over."""
    return f"sheet-{receiver}.pdf"


def sheets(
    store: CampaignStore,
    receivers: tuple[str, ...] = tuple(RECEIVERS),
    *,
    out: Path | None = None,
    paper: Paper = "a4",
    progress: Callable[[int, int, str], None] | None = None,
) -> tuple[Path, ...]:
    """Write the sheets of some receivers and return where they are.

    Each is made from the records as they are now; one made before is replaced, for a sheet of
    old channels on the wall does harm. Without ``out`` they go into the campaign's own folder.

    Raises
    ------
    InputError
        If a receiver isn't known, the campaign has no gauge, or ``out`` isn't a folder.
    """
    for receiver in receivers:
        if receiver not in RECEIVERS:
            raise InputError("receiver", receiver, "one of: " + ", ".join(RECEIVERS))
    if out is None:
        if store.read_only:
            do = "name a folder outside the campaign"
            raise InputError("out", None, "given while the campaign is open for reading only", do)
        out = store.folder / "handover"
        out.mkdir(exist_ok=True)
    if not out.is_dir():
        raise InputError("folder of --out", str(out), "a folder that exists", "make it first")
    book = Book.read(store)
    refuse_without_gauges(book)
    page, written = Page.of(Desk(store, book)), []
    for number, receiver in enumerate(receivers):
        if progress is not None:
            progress(number, len(receivers), f"sheet: {RECEIVERS[receiver][0]}")
        path = out / file_name(receiver)
        written.append(build.pdf(sheet(page, receiver), path, paper=paper))
    if progress is not None:
        progress(len(receivers), len(receivers), "sheets written")
    return tuple(written)


def sheet(page: Page, receiver: str) -> Handout:
    """One sheet, as presented words and drawings."""
    store = page.desk.store
    campaign, now, head = store.campaign.record, store.context.now(), store.head()
    title, say = RECEIVERS[receiver]
    said = say(page)
    block = handover_origin.title_block(page, 0, page.moment(now))
    return Handout(
        title=title,
        campaign=f"{campaign.label}: {campaign.title}",
        laboratory=Path(campaign.laboratory).name,
        invented=campaign.invented,
        prepared=page.moment(now),
        prepared_epoch=int(now.timestamp()),
        lead=said.lead,
        parts=said.parts if said.is_large else (*said.parts, _origin(page)),
        title_block=replace(block, sheet=title),
        is_large=said.is_large,
        journal_head=f"journal head {head.seq} {head.sha256}",
    )


def _origin(page: Page) -> Part:
    head = page.desk.store.head()
    return Part(
        "Where this is from",
        "Whoever holds the archive can find it again.",
        lines=(
            f"Made by {handover_origin.SOFTWARE} from the campaign's records.",
            f"Head of the journal: entry {head.seq}, {head.sha256[:16]}…",
            "A sheet made later replaces this one: compare the head before relying on it.",
        ),
    )
