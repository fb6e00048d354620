"""The command that shows the whole job on an invented campaign: demo."""

from pathlib import Path
from typing import Annotated

import typer

from gaugewright.cli.options import AsJson
from gaugewright.cli.outcomes import yield_lines, yields_plain
from gaugewright.cli.progress import Progress
from gaugewright.cli.speech import result
from gaugewright.cli.teaching import teaching

__all__ = ["add_to"]

DEMO = teaching(
    does="""Make an invented campaign and take it all the way. Records, raw files of two
    recorders, import, clocks joined by a trigger, zeros, findings, reduction, report. The same
    commands serve a real one. The raw files stand beside it in a folder of their own; the truth
    behind the invented readings goes to another folder, never into the campaign.""",
    when="to learn the tool, or to show it.",
    example="gaugewright demo demo-campaign",
    after="read the report; look round with: gaugewright list . and gaugewright selfcheck FOLDER",
)


def add_to(app: typer.Typer) -> None:
    """Give the command of this module its name."""
    app.command("demo", help=DEMO)(demo)


def demo(
    folder: Annotated[
        Path,
        typer.Argument(metavar="FOLDER", help="Where the campaign is made.", show_default=False),
    ],
    truth: Annotated[
        Path | None,
        typer.Option(metavar="FOLDER", help="Where the truth goes; FOLDER-truth when left out."),
    ] = None,
    again: Annotated[
        bool,
        typer.Option("--again", help="Move an earlier demo in FOLDER aside and make it anew."),
    ] = False,
    as_json: AsJson = False,
) -> None:
    """Run the demo campaign."""
    from gaugewright.services.demo import demo as service

    with Progress() as progress:
        done = service.run(folder, truth=truth, again=again, progress=progress)
    plain = {
        "campaign": str(done.campaign),
        "raw": str(done.raw),
        "truth": str(done.truth),
        "moved_aside": [str(path) for path in done.moved_aside],
        "report": str(done.report),
        "yields": yields_plain(done.yields),
        "seconds": round(done.seconds, 1),
    }
    lines = [
        *(f"The earlier demo stands in {path} now." for path in done.moved_aside),
        f"Campaign in {done.campaign}, raw files in {done.raw}, truth in {done.truth}.",
        "Everything in it is invented.",
        "",
        *yield_lines(done.yields, "si"),
        "",
        f"The demo took {done.seconds:.1f} s.",
        f"{done.report}",
    ]
    result(as_json, plain, lines)
