"""Checks that hold channels against each other: one written twice, signs, exchanges."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from gaugewright.calc import likeness
from gaugewright.errors import Faults, InputError
from gaugewright.quantities import FloatArray
from gaugewright.records import Entry
from gaugewright.records.proof import Limit, ZeroKind
from gaugewright.records.readings import Finding, Severity
from gaugewright.services.reviewing.checks import Watched, finding
from gaugewright.services.reviewing.company import alike
from gaugewright.services.reviewing.signals import looked_for, yield_time
from gaugewright.services.reviewing.windows import Outline, readings_of
from gaugewright.services.section.predictions import predicted_strain
from gaugewright.services.strain.strains import Desk
from gaugewright.services.under_load.loads import load_at, load_series

__all__ = ["exchanged", "fit_of", "heads_of", "reversed_signs", "slope_of", "twins"]

NOISE_ROWS = 4096
ROUNDING = 1e-6  # more than two ways to sum the same products differ by
ALIGNED = 0.1  # rad: arms of a rosette at one place need not have one sign
MOVES = 200  # of the load, whose signs are held against the strain's
FEWEST_MOVES = 8  # of either way
LEVELS = 15  # of load, at which strains are held against predictions


def twins(desk: Desk, watched: tuple[Watched, ...]) -> Iterator[Finding]:
    """Two channels of one recording whose noise is the same: one was written twice."""
    if not looked_for(desk, "twins"):
        return
    limit = desk.book.limit("shared noise")
    for number, one in enumerate(watched):  # taking each in turn is the chance to stop
        for head, other, others_head in _later(one, watched[number + 1 :]):
            if head.is_unlike(others_head, limit):
                continue
            stretch, theirs = head.outline, others_head.outline
            first = max(stretch.first_row, theirs.first_row)
            end = min(first + NOISE_ROWS, stretch.last_row + 1, theirs.last_row + 1)
            if first >= end:
                continue
            try:
                found = likeness.shared_noise(
                    _between(desk, head, first, end), _between(desk, others_head, first, end)
                )
            except InputError:
                continue  # too little in common to say
            if abs(found.correlation) < limit.record.value + 5 * found.standard_uncertainty:
                continue
            words = (
                f"{one.gauge.record.label} and {other.gauge.record.label} have the same noise in "
                f"{stretch.recording.record.label} (correlation {found.correlation:.3f}): one "
                "channel was written twice, or both are read by one amplifier"
            )
            for each, where in ((one, stretch), (other, theirs)):
                yield finding(
                    each, "shared noise", where, (where.first_row, where.last_row),
                    measured=(abs(found.correlation), "1"), limit=limit, sentence=words,
                    severity=Severity.DOUBTFUL,
                )  # fmt: skip


def _later(one: Watched, others: tuple[Watched, ...]) -> Iterator[tuple["Head", Watched, "Head"]]:
    """Every stretch of a gauge beside those of others in the same recording."""
    for head in heads_of(one):
        for other in others:
            if other.gauge.uid != one.gauge.uid:
                for beside in heads_of(other):
                    if beside.outline.recording.uid == head.outline.recording.uid:
                        yield head, other, beside


@dataclass(frozen=True, slots=True)
class Head:
    """The first readings of a stretch, and the direction of their noise where all are there."""

    outline: Outline
    reading: FloatArray
    direction: FloatArray | None

    def is_unlike(self, other: "Head", limit: Entry[Limit]) -> bool:
        """Whether two noises are plainly not the same; False where that takes a closer look."""
        one, two = self.direction, other.direction
        if one is None or two is None or self.outline.first_row != other.outline.first_row:
            return False
        together = one.shape == two.shape
        return together and abs(float(one @ two)) < limit.record.value - ROUNDING


def heads_of(one: Watched) -> tuple[Head, ...]:
    """Heads of all stretches of a gauge, read once."""

    def read() -> tuple[Head, ...]:
        parts = [stretch.reading[:NOISE_ROWS].copy() for stretch in one.stretches]
        return tuple(
            Head(outline, part, likeness.noise_direction(part))
            for outline, part in zip(one.outlines, parts, strict=True)
        )

    return one.once("heads", read)


def _between(desk: Desk, head: Head, row: int, end: int) -> FloatArray:
    """Readings from a row up to another, without the whole stretch being read for them."""
    outline = head.outline
    if row == outline.first_row:
        return head.reading[: end - row]
    return readings_of(desk, outline, row, end)


def reversed_signs(desk: Desk, watched: tuple[Watched, ...]) -> Iterator[Finding]:
    """Gauges that answer to load the other way than predicted, or than those placed alike."""
    if not looked_for(desk, "sign"):
        return
    limit = desk.book.limit("answer over its doubt")
    slopes: dict[str, float] = {}
    for one in watched:
        found = slope_of(desk, one)
        if found is not None:
            slopes[one.gauge.uid] = found
    for one in watched:
        own = slopes.get(one.gauge.uid)
        if own is None:
            continue
        wanted, why = _wanted_sign(desk, one, watched, slopes)
        if wanted == 0 or wanted * own > 0:
            continue
        stretch = one.outlines[-1]
        words = (
            f"{one.gauge.record.label} answers to load with the other sign than {why}: the "
            "channel's sign, its arm or its gauge is exchanged"
        )
        yield finding(
            one, "reversed sign", stretch, (stretch.first_row, stretch.last_row),
            measured=(own, "times its doubt"), limit=limit, sentence=words,
            severity=Severity.DOUBTFUL,
        )  # fmt: skip


def slope_of(desk: Desk, watched: Watched) -> float | None:
    """Answer to load over its doubt; None where that is too small for a sign. Worked out once."""
    if not looked_for(desk, "sign"):
        return None
    limit = desk.book.limit("answer over its doubt").record.value
    return watched.once("slope", lambda: _slope(desk, watched, limit))


def _slope(desk: Desk, watched: Watched, limit: float) -> float | None:
    series = _load_and_strain(desk, watched)
    if series is None:
        return None
    # What runs away at yield answers no load, and would hide the sign of what did before.
    time = desk.strain(watched.circuit, ZeroKind.BEFORE_TEST).time
    before = time < yield_time(desk, watched)
    try:
        slope, doubt = likeness.answer_to(series[0][before], series[1][before])
    except InputError:
        return None
    if doubt > 0 and abs(slope) > limit * doubt:
        return slope / doubt
    return _moves_with(series[0][before], series[1][before], limit)


def _moves_with(load: FloatArray, strain: FloatArray, limit: float) -> float | None:
    """Whether strain moves with the load or against it, in standard deviations of a coin's tosses.

    A section that cracks follows its load thirty times as steeply afterwards: no line fits, but
    every move still has its sign. Rises and falls of the load must agree, so that what drifts
    while the load only rises isn't taken for an answer.
    """
    good = np.isfinite(load) & np.isfinite(strain)
    if good.sum() < 8 * MOVES:
        return None
    parts = [np.array_split(series[good], MOVES) for series in (load, strain)]
    push, read = (np.diff([float(part.mean()) for part in each]) for each in parts)
    large = np.abs(push) > np.median(np.abs(push))
    told = []
    for way in (1, -1):
        signs = np.sign(read[large & (np.sign(push) == way)]) * way
        if signs.size < FEWEST_MOVES:
            return None
        told.append(float(np.sum(signs) / np.sqrt(signs.size)))
    together = (told[0] + told[1]) / np.sqrt(2)
    agree = min(told[0] * told[1], abs(told[0]) - 2, abs(told[1]) - 2) > 0
    return together if agree and abs(together) > limit else None


def _load_and_strain(desk: Desk, watched: Watched) -> tuple[FloatArray, FloatArray] | None:
    try:
        strain = desk.strain(watched.circuit, ZeroKind.BEFORE_TEST)
        return load_at(desk, strain.time), strain.strain
    except (InputError, Faults):
        return None  # no strain or no load: reducing tells what is missing


def _wanted_sign(
    desk: Desk, one: Watched, watched: tuple[Watched, ...], slopes: dict[str, float]
) -> tuple[int, str]:
    try:
        series = load_series(desk)
        top = 0.5 * float(np.nanmax(series.value))
        predicted = predicted_strain(desk.book, one.gauge, np.array([0.0, top]))
        rise = float(np.diff(predicted.first_loading.value)[0])
        return int(np.sign(rise)), "predicted"
    except InputError:
        pass  # nothing predicts it: those placed alike are asked
    likes = [
        (other.gauge.record.label, slopes[other.gauge.uid])
        for other in watched
        if other.gauge.uid in slopes
        and other.gauge.uid != one.gauge.uid
        and alike(desk.book, one.gauge, other.gauge)
        and abs(one.gauge.record.angle_to_axis - other.gauge.record.angle_to_axis) < ALIGNED
    ]
    signs = {int(np.sign(slope)) for _, slope in likes}
    if len(likes) < 2 or len(signs) > 1:
        return 0, ""
    return signs.pop(), ", ".join(label for label, _ in likes)


def exchanged(desk: Desk, watched: tuple[Watched, ...]) -> Iterator[Finding]:
    """Gauges whose strains fit each other's stations better than their own."""
    if not looked_for(desk, "exchange"):
        return
    limit = desk.book.limit("exchanged fit")
    kept = _predicted_and_read(desk, watched)
    if len(kept) < 2:
        return
    ones, wanted, read = zip(*kept, strict=True)
    for ring in likeness.exchanges(np.array(wanted), np.array(read), limit=limit.record.value):
        labels = [ones[place].gauge.record.label for place in ring.places]
        words = (
            f"{', '.join(labels)} fit each other's predicted strains {ring.own / ring.other:.1f} "
            "times better than their own: channels or labels may be exchanged"
        )
        for place in ring.places:
            stretch = ones[place].outlines[-1]
            yield finding(
                ones[place], "exchanged", stretch, (stretch.first_row, stretch.last_row),
                measured=(ring.own / ring.other, "times better"), limit=limit, sentence=words,
                severity=Severity.DOUBTFUL,
            )  # fmt: skip


