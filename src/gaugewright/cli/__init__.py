"""The command line: reads what a person typed, calls one service, presents what came out."""

import os
import sys
import tempfile
import traceback
from collections.abc import Sequence
from pathlib import Path
from types import TracebackType
from typing import Annotated

import typer
import typer.main

from gaugewright import __version__
from gaugewright.cli import (
    answering,
    archiving,
    benching,
    bring_in,
    calibrating,
    campaigns,
    checks,
    comparing,
    coupon,
    demonstration,
    diagnosing,
    drifting,
    fatigue,
    following,
    gates,
    handing_over,
    identifying,
    limits,
    lists,
    outcomes,
    placing,
    planning,
    plugging,
    results,
    reviewing,
    scheduling,
    serve,
    stages,
    surviving,
)
from gaugewright.errors import GaugewrightError

__all__ = ["app", "main"]

OURS = 1
YOURS = 2
STOPPED = 130  # what shells expect of a program stopped from the keyboard

app = typer.Typer(
    name="gaugewright",
    help=(
        "Bonded strain gauges on reinforcing bars, from the pack they came in to the number "
        "in the report.\n\n"
        "In the order of the job: new, import, reduce, review, report. To see all of it at once: "
        "gaugewright demo FOLDER. Every command explains itself with --help.\n\n"
        "A command ends with 0 when it did its work, 2 when what it was given can't be used, "
        "1 when the fault is ours."
    ),
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)
for commands in (  # in the order of the job
    campaigns,
    placing,
    planning,
    scheduling,
    lists,
    benching,
    gates,
    diagnosing,
    plugging,
    identifying,
    surviving,
    calibrating,
    bring_in,
    following,
    outcomes,
    handing_over,
    archiving,
    comparing,
    reviewing,
    results,
    coupon,
    fatigue,
    limits,
    drifting,
    stages,
    answering,
    serve,
    demonstration,
    checks,
):
    commands.add_to(app)


def _version(asked: bool) -> None:
    if asked:
        print(f"gaugewright {__version__}")
        raise typer.Exit()


@app.callback()
def root(
    set_: Annotated[
        list[str] | None,
        typer.Option(
            "--set",
            metavar="NAME=VALUE",
            help="A setting for this run only, before the command's name; may be repeated.",
        ),
    ] = None,
    version: Annotated[
        bool,
        typer.Option("--version", callback=_version, is_eager=True, help="Print the version."),
    ] = False,
) -> None:
    """Hold what goes before every command; the help text above is the program's."""


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and say how it ended: 0, 2 for what the person gave, 1 for our fault."""
    sys.excepthook = _our_fault
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):  # a terminal in another code page must not stop us
            stream.reconfigure(errors="replace")
    try:
        _run(sys.argv[1:] if arguments is None else list(arguments))
        sys.stdout.flush()
    except typer.Exit as end:
        return end.exit_code
    except GaugewrightError as error:
        return _refused(str(error))
    except typer.TyperException as error:
        return _refused(_usage(error))
    except BrokenPipeError:
        # The reader has gone; without this Python would complain once more at its end.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except OSError as error:
        place = f"{error.filename}: " if error.filename else ""
        return _refused(
            f"{place}{error.strerror or error}; check the path, the space and the permission"
        )
    except (KeyboardInterrupt, typer.Abort):
        print("stopped; what was under way has not been kept", file=sys.stderr)
        return STOPPED
    return 0


def _run(arguments: list[str]) -> None:
    """Run one command without the framework's own handling of faults and broken pipes."""
    command = typer.main.get_command(app)
    with command.make_context("gaugewright", arguments) as context:
        command.invoke(context)


def _refused(sentence: str) -> int:
    print(sentence, file=sys.stderr)
    return YOURS


def _usage(error: typer.TyperException) -> str:
    sentence = " ".join(error.format_message().split())
    where = getattr(getattr(error, "ctx", None), "command_path", "") or "gaugewright"
    if sentence.startswith("Usage:"):  # called without a command: the help stands in for it
        return error.format_message()
    return f"{sentence.rstrip('.')}; {where} --help shows what is allowed"


def _our_fault(
    kind: type[BaseException], error: BaseException, trace: TracebackType | None
) -> None:
    """Say in one sentence that the fault is ours; Python then ends with 1."""
    handle, name = tempfile.mkstemp(prefix="gaugewright-fault-", suffix=".txt", text=True)
    with os.fdopen(handle, "w", encoding="utf-8", errors="replace") as file:
        file.write(f"gaugewright {__version__}, Python {sys.version}\n\n")
        file.writelines(traceback.format_exception(kind, error, trace))
    print(
        f"gaugewright has a fault ({kind.__name__}); nothing half-done was kept. What is needed "
        f"to mend it is in {Path(name)}: please send it to whoever looks after the program",
        file=sys.stderr,
    )
