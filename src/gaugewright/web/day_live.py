"""What changes every second on test day, in words and numbers; drawn once for every device."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from gaugewright.present.numbers import fixed_text
from gaugewright.present.units_shown import in_shown, quantity_shown, unit_shown
from gaugewright.services.following.shown import Live, Settled, SourceNow, Tile, Yield
from gaugewright.services.following.thread import FollowThread
from gaugewright.services.reading.series import EPOCH
from gaugewright.web import frame
from gaugewright.web.links import gauge_url
from gaugewright.web.rooms import Room

__all__ = ["LivePart", "LiveShown", "live_part", "live_shown", "second_shown", "tenths"]

NOTICES = 12
LONG_SINCE = 3600.0  # s behind, from which rows are of another day
_MOVES = "The load doesn’t stand still now: a step is marked while it is held."
_STANDING = {"grew": "growing", "nothing new": "there, with nothing new"}


@dataclass(frozen=True, slots=True)
class TileShown:
    """A gauge or pair: what is read, beside what was predicted and how near yield it is."""

    label: str
    urls: tuple[tuple[str, str], ...]
    state: str
    strain: str
    doubt: str
    unit: str
    facts: tuple[tuple[str, str], ...]
    share: str
    share_width: str
    watch: str
    is_urgent: bool
    why: str


@dataclass(frozen=True, slots=True)
class NoticeShown:
    """Something to be known at the test."""

    at: str
    words: str
    is_loss: bool


@dataclass(frozen=True, slots=True)
class RecorderShown:
    """One recorder that is followed."""

    name: str
    facts: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class LiveShown:
    """The part that changes; ``seen`` names the look, ``at`` is when it was."""

    goes_on: bool
    seen: str
    at: str
    failure: str
    verdict: str
    verdict_words: str
    is_settled: bool
    load: str
    hold: str
    recorders: tuple[RecorderShown, ...]
    tiles: tuple[TileShown, ...]
    notices: tuple[NoticeShown, ...]
    told: tuple[str, ...]
    took: str
    says: str


@dataclass(frozen=True, slots=True)
class LivePart:
    """The part alone, for a page that is there already."""

    sheet: frame.Sheet
    live: LiveShown


def live_part(room: Room, thread: FollowThread) -> LivePart:
    """What a script asks for every second."""
    return LivePart(frame.Sheet("Test day", "Test day", ()), live_shown(room, thread))


def live_shown(room: Room, thread: FollowThread) -> LiveShown:
    """A test as its last look saw it."""
    live = thread.latest
    failure = thread.failure
    if not thread.goes_on and not failure and live is None:
        failure = "the follower ended without a word: a fault of this program"
    if live is None:
        waiting = "The first look is under way." if thread.goes_on else ""
        return LiveShown(
            goes_on=thread.goes_on, seen="", at="", failure=failure, verdict="starting",
            verdict_words=waiting, is_settled=False, load="", hold=_MOVES, recorders=(), tiles=(),
            notices=(), told=(), took="", says=waiting,
        )  # fmt: skip
    return LiveShown(
        goes_on=thread.goes_on,
        seen=f"{live.at.timestamp():.6f}",
        at=second_shown(room, live.at),
        failure=failure,
        verdict=live.hold.verdict.value if thread.goes_on else "no longer followed",
        verdict_words=live.hold.words if thread.goes_on else "what stands here is the last look",
        is_settled=live.hold.verdict is Settled.SETTLED and thread.goes_on,
        load="" if live.load is None else tenths(live.load, "force", room),
        hold=_hold_words(room, live),
        recorders=tuple(_recorder(room, source) for source in live.sources),
        tiles=tuple(_tile(room, tile) for tile in live.tiles),
        notices=tuple(
            NoticeShown(second_shown(room, notice.at), notice.words, notice.is_loss)
            for notice in live.notices[:NOTICES]
        ),
        told=_told(live),
        took=f"{live.processing:.2f} s",
        says=_says(live),
    )


def _hold_words(room: Room, live: Live) -> str:
    """Since when the load is held, for whoever would mark it."""
    if live.hold.begins is None or live.hold.seconds is None:
        return _MOVES
    begins = EPOCH + timedelta(seconds=live.hold.begins)
    load = "" if live.hold.load is None else f" at {tenths(live.hold.load, 'force', room)}"
    return f"Held{load} since {second_shown(room, begins)}."


def tenths(value: float, quantity: str, room: Room) -> str:
    """A quantity to one digit after the point, with its unit."""
    text = fixed_text(in_shown(value, quantity, room.units), 1, sign=quantity != "force")
    return f"{text}\N{NO-BREAK SPACE}{unit_shown(quantity, room.units).text}"


def second_shown(room: Room, instant: datetime) -> str:
    """Time of day in the campaign's zone."""
    return f"{instant.astimezone(room.zone):%H:%M:%S}"


def _told(live: Live) -> tuple[str, ...]:
    clocks = [
        (f"{source.recorder}: " if len(live.sources) > 1 else "") + source.clock
        for source in live.sources
        if source.clock
    ]
    return (*live.told, *clocks)


def _says(live: Live) -> str:
    """What is read out when it changes."""
    newest = live.notices[0].words if live.notices else ""
    return f"{live.hold.verdict.value}. {newest}".strip()


def _recorder(room: Room, source: SourceNow) -> RecorderShown:
    behind, soonest = "unknown", ""
    if source.behind is not None:
        is_today = abs(source.behind) < LONG_SINCE
        behind = f"{source.behind:.1f} s before this look" if is_today else "of another day"
        if is_today and source.offset is not None:
            soonest = f"{source.offset:.1f} s after its stamp"
    newest = "none"
    if source.row_at is not None:
        newest = f"{second_shown(room, source.row_at)}, {behind}"
    reported = f", {source.reported} lines reported" if source.reported else ""
    facts = [
        ("File", source.file or source.place),
        ("It is", _STANDING.get(source.standing, source.standing)),
        ("Rows", fixed_text(source.rows, 0) + reported),
        ("Newest row", newest),
    ]
    if soonest:
        facts.append(("Soonest so far", soonest))
    return RecorderShown(source.recorder, tuple(facts))


def _tile(room: Room, tile: Tile) -> TileShown:
    strain, doubt, unit = "", "", unit_shown("strain", room.units).text
    if tile.strain is not None:
        shown = quantity_shown("strain", tile.strain, tile.doubt or None, room.units, sign=True)
        strain, doubt = shown.value, shown.plus_minus
    facts: list[tuple[str, str]] = []
    if tile.predicted is not None:
        words = quantity_shown("strain", tile.predicted, tile.predicted_doubt or None, room.units)
        facts.append(("predicted", words.text))
    if tile.bending is not None:
        facts.append(("bending", tenths(tile.bending, "strain", room)))
    if tile.trend is not None:
        facts.append(("trend", tenths(tile.trend, "strain_rate", room)))
    share = "" if tile.share is None else f"{100 * tile.share:.0f} % of yield"
    width = "" if tile.share is None else f"{min(100.0, 100 * tile.share):.1f}"
    return TileShown(
        tile.label,
        tuple((label, gauge_url(room, label)) for label in tile.gauges),
        tile.state.value,
        strain,
        doubt,
        unit,
        tuple(facts),
        share,
        width,
        tile.watch.value if tile.watch is not Yield.BELOW else "",
        tile.watch in (Yield.NEAR, Yield.PERHAPS, Yield.PASSED),
        tile.why,
    )
