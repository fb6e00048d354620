"""Readings as series: which rows of which recordings belong to a circuit, sensor or point."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime

import numpy as np
import numpy.typing as npt

from gaugewright.calc import quality
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray, Unit, parse_unit, to_si
from gaugewright.records import Entry
from gaugewright.records.electrical import Channel, Connection, Instrument
from gaugewright.records.identity import Uid
from gaugewright.records.readings import Recording, RecordingColumn
from gaugewright.records.sensors import TemperaturePoint
from gaugewright.services.campaign.book import Book
from gaugewright.services.reading.record_clock import Along, Part, RecordClock
from gaugewright.store.campaign import CampaignStore

__all__ = [
    "EPOCH",
    "Series",
    "Stretch",
    "campaign_seconds",
    "read_through",
    "record_clock",
    "series_along",
    "series_of",
    "stretches_of",
]

# Campaign time is counted in seconds from here; float64 keeps better than 1 µs in this century.
EPOCH = datetime(2020, 1, 1, tzinfo=UTC)
_ALWAYS = 1e11  # s, some thousand years either way


@dataclass(frozen=True, slots=True)
class Stretch:
    """Rows of one recording read through one connection.

    ``time`` is campaign time of this channel's own samples [s], ``reading`` in SI as the
    channel writes it. ``first_row`` and ``last_row`` are both included.
    """

    recording: Entry[Recording]
    connection: Entry[Connection]
    column: RecordingColumn
    first_row: int
    last_row: int
    time: FloatArray
    reading: FloatArray


@dataclass(frozen=True, slots=True)
class Series:
    """All stretches of one subject joined in order of time."""

    time: FloatArray
    value: FloatArray
    _known: tuple[FloatArray, FloatArray] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        good = np.isfinite(self.value)
        known = (self.time, self.value) if good.all() else (self.time[good], self.value[good])
        object.__setattr__(self, "_known", known)

    def at(self, time: FloatArray) -> FloatArray:
        """Values at other instants, straight between samples; NaN outside the record.

        Whatever is missing between two samples is bridged, single values of a slow sensor as well
        as a pause of the recorder: callers that must not bridge look at the samples themselves.
        """
        known_time, known_value = self._known
        if not known_time.size:
            return np.full(time.shape, np.nan)
        if time is known_time and (time[1:] > time[:-1]).all():
            found = known_value.view()  # read by the same scans: of a long record no copy
            found.flags.writeable = False
            return found
        return np.interp(time, known_time, known_value, left=np.nan, right=np.nan)


def campaign_seconds(instant: datetime) -> float:
    """Campaign time of an instant [s]."""
    return (instant - EPOCH).total_seconds()


def recording_time(store: CampaignStore, book: Book, recording: Entry[Recording]) -> FloatArray:
    """Campaign time of every row of a recording [s], by its clock map."""

    def made(book: Book) -> FloatArray:
        time = record_clock(store, book, recording).of(store.readings(recording.uid).elapsed_ns())
        time.flags.writeable = False  # shared by every series of this recording
        return time

    return book.once(f"time of {recording.uid}", made)


def record_clock(store: CampaignStore, book: Book, recording: Entry[Recording]) -> RecordClock:
    """Campaign time of a recording where it is asked for, by its clock map."""

    def made(book: Book) -> RecordClock:
        clock_map = book.clock_map_of(recording).record
        return RecordClock(store, recording, clock_map, campaign_seconds(clock_map.epoch))

    return book.once(f"clock of {recording.uid}", made)


def series_along(store: CampaignStore, book: Book, subject: Uid) -> Along | None:
    """Readings of a sensor or point with a few blocks in memory, as ``series_of`` has them.

    None where they must be read whole: there are none, or their time goes back somewhere.

    Raises
    ------
    InputError
        As ``stretches_of``.
    """
    parts: list[Part] = []
    for recording, connection, column in _columns(book, subject):
        clock = record_clock(store, book, recording)
        first = _first_inside(clock, book, connection)
        if first is None:
            continue
        unit = _unit(book, recording, connection, column)
        begins, ends = _from_to(connection.record)
        parts.append(Part(clock, column.field, unit, _shift(book, connection), begins, ends))
    along = Along(parts)
    return along if parts and along.is_rising else None


def channel_shift(book: Book, channel: Entry[Channel]) -> float:
    """Seconds a channel's sample comes after its row's stamp: its place in the scan, less delay.

    A multiplexed recorder reads one channel after another; its filter delivers late what
    happened earlier.
    """
    uid = channel.record.instrument
    instrument = book.entry(uid, Instrument).record

    def lowest(book: Book) -> int:
        return min(c.record.number for c in book.of(Channel) if c.record.instrument == uid)

    place = channel.record.number - book.once(f"first channel of {uid}", lowest)
    return place * instrument.dwell - instrument.filter_delay.value


def stretches_of(store: CampaignStore, book: Book, subject: Uid) -> tuple[Stretch, ...]:
    """Every stretch of readings that belongs to a subject, in order of time.

    Raises
    ------
    InputError
        If a recording's clock isn't joined, a channel had two things on it at once, or a column
        is in a unit that can't be what the channel was set to write.
    """
    found: list[Stretch] = []
    for recording, connection, column in _columns(book, subject):
        found += _cut(store, book, recording, connection, column)
    return tuple(sorted(found, key=lambda stretch: (stretch.time[0], stretch.first_row)))


def read_through(store: CampaignStore, book: Book, subject: Uid) -> tuple[Entry[Connection], ...]:
    """Connections of a subject that rows were read through, in order of time; no value is read.

    Raises
    ------
    InputError
        As ``stretches_of``.
    """
    found: list[tuple[float, int, Entry[Connection]]] = []
    for recording, connection, column in _columns(book, subject):
        first = _first_inside(record_clock(store, book, recording), book, connection)
        if first is not None:
            _unit(book, recording, connection, column)
            found.append((*first, connection))
    found.sort(key=lambda part: part[:2])
    return tuple({entry.uid: entry for _, _, entry in found}.values())


def series_of(store: CampaignStore, book: Book, subject: Uid) -> Series:
    """All readings of a sensor or point as one series in order of time.

    A thermometer that was read by eye is what it showed, at any time.

    Raises
    ------
    InputError
        If there are none.
    """
    parts = stretches_of(store, book, subject)
    if not parts:
        return _by_eye(book, subject)
    time, value = (
        each[0] if len(parts) == 1 else np.concatenate(each)
        for each in ([part.time for part in parts], [part.reading for part in parts])
    )
    if (time[1:] >= time[:-1]).all():
        return Series(time, value)  # in order already: of a long record copies cost gigabytes
    order = np.argsort(time, kind="stable")
    return Series(time[order], value[order])


def _by_eye(book: Book, subject: Uid) -> Series:
    found, name = book.found(subject), f"readings of {book.label(subject)}"
    if found is None or not isinstance(found.record, TemperaturePoint):
        raise InputError(name, "none", "imported and connected", "import them")
    shown = found.record.temperature_degc
    if shown is None:
        do = "import them, or write in the plan what it showed by eye"
        raise InputError(name, "none", "imported and connected", do)
    return Series(np.array([-_ALWAYS, _ALWAYS]), np.array([shown, shown]))


def _columns(
    book: Book, subject: Uid
) -> Iterator[tuple[Entry[Recording], Entry[Connection], RecordingColumn]]:
    """Columns that a subject's channels wrote, whenever it was on them."""
    for connection in book.connections_of(subject):
        channel = book.entry(connection.record.channel, Channel)
        book.connections_on(channel.uid)  # refuses a channel with two things on it at once
        for recording in book.of(Recording):
            if recording.record.instrument != channel.record.instrument:
                continue
            for column in recording.record.columns:
                if column.name == channel.record.column and column.role == "value":
                    yield recording, connection, column


