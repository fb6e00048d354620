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
    from gaugewright.services.following.end import Compared
    from gaugewright.services.following.following import Follower
    from gaugewright.services.following.shown import Live, Tile
    from gaugewright.store.campaign import CampaignStore

__all__ = ["add_to"]

FOLLOW = teaching(
    does="""Follow files, or the newest file of each folder, that recorders are still writing:
    strain of every gauge or opposite pair beside what was predicted, its share of yield, lost
    gauges, leaps, and whether a hold has settled. Several recorders are followed together, each
    with its own clock and rate: name the files one after the other, and a --profile for each in
    the same order. Advisory only: nothing is recorded, and a strain reading is never a safety
    device. The whole file is brought in when the test is over, with --import-as or by gaugewright
    import.""",
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
    places: Annotated[
        list[Path],
        typer.Argument(
            metavar="FILE_OR_FOLDER...",
            help="The file being written, or the folder it appears in; one for each recorder.",
            show_default=False,
        ),
    ],
    profile: Annotated[
        list[str],
        typer.Option(
            metavar="NAME",
            help="Reading profile of an earlier file of this recorder; once for each file.",
        ),
    ],
    instrument: Annotated[
        list[str] | None,
        typer.Option(
            "--recorder",
            metavar="LABEL",
            help="The recorder, once for each file; that of the last recording read by the "
            "profile when left out.",
        ),
    ] = None,
    every: Annotated[float, typer.Option(metavar="SECONDS", help="Time between two looks.")] = 1.0,
    until_still: Annotated[
        float | None,
        typer.Option(metavar="SECONDS", help="End by itself when nothing new came for so long."),
    ] = None,
    import_as: Annotated[
        str,
        typer.Option(
            metavar="LABEL",
            help="At the end bring the last file of each recorder in under this name and compare "
            "it; of several the recorder's name is added.",
        ),
    ] = "",
    as_json: AsJson = False,
) -> None:
    """Follow a test."""
    from gaugewright.services.campaign import campaigns
    from gaugewright.services.following.thread import EVERY

    if not EVERY[0] <= every <= EVERY[1]:
        raise InputError("--every", every, f"from {EVERY[0]:g} to {EVERY[1]:g} seconds")
    if until_still is not None and not until_still > 0:
        raise InputError("--until-still", until_still, "a positive number of seconds")
    with campaigns.opened(folder, settings_of(context), read_only=not import_as) as store:
        follower = _follower(store, _asked(places, profile, instrument or []))
        system = campaigns.system_of(store)
        with _told(system, as_json=as_json) as tell:
            live = _followed(follower, tell, every=every, until_still=until_still)
        compared = _brought_in(store, follower, import_as) if import_as else []
    _say_end(live, compared, system, as_json=as_json)


def _asked(
    places: list[Path], profiles: list[str], instruments: list[str]
) -> list[tuple[Path, str, str]]:
    """Each file with the names of its profile and recorder."""
    if len(profiles) != len(places):
        told = f"{len(profiles)} for {len(places)} file(s) or folder(s)"
        raise InputError("--profile", told, "named once for each, in the same order")
    if instruments and len(instruments) != len(places):
        told = f"{len(instruments)} for {len(places)} file(s) or folder(s)"
        raise InputError("--recorder", told, "left out, or named once for each, in order")
    names = instruments or [""] * len(places)
    return list(zip(places, profiles, names, strict=True))


def _follower(store: "CampaignStore", asked: list[tuple[Path, str, str]]) -> "Follower":
    from gaugewright.records.electrical import Instrument
    from gaugewright.services.campaign.book import Book
    from gaugewright.services.following.following import Follower, profile_named
    from gaugewright.services.following.stream import Source

    book = Book.read(store)
    sources = [
        Source(
            place,
            profile_named(book, profile),
            book.labelled(Instrument, instrument) if instrument else None,
        )
        for place, profile, instrument in asked
    ]
    first = sources[0]
    follower = Follower(store, first.place, first.profile, instrument=first.instrument)
    for source in sources[1:]:
        follower.also(source)
    return follower


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

    parts = []
    for source in live.sources:
        recorder = f"{source.recorder}, " if len(live.sources) > 1 else ""
        name = source.file or source.place
        parts.append(f"{recorder}{name}: {source.standing}, {source.rows} rows")
        if source.behind is not None:
            parts.append(f"newest {source.behind:.1f} s ago")
    if live.load is not None:
        parts.append(f"load {quantity_shown('force', live.load, None, system).text}")
    parts.append(f"{live.hold.verdict.value}: {live.hold.words}")
    return ", ".join(parts)


