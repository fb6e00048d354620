"""When was it? Recordings' own clocks joined to the campaign's time."""

from dataclasses import dataclass
from datetime import datetime

import numpy as np

from gaugewright.calc import align, correlation
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray
from gaugewright.records import Entry
from gaugewright.records.electrical import Channel, Instrument
from gaugewright.records.identity import Uid, instant_from_text
from gaugewright.records.readings import ClockMap, Recording
from gaugewright.records.stated import Basis, Meaning, Stated
from gaugewright.services.campaign.book import Book
from gaugewright.services.reading.series import channel_shift
from gaugewright.store.campaign import CampaignStore

__all__ = [
    "BySignal",
    "ByStamps",
    "ByTrigger",
    "Joint",
    "Stamped",
    "clock_map_from_stamps",
    "join_by_signal",
    "join_by_trigger",
    "keep_map",
    "map_by_signal",
    "map_by_stamps",
    "map_by_trigger",
    "map_of",
]


@dataclass(frozen=True, slots=True)
class ByStamps:
    """A recorder whose stamps are trusted to ``within`` s, a limit, for the reason given."""

    within: float
    source: str

    def __post_init__(self) -> None:
        if not (np.isfinite(self.within) and self.within >= 0):
            raise InputError("within", self.within, "0 or more seconds")
        if not self.source.strip():
            raise InputError("source", self.source, "why the clock is believed, in words")


@dataclass(frozen=True, slots=True)
class ByTrigger:
    """A trigger that this recording and a reference, joined already, both wrote.

    Columns by their names in the files; levels half way up the trigger, in each file's unit.
    """

    reference: Uid
    column_reference: str
    column: str
    level_reference: float
    level: float


@dataclass(frozen=True, slots=True)
class BySignal:
    """Something that this recording and a reference, joined already, both followed.

    Columns by their names in the files; the readings may differ by a gain and a zero. ``apart``
    is how far the clocks may be from each other [s]: both recorders' first stamps are compared
    where they are instants, else their first rows.
    """

    reference: Uid
    column_reference: str
    column: str
    apart: float

    def __post_init__(self) -> None:
        if not 0 < self.apart < np.inf:
            raise InputError("apart", self.apart, "a positive number of seconds")


Joint = ByStamps | ByTrigger | BySignal


@dataclass(frozen=True, slots=True)
class Stamped:
    """What joining must know of a recording, whether it is in the campaign yet or not.

    ``elapsed`` in s, and ``followed`` the readings of the column asked for, if any.
    """

    uid: Uid
    label: str
    instrument: Uid | None
    first_stamp: str
    resolution: float
    elapsed: FloatArray
    followed: FloatArray


def map_by_stamps(recording: Stamped, joint: ByStamps) -> ClockMap:
    """Clock map of a recording whose own stamps are trusted.

    Raises
    ------
    InputError
        If the first stamp isn't an instant.
    """
    epoch = _first_instant(recording.first_stamp)
    if epoch is None:
        raise InputError(
            f"first stamp of {recording.label}",
            recording.first_stamp,
            "an instant: a date, a time and a zone",
            "import it with its zone, or join it by a trigger",
        )
    # A stamp stands anywhere within the last digit it shows: half of it either way.
    limit = joint.within + recording.resolution / 2
    offset = Stated(0.0, limit, Meaning.LIMIT, Basis.STATED, joint.source)
    return ClockMap(recording.uid, epoch, offset, 0.0, f"by its own stamps: {joint.source}")


