"""The command that writes down a step of the bench: bench-step."""

from typing import Annotated

import typer

from gaugewright.cli.options import AsJson, CampaignFolder, settings_of
from gaugewright.cli.speech import result
from gaugewright.cli.teaching import teaching

__all__ = ["add_to"]

STEP = teaching(
    does="""Write down a step of the bench for one gauge or a batch: who, when, with which
    supplies, in what air, or that it is put aside and why. Says how far the dew point is, and
    which supply was past its date. Local rules and safety data sheets come first.""",
    when="at the bench, step by step.",
    example="""gaugewright bench-step beams-2026 L1-M-T L1-M-U --step bond --person bonder
    --supply adhesive --temperature "21 °C" --humidity 48""",
    after="gaugewright bench beams-2026",
)


def add_to(app: typer.Typer) -> None:
    """Give the command of this module its name."""
    app.command("bench-step", help=STEP)(bench_step)


def bench_step(
    context: typer.Context,
    folder: CampaignFolder,
    gauges: Annotated[
        list[str], typer.Argument(metavar="GAUGE", help="One or more.", show_default=False)
    ],
    step: Annotated[str, typer.Option(help="Its name. Must be given.")] = "",
    person: Annotated[str, typer.Option(help="Label of whoever did it. Must be given.")] = "",
    begun: Annotated[str, typer.Option(metavar="TIME", help="Of the hall; now if empty.")] = "",
    ended: Annotated[str, typer.Option(metavar="TIME", help="Empty while it goes on.")] = "",
    supply: Annotated[list[str] | None, typer.Option(help="Label; may be repeated.")] = None,
    temperature: Annotated[str, typer.Option(help='Of the air: "21 °C".')] = "",
    humidity: Annotated[str, typer.Option(help="Of the air, in per cent.")] = "",
    parked: Annotated[str, typer.Option(metavar="REASON", help="Why it is put aside.")] = "",
    note: Annotated[str, typer.Option(help="Anything else.")] = "",
    as_json: AsJson = False,
) -> None:
    """Write down a step of the bench."""
    from gaugewright.services import bench, campaigns
    from gaugewright.services.book import Book

    typed = {
        "gauges": ";".join(gauges),
        "step": step,
        "person": person,
        "begun": begun,
        "ended": ended,
        "supplies": ";".join(supply or ()),
        "temperature": temperature,
        "humidity": humidity,
        "parked": parked,
        "note": note,
    }
    with campaigns.opened(folder, settings_of(context)) as store:
        kept = bench.noted(store, typed)
        told = bench.step_words(Book.read(store), kept)
    plain = {"campaign": str(folder), "steps": [one.uid for one in kept], "told": list(told)}
    result(as_json, plain, told)
