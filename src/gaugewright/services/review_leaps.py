"""Is a leap the gauge's or the specimen's? Its neighbours, the load and yield decide."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from gaugewright.calc import leaps, quality
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray
from gaugewright.records.readings import Finding, Severity
from gaugewright.services.loads import load_series
from gaugewright.services.review_checks import Watched, finding
from gaugewright.services.review_company import alike
from gaugewright.services.review_signals import looked_for, yield_time
from gaugewright.services.series import Stretch
from gaugewright.services.strains import Desk

__all__ = ["WINDOW", "lone_leaps", "moved"]

WINDOW = 40  # readings on either side of a step
MOST_SPIKES = 20  # told one by one; of more, that there are many
SCANS = 2.5  # how far apart two recorders may see one event
HEREABOUTS = 100  # readings whose noise counts where it is larger than the record's
MOVED = 6.0  # noises by which a neighbour must have moved to have seen it


@dataclass(frozen=True, slots=True)
class _Seen:
    """A leap of one gauge: when, and what is usual for its channel."""

    watched: Watched
    stretch: Stretch
    leap: leaps.Leap
    time: float
    scan: float


class _Company:
    """What else could have seen a leap: the other gauges and the load, with their noises."""

    def __init__(self, desk: Desk, watched: tuple[Watched, ...]) -> None:
        self.desk = desk
        self.watched = watched
        self._noise = {
            id(stretch): quality.noise_floor(stretch.reading)
            for one in watched
            for stretch in one.stretches
        }
        try:
            series = load_series(desk)
            self._load: tuple[FloatArray, FloatArray] | None = (series.time, series.value)
        except InputError:
            self._load = None  # a campaign without a load cell: only gauges can be asked

    def saw(self, seen: _Seen) -> list[str]:
        """Labels of what moved at the same instant."""
        names = [
            other.gauge.record.label
            for other in self.watched
            if other.gauge.uid != seen.watched.gauge.uid and self._gauge_moved(other, seen)
        ]
        if self._load is not None:
            time, load = self._load
            if moved(time, load, quality.noise_floor(load), seen.time, seen.scan):
                names.append("the load")
        return names

    def near(self, seen: _Seen) -> list[str]:
        """Labels of gauges that should have seen what the specimen does there, and were reading."""
        return [
            other.gauge.record.label
            for other in self.watched
            if other.gauge.uid != seen.watched.gauge.uid
            and alike(self.desk.book, seen.watched.gauge, other.gauge)
            and any(_reads_at(stretch, seen.time) for stretch in other.stretches)
        ]

    def _gauge_moved(self, other: Watched, seen: _Seen) -> bool:
        return any(
            moved(stretch.time, stretch.reading, self._noise[id(stretch)], seen.time, seen.scan)
            for stretch in other.stretches
        )


def lone_leaps(desk: Desk, watched: tuple[Watched, ...]) -> Iterator[Finding]:
    """Steps and spikes that neither the load nor any other gauge saw, of bars not near yield.

    A crack or a slip shows at more than one gauge, or in the load, at the same instant; a bar
    near yield leaps by itself. What is left is the gauge's own: bond, joint or contact. Where
    nobody near was reading, gauge and specimen can't be told apart, and the finding says so.
    """
    company = _Company(desk, watched)
    for one in watched:
        if looked_for(desk, "step"):
            yield from _lone_steps(desk, company, one)
        if looked_for(desk, "spike"):
            yield from _lone_spikes(desk, company, one)


def _lone_steps(desk: Desk, company: _Company, one: Watched) -> Iterator[Finding]:
    limit = desk.book.limit("step over noise")
    for seen in _own(desk, company, one, "step", limit.record.value):
        rows, where = _rows(seen), seen.stretch.recording.record.label
        words = (
            f"{one.gauge.record.label} stepped by {seen.leap.times_noise:.0f} times its doubt at "
            f"row {rows[0]} of {where}; "
        )
        near = company.near(seen)
        if near:
            words += f"{', '.join(near)} and the load saw nothing: bond, joint or contact"
        else:
            words += "nobody near was reading: a crack beside it can't be excluded"
        yield finding(
            one, "lone step", seen.stretch, rows,
            measured=(seen.leap.times_noise, "times its doubt"), limit=limit, sentence=words,
            severity=Severity.DOUBTFUL if near else Severity.NOTE,
        )  # fmt: skip


def _lone_spikes(desk: Desk, company: _Company, one: Watched) -> Iterator[Finding]:
    limit = desk.book.limit("spike over noise")
    found = list(_own(desk, company, one, "spike", limit.record.value))
    label = one.gauge.record.label
    if len(found) > MOST_SPIKES:
        first, last = found[0], found[-1]
        rows = (_rows(first)[0], last.stretch.last_row)
        words = f"{label} has {len(found)} spikes of its own, from row {rows[0]} of "
        words += first.stretch.recording.record.label
        yield finding(
            one, "many spikes", first.stretch, (rows[0], first.stretch.last_row),
            measured=(float(len(found)), "spikes"), limit=limit, sentence=words,
            severity=Severity.DOUBTFUL,
        )  # fmt: skip
        return
    for seen in found:
        rows = _rows(seen)
        words = (
            f"{label} leapt by {seen.leap.times_noise:.0f} times its noise at row {rows[0]} of "
            f"{seen.stretch.recording.record.label} and came back; no other saw it"
        )
        yield finding(
            one, "spike", seen.stretch, rows,
            measured=(seen.leap.times_noise, "times the noise"), limit=limit, sentence=words,
            severity=Severity.NOTE,
        )  # fmt: skip


def _own(desk: Desk, company: _Company, one: Watched, kind: str, limit: float) -> Iterator[_Seen]:
    """Leaps of a gauge that nothing else saw and that yield doesn't explain."""
    for stretch in one.stretches:
        if stretch.time.size < 2 * WINDOW:
            continue
        scan = float(np.median(np.diff(stretch.time)))
        if kind == "step":
            found = leaps.steps(stretch.reading, limit=limit, window=WINDOW)
        else:
            found = leaps.spikes(stretch.reading, limit=limit)
        if not found:
            continue
        from_yield = yield_time(desk, one)
        for leap in found:
            time = float(stretch.time[leap.span.first] + stretch.time[leap.span.last]) / 2
            seen = _Seen(one, stretch, leap, time, scan)
            if time < from_yield and not company.saw(seen):
                yield seen