def _picture(live: "Live", system: "System") -> Group:
    made = Table(*HEADS, box=None, pad_edge=False)
    for tile in live.tiles:
        made.add_row(*_cells(tile, system))
    notices = [Text(f"! {notice.words}") for notice in live.notices[:_FEW]]
    held = [Text(words) for words in (*live.told, *_clocks(live)) if words]
    advisory = Text(_advisory())
    return Group(Text(_status(live, system)), Text(""), made, Text(""), *notices, *held, advisory)


def _clocks(live: "Live") -> list[str]:
    """How the rows of each recorder are put in campaign time."""
    if len(live.sources) == 1:
        return [live.sources[0].clock]
    return [f"{source.recorder}: {source.clock}" for source in live.sources if source.clock]


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
        "recorders": [
            {
                "recorder": source.recorder,
                "file": source.file,
                "standing": source.standing,
                "rows": source.rows,
                "rows_reported": source.reported,
                "row_at": None if source.row_at is None else source.row_at.isoformat(),
                "behind_s": source.behind,
                "least_behind_s": source.offset,
                "clock": source.clock,
            }
            for source in live.sources
        ],
        "rows": live.rows,
        "rows_reported": live.reported,
        "processing_s": live.processing,
        "load_n": live.load,
        "hold": {
            "verdict": live.hold.verdict.value,
            "words": live.hold.words,
            "seconds": live.hold.seconds,
            "load_n": live.hold.load,
        },
        "gauges": [_tile(tile) for tile in live.tiles],
        "notices": [
            {"at": n.at.isoformat(), "gauge": n.gauge, "kind": n.kind, "words": n.words}
            for n in live.notices[:_FEW]
        ],
        "held": list(live.told),
    }


def _tile(tile: "Tile") -> dict[str, Any]:
    return {
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


def _brought_in(store: "CampaignStore", follower: "Follower", label: str) -> "list[Compared]":
    """The last file of every recorder brought in, and compared."""
    from gaugewright.services.following import end as follow_end

    last = {account.source: account for account in follower.accounts()}
    if not last:
        raise InputError("rows followed", 0, "some, before they are brought in")
    compared = []
    for number, account in last.items():
        recorder = follower.streams[number].label
        name = label if len(follower.streams) == 1 else f"{label}, {recorder}"
        _, one = follow_end.bring_whole_in(store, follower, account, label=name)
        compared.append(one)
    return compared


def _say_end(live: "Live", compared: "list[Compared]", system: "System", *, as_json: bool) -> None:
    if as_json:
        ended = {
            "ended": True,
            "files": [
                {
                    "path": a.path,
                    "rows": a.rows,
                    "reported": a.reported,
                    "sha256": a.sha256,
                    "recorder": live.sources[a.source].recorder,
                }
                for a in live.accounts
            ],
            "imported": [
                {"rows": one.imported, "is_same": one.is_same, "words": one.words}
                for one in compared
            ],
        }
        print(json.dumps(ended, ensure_ascii=False))
        return
    lines = []
    if not sys.stdout.isatty():
        lines += ["", *table(HEADS, [_cells(tile, system) for tile in live.tiles])]
    for account in live.accounts:
        lines.append(f"{account.path}: {account.rows} rows followed, {account.reported} reported")
    lines += [one.words for one in compared]
    if compared:
        lines.append("Next: join its clock, then: gaugewright reduce")
    else:
        lines.append("Nothing was recorded. Next: gaugewright import")
    for text in (*lines, _advisory()):
        print(text)


def _advisory() -> str:
    from gaugewright.services.following.shown import ADVISORY

    return ADVISORY[:1].upper() + ADVISORY[1:] + "."
