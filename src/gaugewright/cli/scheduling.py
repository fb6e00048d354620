"""The command that plans the days at the bench: enter, show, keep, improve, calendar, sheet."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from gaugewright.cli.lists import printed_lists
from gaugewright.cli.options import AsJson, CampaignFolder, pairs, settings_of
from gaugewright.cli.teaching import teaching

if TYPE_CHECKING:
    from gaugewright.services.scheduling.schedule import BenchSchedule
    from gaugewright.store.campaign import CampaignStore

__all__ = ["add_to"]

DAYS = teaching(
    does="""Plan the days at the bench backward from the pour: who does which step of which gauge
    when, while what cures, with the latest beginning and the slack of each. --given enters or
    changes what is planned with, by the names of the form: pour_day, pour_time, reserve, people,
    temperature_degc, supplies, days_off, begins_day, and rows such as hours.1.first_day,
    fixtures.1.label or times.1.step; --drop forgets such a row. Where a plan is kept, it is mended
    from what was done: what can stay stays. --improve looks for a better one with a solver and
    says how far it may be from the best. A plan that isn't possible is told with what binds and
    what is nearest.""",
    when="before bonding begins, and each time that a day went other than planned.",
    example="gaugewright days beams-2026 --given pour_day=2026-10-30 --keep",
    after="gaugewright bench beams-2026",
)


def add_to(app: typer.Typer) -> None:
    """Give the command of this module its name."""
    app.command("days", help=DAYS)(days)


def days(
    context: typer.Context,
    folder: CampaignFolder,
    given: Annotated[
        list[str] | None,
        typer.Option(metavar="NAME=VALUE", help="What is planned with; may be repeated."),
    ] = None,
    drop: Annotated[
        list[str] | None,
        typer.Option(metavar="ROW", help="A row to forget, such as hours.2; may be repeated."),
    ] = None,
    keep: Annotated[bool, typer.Option("--keep", help="Keep the plan as the one to work by.")] = (
        False
    ),
    improve: Annotated[
        float | None,
        typer.Option(metavar="SECONDS", help="Improve it for so long at most, and keep it."),
    ] = None,
    calendar: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Write it as a calendar file.")
    ] = None,
    sheet: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Write it as PDF for the wall.")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Plan the days at the bench."""
    from gaugewright.services.campaign import campaigns
    from gaugewright.services.campaign.book import Book
    from gaugewright.services.scheduling.lists import lead_words, schedule_lists
    from gaugewright.services.scheduling.schedule import bench_schedule, schedule_kept
    from gaugewright.services.scheduling.typed import days_given

    writes = bool(given or drop or keep or improve is not None)
    with campaigns.opened(folder, settings_of(context), read_only=not writes) as store:
        if given or drop:
            days_given(store, pairs("--given", given or ()), tuple(drop or ()))
        made = bench_schedule(store, Book.read(store), store.context.now())
        if improve is not None:
            made = _improved(store, made, improve)
        if keep or improve is not None:
            schedule_kept(store, made, starts=made.starts if improve is not None else None)
        book = Book.read(store)
        _written(store, made, calendar, sheet)
        found, system = schedule_lists(book, made), campaigns.system_of(store)
        more = {"told": lead_words(made), "is_possible": made.is_possible}
    if not as_json:
        typer.echo(more["told"])
    printed_lists(folder, found, system, only="", csv=None, as_json=as_json, more=more)


def _improved(store: "CampaignStore", made: "BenchSchedule", seconds: float) -> "BenchSchedule":
    from gaugewright.cli.progress import Progress
    from gaugewright.services.scheduling.solver import improved

    with Progress() as progress:
        return improved(store, made, limit_s=seconds, progress=progress)


def _written(
    store: "CampaignStore", made: "BenchSchedule", calendar: Path | None, sheet: Path | None
) -> None:
    from gaugewright.services.campaign.book import Book
    from gaugewright.services.scheduling import calendar as plan_schedule_calendar
    from gaugewright.services.scheduling import sheet as plan_schedule_sheet
    from gaugewright.services.strain.strains import Desk

    book = Book.read(store)
    if calendar is not None:
        calendar.write_bytes(plan_schedule_calendar.calendar(store, book, made))
        typer.echo(f"{calendar} is written.", err=True)
    if sheet is not None:
        plan_schedule_sheet.schedule_sheet(store, Desk(store, book), made, sheet)
        typer.echo(f"{sheet} is written.", err=True)
