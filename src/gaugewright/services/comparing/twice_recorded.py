"""Do two columns that recorded one quantity agree: gain, offset, what is left, and how sure?"""

import math
from dataclasses import dataclass

import numpy as np

from gaugewright.calc import correlation
from gaugewright.calc.evaluation import stated_standard_uncertainty
from gaugewright.calc.quality import noise_floor
from gaugewright.calc.twice_recorded import Agreement, agreement, means_around
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray, Unit, parse_unit, to_si
from gaugewright.records import Entry
from gaugewright.records.electrical import Instrument
from gaugewright.records.readings import Recording, RecordingColumn
from gaugewright.records.stated import Stated
from gaugewright.services.campaign.book import Book
from gaugewright.services.reading.series import channel_shift, recording_time
from gaugewright.store.campaign import CampaignStore

__all__ = ["ClockLeft", "Column", "Twice", "clock_left", "compare", "laid_over", "twice_read"]

# From this ratio of steps on, the quicker one's readings are averaged, else joined by lines.
_MUCH_QUICKER = 2.0
# A reading further away than so many of its own steps is no neighbour.
_NEAR = 1.5


@dataclass(frozen=True, slots=True)
class Column:
    """A column of a recording in campaign time; ``values`` in ``unit``, SI where it is known.

    ``clock`` and ``delay`` are standard uncertainties of its time [s]: of joining its recorder's
    clock and of the delay of its filter.
    """

    recording: Entry[Recording]
    column: RecordingColumn
    unit: str
    time: FloatArray
    values: FloatArray
    step: float
    clock: float
    delay: float


@dataclass(frozen=True, slots=True)
class Twice:
    """Second against first: ``found`` at the instants of the slower, and what time adds.

    ``clock`` is how far the two times may be apart, a standard uncertainty [s]; ``by_clock_*``
    are what that does to gain and to the second's reading at the middle of the first's.
    """

    first: Column
    second: Column
    step: float
    found: Agreement
    clock: float
    by_clock_gain: float
    by_clock_middle: float

    @property
    def is_one_unit(self) -> bool:
        """Whether a gain of 1 would mean that both agree."""
        return self.first.unit == self.second.unit

    @property
    def gain_uncertainty(self) -> float:
        """Standard uncertainty of the gain, clocks included."""
        return math.hypot(self.found.gain_uncertainty, self.by_clock_gain)

    @property
    def middle_uncertainty(self) -> float:
        """Standard uncertainty of the second's reading at the middle, clocks included."""
        return math.hypot(self.found.at_middle_uncertainty, self.by_clock_middle)


@dataclass(frozen=True, slots=True)
class ClockLeft:
    """How the second's time still stands to the first's, by what both followed.

    ``behind`` is what its time must be put on by at the beginning and at the end of what both
    recorded [s], with ``standard_uncertainty`` at each; ``rate`` is what it loses each second, and
    ``smoothed_over`` how wide both were smoothed alike [s].
    """

    begins: float
    ends: float
    behind: tuple[float, float]
    standard_uncertainty: tuple[float, float]
    rate: float
    correlation: float
    smoothed_over: float


def clock_left(found: Twice, apart: float) -> ClockLeft:
    """Offset and drift left between two recordings' times, looked for within ``apart`` [s].

    Times are those of the campaign, as the clocks were joined: nothing left means joined well.

    Raises
    ------
    InputError
        If both are of one recording, too little is common, nothing moves, the two don't go
        together, or several places fit alike.
    """
    one, two = found.first, found.second
    if one.recording.uid == two.recording.uid:
        raise InputError("second", two.recording.record.label, "a recording with another clock")
    if not 0 < apart < math.inf:
        raise InputError("apart", apart, "a time above 0")
    since = float(min(one.time[0], two.time[0]))
    begins = float(max(one.time[0], two.time[0])) - since
    ends = float(min(one.time[-1], two.time[-1])) - since
    fit = correlation.clock_by_signal(
        one.time - since,
        one.values,
        two.time - since,
        two.values,
        largest_offset=apart,
        instants=[begins, ends],
    )
    doubts = fit.standard_uncertainty.tolist()
    return ClockLeft(
        begins + since,
        ends + since,
        (fit.offset + fit.rate * begins, fit.offset + fit.rate * ends),
        (doubts[0], doubts[1]),
        fit.rate,
        fit.correlation,
        fit.smoothed_over,
    )


def twice_read(book: Book) -> tuple[tuple[str, str], ...]:
    """Columns that can be compared: label of the recording and name of the column."""
    return tuple(
        (entry.record.label, column.name)
        for entry in book.of(Recording)
        for column in entry.record.columns
        if column.role == "value"
    )


