"""The command that shows a plan, as recorded or what it comes to, and packs on hand: plan, pack."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from gaugewright.cli.lists import CsvFile, ListName, printed_lists
from gaugewright.cli.options import AsJson, CampaignFolder, pairs, settings_of
from gaugewright.cli.speech import result
from gaugewright.cli.teaching import teaching
from gaugewright.errors import InputError

if TYPE_CHECKING:
    from gaugewright.services.plan.questions import PlannedQuestion

__all__ = ["add_to"]

PLAN = teaching(
    does="""Show the plan as the records have it: questions with their standing, specimens, where
    bars lie in their members, bars, and every station planned beside as built. With a PART, show
    what the plan comes to: questions (the uncertainty each will be answered with, the chance that
    it still can be after losses, proposals with what they gain), prediction (strain of every gauge
    at every load, cracking and yield loads, range needed), selection (which requirement kills
    which pack, adhesive or protection, and by what margin), electrical (bridges, leads,
    excitation, resolution, channels), packs (those on hand), supplies (what to order with spares,
    gauges by lot, cable along its route, what is in date when) or labels (tags of the leads). What
    isn't recorded yet is assumed and told. With --out the lists become a workbook or a paper, tags
    their sheets; nothing else is written.""",
    when="before anything is bought; and whenever somebody asks where a gauge sits and why.",
    example="gaugewright plan beams-2026 questions",
    after="gaugewright bench beams-2026",
)
STOCK = teaching(
    does="""Keep in the laboratory's own folder how much of a supply is on the shelf, with its batch
    and until when it is good. Every state is a new line, nothing is erased. Without a SUPPLY the
    shelf is shown. Plans of any campaign then tell what is short, by how much, and what will be out
    of date.""",
    when="when supplies arrive, and when they were counted or used up.",
    example='gaugewright stock "degreasing solvent" --left 400 --batch B7 --expires 2027-03-31',
    after="gaugewright plan beams-2026 supplies",
)
PACK = teaching(
    does="""Keep a pack of gauges in the laboratory's own folder as on hand, with how many are left:
    its card as a campaign has it, or as it stands there already. --change alters a field of the
    card. Every state is a new line, nothing is erased. Plans of any campaign then choose among
    the packs on hand.""",
    when="when a pack arrives, and when gauges were used.",
    example='gaugewright pack "350 ohm, lot 7" --from beams-2026 --left 40',
    after="gaugewright plan beams-2026 selection",
)


def add_to(app: typer.Typer) -> None:
    """Give the commands of this module their names."""
    app.command("plan", help=PLAN)(plan)
    app.command("pack", help=PACK)(pack)
    app.command("stock", help=STOCK)(stock)


def plan(
    context: typer.Context,
    folder: CampaignFolder,
    part: Annotated[
        str,
        typer.Argument(
            metavar="[PART]",
            help="questions, prediction, selection, electrical, schedule, packs, supplies or "
            "labels; records when left out.",
            show_default=False,
        ),
    ] = "",
    only: ListName = "",
    csv: CsvFile = None,
    given: Annotated[
        list[str] | None,
        typer.Option(
            "--with",
            metavar="NAME=VALUE",
            help="Plan with another value: pack, loads (with semicolons), or for the selection "
            "days, hours (to cure), low and high (°C), length (m of lead), excitation (V), ribs "
            "(mm between them), environment; for supplies spares (%), adhesive, cover, plug (m "
            "from the bar's end), bonding and pour (dates), whole (yes: bonded gauges too); for "
            "labels form (flag, wrap, both), size, diameter (mm), paper (a4, letter, roll), roll "
            "(mm), lead. May be repeated.",
        ),
    ] = None,
    out: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE",
            help="Write the part as a workbook (.xlsx) or paper (.pdf); tags as sheets (.pdf), or "
            "each as SVG into a folder.",
        ),
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Show the plan, or one computed part of it."""
    from gaugewright.services.campaign import campaigns
    from gaugewright.services.campaign.book import Book
    from gaugewright.services.plan.lists import plan_lists
    from gaugewright.services.plan_parts.parts import Asked, part_lists, planned
    from gaugewright.services.supplying import labels as plan_labels
    from gaugewright.services.supplying import papers as plan_papers

    if not part and (out is not None or given):
        raise InputError(
            "PART", "", "named with --out or --with", "say which part of the plan: questions, …"
        )
    settings, typed = settings_of(context), pairs("--with", given or ())
    more: dict[str, Any] = {}
    with campaigns.opened(folder, settings, read_only=True) as store:
        book, system = Book.read(store), campaigns.system_of(store)
        if part:
            asked = Asked(store, book, settings, system, typed)
            found = part_lists(asked, part)
            if part == "questions":
                more = {"answers": [_plain(one) for one in planned(asked).every()]}
            if out is not None and part == "labels" and out.suffix.lower() != ".xlsx":
                tags = plan_labels.tags_of(store, book, settings, typed)
                more |= {"files": [str(path) for path in plan_labels.written(store, tags, out)]}
            elif out is not None:
                title = part.capitalize()
                more |= {"file": str(plan_papers.written(store, found, system, out, title=title))}
        else:
            found = plan_lists(book, system)
    printed_lists(folder, found, system, only=only, csv=csv, as_json=as_json, more=more)


