"""The command that counts how many gauges come through: survival."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from gaugewright.cli.lists import CsvFile, ListName, printed
from gaugewright.cli.options import AsJson, CampaignFolder, settings_of
from gaugewright.cli.speech import result
from gaugewright.cli.teaching import teaching

if TYPE_CHECKING:
    from gaugewright.services.showing.listings import Listing
    from gaugewright.services.showing.page import Page

__all__ = ["add_to"]

SURVIVAL = teaching(
    does="""Show how many gauges came through each gate, with exact binomial intervals; what the
    lost share: bundle, bar, pack, batch; and survival through the test by the moments of loss,
    where these are exact. Where a laboratory is set, its own counts stand below. With --publish
    this campaign is added to them: it counts once, as it was published last.""",
    when="after a gate; publish when the campaign is through, for the next plan to reckon with.",
    example="gaugewright --set laboratory=our-lab survival beams-2026 --publish",
    after="gaugewright plan beams-2027",
)


def add_to(app: typer.Typer) -> None:
    """Give the command of this module its name."""
    app.command("survival", help=SURVIVAL)(survival)


def survival(
    context: typer.Context,
    folder: CampaignFolder,
    publish: Annotated[
        bool, typer.Option("--publish", help="Add this campaign to the laboratory's own counts.")
    ] = False,
    only: ListName = "",
    csv: CsvFile = None,
    as_json: AsJson = False,
) -> None:
    """Show survival, or publish it."""
    if publish:
        _publish(context, folder, as_json)
        return
    from gaugewright.services.laboratory.survival_lab_lists import lab_lists
    from gaugewright.services.laboratory.survival_lists import survival_lists

    settings = settings_of(context)

    def every(page: "Page") -> "tuple[Listing, ...]":
        return (*survival_lists(page), *lab_lists(settings))

    printed(context, folder, every, only=only, csv=csv, as_json=as_json)


def _publish(context: typer.Context, folder: Path, as_json: bool) -> None:
    from gaugewright.services.campaign import campaigns
    from gaugewright.services.laboratory import survival_published
    from gaugewright.services.laboratory.survival_lab_lists import published_words

    settings = settings_of(context)
    with campaigns.opened(folder, settings, read_only=True) as store:
        found, path = survival_published.publish(store, settings)
    told = published_words(found)
    plain = {"campaign": str(folder), "file": str(path), "stages": len(found.counts), "told": told}
    result(as_json, plain, [told, f"It stands in {path}."])
