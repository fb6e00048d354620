"""Test day in words and numbers for its page."""

from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from pathlib import Path

from gaugewright.errors import GaugewrightError, InputError
from gaugewright.present.numbers import fixed_text
from gaugewright.present.typed import number_typed
from gaugewright.present.units_shown import in_shown, quantity_shown, unit_shown
from gaugewright.records.gauges import Attachment, Gauge
from gaugewright.records.readings import LoadStep, ReadingProfile
from gaugewright.services import events
from gaugewright.services.follow_shown import ADVISORY, Live, Settled, Tile, Yield
from gaugewright.services.follow_thread import FollowThread
from gaugewright.services.series import EPOCH
from gaugewright.web import frame, sending
from gaugewright.web.forms import Choice, Field
from gaugewright.web.links import gauge_url
from gaugewright.web.rooms import Room

__all__ = ["DayPage", "LiveShown", "hold_typed", "page_of", "seconds_typed"]

TAPS = events.KINDS[:4]
NOTICES = 12
PHOTOS = 8
_STANDING = {"grew": "growing", "nothing new": "there, with nothing new"}
LONG_SINCE = 3600.0  # s behind, from which rows are of another day


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
class LiveShown:
    """The part that changes."""

    goes_on: bool
    failure: str
    verdict: str
    verdict_words: str
    is_settled: bool
    load: str
    facts: tuple[tuple[str, str], ...]
    tiles: tuple[TileShown, ...]
    notices: tuple[NoticeShown, ...]
    told: tuple[str, ...]
    says: str


@dataclass(frozen=True, slots=True)
class FileRow:
    """A file that was followed, to be brought in."""

    number: int
    name: str
    words: str
    can_be_brought_in: bool


@dataclass(frozen=True, slots=True)
class PhotoRow:
    """A photo of an event."""

    url: str
    words: str


@dataclass(frozen=True, slots=True)
class DayPage:
    """Everything on the page of a test day."""

    sheet: frame.Sheet
    advisory: str
    live: LiveShown | None
    url: str
    is_live: bool
    taps: tuple[str, ...]
    note_action: str
    note_key: str
    events_url: str
    start: tuple[Field, ...]
    profiles: tuple[str, ...]
    import_url: str
    hold_words: str
    step: tuple[Field, ...]
    photo_key: str
    photo: tuple[Field, ...]
    photos: tuple[PhotoRow, ...]
    gauges: tuple[str, ...]
    files: tuple[FileRow, ...]
    bring_in: tuple[Field, ...]
    said: str
    failure: str


def page_of(
    room: Room,
    thread: FollowThread | None,
    *,
    typed: dict[str, str],
    error: GaugewrightError | None,
    said: str,
) -> DayPage:
    """The page as it stands, with what was typed and what is wrong with it."""
    live = None if thread is None else _live_shown(room, thread)
    goes_on = live is not None and live.goes_on
    known = {f.name for f in (*_start(), *_step(room, None), *_photo(), *_bring_in(room))}
    at = error.name if isinstance(error, InputError) and error.name in known else ""

    def filled(fields: tuple[Field, ...]) -> tuple[Field, ...]:
        return tuple(_filled(field, typed, at, error) for field in fields)

    latest = None if thread is None else thread.latest
    profiles = tuple(entry.record.label for entry in room.book.of(ReadingProfile))
    return DayPage(
        sheet=frame.Sheet(
            "Test day", "Test day", frame.room_block(room, "Test day"), step="readings"
        ),
        advisory=ADVISORY[:1].upper() + ADVISORY[1:] + ".",
        live=live,
        url=room.url("test-day"),
        is_live=goes_on,
        taps=TAPS,
        note_action=room.url("events"),
        note_key=sending.new_key(),
        events_url=room.url("events"),
        start=() if goes_on else filled(_start(profiles)),
        profiles=profiles,
        import_url=room.url("import"),
        hold_words=_hold_words(room, latest) if goes_on else "",
        step=filled(_step(room, latest)),
        photo_key=sending.new_key(),
        photo=filled(_photo()),
        photos=_photos(room),
        gauges=tuple(entry.record.label for entry in room.book.of(Gauge)),
        files=() if goes_on or thread is None else _files(thread),
        bring_in=filled(_bring_in(room)),
        said=said,
        failure="" if error is None or at else str(error),
    )


def hold_typed(thread: FollowThread, room: Room, load: str) -> tuple[datetime, datetime, float]:
    """Beginning and end of the hold that goes on, and the load meant [N].

    Raises
    ------
    InputError
        If the load moves, or what was typed is no number.
    """
    live = thread.latest
    if live is None or not thread.goes_on or live.hold.begins is None or live.hold.seconds is None:
        allowed = "a load that stands still, in a test that is followed"
        raise InputError("hold", "none now", allowed, "mark it while it is held")
    begins = EPOCH + timedelta(seconds=live.hold.begins)
    ends = begins + timedelta(seconds=live.hold.seconds)
    if not load.strip():
        return begins, ends, live.hold.load or 0.0
    return begins, ends, number_typed("load", load) * unit_shown("force", room.units).factor


def seconds_typed(text: str) -> float | None:
    """Limit on a clock's error as typed [s]; None when nothing was."""
    return number_typed("within", text) if text.strip() else None