def map_by_trigger(store: CampaignStore, recording: Stamped, joint: ByTrigger) -> ClockMap:
    """Clock map of a recording by a trigger that a reference wrote too.

    The uncertainty stated is that of the joint, at the instant of the recording where it is
    largest; what the reference's own clock is worth isn't in it, because both share that.

    Raises
    ------
    InputError
        If a column isn't there, the edges don't pair, or the reference isn't joined itself.
    """
    book = Book.read(store)
    reference = book.entry(joint.reference, Recording)
    clock = book.clock_map_of(reference).record
    kept = _edges(
        book,
        _stamped(store, reference, joint.column_reference),
        joint.column_reference,
        joint.level_reference,
    )
    theirs = _edges(book, recording, joint.column, joint.level)
    known = recording.elapsed[np.isfinite(recording.elapsed)]
    fit = align.clock_fit(kept, theirs, [known.min(), known.max()])
    # Two lines one after the other: this recording -> the reference's elapsed -> campaign.
    epoch = _first_instant(recording.first_stamp) or clock.epoch
    seconds = clock.offset.value + (1 + clock.rate) * fit.offset
    seconds += (clock.epoch - epoch).total_seconds()
    words = (
        f"{fit.edges} edge(s) of the trigger in {joint.column!r}, joined to "
        f"{joint.column_reference!r} of {reference.record.label}"
    )
    if fit.edges == 1:
        words += "; one edge tells nothing about the rate, taken as 0"
    doubt = (1 + clock.rate) * float(np.max(fit.standard_uncertainty))
    offset = Stated(seconds, doubt, Meaning.ONE_SIGMA, Basis.MEASURED, words)
    return ClockMap(recording.uid, epoch, offset, (1 + clock.rate) * (1 + fit.rate) - 1, words)


def map_by_signal(store: CampaignStore, recording: Stamped, joint: BySignal) -> ClockMap:
    """Clock map of a recording by something that a reference followed too.

    The uncertainty stated is that of the joint, at the instant of the recording where it is
    largest. A lag of what was followed itself (a strain behind its load) isn't in it.

    Raises
    ------
    InputError
        If a column isn't there, the two don't go together, or the reference isn't joined itself.
    """
    book = Book.read(store)
    entry = book.entry(joint.reference, Recording)
    clock = book.clock_map_of(entry).record
    reference = _stamped(store, entry, joint.column_reference)
    began, begun = _first_instant(recording.first_stamp), _first_instant(reference.first_stamp)
    ahead = (began - begun).total_seconds() if began and begun else 0.0
    own = recording.elapsed + _shift(book, recording, joint.column) + ahead
    known = own[np.isfinite(own)]
    fit = correlation.clock_by_signal(
        reference.elapsed + _shift(book, reference, joint.column_reference),
        reference.followed,
        own,
        recording.followed,
        largest_offset=joint.apart,
        instants=[known.min(), known.max()],
    )
    epoch = began or clock.epoch
    seconds = clock.offset.value + (1 + clock.rate) * (fit.offset + (1 + fit.rate) * ahead)
    seconds += (clock.epoch - epoch).total_seconds()
    words = (
        f"{joint.column!r} laid over {joint.column_reference!r} of {entry.record.label}, "
        f"correlation {fit.correlation:.6f}, rate {fit.rate * 1e6:.3g} µs/s"
    )
    doubt = (1 + clock.rate) * float(np.max(fit.standard_uncertainty))
    offset = Stated(seconds, doubt, Meaning.ONE_SIGMA, Basis.MEASURED, words)
    return ClockMap(recording.uid, epoch, offset, (1 + clock.rate) * (1 + fit.rate) - 1, words)


def map_of(store: CampaignStore, recording: Stamped, joint: Joint) -> ClockMap:
    """Clock map of a recording, joined in whichever way.

    Raises
    ------
    InputError
        As the way chosen does.
    """
    if isinstance(joint, ByStamps):
        return map_by_stamps(recording, joint)
    if isinstance(joint, ByTrigger):
        return map_by_trigger(store, recording, joint)
    return map_by_signal(store, recording, joint)


def join_by_signal(store: CampaignStore, other: Uid, joint: BySignal) -> Entry[ClockMap]:
    """Join a recording of the campaign to another one's time by something both followed.

    Raises
    ------
    InputError
        As ``map_by_signal``.
    """
    entry = Book.read(store).entry(other, Recording)
    return keep_map(store, map_by_signal(store, _stamped(store, entry, joint.column), joint))


