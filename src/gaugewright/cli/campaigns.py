"""Commands about campaigns as a whole: new, list, copy.

Services are imported when a command runs, so that ``--help`` answers at once.
"""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from gaugewright.cli.options import AsJson, CampaignFolder, settings_of
from gaugewright.cli.speech import aside, result, table
from gaugewright.cli.teaching import teaching
from gaugewright.records.identity import instant_text, working_context
from gaugewright.records.specimen import Campaign

if TYPE_CHECKING:
    from gaugewright.services.campaign.campaigns import Summary

__all__ = ["add_to"]

NEW = teaching(
    does="""Start a campaign. It is a folder that keeps every record, every file as received and
    every zero of one piece of work. It takes a full copy of the laboratory's own packs, people,
    limits and methods, so that it never depends on a file outside itself.""",
    when="first of all, before gauges are ordered or bonded.",
    example='gaugewright new beams-2026 --title "Two beams in bending" --zone Europe/Rome',
    after="enter specimen, bars, gauges and circuits; bring readings in with: gaugewright import",
)
LIST = teaching(
    does="""List the campaigns in a folder. Each with its title, how many gauges and recordings,
    when something was last written, and how far the job has come (empty, gauges entered,
    readings in, reduced).""",
    when="to find a campaign again.",
    example="gaugewright list .",
    after="name one of the folders to import, reduce, report or copy",
)
CHANGE = teaching(
    does="""Change title, purpose, units shown or time zone of a campaign; what isn't named stays.
    Numbers are kept in SI, so units may change at any time. The zone may not once readings are in:
    their stamps were read by it. A new version is written, the earlier one stays.""",
    when="when something was entered wrongly at the beginning.",
    example="gaugewright change beams-2026 --units us",
    after="gaugewright list .",
)
COPY = teaching(
    does="""Copy a campaign into another folder. The copy is complete even while somebody works
    on the campaign. One that is open can't be copied as files: its newest records would be
    missing.""",
    when="before something risky, to hand the work on, or for a backup.",
    example="gaugewright copy beams-2026 /backup/beams-2026-11-25",
    after="check the copy with: gaugewright selfcheck FOLDER",
)


def add_to(app: typer.Typer) -> None:
    """Give the commands of this module their names."""
    app.command("new", help=NEW)(new)
    app.command("list", help=LIST)(list_campaigns)
    app.command("copy", help=COPY)(copy)
    app.command("change", help=CHANGE)(change)


def new(
    context: typer.Context,
    folder: CampaignFolder,
    title: Annotated[str, typer.Option(help="What the work is, in a line.", show_default=False)],
    label: Annotated[
        str, typer.Option(help="Short name; the folder's when left out.", show_default=False)
    ] = "",
    zone: Annotated[
        str,
        typer.Option(help="IANA time zone of the work, such as Europe/Rome.", show_default=False),
    ] = "",
    units: Annotated[
        str, typer.Option(help="Units shown and printed: si or us.", show_default=False)
    ] = "",
    purpose: Annotated[str, typer.Option(help="What must be known, in words.")] = "",
    as_json: AsJson = False,
) -> None:
    """Start a campaign."""
    from gaugewright.services.campaign import campaigns

    settings = settings_of(context)
    record = Campaign(
        label=label or folder.absolute().name,
        title=title,
        zone=zone or settings["zone"],
        units=units or settings["units"],
        laboratory=settings["laboratory"],
        purpose=purpose,
    )
    with campaigns.new(folder, record, settings, context=working_context()) as store:
        made = campaigns.summary(store)
    if not zone and settings.setting("zone").origin == "shipped":
        aside(f"No zone was given: times are shown in {made.zone}; --zone sets another one.")
    lines = [
        f"{made.label}: {made.title}",
        f"  folder {made.folder}",
        f"  times in {made.zone}, units {made.units}",
        "Next: enter specimen, bars, gauges and circuits, then: gaugewright import",
    ]
    result(as_json, _plain(made), lines)


def change(
    context: typer.Context,
    folder: CampaignFolder,
    title: Annotated[
        str | None, typer.Option(help="What the work is, in a line.", show_default=False)
    ] = None,
    units: Annotated[
        str | None, typer.Option(help="Units shown and printed: si or us.", show_default=False)
    ] = None,
    zone: Annotated[
        str | None,
        typer.Option(help="IANA time zone, before any readings are in.", show_default=False),
    ] = None,
    purpose: Annotated[
        str | None, typer.Option(help="What must be known, in words.", show_default=False)
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Change how a campaign is called and shown."""
    from gaugewright.services.campaign import campaigns
    from gaugewright.services.campaign import changes as campaign_changes

    with campaigns.opened(folder, settings_of(context)) as store:
        kept = campaign_changes.changed(store, title=title, units=units, zone=zone, purpose=purpose)
        made = campaigns.summary(store)
    lines = [f"{made.label}: {made.title}", f"  times in {made.zone}, units {made.units}"]
    lines += [f"  version {kept.version}: {kept.reason}"]
    result(as_json, _plain(made) | {"version": kept.version}, lines)


def list_campaigns(
    folder: Annotated[Path, typer.Argument(help="Where to look.")] = Path("."),
    as_json: AsJson = False,
) -> None:
    """List the campaigns in a folder."""
    from gaugewright.services.campaign import campaigns

    found = campaigns.listed(folder)
    readable = [one for one in found if not one.problem]
    rows = [
        (
            one.label,
            one.title,
            str(one.gauges),
            str(one.recordings),
            instant_text(one.last_entry)[:16].replace("T", " ") if one.last_entry else "",
            one.state,
            str(one.folder),
        )
        for one in readable
    ]
    heads = ("campaign", "title", "gauges", "recordings", "last entry (UTC)", "state", "folder")
    for one in found:
        if one.problem:
            aside(f"{one.folder}: {one.problem}")
    if rows:
        lines = table(heads, rows)
    else:
        lines = [f"No campaign in {folder}; start one with: gaugewright new"]
    result(as_json, {"campaigns": [_plain(one) for one in found]}, lines)


def copy(
    folder: CampaignFolder,
    to: Annotated[Path, typer.Argument(metavar="TO", help="Folder the copy is made in.")],
    as_json: AsJson = False,
) -> None:
    """Copy a campaign."""
    from gaugewright.services.campaign import campaigns

    made = campaigns.copy(folder, to)
    lines = [f"{made}", f"Next: gaugewright selfcheck {made}"]
    result(as_json, {"copy": str(made), "of": str(folder)}, lines)


def _plain(one: "Summary") -> dict[str, Any]:
    return {
        "folder": str(one.folder),
        "label": one.label,
        "title": one.title,
        "zone": one.zone,
        "units": one.units,
        "invented": one.invented,
        "gauges": one.gauges,
        "recordings": one.recordings,
        "last_entry": instant_text(one.last_entry) if one.last_entry else None,
        "state": one.state,
        "problem": one.problem,
    }
