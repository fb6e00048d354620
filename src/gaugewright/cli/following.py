"""The command that follows a test while its recorder is still writing."""

import json
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer
from rich.console import Console, Group
from rich.live import Live as Screen
from rich.table import Table
from rich.text import Text

from gaugewright.cli.options import AsJson, CampaignFolder, settings_of
from gaugewright.cli.speech import table
from gaugewright.cli.teaching import teaching
from gaugewright.errors import InputError

if TYPE_CHECKING:
    from gaugewright.present.units_shown import System
    from gaugewright.services.follow_end import Compared
    from gaugewright.services.follow_shown import Live, Tile
    from gaugewright.services.following import Follower
    from gaugewright.store.campaign import CampaignStore

__all__ = ["add_to"]

FOLLOW = teaching(
    does="""Follow a file, or the newest file of a folder, that a recorder is still writing: strain
    of every gauge or opposite pair beside what was predicted, its share of yield, lost gauges,
    leaps, and whether a hold has settled. Advisory only: nothing is recorded, and a strain reading
    is never a safety device. The whole file is brought in when the test is over, with --import-as
    or by gaugewright import.""",
    when="on the day of the test, with a reading profile confirmed on an earlier file of the same "
    "recorder. Stop it with Ctrl-C.",
    example='gaugewright follow beams-2026 /media/recorder --profile "files of R1"',
    after="gaugewright import, zeros, then gaugewright reduce",
)
HEADS = ("gauge", "state", "strain", "bending", "predicted", "of yield", "trend", "watch")
UNSEEN = "-"
_FEW = 6  # notices that stand below the table


def add_to(app: typer.Typer) -> None:
    """Give the command of this module its name."""
    app.command("follow", help=FOLLOW)(follow)


def follow(
    context: typer.Context,
    folder: CampaignFolder,
    place: Annotated[
        Path,
        typer.Argument(
            metavar="FILE_OR_FOLDER",
            help="The file being written, or the folder it appears in.",
            show_default=False,
        ),
    ],
    profile: Annotated[
        str,
        typer.Option(metavar="NAME", help="Reading profile of an earlier file of this recorder."),
    ],
    instrument: Annotated[
        str,
        typer.Option(
            metavar="LABEL",
            help="The recorder; that of the last recording read by the profile when left out.",
        ),
    ] = "",
    every: Annotated[float, typer.Option(metavar="SECONDS", help="Time between two looks.")] = 1.0,
    until_still: Annotated[
        float | None,
        typer.Option(metavar="SECONDS", help="End by itself when nothing new came for so long."),
    ] = None,
    import_as: Annotated[
        str,
        typer.Option(
            metavar="LABEL",
            help="At the end bring the last file in under this name and compare it.",
        ),
    ] = "",
    as_json: AsJson = False,
) -> None:
    """Follow a test."""
    from gaugewright.services import campaigns
    from gaugewright.services.follow_thread import EVERY

    if not EVERY[0] <= every <= EVERY[1]:
        raise InputError("--every", every, f"from {EVERY[0]:g} to {EVERY[1]:g} seconds")
    if until_still is not None and not until_still > 0:
        raise InputError("--until-still", until_still, "a positive number of seconds")
    with campaigns.opened(folder, settings_of(context), read_only=not import_as) as store:
        follower = _follower(store, place, profile, instrument)
        system = campaigns.system_of(store)
        with _told(system, as_json=as_json) as tell:
            live = _followed(follower, tell, every=every, until_still=until_still)
        compared = _brought_in(store, follower, import_as) if import_as else None
    _say_end(live, compared, system, as_json=as_json)


def _follower(store: "CampaignStore", place: Path, profile: str, instrument: str) -> "Follower":
    from gaugewright.records.electrical import Instrument
    from gaugewright.services.book import Book
    from gaugewright.services.following import Follower, profile_named

    book = Book.read(store)
    recorder = book.labelled(Instrument, instrument) if instrument else None
    return Follower(store, place, profile_named(book, profile), instrument=recorder)


def _followed(
    follower: "Follower",
    tell: "Callable[[Live], None]",
    *,
    every: float,
    until_still: float | None,
) -> "Live":
    """Look until nothing more comes, or somebody stops it from the keyboard."""
    try:
        while True:
            live = follower.look()
            tell(live)
            if until_still is not None and live.quiet >= until_still:
                break
            if not live.catching_up:
                time.sleep(every)
    except KeyboardInterrupt:
        pass  # the ordinary way to end
    live = follower.last()
    tell(live)
    return live


@contextmanager
def _told(system: "System", *, as_json: bool) -> "Iterator[Callable[[Live], None]]":
    """How each look is told: a table that changes, plain lines, or a line of JSON."""
    if as_json:
        yield lambda live: print(json.dumps(plain(live), ensure_ascii=False), flush=True)
        return
    console = Console()
    if not console.is_terminal:
        yield _Lines(system)
        return
    with Screen(console=console, auto_refresh=False, vertical_overflow="visible") as screen:
        yield lambda live: screen.update(_picture(live, system), refresh=True)


