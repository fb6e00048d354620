"""The command that opens the web app: serve."""

from pathlib import Path
from typing import Annotated

import typer

from gaugewright.cli.options import settings_of
from gaugewright.cli.teaching import teaching

__all__ = ["add_to"]

SERVE = teaching(
    does="""Open the web app on a folder of campaigns, or on one campaign. It prints an address
    that lets one browser of this machine in. Nobody else gets in: other devices must be allowed
    with --lan and then pair with a code.""",
    when="to work with campaigns in a browser, at the desk or with a tablet at the specimen.",
    example="gaugewright serve .",
    after="open the printed address; stop with Ctrl+C",
)


def add_to(app: typer.Typer) -> None:
    """Give the command of this module its name."""
    app.command("serve", help=SERVE)(serve)


def serve(
    context: typer.Context,
    folder: Annotated[
        Path, typer.Argument(metavar="FOLDER", help="Folder of campaigns, or one campaign.")
    ] = Path("."),
    port: Annotated[
        int, typer.Option(help="Port to listen on; the next free one when it is taken.")
    ] = 8710,
    lan: Annotated[
        bool, typer.Option("--lan", help="Let devices of the network pair with a code.")
    ] = False,
) -> None:
    """Open the web app."""
    from gaugewright.web import serving

    def say(line: str) -> None:
        print(line, flush=True)

    serving.serve(folder, settings_of(context), port=port, lan=lan, say=say)
