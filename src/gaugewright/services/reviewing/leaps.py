"""Is a leap the gauge's or the specimen's? Its neighbours, the load and yield decide."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from gaugewright.calc import leaps, quality
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray
from gaugewright.records.identity import Uid
from gaugewright.records.readings import Finding, Severity
from gaugewright.services.reading.series import Stretch
from gaugewright.services.reviewing.checks import Watched, finding
from gaugewright.services.reviewing.company import alike
from gaugewright.services.reviewing.signals import looked_for, yield_time
from gaugewright.services.reviewing.windows import Outline, Windows
from gaugewright.services.strain.strains import Desk
from gaugewright.services.under_load.loads import load_series

__all__ = ["WINDOW", "dropouts", "leaps_of", "lone_leaps", "moved"]

WINDOW = 40  # readings on either side of a step
MOST_SPIKES = 20  # told one by one; of more, that there are many
SCANS = 2.5  # how far apart two recorders may see one event
HEREABOUTS = 100  # readings whose noise counts where it is larger than the record's
FEWEST = 8  # readings in which a move can be told
MOVED = 6.0  # noises by which a neighbour must have moved to have seen it


@dataclass(frozen=True, slots=True)
class Leaps:
    """What leaps in one stretch and when [s], its scan [s] and its noise."""

    outline: Outline
    scan: float
    noise: float
    spikes: tuple[tuple[leaps.Leap, float], ...]
    steps: tuple[tuple[leaps.Leap, float], ...]
    dropouts: tuple[leaps.Leap, ...]


@dataclass(frozen=True, slots=True)
class _Seen:
    """A leap of one gauge: when, and what is usual for its channel."""

    watched: Watched
    stretch: Outline
    leap: leaps.Leap
    time: float
    scan: float


def leaps_of(desk: Desk, one: Watched) -> tuple[Leaps, ...]:
    """Leaps of a gauge before its metal neared yield, stretch by stretch; looked for once."""
    return one.once("leaps", lambda: tuple(_leaps(desk, one)))


def _leaps(desk: Desk, one: Watched) -> Iterator[Leaps]:
    spike, step, dropout = (
        desk.book.limit(label).record.value if looked_for(desk, check) else np.inf
        for check, label in (
            ("spike", "spike over noise"),
            ("step", "step over noise"),
            ("dropout", "dropout over noise"),
        )
    )
    for stretch, outline in zip(one.stretches, one.outlines, strict=True):
        is_long = outline.rows >= 2 * WINDOW
        found = leaps.leaps(
            stretch.reading,
            spike_limit=spike if is_long else np.inf,
            step_limit=step if is_long else np.inf,
            dropout_limit=dropout,
            window=WINDOW,
        )
        scan = desk.of_times("scan", stretch.time, _scan)
        from_yield = yield_time(desk, one) if found.spikes or found.steps else np.inf
        spikes, steps = (
            tuple((leap, when) for leap in kind if (when := _instant(stretch, leap)) < from_yield)
            for kind in (found.spikes, found.steps)
        )
        yield Leaps(outline, scan, found.noise, spikes, steps, found.dropouts)


def _scan(time: FloatArray) -> float:
    return float(np.median(np.diff(time))) if time.size > 1 else float("inf")


def _instant(stretch: Stretch, leap: leaps.Leap) -> float:
    return float(stretch.time[leap.span.first] + stretch.time[leap.span.last]) / 2


class _Company:
    """What else could have seen a leap: the other gauges and the load, with their noises."""

    def __init__(self, desk: Desk, watched: tuple[Watched, ...]) -> None:
        self.desk = desk
        self.watched = watched
        self._windows = Windows(desk, [out for one in watched for out in one.outlines])
        try:
            series = load_series(desk)
        except InputError:
            self._load = None  # a campaign without a load cell: only gauges can be asked
        else:
            noise = quality.noise_floor(series.value)
            self._load = (series.time, series.value, noise)

    def saw(self, seen: _Seen) -> bool:
        """Whether the load or another gauge moved at the same instant."""
        if self._load is not None and moved(*self._load, seen.time, seen.scan):
            return True
        return any(
            other.gauge.uid != seen.watched.gauge.uid and self._gauge_moved(other, seen)
            for other in self.watched
        )

    def near(self, seen: _Seen) -> list[str]:
        """Labels of gauges that should have seen what the specimen does there, and were reading."""
        return [
            other.gauge.record.label
            for other in self.watched
            if other.gauge.uid != seen.watched.gauge.uid
            and alike(self.desk.book, seen.watched.gauge, other.gauge)
            and any(self._reads_at(outline, seen.time) for outline in other.outlines)
        ]

    def _gauge_moved(self, other: Watched, seen: _Seen) -> bool:
        for told in leaps_of(self.desk, other):
            outline = told.outline
            if outline.rows < FEWEST or not outline.begins <= seen.time <= outline.ends:
                continue
            reach = SCANS * max(seen.scan, outline.step)
            time, reading = self._windows.around(
                outline, seen.time - reach, seen.time + reach, beside=HEREABOUTS
            )
            if moved(time, reading, told.noise, seen.time, seen.scan, step=outline.step):
                return True
        return False

    def _reads_at(self, outline: Outline, instant: float) -> bool:
        """Whether a stretch has numbers round an instant."""
        if not outline.begins <= instant <= outline.ends:
            return False
        time, reading = self._windows.around(outline, instant, instant, beside=WINDOW)
        place = int(np.searchsorted(time, instant))
        around = reading[max(0, place - WINDOW) : place + WINDOW]
        return bool(np.isfinite(around).mean() > 0.5)


def dropouts(desk: Desk, watched: Watched) -> Iterator[Finding]:
    """Stretches of one repeated number, far away, that end as they began: a plug that shakes."""
    if not looked_for(desk, "dropout"):
        return
    limit = desk.book.limit("dropout over noise")
    for told in leaps_of(desk, watched):
        stretch = told.outline
        for leap in told.dropouts:
            rows = (stretch.first_row + leap.span.first, stretch.first_row + leap.span.last)
            words = (
                f"{watched.gauge.record.label} wrote one number, far from its readings, for "
                f"{leap.span.rows} scans from row {rows[0]} of {stretch.recording.record.label} "
                "and came back: a contact that opens, or a word of the recorder's own"
            )
            yield finding(
                watched, "dropout", stretch, rows,
                measured=(leap.times_noise, "times the noise"), limit=limit, sentence=words,
                severity=Severity.DOUBTFUL,
            )  # fmt: skip


def lone_leaps(desk: Desk, watched: tuple[Watched, ...]) -> Iterator[Finding]:
    """Steps and spikes that neither the load nor any other gauge saw, of bars not near yield.

    A crack or a slip shows at more than one gauge, or in the load, at the same instant; a bar
    near yield leaps by itself. What is left is the gauge's own: bond, joint or contact. Where
    nobody near was reading, gauge and specimen can't be told apart, and the finding says so.
    """
    company = _Company(desk, watched)
    own = _own(desk, company, watched)
    for one in watched:
        yield from _lone_steps(desk, company, one, own.get((one.gauge.uid, "step"), []))
        yield from _lone_spikes(desk, one, own.get((one.gauge.uid, "spike"), []))


def _own(
    desk: Desk, company: _Company, watched: tuple[Watched, ...]
) -> dict[tuple[Uid, str], list[_Seen]]:
    """Leaps that nothing else saw, by gauge and kind; asked in order of time, block by block."""
    asked = [
        (kind, _Seen(one, told.outline, leap, time, told.scan))
        for one in watched
        for told in leaps_of(desk, one)
        for kind, found in (("step", told.steps), ("spike", told.spikes))
        for leap, time in found
    ]
    in_time = sorted(range(len(asked)), key=lambda place: asked[place][1].time)
    alone = {place for place in in_time if not company.saw(asked[place][1])}
    own: dict[tuple[Uid, str], list[_Seen]] = {}
    for place, (kind, seen) in enumerate(asked):
        if place in alone:
            own.setdefault((seen.watched.gauge.uid, kind), []).append(seen)
    return own


def _lone_steps(
    desk: Desk, company: _Company, one: Watched, found: list[_Seen]
) -> Iterator[Finding]:
    if not found:
        return
    limit = desk.book.limit("step over noise")
    for seen in found:
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


def _lone_spikes(desk: Desk, one: Watched, found: list[_Seen]) -> Iterator[Finding]:
    if not found:
        return
    limit = desk.book.limit("spike over noise")
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


def _rows(seen: _Seen) -> tuple[int, int]:
    first = seen.stretch.first_row
    return first + seen.leap.span.first, first + seen.leap.span.last


def moved(
    time: FloatArray,
    values: FloatArray,
    noise: float,
    instant: float,
    scan: float,
    *,
    step: float | None = None,
) -> bool:
    """Whether a series moved by several noises within a few scans of an instant.

    ``step`` is the usual one of the series, for a part of it that doesn't begin where it does.
    """
    if time.size < FEWEST or not time[0] <= instant <= time[-1]:
        return False
    if step is None:
        # Hereabouts: another recording of the same channel may have had another rate.
        place = int(np.searchsorted(time, instant))
        step = float(np.median(np.diff(time[max(0, place - 32) : place + 32])))
    own = step
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