def _plain(one: "PlannedQuestion") -> dict[str, Any]:
    """A question's numbers in the units inside."""
    answer = one.answer
    return {
        "question": one.question.record.label,
        "quantity": one.question.record.quantity,
        "standing": one.standing,
        "predicted": one.predicted,
        "expanded_uncertainty": _number(answer.resolution),
        "expanded_uncertainty_one_lost": _number(answer.reduced),
        "wanted": one.question.record.wanted,
        "chance": one.chance,
        "chance_of_one_place": one.any_chance,
        "why": one.why,
        "gains": [
            {
                "proposal": gain.words,
                "expanded_uncertainty": gain.resolution,
                "chance": gain.chance,
                "channels": gain.channels,
            }
            for gain in one.gains
        ],
    }


def _number(value: float) -> float | None:
    """A number for JSON, which has no infinity and no NaN."""
    import math

    return value if math.isfinite(value) else None


def pack(
    context: typer.Context,
    label: Annotated[
        str, typer.Argument(metavar="PACK", help="Label of the pack.", show_default=False)
    ],
    source: Annotated[
        Path | None,
        typer.Option("--from", metavar="CAMPAIGN", help="Campaign whose card is taken."),
    ] = None,
    left: Annotated[
        int | None, typer.Option(metavar="N", help="Gauges left; 0 when it is used up.")
    ] = None,
    change: Annotated[
        list[str] | None,
        typer.Option(
            metavar="FIELD=VALUE", help="A field of the card, in SI units; may be repeated."
        ),
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Keep a pack as on hand in the laboratory."""
    from gaugewright.services.plan.packs_typed import kept_from
    from gaugewright.services.plan_parts.parts import card_list
    from gaugewright.services.showing.listings import plain

    settings = settings_of(context)
    card = kept_from(settings, label, source, left=left, changes=pairs("--change", change or ()))
    found = card_list(settings)
    number = "an unknown number of" if card.left is None else str(card.left)
    times = "once" if card.versions == 1 else f"{card.versions} times"
    lines = [f"{card.label}: {number} gauges on hand, written {times}."]
    result(as_json, {"pack": card.label, "left": card.left, **plain(found)}, lines)


def stock(
    context: typer.Context,
    supply: Annotated[
        str,
        typer.Argument(metavar="[SUPPLY]", help="As the supplies call it.", show_default=False),
    ] = "",
    left: Annotated[
        str, typer.Option(metavar="AMOUNT", help="On the shelf, in its unit; 0 when used up.")
    ] = "",
    batch: Annotated[str, typer.Option(metavar="NAME", help="Of what is on the shelf.")] = "",
    expires: Annotated[str, typer.Option(metavar="DATE", help="Good until, as 2027-03-31.")] = "",
    as_json: AsJson = False,
) -> None:
    """Keep how much of a supply is on the shelf, or show the shelf."""
    from gaugewright.records.identity import working_context
    from gaugewright.services.laboratory import on_shelf
    from gaugewright.services.showing.listings import plain
    from gaugewright.services.supplying.lists import shelf_list

    settings = settings_of(context)
    if supply:
        typed = {"supply": supply, "left": left, "batch": batch, "expires": expires}
        who = settings["person"] or "nobody named"
        now = working_context().now()
        on_shelf.kept_shelf(settings, on_shelf.shelf_typed(typed), at=now, person=who)
    found = shelf_list(settings)
    lines = [" | ".join(str(cell) for cell in row) for row in found.rows] or [found.empty]
    result(as_json, plain(found), lines)
