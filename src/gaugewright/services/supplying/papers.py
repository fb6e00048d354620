"""Lists of a plan to take away: a workbook with a sheet each, or one paper."""

from collections.abc import Sequence
from pathlib import Path

from gaugewright.errors import InputError
from gaugewright.present.units_shown import System, units_sentence
from gaugewright.report import build
from gaugewright.report.document import TitleBlock
from gaugewright.report.handout import Handout
from gaugewright.report.parts import Part, PartTable
from gaugewright.services.campaign.book import Book
from gaugewright.services.showing.listings import Listing, cell_text, csv_cells, heads
from gaugewright.services.showing.page import Page
from gaugewright.services.strain.strains import Desk
from gaugewright.sources.workbook_out import sheets_bytes
from gaugewright.store.campaign import CampaignStore

__all__ = ["lists_paper", "lists_workbook", "written"]


def lists_workbook(lists: Sequence[Listing], system: System) -> bytes:
    """Lists as a workbook, a sheet each, in the shown units; text never becomes a formula."""
    return sheets_bytes(
        [
            (one.key, heads(one, system), [csv_cells(one, row, system) for row in one.rows])
            for one in lists
        ]
    )


def lists_paper(
    store: CampaignStore, lists: Sequence[Listing], system: System, out: Path, *, title: str
) -> Path:
    """Lists as one paper, to be printed or sent to who buys."""
    page = Page.of(Desk(store, Book.read(store)))
    campaign, now, head = store.campaign.record, store.context.now(), store.head()
    drawn = page.moment(now)
    name = f"{campaign.label}: {campaign.title}"
    parts = tuple(_part(one, system) for one in lists)
    paper = Handout(
        title=title,
        campaign=name,
        laboratory=Path(campaign.laboratory).name,
        invented=campaign.invented,
        prepared=drawn,
        prepared_epoch=int(now.timestamp()),
        lead="As the plan stands; made anew when it changes.",
        parts=parts,
        title_block=TitleBlock(
            name, title, units_sentence(system), "none: planned", "none", "none", "planned", drawn
        ),
        journal_head=f"journal head {head.seq} {head.sha256}",
    )
    return build.pdf(paper, out, paper="letter" if system == "us" else "a4")


def _part(one: Listing, system: System) -> Part:
    if not one.rows:
        return Part(one.title, one.about, one.empty)
    names = heads(one, system)
    rows = tuple(
        tuple(
            cell_text(cell, column.quantity, system)
            for cell, column in zip(row, one.columns, strict=True)
        )
        for row in one.rows
    )
    wide = tuple(dict.fromkeys((0, len(names) - 1)))
    right = tuple(
        place
        for place in range(1, len(names))
        if any(isinstance(row[place], int | float) for row in one.rows)
    )
    table = PartTable(names, rows, one.empty, wide=wide, right=right)
    return Part(one.title, one.about, table=table)


def written(
    store: CampaignStore, lists: Sequence[Listing], system: System, out: Path, *, title: str
) -> Path:
    """Write lists to a file; its name ends with what it is to be.

    Raises
    ------
    InputError
        If the name ends otherwise than .xlsx or .pdf, or its folder isn't there.
    """
    if not out.parent.is_dir():
        raise InputError("folder of --out", str(out.parent), "a folder that exists", "make it")
    if out.suffix.lower() == ".pdf":
        return lists_paper(store, lists, system, out, title=title)
    if out.suffix.lower() == ".xlsx":
        out.write_bytes(lists_workbook(lists, system))
        return out
    raise InputError("--out", out.name, "a name that ends with .xlsx or .pdf")