class _Lines:
    """One line for each look that found rows, and each notice once."""

    def __init__(self, system: "System") -> None:
        self._system = system
        self._rows = -1
        self._told: set[tuple[Any, ...]] = set()

    def __call__(self, live: "Live") -> None:
        for notice in reversed(live.notices):
            key = (notice.at, notice.gauge, notice.kind)
            if key not in self._told:
                self._told.add(key)
                print(f"  ! {notice.words}", flush=True)
        if live.rows != self._rows:
            self._rows = live.rows
            print(_status(live, self._system), flush=True)


def _status(live: "Live", system: "System") -> str:
    from gaugewright.present.units_shown import quantity_shown

    parts = [f"{live.file or live.place}: {live.standing}, {live.rows} rows"]
    if live.behind is not None:
        parts.append(f"newest {live.behind:.1f} s ago")
    if live.load is not None:
        parts.append(f"load {quantity_shown('force', live.load, None, system).text}")
    parts.append(f"{live.hold.verdict.value}: {live.hold.words}")
    return ", ".join(parts)


def _picture(live: "Live", system: "System") -> Group:
    made = Table(*HEADS, box=None, pad_edge=False)
    for tile in live.tiles:
        made.add_row(*_cells(tile, system))
    notices = [Text(f"! {notice.words}") for notice in live.notices[:_FEW]]
    held = [Text(words) for words in (*live.told, live.clock) if words]
    advisory = Text(_advisory())
    return Group(Text(_status(live, system)), Text(""), made, Text(""), *notices, *held, advisory)


def _cells(tile: "Tile", system: "System") -> tuple[str, ...]:
    from gaugewright.present.numbers import fixed_text
    from gaugewright.present.units_shown import in_shown, quantity_shown, unit_shown

    def strain(value: float | None, doubt: float | None = None) -> str:
        if value is None:
            return UNSEEN
        known = doubt if doubt else None
        return quantity_shown("strain", value, known, system, sign=True).text

    def tenths(value: float | None, quantity: str) -> str:
        if value is None:
            return UNSEEN
        text = fixed_text(in_shown(value, quantity, system), 1, sign=True)
        return f"{text} {unit_shown(quantity, system).text}"

    return (
        tile.label,
        tile.state.value,
        strain(tile.strain, tile.doubt),
        tenths(tile.bending, "strain"),
        strain(tile.predicted, tile.predicted_doubt),
        UNSEEN if tile.share is None else f"{100 * tile.share:.0f} %",
        tenths(tile.trend, "strain_rate"),
        tile.watch.value or UNSEEN,
    )


def plain(live: "Live") -> dict[str, Any]:
    """A look as JSON values, in SI; strains without unit."""
    return {
        "at": live.at.isoformat(),
        "file": live.file,
        "standing": live.standing,
        "rows": live.rows,
        "rows_reported": live.reported,
        "row_at": None if live.row_at is None else live.row_at.isoformat(),
        "behind_s": live.behind,
        "processing_s": live.processing,
        "load_n": live.load,
        "hold": {
            "verdict": live.hold.verdict.value,
            "words": live.hold.words,
            "seconds": live.hold.seconds,
            "load_n": live.hold.load,
        },
        "gauges": [
            {
                "label": tile.label,
                "state": tile.state.value,
                "strain": tile.strain,
                "expanded_uncertainty": tile.doubt,
                "bending": tile.bending,
                "predicted": tile.predicted,
                "predicted_expanded_uncertainty": tile.predicted_doubt,
                "share_of_yield": tile.share,
                "watch": tile.watch.value,
                "trend_per_s": tile.trend,
                "why": tile.why,
            }
            for tile in live.tiles
        ],
        "notices": [
            {"at": n.at.isoformat(), "gauge": n.gauge, "kind": n.kind, "words": n.words}
            for n in live.notices[:_FEW]
        ],
        "held": list(live.told),
        "clock": live.clock,
    }


def _brought_in(store: "CampaignStore", follower: "Follower", label: str) -> "Compared":
    from gaugewright.services import follow_end

    accounts = follower.accounts()
    if not accounts:
        raise InputError("rows followed", 0, "some, before they are brought in")
    _, compared = follow_end.bring_whole_in(store, follower, accounts[-1], label=label)
    return compared


def _say_end(live: "Live", compared: "Compared | None", system: "System", *, as_json: bool) -> None:
    if as_json:
        ended = {
            "ended": True,
            "files": [
                {"path": a.path, "rows": a.rows, "reported": a.reported, "sha256": a.sha256}
                for a in live.accounts
            ],
            "imported": None
            if compared is None
            else {"rows": compared.imported, "is_same": compared.is_same, "words": compared.words},
        }
        print(json.dumps(ended, ensure_ascii=False))
        return
    lines = []
    if not sys.stdout.isatty():
        lines += ["", *table(HEADS, [_cells(tile, system) for tile in live.tiles])]
    for account in live.accounts:
        lines.append(f"{account.path}: {account.rows} rows followed, {account.reported} reported")
    if compared is not None:
        lines.append(compared.words)
        lines.append("Next: join its clock, then: gaugewright reduce")
    else:
        lines.append("Nothing was recorded. Next: gaugewright import")
    for text in (*lines, _advisory()):
        print(text)


def _advisory() -> str:
    from gaugewright.services.follow_shown import ADVISORY

    return ADVISORY[:1].upper() + ADVISORY[1:] + "."