def clock_map_from_stamps(
    store: CampaignStore, recording: Uid, *, within: float, source: str
) -> Entry[ClockMap]:
    """Join a recording of the campaign to its time by the recording's own stamps.

    Parameters
    ----------
    store : CampaignStore
        Open for writing.
    recording : Uid
        Whose first stamp names an instant: it was imported with its zone.
    within : float
        How far its clock may be off, a limit [s].
    source : str
        Why that is believed, in words: set by radio on the day, compared with ...

    Raises
    ------
    InputError
        If the first stamp isn't an instant, or nothing is said about the clock.
    """
    joint = ByStamps(within, source)
    entry = Book.read(store).entry(recording, Recording)
    return keep_map(store, map_by_stamps(_stamped(store, entry, ""), joint))


def join_by_trigger(
    store: CampaignStore,
    reference: Uid,
    other: Uid,
    *,
    column_reference: str,
    column_other: str,
    level: float,
    level_other: float | None = None,
) -> Entry[ClockMap]:
    """Join a recording of the campaign to another one's time by a trigger that both wrote.

    ``level`` is half way up the trigger, in the reference's unit and, unless ``level_other``
    is given, in the other's too. As ``map_by_trigger``.

    Raises
    ------
    InputError
        If a column isn't there, the edges don't pair, or the reference isn't joined itself.
    """
    theirs = level if level_other is None else level_other
    joint = ByTrigger(reference, column_reference, column_other, level, theirs)
    entry = Book.read(store).entry(other, Recording)
    stamped = _stamped(store, entry, column_other)
    return keep_map(store, map_by_trigger(store, stamped, joint))


def keep_map(store: CampaignStore, made: ClockMap) -> Entry[ClockMap]:
    """Write a clock map down: a new one, or the next version of the recording's own."""
    for entry in store.entries(ClockMap):
        if entry.record.recording == made.recording:
            reason = f"joined again, {made.method}"
            return store.revise(entry.uid, entry.version, made, reason=reason)
    return store.add(made, reason=made.method)


def _stamped(store: CampaignStore, entry: Entry[Recording], column: str) -> Stamped:
    readings = store.readings(entry.uid)
    record = entry.record
    followed: FloatArray = np.empty(0)
    if column:
        named = {one.name: one.field for one in record.columns if one.role == "value"}
        if column not in named:
            allowed = "one of " + ", ".join(named)
            raise InputError(f"column of {record.label}", column, allowed)
        followed = readings.values(named[column])
    resolution = store.entry(record.clock).record.resolution
    return Stamped(
        entry.uid,
        record.label,
        record.instrument,
        record.first_stamp,
        resolution,
        readings.elapsed_s(),
        followed,
    )


def _first_instant(text: str) -> datetime | None:
    try:
        return instant_from_text(text)
    except InputError:
        return None


def _edges(book: Book, recording: Stamped, name: str, level: float) -> align.Edges:
    shift = _shift(book, recording, name)
    found = align.rising_edges(recording.elapsed + shift, recording.followed, level)
    if not found.time.size:
        raise InputError(
            f"trigger {name!r} of {recording.label}",
            f"never above {level:g} after being below",
            "one that rises through its level at least once",
            "check the column and the level",
        )
    return found


def _shift(book: Book, recording: Stamped, name: str) -> float:
    """Seconds the trigger's sample comes after its row's stamp."""
    if recording.instrument is None:
        return 0.0  # nothing is known of it but its rows
    for channel in book.of(Channel):
        if (channel.record.instrument, channel.record.column) == (recording.instrument, name):
            return channel_shift(book, channel)
    instrument = book.entry(recording.instrument, Instrument).record
    if instrument.dwell or instrument.filter_delay.value:
        raise InputError(
            f"channel of trigger {name!r} on {instrument.label}",
            None,
            "entered: its place in the scan moves the trigger in time",
            "add the channel with this column",
        )
    return 0.0
