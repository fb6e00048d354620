"""The command that writes down an allowance for drift: drift."""

from typing import Annotated

import typer

from gaugewright.cli.options import AsJson, CampaignFolder, settings_of
from gaugewright.cli.speech import result
from gaugewright.cli.teaching import teaching

__all__ = ["add_to"]

DRIFT = teaching(
    does="""Let drift of gauges that grows with time count in the uncertainty of every strain of a
    campaign: RATE is its standard uncertainty in microstrain a year since the zero. Written
    down as a limit with its source; the strain itself isn't changed.""",
    when="before a record of weeks or months is reported.",
    example='gaugewright drift bridge-2026 20 --source "three idle gauges beside, one year"',
    after="gaugewright results long bridge-2026 G07",
)


def add_to(app: typer.Typer) -> None:
    """Give the command of this module its name."""
    app.command("drift", help=DRIFT)(drift)


def drift(
    context: typer.Context,
    folder: CampaignFolder,
    rate: Annotated[
        str, typer.Argument(metavar="RATE", help="Microstrain a year, standard uncertainty.")
    ],
    source: Annotated[str, typer.Option(help="Where the number comes from, in words.")],
    confirmed: Annotated[
        bool, typer.Option("--confirmed", help="Somebody has looked into it.")
    ] = False,
    as_json: AsJson = False,
) -> None:
    """Allow for drift that grows with time."""
    from gaugewright.calc.seasons import YEAR
    from gaugewright.present.typed import number_typed
    from gaugewright.services.campaign import campaigns
    from gaugewright.services.long_run import term as long_term

    with campaigns.opened(folder, settings_of(context)) as store:
        per_second = 1e-6 * number_typed("rate", rate) / YEAR
        made = long_term.allow_drift(store, per_second, source=source, confirmed=confirmed)
    plain = {"campaign": str(folder), "label": made.record.label, "version": made.version}
    plain |= {"rate_per_s": made.record.value, "source": made.record.source}
    words = f"Drift of {rate} µε a year since the zero counts from now on ({made.record.source})."
    result(as_json, plain, [words, "Reduce again: gaugewright reduce CAMPAIGN."])