def _live_shown(room: Room, thread: FollowThread) -> LiveShown:
    live = thread.latest
    failure = thread.failure
    if not thread.goes_on and not failure and live is None:
        failure = "the follower ended without a word: a fault of this program"
    if live is None:
        waiting = "The first look is under way." if thread.goes_on else ""
        return LiveShown(
            thread.goes_on, failure, "starting", waiting, False, "", (), (), (), (), waiting
        )
    tiles = tuple(_tile(room, tile) for tile in live.tiles)
    return LiveShown(
        goes_on=thread.goes_on,
        failure=failure,
        verdict=live.hold.verdict.value if thread.goes_on else "no longer followed",
        verdict_words=live.hold.words if thread.goes_on else "what stands here is the last look",
        is_settled=live.hold.verdict is Settled.SETTLED and thread.goes_on,
        load="" if live.load is None else _tenths(live.load, "force", room),
        facts=_facts(room, live),
        tiles=tiles,
        notices=tuple(
            NoticeShown(_second(room, notice.at), notice.words, notice.is_loss)
            for notice in live.notices[:NOTICES]
        ),
        told=tuple((*live.told, live.clock) if live.clock else live.told),
        says=_says(live),
    )


def _says(live: Live) -> str:
    """What is read out when it changes."""
    newest = live.notices[0].words if live.notices else ""
    return f"{live.hold.verdict.value}. {newest}".strip()


def _facts(room: Room, live: Live) -> tuple[tuple[str, str], ...]:
    behind = "unknown"
    if live.behind is not None:
        behind = f"{live.behind:.1f} s ago" if abs(live.behind) < LONG_SINCE else "of another day"
    newest = "none" if live.row_at is None else f"{_second(room, live.row_at)}, {behind}"
    rows = fixed_text(live.rows, 0)
    return (
        ("File", live.file or live.place),
        ("It is", _STANDING.get(live.standing, live.standing)),
        ("Rows", rows + (f", {live.reported} lines reported" if live.reported else "")),
        ("Newest row", newest),
        ("Worked through in", f"{live.processing:.2f} s"),
    )


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
        facts.append(("bending", _tenths(tile.bending, "strain", room)))
    if tile.trend is not None:
        facts.append(("trend", _tenths(tile.trend, "strain_rate", room)))
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


def _tenths(value: float, quantity: str, room: Room) -> str:
    text = fixed_text(in_shown(value, quantity, room.units), 1, sign=quantity != "force")
    return f"{text}\N{NO-BREAK SPACE}{unit_shown(quantity, room.units).text}"


def _second(room: Room, instant: datetime) -> str:
    return f"{instant.astimezone(room.zone):%H:%M:%S}"


def _hold_words(room: Room, live: Live | None) -> str:
    if live is None or live.hold.begins is None or live.hold.seconds is None:
        return ""
    begins = EPOCH + timedelta(seconds=live.hold.begins)
    load = "" if live.hold.load is None else f" at {_tenths(live.hold.load, 'force', room)}"
    return f"Held{load} since {_second(room, begins)}."


def _start(profiles: tuple[str, ...] = ()) -> tuple[Field, ...]:
    return (
        Field(
            "place",
            "File or folder",
            hint="Whole path on the machine that runs this app. Of a folder the newest file.",
        ),
        Field(
            "profile",
            "Read as",
            hint="Confirmed on an earlier file of this recorder.",
            choices=tuple(Choice(label, label) for label in profiles),
        ),
        Field("instrument", "Recorder", hint="Left empty, that of the profile's last recording."),
    )


def _step(room: Room, live: Live | None) -> tuple[Field, ...]:
    number = len(room.book.of(LoadStep)) + 1
    load = "" if live is None or live.hold.load is None else live.hold.load
    measured = "" if load == "" else fixed_text(in_shown(float(load), "force", room.units), 1)
    return (
        Field("label", "Name of the step", value=f"step {number}"),
        Field(
            "load",
            "Load meant",
            unit=unit_shown("force", room.units).text,
            hint=f"Left empty, as measured{': ' + measured if measured else ''}.",
            kind="number",
        ),
    )


def _photo() -> tuple[Field, ...]:
    return (
        Field("caption", "In words"),
        Field("gauge", "Gauge", hint="If it is beside one.", list="gauges"),
    )


def _bring_in(room: Room) -> tuple[Field, ...]:
    return (
        Field("recording", "Name of the recording", value="test"),
        Field(
            "within",
            "Its stamps are right within",
            unit="s",
            hint="Left empty, its clock is joined later.",
            kind="number",
        ),
    )


def _filled(field: Field, typed: dict[str, str], at: str, error: GaugewrightError | None) -> Field:
    value = typed.get(field.name, field.value)
    return replace(field, value=value, wrong=str(error) if field.name == at else "")


def _files(thread: FollowThread) -> tuple[FileRow, ...]:
    return tuple(
        FileRow(
            number,
            Path(account.path).name,
            f"{fixed_text(account.rows, 0)} rows followed"
            + ("" if account.is_whole else "; begun anew since, so that it can't be brought in"),
            account.is_whole,
        )
        for number, account in enumerate(thread.follower.accounts())
    )


def _photos(room: Room) -> tuple[PhotoRow, ...]:
    found = sorted(room.book.of(Attachment), key=lambda entry: entry.uid, reverse=True)
    return tuple(
        PhotoRow(room.url(f"photos/{entry.uid}"), entry.record.caption or entry.record.file_name)
        for entry in found[:PHOTOS]
    )
