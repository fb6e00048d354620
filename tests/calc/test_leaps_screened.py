"""Leaps are looked for only where they can be: what is found is what looking everywhere finds."""

import numpy as np
import numpy.typing as npt
import pytest
import scipy.ndimage
import scipy.signal
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import ArrayLike

from gaugewright.calc import hum, leaps, steadiness
from gaugewright.calc.leaps import Leap
from gaugewright.calc.quality import Span, equal_runs, noise_floor, spans_where
from gaugewright.quantities import FloatArray

# What follows looks everywhere, place by place as the descriptions in ``leaps`` say.
_NEAR, _AROUND, _PLAIN, _SHARP = 5, 101, 9.0, 0.6


def spikes(values: ArrayLike, *, limit: float) -> tuple[Leap, ...]:
    data, rows = _known(values)
    if data.size < _NEAR:
        return ()
    away = data - scipy.ndimage.median_filter(data, _NEAR, mode="nearest")
    usual = _usual(data, away)
    found = []
    for span in spans_where(np.abs(away) > limit * usual):
        if span.rows > 2:
            continue
        worst = span.first + int(np.argmax(np.abs(away[span.first : span.last + 1])))
        at = Span(int(rows[span.first]), int(rows[span.last]))
        found.append(Leap(at, float(away[worst]), float(abs(away[worst]) / usual[worst])))
    return tuple(found)


def steps(values: ArrayLike, *, limit: float, window: int) -> tuple[Leap, ...]:
    read = np.array(values, dtype=np.float64)
    for gone in dropouts(read, limit=limit):
        read[gone.span.first : gone.span.last + 1] = np.nan
    data, rows = _known(read)
    if data.size < 2 * window + 2:
        return ()
    smooth = scipy.ndimage.median_filter(data, _NEAR, mode="nearest")
    away = data - smooth
    level = np.where(np.abs(away) > limit * _usual(data, away), smooth, data)
    jump, slope, rough = _ends(level, window)
    noise = np.maximum(rough, _lowest(data))
    doubt = np.sqrt(8 / window) * noise
    # Where a ramp begins the two lines miss each other too, but no two readings show it.
    least = np.maximum(_SHARP * np.abs(jump), _PLAIN * noise)
    sharp = np.abs(np.diff(level)) - slope >= least
    sharp[:-1] |= np.abs(level[2:] - level[:-2]) - 2 * slope[:-1] >= least[:-1]
    strong = np.abs(jump) / doubt
    strong = np.nan_to_num(strong)  # too near an end for a line
    gap = scipy.ndimage.binary_dilation(np.diff(rows) > 1, iterations=2)
    strong[gap] = 0  # what happened in a gap took its time
    found = []
    for span in spans_where((strong > limit) & sharp):
        place = span.first + int(np.argmax(strong[span.first : span.last + 1]))
        at = Span(int(rows[place]), int(rows[place + 1]))
        found.append(Leap(at, float(jump[place]), float(strong[place])))
    return _apart(found, window)


def dropouts(values: ArrayLike, *, limit: float) -> tuple[Leap, ...]:
    data, rows = _known(values)
    floor = _floor(data)
    found = []
    for run in equal_runs(data, at_least=3) if data.size else ():
        if run.first == 0 or run.last == data.size - 1:
            continue
        before, after = float(data[run.first - 1]), float(data[run.last + 1])
        away = float(data[run.first]) - (before + after) / 2
        comes_back = abs(after - before) < abs(away) / 4
        if floor > 0 and abs(away) > limit * floor and comes_back:
            at = Span(int(rows[run.first]), int(rows[run.last]))
            found.append(Leap(at, away, abs(away) / floor))
    return tuple(found)


def _known(values: ArrayLike) -> tuple[FloatArray, npt.NDArray[np.int64]]:
    data = np.asarray(values, dtype=np.float64)
    rows = np.flatnonzero(np.isfinite(data))
    return data[rows], rows