def compare(store: CampaignStore, first: tuple[str, str], second: tuple[str, str]) -> Twice:
    """Compare two columns, each (label of its recording, name of its column).

    Recordings keep their rates: the quicker one's readings are averaged over the slower one's
    steps, or joined by straight lines where both are about as quick; never across a gap. Places
    in a scan and filters' delays are allowed for where the channel is entered.

    Raises
    ------
    InputError
        If a recording or column isn't there, a clock isn't joined, both are one column, or too
        little is common.
    """
    if first == second:
        raise InputError("second", " / ".join(second), "another column than the first")
    book = Book.read(store)
    is_one = first[0] == second[0]
    one, two = (_column(store, book, given, is_one=is_one) for given in (first, second))
    if _dimension(one) != _dimension(two):
        # Readings of different kinds are compared as written: the gain has both units.
        one, two = (_column(store, book, g, is_one=is_one, si=False) for g in (first, second))
    clock = math.hypot(
        0.0 if is_one else math.hypot(one.clock, two.clock),
        0.0 if _instrument(one) == _instrument(two) else math.hypot(one.delay, two.delay),
    )
    step, found = _laid_over(one, two, 0.0)
    by_gain, by_middle = 0.0, 0.0
    if clock > 0:
        # JCGM 100:2008, 5.1.3 note 2: half of what moving the time up and down does.
        late, soon = (_laid_over(one, two, shift)[1] for shift in (clock, -clock))
        by_gain = abs(late.gain - soon.gain) / 2
        at = found.middle
        by_middle = abs(late.gain * at + late.zero - soon.gain * at - soon.zero) / 2
    return Twice(one, two, step, found, clock, by_gain, by_middle)


def _column(
    store: CampaignStore, book: Book, given: tuple[str, str], *, is_one: bool, si: bool = True
) -> Column:
    label, name = given
    recording = book.labelled(Recording, label)
    named = {one.name: one for one in recording.record.columns if one.role == "value"}
    if name not in named:
        raise InputError(f"column of {label}", name, "one of " + ", ".join(named))
    column = named[name]
    readings = store.readings(recording.uid)
    time = readings.elapsed_s() if is_one else recording_time(store, book, recording)
    channel = book.channel_of_column(recording, name)
    if channel is not None:
        time = time + channel_shift(book, channel)
    values = readings.values(column.field)
    unit = parse_unit(column.unit)
    shown = column.unit
    if unit is not None and si:
        values, shown = to_si(values, unit), unit.coherent
    good = np.isfinite(time) & np.isfinite(values)
    time, values = time[good], values[good]
    order = np.argsort(time, kind="stable")
    time, values = time[order], values[order]
    if time.size < 3:
        raise InputError(f"readings of {name} in {label}", int(time.size), "3 or more")
    step = float(np.median(np.diff(time)))
    clock = 0.0 if is_one else _doubt(book.clock_map_of(recording).record.offset)
    return Column(recording, column, shown, time, values, step, clock, _delay(book, recording))


def _delay(book: Book, recording: Entry[Recording]) -> float:
    uid = recording.record.instrument
    return 0.0 if uid is None else _doubt(book.entry(uid, Instrument).record.filter_delay)


def _doubt(stated: Stated) -> float:
    if stated.plus_minus is None:
        return 0.0
    return stated_standard_uncertainty(stated.plus_minus, stated.meaning.value)


def _instrument(column: Column) -> object:
    """What shares one filter: an instrument, or a recording nobody named an instrument of."""
    return column.recording.record.instrument or column.recording.uid


def _dimension(column: Column) -> str:
    unit: Unit | None = parse_unit(column.column.unit)
    return "" if unit is None else unit.dimension


def laid_over(found: Twice) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Time of the slower one and both readings at it, as they were compared."""
    at, _, first, second = _together(found.first, found.second, 0.0)
    return at, first, second


def _together(
    one: Column, two: Column, shift: float
) -> tuple[FloatArray, float, FloatArray, FloatArray]:
    """Both at the instants of the slower; the second's time moved by ``shift``."""
    other = two.time + shift
    if two.step >= one.step:
        first = _at(one.time, one.values, one.step, other, two.step)
        return other, two.step, first, two.values
    return one.time, one.step, one.values, _at(other, two.values, two.step, one.time, one.step)


def _laid_over(one: Column, two: Column, shift: float) -> tuple[float, Agreement]:
    _, step, first, second = _together(one, two, shift)
    noises = [noise_floor(part) for part in (first, second)]
    noises = [0.0 if math.isnan(noise) else noise for noise in noises]
    found = agreement(first, second, noise_first=noises[0], noise_second=noises[1])
    return step, found


def _at(
    time: FloatArray, values: FloatArray, own: float, at: FloatArray, step: float
) -> FloatArray:
    """Readings at other instants: means over their step, or lines between near neighbours."""
    if step >= _MUCH_QUICKER * own:
        count = np.searchsorted(time, at + step / 2) - np.searchsorted(time, at - step / 2)
        # Fewer than half of what should be there: a gap.
        return np.asarray(
            np.where(count >= step / own / 2, means_around(time, values, at, period=step), np.nan)
        )
    found = np.interp(at, time, values, left=np.nan, right=np.nan)
    place = np.clip(np.searchsorted(time, at), 1, time.size - 1)
    wide = time[place] - time[place - 1] > _NEAR * 2 * own
    return np.asarray(np.where(wide, np.nan, found))