def _rows(seen: _Seen) -> tuple[int, int]:
    first = seen.stretch.first_row
    return first + seen.leap.span.first, first + seen.leap.span.last


def moved(time: FloatArray, values: FloatArray, noise: float, instant: float, scan: float) -> bool:
    """Whether a series moved by several noises within a few scans of an instant."""
    if time.size < 8 or not time[0] <= instant <= time[-1]:
        return False
    own = float(np.median(np.diff(time[:64])))
    reach = SCANS * max(scan, own)
    first, last = np.searchsorted(time, [instant - reach, instant + reach]).tolist()
    moves = np.diff(values[max(0, first - 3) : last + 3])
    moves = moves[np.isfinite(moves)]
    wide = values[max(0, first - HEREABOUTS) : last + HEREABOUTS]
    noise = max(noise, float(np.nan_to_num(quality.noise_floor(wide))))
    if moves.size < 3 or not noise > 0:
        return False
    # A ramp moves too: what counts is more than its even share of what is usual hereabouts.
    around = np.diff(values[max(0, first - WINDOW) : last + WINDOW])
    usual = float(np.nanmedian(around))
    together = abs(float(np.sum(moves - usual))) / np.sqrt(2)
    alone = float(np.max(np.abs(moves - usual)))
    return bool(max(together, alone) > MOVED * noise)


def _reads_at(stretch: Stretch, time: float) -> bool:
    """Whether a stretch has numbers round an instant."""
    if not stretch.time.size or not stretch.time[0] <= time <= stretch.time[-1]:
        return False
    place = int(np.searchsorted(stretch.time, time))
    around = stretch.reading[max(0, place - WINDOW) : place + WINDOW]
    return bool(np.isfinite(around).mean() > 0.5)