def _floor(data: FloatArray) -> float:
    floor = noise_floor(data)
    moves = np.abs(np.diff(data))
    moves = moves[moves > 0]
    digit = float(moves.min()) / np.sqrt(12) if moves.size else 0.0
    # The smallest move is the digit only where many moves are whole multiples of it.
    whole = moves.size > 0 and bool(
        np.mean(np.abs(moves / moves.min() - np.round(moves / moves.min())) < 0.01) > 0.9
    )
    return max(0.0 if np.isnan(floor) else floor, digit if whole else 0.0)


def _lowest(data: FloatArray) -> float:
    return max(_floor(data), np.finfo(float).eps * np.abs(data).max(), np.finfo(float).tiny)


def _usual(data: FloatArray, away: FloatArray) -> FloatArray:
    size = max(min(_AROUND, data.size // 2 * 2 - 1), 1)
    around = 1.4826 * scipy.ndimage.median_filter(np.abs(away), size, mode="nearest")
    half = size // 2
    before = np.concatenate([np.repeat(around[:1], half), around[: data.size - half]])
    after = np.concatenate([around[half:], np.repeat(around[-1:], half)])
    floor = _lowest(data)
    # The median of five holds part of a reading itself: what is left is smaller than the noise.
    return np.asarray(np.maximum(1.6 * np.maximum(before, after), floor))


def _ends(level: FloatArray, window: int) -> tuple[FloatArray, FloatArray, FloatArray]:
    place = np.arange(window) - (window - 1) / 2
    reach = window / 2  # from the middle of a window to half a step beyond its end
    weights = 1 / window + reach * place / np.sum(place**2)
    pad = np.full(window - 1, np.nan)
    before = np.concatenate([pad, np.correlate(level, weights, "valid")[:-1]])
    after = np.concatenate([np.correlate(level, weights[::-1], "valid")[1:], pad])
    slopes = np.abs(np.correlate(level, place / np.sum(place**2), "valid"))
    slope = np.fmax(np.concatenate([pad, slopes[:-1]]), np.concatenate([slopes[1:], pad]))
    second = np.abs(np.diff(level, 2, prepend=level[0], append=level[-1]))
    rough = 1.4826 * scipy.ndimage.median_filter(second, 2 * window + 1, mode="nearest")
    return after - before, slope, (rough / np.sqrt(6.0))[:-1]


def _apart(found: list[Leap], window: int) -> tuple[Leap, ...]:
    kept: list[Leap] = []
    for leap in sorted(found, key=lambda leap: -leap.times_noise):
        if all(abs(leap.span.first - other.span.first) > window for other in kept):
            kept.append(leap)
    return tuple(sorted(kept, key=lambda leap: leap.span.first))


def a_record(seed: int, rows: int, digits: int) -> FloatArray:
    """Readings with all that a record can hold: cycles, ramps, leaps, gaps, coarse digits."""
    random = np.random.default_rng(seed)
    place = np.arange(rows)
    data = random.normal(0, 1, rows) * random.choice([0.0, 1.0, 1.0])
    data += random.choice([0, 30]) * np.sin(place / random.uniform(2, 200))
    data += np.interp(place, [rows // 3, rows // 2], [0, random.choice([0.0, 50.0, 5000.0])])
    data[rows // 4 :] += random.choice([0.0, 15.0])
    for _ in range(random.integers(0, 6) if rows else 0):
        at = int(random.integers(0, rows))
        kind = random.integers(0, 4)
        if kind == 0:
            data[at : at + int(random.integers(1, 4))] += random.choice([-1, 1]) * 40
        elif kind == 1:
            data[at:] += random.choice([-1, 1]) * random.uniform(2, 60)
        elif kind == 2:
            data[at : at + int(random.integers(2, 30))] = random.choice([0.0, -999.0, 500.0])
        else:
            data[at : at + int(random.integers(1, 60))] = np.nan
    noisy = slice(rows // 2, rows // 2 + int(random.choice([0, rows // 4])))
    data[noisy] += random.normal(0, 4, data[noisy].size)
    return data.round(digits)


RECORDS = {
    "seed": st.integers(0, 2**32 - 1),
    "rows": st.sampled_from([0, 1, 4, 6, 81, 82, 90, 200, 1000, 4001]),
    "digits": st.sampled_from([-1, 0, 1, 6]),
    "limit": st.sampled_from([2.0, 5.0, 8.0]),
}


@settings(max_examples=300, deadline=None)
@given(**RECORDS)
def test_looking_where_a_leap_can_be_finds_what_looking_everywhere_finds(seed, rows, digits, limit):
    data = a_record(seed, rows, digits)
    assert leaps.spikes(data, limit=limit) == spikes(data, limit=limit)
    assert leaps.dropouts(data, limit=limit) == dropouts(data, limit=limit)
    found = leaps.steps(data, limit=limit, window=40)
    wanted = steps(data, limit=limit, window=40)
    assert [leap.span for leap in found] == [leap.span for leap in wanted]
    together = leaps.leaps(
        data, spike_limit=limit, step_limit=limit, dropout_limit=limit, window=40
    )
    assert together.spikes == spikes(data, limit=limit)
    assert together.dropouts == dropouts(data, limit=limit)
    assert together.steps == found
    assert np.array_equal(together.noise, noise_floor(data), equal_nan=True)
    for leap, same in zip(found, wanted, strict=True):
        assert leap.size == pytest.approx(same.size, rel=1e-12)
        assert leap.times_noise == pytest.approx(same.times_noise, rel=1e-12)


def test_a_long_quiet_record_with_few_leaps_is_looked_at_in_few_places():
    random = np.random.default_rng(5)
    data = random.normal(0, 1, 60_000)
    data[10_000:] += 30
    data[[20_000, 20_001, 40_000]] += 50
    assert leaps.spikes(data, limit=8) == spikes(data, limit=8)
    assert len(leaps.spikes(data, limit=8)) == 2
    found = leaps.steps(data, limit=8, window=40)
    assert [leap.span.first for leap in found] == [9_999]
    assert [leap.span for leap in steps(data, limit=8, window=40)] == [Span(9_999, 10_000)]


@settings(max_examples=60, deadline=None)
@given(seed=st.integers(0, 2**32 - 1), holes=st.integers(0, 5))
def test_noise_of_many_windows_at_once_is_that_of_each(seed, holes):
    random = np.random.default_rng(seed)
    data = random.normal(0, random.uniform(0, 2, 40).repeat(100)).round(2)
    data[random.integers(0, data.size, holes)] = np.nan
    each = [noise_floor(part) for part in data.reshape(-1, 100)]
    found = steadiness._floors(data.reshape(-1, 100))
    assert np.array_equal(found, each, equal_nan=True)


@pytest.mark.parametrize("rows", [2000, 9001, 40_000])
@pytest.mark.parametrize("rate", [130.0, 512.0, 1000.0])
def test_spectrum_near_the_lines_is_that_of_a_general_library(rows, rate):
    random = np.random.default_rng(int(rate))
    data = np.sin(2 * np.pi * 50 * np.arange(rows) / rate) + random.normal(5, 1, rows)
    data += np.linspace(0, 40, rows)
    frequencies, power = hum._spectrum(data, rate, [50.0, 100.0, 150.0])
    size = min(1024, rows // 4)
    whole = np.array([data[k : k + size] for k in range(0, rows - size + 1, size // 2)])
    level = scipy.signal.detrend(whole, axis=1)
    bins, wanted = scipy.signal.periodogram(level, rate, "hann", axis=1)
    near = np.isfinite(power)
    assert near.any()
    assert frequencies == pytest.approx(bins)
    assert power[near] == pytest.approx(np.median(wanted, axis=0)[near], rel=1e-9)
