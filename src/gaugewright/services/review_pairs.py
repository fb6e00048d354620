"""Checks that hold channels against each other: one written twice, signs, exchanges."""

from collections.abc import Iterator

import numpy as np

from gaugewright.calc import likeness
from gaugewright.errors import Faults, InputError
from gaugewright.quantities import FloatArray
from gaugewright.records.proof import ZeroKind
from gaugewright.records.readings import Finding, Severity
from gaugewright.services.loads import load_at, load_series
from gaugewright.services.predictions import predicted_strain
from gaugewright.services.review_checks import Watched, finding
from gaugewright.services.review_company import alike
from gaugewright.services.review_signals import looked_for
from gaugewright.services.series import Stretch
from gaugewright.services.strains import Desk

__all__ = ["exchanged", "reversed_signs", "twins"]

NOISE_ROWS = 4096
ALIGNED = 0.1  # rad: arms of a rosette at one place need not have one sign
LEVELS = 15  # of load, at which strains are held against predictions


def twins(desk: Desk, watched: tuple[Watched, ...]) -> Iterator[Finding]:
    """Two channels of one recording whose noise is the same: one was written twice."""
    if not looked_for(desk, "twins"):
        return
    limit = desk.book.limit("shared noise")
    stretches = [(one, stretch) for one in watched for stretch in one.stretches]
    for number, (one, stretch) in enumerate(stretches):
        for other, theirs in stretches[number + 1 :]:
            same = stretch.recording.uid == theirs.recording.uid
            if not same or one.gauge.uid == other.gauge.uid:
                continue
            first = max(stretch.first_row, theirs.first_row)
            try:
                found = likeness.shared_noise(_from(stretch, first), _from(theirs, first))
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


def _from(stretch: Stretch, row: int) -> FloatArray:
    begin = row - stretch.first_row
    return stretch.reading[begin : begin + NOISE_ROWS]


def reversed_signs(desk: Desk, watched: tuple[Watched, ...]) -> Iterator[Finding]:
    """Gauges that answer to load the other way than predicted, or than those placed alike."""
    if not looked_for(desk, "sign"):
        return
    limit = desk.book.limit("answer over its doubt")
    slopes: dict[str, float] = {}
    for one in watched:
        found = _slope(desk, one, limit.record.value)
        if found is not None:
            slopes[one.gauge.uid] = found
    for one in watched:
        own = slopes.get(one.gauge.uid)
        if own is None:
            continue
        wanted, why = _wanted_sign(desk, one, watched, slopes)
        if wanted == 0 or wanted * own > 0:
            continue
        stretch = one.stretches[-1]
        words = (
            f"{one.gauge.record.label} answers to load with the other sign than {why}: the "
            "channel's sign, its arm or its gauge is exchanged"
        )
        yield finding(
            one, "reversed sign", stretch, (stretch.first_row, stretch.last_row),
            measured=(own, "times its doubt"), limit=limit, sentence=words,
            severity=Severity.DOUBTFUL,
        )  # fmt: skip


def _slope(desk: Desk, watched: Watched, limit: float) -> float | None:
    """Answer to load over its doubt; None where that is too small for a sign."""
    series = _load_and_strain(desk, watched)
    if series is None:
        return None
    try:
        slope, doubt = likeness.answer_to(*series)
    except InputError:
        return None
    return slope / doubt if doubt > 0 and abs(slope) > limit * doubt else None


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
            stretch = ones[place].stretches[-1]
            yield finding(
                ones[place], "exchanged", stretch, (stretch.first_row, stretch.last_row),
                measured=(ring.own / ring.other, "times better"), limit=limit, sentence=words,
                severity=Severity.DOUBTFUL,
            )  # fmt: skip


def _predicted_and_read(
    desk: Desk, watched: tuple[Watched, ...]
) -> list[tuple[Watched, FloatArray, FloatArray]]:
    """Predicted strain, and strain when a load was first reached, of every gauge that has both."""
    kept = []
    for one in watched:
        series = _load_and_strain(desk, one)
        if series is None or not np.isfinite(series[0]).any():
            continue
        load, strain = series
        levels = np.linspace(0.1, 0.9, LEVELS) * float(np.nanmax(load))
        try:
            wanted = predicted_strain(desk.book, one.gauge, levels).first_loading.value
        except InputError:
            continue  # nothing predicts this gauge
        highest = np.fmax.accumulate(np.where(np.isfinite(load), load, -np.inf))
        reached = np.searchsorted(highest, levels)
        read = np.array([strain[at] if at < strain.size else np.nan for at in reached])
        if np.isfinite(read).sum() >= LEVELS - 2:
            kept.append((one, wanted, read))
    return kept