def _predicted_and_read(
    desk: Desk, watched: tuple[Watched, ...]
) -> list[tuple[Watched, FloatArray, FloatArray]]:
    """Predicted strain, and strain when a load was first reached, of every gauge that has both."""
    fits = [(one, fit_of(desk, one)) for one in watched]
    return [(one, *fit) for one, fit in fits if fit is not None]


def fit_of(desk: Desk, one: Watched) -> tuple[FloatArray, FloatArray] | None:
    """Predicted and read strain of one gauge at some loads, None without either; taken once."""
    return one.once("fit", lambda: _fit(desk, one)) if looked_for(desk, "exchange") else None


def _fit(desk: Desk, one: Watched) -> tuple[FloatArray, FloatArray] | None:
    series = _load_and_strain(desk, one)
    if series is None or not np.isfinite(series[0]).any():
        return None
    load, strain = series
    levels = np.linspace(0.1, 0.9, LEVELS) * float(np.nanmax(load))
    try:
        wanted = predicted_strain(desk.book, one.gauge, levels).first_loading.value
    except InputError:
        return None  # nothing predicts this gauge
    highest = np.fmax.accumulate(np.where(np.isfinite(load), load, -np.inf))
    reached = np.searchsorted(highest, levels)
    read = np.array([strain[at] if at < strain.size else np.nan for at in reached])
    return (wanted, read) if np.isfinite(read).sum() >= LEVELS - 2 else None
