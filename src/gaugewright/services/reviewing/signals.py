"""Checks that look at how a gauge's readings behave: leaps, noise, hum, rest and temperature."""

from collections.abc import Iterator

import numpy as np

from gaugewright.calc import hum, quality, steadiness
from gaugewright.errors import Faults, InputError
from gaugewright.quantities import FloatArray
from gaugewright.records.proof import ZeroKind
from gaugewright.records.readings import Finding, Severity
from gaugewright.records.specimen import SteelLaw
from gaugewright.services.loading.yields import yield_strain
from gaugewright.services.reading.series import Stretch
from gaugewright.services.reviewing.checks import Watched, finding
from gaugewright.services.strain.strains import Desk
from gaugewright.services.under_load.loads import load_at

__all__ = ["hums", "looked_for", "noise", "rest", "yield_time"]

NOISE_WINDOW = 200  # readings
LOWEST_SHARE = 0.05  # of the highest load: below it a specimen rests and doesn't creep
REST_BAND = 0.01  # of the highest load
SHORTEST_REST = 600.0  # s
LEAST_WARMING = 1.0  # K
NO_LINE = 4.0  # times the usual power: below it the median of a few spectra has no line
NEAR_YIELD = 0.9  # of the yield strain: from there a bar moves by itself, in leaps

# What each check needs; a campaign made before a check existed lacks its limit and isn't looked
# through for it until somebody gives it one.
NEEDED = {
    "spike": ("spike over noise",),
    "dropout": ("dropout over noise",),
    "noise": ("noise change",),
    "hum": ("hum over noise", "mains frequency"),
    "rest": ("drift, short static test", "following temperature"),
    "step": ("step over noise",),
    "twins": ("shared noise",),
    "sign": ("answer over its doubt",),
    "exchange": ("exchanged fit",),
}


def looked_for(desk: Desk, check: str) -> bool:
    """Whether the campaign has the limits that a check needs."""
    known = desk.book.limit_labels()
    return all(label in known for label in NEEDED[check])


def noise(desk: Desk, watched: Watched) -> Iterator[Finding]:
    """Stretches noisier than the rest of the record: a contact, a leak, another machine."""
    if not looked_for(desk, "noise"):
        return
    limit = desk.book.limit("noise change")
    for stretch in watched.stretches:
        changes = steadiness.noise_changes(
            stretch.reading, window=NOISE_WINDOW, limit=limit.record.value
        )
        from_yield = yield_time(desk, watched) if changes else np.inf
        for change in changes:
            # A bar that yields is restless itself; what began a window earlier has another cause.
            begun = min(change.span.first + NOISE_WINDOW, change.span.last)
            if stretch.time[begun] >= from_yield:
                continue
            rows = _rows(stretch, change.span)
            words = (
                f"{watched.gauge.record.label} is up to {change.ratio:.1f} times as noisy as usual "
                f"in rows {rows[0]} to {rows[1]} of {stretch.recording.record.label}"
            )
            yield finding(
                watched, "noisier", stretch, rows,
                measured=(change.ratio, "times the usual"), limit=limit, sentence=words,
                severity=Severity.NOTE,
            )  # fmt: skip


def hums(desk: Desk, watched: Watched) -> Iterator[Finding]:
    """Mains or its harmonics in the readings, where the sampling puts them."""
    if not looked_for(desk, "hum"):
        return
    limit = desk.book.limit("hum over noise")
    mains = desk.book.limit("mains frequency").record.value
    for stretch in watched.stretches:
        rate = desk.of_times("even rate", stretch.time, _even_rate)
        if rate is None:
            continue
        lines = hum.mains_hum(
            stretch.reading, rate, mains_frequency=mains, limit=limit.record.value
        )
        line = next((each for each in lines if not _is_loading(desk, stretch, rate, each)), None)
        if line is None:
            continue
        floor = quality.noise_floor(stretch.reading)
        shown = f"{line.frequency:.3g} Hz" + (
            f", where {rate:.4g} readings a second fold {line.harmonic * mains:g} Hz"
            if line.folded
            else ""
        )
        over = f"{line.amplitude / floor:.1f} times its noise" if floor > 0 else "above no noise"
        words = f"{watched.gauge.record.label} hums with the mains at {shown}: amplitude {over}"
        yield finding(
            watched, "mains hum", stretch, (stretch.first_row, stretch.last_row),
            measured=(line.times_noise, "times the power beside it"), limit=limit, sentence=words,
            severity=Severity.NOTE,
        )  # fmt: skip


def _is_loading(desk: Desk, stretch: Stretch, rate: float, line: hum.Hum) -> bool:
    """Whether a line that hum and a slow load may make alike can't be told from the load's.

    It can only where there is a load of which enough was recorded, and where that has no such line.
    """
    if not line.slow:
        return False
    try:
        load = load_at(desk, stretch.time)
    except InputError:
        return True
    strength = hum.line_strength(load, rate, frequency=line.frequency)
    return not strength < NO_LINE


