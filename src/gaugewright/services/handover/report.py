"""What leaves the campaign: the report, made again from the records whenever it is asked for."""

from collections.abc import Callable
from pathlib import Path
from typing import Any, Literal

from gaugewright.errors import InputError
from gaugewright.records.gauges import Gauge
from gaugewright.records.proof import Person
from gaugewright.report import build, page
from gaugewright.report.document import ReportDocument
from gaugewright.services.campaign.book import Book
from gaugewright.services.handover import answers as handover_answers
from gaugewright.services.handover import figures as handover_figures
from gaugewright.services.handover import more as handover_more
from gaugewright.services.handover import origin as handover_origin
from gaugewright.services.handover import reports_built
from gaugewright.services.handover import seen as handover_seen
from gaugewright.services.showing.page import Page
from gaugewright.services.strain.strains import Desk
from gaugewright.services.telling import chains as handover_chains
from gaugewright.services.telling import gauges as handover_gauges
from gaugewright.services.tracing import budget as result_budget
from gaugewright.store.campaign import CampaignStore

__all__ = ["Paper", "Progress", "refuse_without_gauges", "report", "report_document"]

Progress = Callable[[int, int, str], None]
Paper = Literal["a4", "letter"]
STEPS = 5


def report(
    store: CampaignStore,
    *,
    out: Path | None = None,
    paper: Paper = "a4",
    progress: Progress | None = None,
) -> Path:
    """Write the report of a campaign as it stands and return where it is.

    Without ``out`` it goes into the campaign's own folder, as PDF and as one page for a browser;
    ``out`` is the page where it ends in ``.html``. Every report takes a number that none
    had before it, and the journal tells of it; only one made from a campaign that is open for
    reading leaves no trace there.

    Raises
    ------
    InputError
        If the campaign is open for reading only and no ``out`` is given, or the folder of
        ``out`` doesn't exist.
    """
    if out is None and store.read_only:
        do = "name a file outside the campaign"
        raise InputError("out", None, "given while the campaign is open for reading only", do)
    if out is not None:
        return _report(store, reports_built.next_revision(store), out, paper, progress)
    with reports_built.reserved(store) as (revision, path):
        return _report(store, revision, path, paper, progress)


def _report(
    store: CampaignStore, revision: int, path: Path, paper: Paper, progress: Progress | None
) -> Path:
    tell = progress or (lambda done, total, what: None)
    records = reports_built.as_of(store)
    document = report_document(store, revision, tell)
    tell(4, STEPS, "setting the report")
    if path.suffix.lower() in (".html", ".htm"):
        page.page(document, path)
    else:
        build.pdf(document, path, paper=paper)
        if path.parent == reports_built.place_of(store):
            page.page(document, path.with_suffix(".html"))
    if not store.read_only:
        reports_built.note_built(store, revision, path, records)
    tell(STEPS, STEPS, "report written")
    return path


def refuse_without_gauges(book: Book) -> None:
    """Refuse to hand over a report that would say nothing.

    Raises
    ------
    InputError
        If the campaign has no gauge.
    """
    if not book.of(Gauge):
        do = "place gauges first: their stations and packs, then the gauges"
        raise InputError("gauges", "none", "at least one to report on", do)


def report_document(
    store: CampaignStore, revision: int, progress: Progress | None = None
) -> ReportDocument:
    """Everything the report says, as presented words and drawings."""
    tell = progress or (lambda done, total, what: None)
    tell(0, STEPS, "gathering answers and gauges")
    sheet = Page.of(Desk(store, Book.read(store)))
    campaign = store.campaign.record
    now = store.context.now()
    head = store.head()
    answers = handover_answers.answers(sheet)
    heads = handover_answers.heading_results(sheet)
    budgets, inputs = result_budget.report_budgets(sheet, heads)
    tell(1, STEPS, "drawing figures")
    figures = handover_figures.figures(sheet)
    tell(2, STEPS, "looking at what the specimen did")
    seen = handover_seen.seen_parts(sheet)
    tell(3, STEPS, "gathering corrections, gates and records")
    return ReportDocument(
        title=f"Report {revision}: {campaign.title}",
        campaign=f"{campaign.label}: {campaign.title}",
        # A campaign may name its laboratory by the folder it came from: the path is nobody's.
        laboratory=Path(campaign.laboratory).name,
        invented=campaign.invented,
        prepared=sheet.moment(now),
        prepared_epoch=int(now.timestamp()),
        software=handover_origin.SOFTWARE,
        lead=handover_answers.lead(sheet, answers),
        answers=answers,
        title_block=handover_origin.title_block(sheet, revision, _drawn(sheet)),
        gauges=handover_gauges.gauge_rows(sheet),
        gates=handover_gauges.gate_table(sheet),
        corrections=handover_chains.chain_tables(sheet),
        figures=figures,
        yields=handover_answers.yield_rows(sheet),
        budgets=budgets,
        inputs=inputs,
        budgets_elsewhere=result_budget.budgets_elsewhere(sheet, heads),
        **_origin(sheet),
        installed=handover_more.installation_parts(sheet),
        seen=seen,
        instruments=handover_more.instrument_parts(sheet),
        journal_head=f"journal head {head.seq} {head.sha256}",
    )


def _origin(page: Page) -> dict[str, Any]:
    """What was found wrong, what to mind, and where everything came from."""
    return {
        "findings": handover_gauges.finding_rows(page),
        "register": handover_gauges.register_rows(page),
        "cautions": (*handover_gauges.cautions(page), *handover_origin.open_points(page)),
        "files": handover_origin.file_rows(page),
        "provenance": handover_origin.provenance_rows(page),
        "signatures": handover_origin.signature_rows(page),
    }


def _drawn(page: Page) -> str:
    store = page.desk.store
    moment = page.moment(store.context.now())
    if store.context.person is None:
        return moment
    return f"{moment}, {page.book.entry(store.context.person, Person).record.name}"