def _times(
    store: CampaignStore, book: Book, recording: Entry[Recording], connection: Entry[Connection]
) -> FloatArray:
    shift = _shift(book, connection)
    time = recording_time(store, book, recording)
    return time + shift if shift else time  # shared where nothing is added


def _shift(book: Book, connection: Entry[Connection]) -> float:
    return channel_shift(book, book.entry(connection.record.channel, Channel))


def _first_inside(
    clock: RecordClock, book: Book, connection: Entry[Connection]
) -> tuple[float, int] | None:
    """Time and number of the first row read through a connection; None without any."""
    shift = _shift(book, connection)
    begins, ends = _from_to(connection.record)
    for number in clock.within(begins - shift, ends - shift):
        time = clock.block(number) + shift
        inside = np.flatnonzero(_inside(time, connection.record))
        if inside.size:
            return float(time[inside[0]]), clock.first_row(number) + int(inside[0])
    return None


def _from_to(connection: Connection) -> tuple[float, float]:
    ends = np.inf if connection.ends is None else campaign_seconds(connection.ends)
    return campaign_seconds(connection.begins), ends


def _unit(
    book: Book,
    recording: Entry[Recording],
    connection: Entry[Connection],
    column: RecordingColumn,
) -> Unit:
    """Unit of a column, if the channel can have written it."""
    where = f"unit of column {column.name!r} in {recording.record.file_name}"
    unit = parse_unit(column.unit)
    if unit is None:
        allowed = "a unit this package knows"
        raise InputError(where, column.unit, allowed, "import the file again and state it")
    setting = parse_unit(book.setting_of(connection).record.unit)
    if setting is None or setting.dimension != unit.dimension:
        label = book.entry(connection.record.channel, Channel).record.label
        raise InputError(
            where,
            column.unit,
            f"of the kind channel {label} is set to write "
            f"({book.setting_of(connection).record.unit})",
        )
    return unit


def _cut(
    store: CampaignStore,
    book: Book,
    recording: Entry[Recording],
    connection: Entry[Connection],
    column: RecordingColumn,
) -> list[Stretch]:
    time = _times(store, book, recording, connection)
    inside = _inside(time, connection.record)
    if not inside.any():
        return []
    unit = _unit(book, recording, connection, column)
    reading = to_si(store.readings(recording.uid).values(column.field), unit)
    return [
        Stretch(
            recording,
            connection,
            column,
            span.first,
            span.last,
            time if span.rows == time.size else time[span.first : span.last + 1],
            reading[span.first : span.last + 1],
        )
        for span in quality.spans_where(inside)
    ]


def _inside(time: FloatArray, connection: Connection) -> npt.NDArray[np.bool_]:
    inside = time >= campaign_seconds(connection.begins)
    if connection.ends is not None:
        inside &= time < campaign_seconds(connection.ends)
    return np.asarray(inside)