def rest(desk: Desk, watched: Watched) -> Iterator[Finding]:
    """Strain that drifts, or follows temperature, while the specimen rests unloaded."""
    if not looked_for(desk, "rest"):
        return
    try:
        strain = desk.strain(watched.circuit, ZeroKind.BEFORE_TEST)
        load = load_at(desk, strain.time)
    except InputError:
        return  # no load or no strain: reducing tells what is missing
    if not np.isfinite(load).any():
        return
    highest = float(np.nanmax(np.abs(load)))
    for piece, begin in zip(strain.pieces, strain.begins, strict=True):
        rows = slice(begin, begin + piece.stretch.reading.size)
        time, here = strain.time[rows], strain.strain[rows]
        calm = np.where(np.abs(load[rows]) <= LOWEST_SHARE * highest, load[rows], np.nan)
        step = float(np.median(np.diff(time))) if time.size > 1 else np.inf
        window = max(2, round(SHORTEST_REST / step)) if np.isfinite(step) else time.size + 1
        band = max(REST_BAND * highest, np.finfo(float).tiny)
        warmth = piece.columns.get("temperature_degc")
        for span in steadiness.at_rest(calm, window=window, load_band=band):
            part = slice(span.first, span.last + 1)
            calmly = (time[part], here[part])
            yield from _drifting(desk, watched, piece.stretch, span, calmly)
            if warmth is not None:
                both = (*calmly, warmth[part])
                yield from _warming(desk, watched, piece.stretch, span, both)


def _drifting(
    desk: Desk,
    watched: Watched,
    stretch: Stretch,
    span: quality.Span,
    series: tuple[FloatArray, FloatArray],
) -> Iterator[Finding]:
    limit = desk.book.limit("drift, short static test")
    try:
        trend = steadiness.drift(*series)
    except InputError:
        return  # too few readings to say
    sure = abs(trend.slope) > limit.record.value + 3 * trend.standard_uncertainty
    if not sure:
        return
    hourly, doubt = 3.6e9 * trend.slope, 3.6e9 * 2 * trend.standard_uncertainty
    words = (
        f"{watched.gauge.record.label} drifted by {hourly:.3g} ± {doubt:.1g} µε an hour while the "
        f"specimen rested, in {stretch.recording.record.label}"
    )
    yield finding(
        watched, "drift at rest", stretch, _rows(stretch, span),
        measured=(abs(trend.slope), "1/s"), limit=limit, sentence=words, severity=Severity.NOTE,
    )  # fmt: skip


def _warming(
    desk: Desk,
    watched: Watched,
    stretch: Stretch,
    span: quality.Span,
    series: tuple[FloatArray, FloatArray, FloatArray],
) -> Iterator[Finding]:
    limit = desk.book.limit("following temperature")
    time, strain, warmth = series
    if not np.isfinite(warmth).any() or np.nanmax(warmth) - np.nanmin(warmth) < LEAST_WARMING:
        return
    try:
        trend = steadiness.follows(warmth, strain, time)
    except InputError:
        return  # temperature only rose or fell: it can't be told from drift
    if abs(trend.slope) <= limit.record.value + 3 * trend.standard_uncertainty:
        return
    slope, doubt = 1e6 * trend.slope, 2e6 * trend.standard_uncertainty
    words = (
        f"{watched.gauge.record.label} follows temperature by {slope:.3g} ± {doubt:.1g} µε/K at "
        f"rest in {stretch.recording.record.label}, after its corrections: lead, thermal output "
        "or the temperature point is wrong"
    )
    yield finding(
        watched, "follows temperature", stretch, _rows(stretch, span),
        measured=(abs(trend.slope), "1/K"), limit=limit, sentence=words, severity=Severity.NOTE,
    )  # fmt: skip


def yield_time(desk: Desk, one: Watched) -> float:
    """When a gauge's metal first neared yield; never where it has no yield."""
    material = desk.book.material_of(one.gauge)
    if material.record.law is SteelLaw.ELASTIC:
        return np.inf
    try:
        strain = desk.strain(one.circuit, ZeroKind.BEFORE_TEST)
        limit = NEAR_YIELD * yield_strain(desk, material).value.item()
    except (InputError, Faults):
        return np.inf  # no strain to compare: reducing tells what is missing
    beyond = np.flatnonzero(np.abs(strain.strain) >= limit)
    return float(strain.time[beyond[0]]) if beyond.size else np.inf


def _rows(stretch: Stretch, span: quality.Span) -> tuple[int, int]:
    return stretch.first_row + span.first, stretch.first_row + span.last


def _even_rate(time: FloatArray) -> float | None:
    """Readings a second where they are even to a tenth of a step; None otherwise."""
    steps = np.diff(time)
    if steps.size < 64:
        return None
    step = float(np.median(steps))
    uneven = np.abs(steps - step) > 0.1 * step
    return 1 / step if step > 0 and float(np.mean(uneven)) < 0.01 else None
