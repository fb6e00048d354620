"""What leaves the campaign: the report, made again from the records whenever it is asked for."""

from collections.abc import Callable
from pathlib import Path
from typing import Literal

from gaugewright.errors import InputError
from gaugewright.records.gauges import Gauge
from gaugewright.records.proof import Person
from gaugewright.report import build
from gaugewright.report.document import ReportDocument
from gaugewright.services import (
    handover_answers,
    handover_chains,
    handover_figures,
    handover_gauges,
    handover_origin,
    reports_built,
    result_budget,
)
from gaugewright.services.book import Book
from gaugewright.services.handover_page import Page
from gaugewright.services.strains import Desk
from gaugewright.store.campaign import CampaignStore

__all__ = ["Paper", "Progress", "refuse_without_gauges", "report", "report_document"]

Progress = Callable[[int, int, str], None]
Paper = Literal["a4", "letter"]


def report(
    store: CampaignStore,
    *,
    out: Path | None = None,
    paper: Paper = "a4",
    progress: Progress | None = None,
) -> Path:
    """Write the report of a campaign as it stands and return where it is.

    Without ``out`` it goes into the campaign's own folder. Every report takes a number that none
    had before it, and the journal tells of it; only one made from a campaign that is open for
    reading leaves no trace there.

    Raises
    ------
    InputError
        If the campaign is open for reading only and no ``out`` is given, or the folder of
        ``out`` doesn't exist.
    """
    folder = store.folder / "handover"
    revision = reports_built.next_revision(store)
    if out is None and store.read_only:
        do = "name a file outside the campaign"
        raise InputError("out", None, "given while the campaign is open for reading only", do)
    tell = progress or (lambda done, total, what: None)
    tell(0, 2, "gathering what the report says")
    records = reports_built.as_of(store)
    document = report_document(store, revision)
    tell(1, 2, "setting the report")
    if out is None:
        folder.mkdir(exist_ok=True)
    path = build.pdf(document, out or folder / f"report-{revision}.pdf", paper=paper)
    if not store.read_only:
        reports_built.note_built(store, revision, path, records)
    tell(2, 2, "report written")
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


def report_document(store: CampaignStore, revision: int) -> ReportDocument:
    """Everything the report says, as presented words and drawings."""
    page = Page.of(Desk(store, Book.read(store)))
    campaign = store.campaign.record
    now = store.context.now()
    head = store.head()
    answers = handover_answers.answers(page)
    heads = handover_answers.heading_results(page)
    budgets, inputs = result_budget.report_budgets(page, heads)
    return ReportDocument(
        title=f"Report {revision}: {campaign.title}",
        campaign=f"{campaign.label}: {campaign.title}",
        # A campaign may name its laboratory by the folder it came from: the path is nobody's.
        laboratory=Path(campaign.laboratory).name,
        invented=campaign.invented,
        prepared=page.moment(now),
        prepared_epoch=int(now.timestamp()),
        software=handover_origin.SOFTWARE,
        lead=handover_answers.lead(page, answers),
        answers=answers,
        title_block=handover_origin.title_block(page, revision, _drawn(page)),
        gauges=handover_gauges.gauge_rows(page),
        gates=handover_gauges.gate_table(page),
        corrections=handover_chains.chain_tables(page),
        figures=handover_figures.figures(page),
        yields=handover_answers.yield_rows(page),
        budgets=budgets,
        inputs=inputs,
        budgets_elsewhere=result_budget.budgets_elsewhere(page, heads),
        findings=handover_gauges.finding_rows(page),
        register=handover_gauges.register_rows(page),
        cautions=(*handover_gauges.cautions(page), *handover_origin.open_points(page)),
        files=handover_origin.file_rows(page),
        provenance=handover_origin.provenance_rows(page),
        signatures=handover_origin.signature_rows(page),
        journal_head=f"journal head {head.seq} {head.sha256}",
    )


def _drawn(page: Page) -> str:
    store = page.desk.store
    moment = page.moment(store.context.now())
    if store.context.person is None:
        return moment
    return f"{moment}, {page.book.entry(store.context.person, Person).record.name}"
