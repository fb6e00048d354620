"""Does the mains hum in a series, at its own frequency or folded to a lower one by the sampling?"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import scipy.signal
from numpy.typing import ArrayLike

from gaugewright.calc.allowed import Together
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray

__all__ = ["Hum", "alias", "line_strength", "mains_hum"]

HARMONICS = (1, 2, 3)
# Mains frequency of a large grid stays within this share of its nominal value nearly always
# (EN 50160: 1 % for 99.5 % of a year, from memory).
TOLERANCE = 0.01
_WINDOW = 1024
_FEWEST_WINDOWS = 4
_SLOWEST = 20  # lines nearer to zero than so many bins can't be told from drift
_BESIDE = 24  # bins on either side of a slow line: loading has most power next to zero


@dataclass(frozen=True, slots=True)
class Hum:
    """A line where the mains or a harmonic stands or is folded to.

    ``amplitude`` in the readings' unit, ``frequency`` as found [Hz], ``harmonic`` of the mains,
    ``folded`` when the sampling put it there, ``slow`` where the grid's wandering may fold it as
    far as zero frequency: there a load that goes to and fro looks the same.
    """

    frequency: float
    harmonic: int
    folded: bool
    amplitude: float
    times_noise: float
    slow: bool = False


def alias(frequency: float, sampling_rate: float) -> float:
    """Frequency at which a line shows when it is sampled at an even rate.

    Folding about multiples of half the rate: |f - fs round(f / fs)|.

    Parameters
    ----------
    frequency : float
        Of the line itself [Hz].
    sampling_rate : float
        Readings a second [Hz].

    Returns
    -------
    float
        Between zero and half the sampling rate [Hz].

    Raises
    ------
    InputError
        If either isn't a positive number; both are named.

    Examples
    --------
    >>> alias(50.0, 48.0), alias(50.0, 1000.0), alias(50.0, 10.0)
    (2.0, 50.0, 0.0)
    """
    with Together("sampling") as given:
        given.positive("frequency", frequency)
        given.positive("sampling_rate", sampling_rate)
    return abs(frequency - sampling_rate * round(frequency / sampling_rate))


def mains_hum(
    values: ArrayLike, sampling_rate: float, *, mains_frequency: float, limit: float
) -> tuple[Hum, ...]:
    """Lines of the mains and its first harmonics that stand out of the noise around them.

    The median of the spectra of overlapping windows is taken, so that a passing event makes no
    line; a line counts when its power is ``limit`` times the median of its neighbourhood. Where
    a fold may fall as far as zero frequency (the grid's frequency wanders by a hundredth), hum and
    slow loading look the same: such a line is ``slow``, and is hum only where the load has none
    (``line_strength``). Next to zero itself nothing is found: sample at another rate for that.
    The amplitude follows from the power of a Hann-windowed sine over its three bins.

    Parameters
    ----------
    values : array, shape (n_samples,)
        Evenly sampled readings in any one unit, NaN where missing [1].
    sampling_rate : float
        Readings a second [Hz].
    mains_frequency : float
        Nominal, 50 or 60 [Hz].
    limit : float
        How many times the usual power around it a line has at least [1].

    Returns
    -------
    tuple of Hum
        The strongest first; amplitudes in the readings' unit [1].

    Raises
    ------
    InputError
        If a setting isn't a positive number; all that aren't are named.
    """
    with Together("hum") as given:
        given.positive("sampling_rate", sampling_rate)
        given.positive("mains_frequency", mains_frequency)
        given.positive("limit", limit)
    data = np.asarray(values, dtype=np.float64)
    lines = [harmonic * mains_frequency for harmonic in HARMONICS]
    spectrum = _spectrum(data, sampling_rate, lines)
    if spectrum is None:
        return ()
    frequencies, power = spectrum
    found: list[Hum] = []
    for harmonic in HARMONICS:
        nominal = harmonic * mains_frequency
        hum = _line((frequencies, power), sampling_rate, nominal, limit, harmonic)
        if hum is not None and all(
            abs(hum.frequency - h.frequency) > 2 * frequencies[1] for h in found
        ):
            found.append(hum)
    return tuple(sorted(found, key=lambda hum: -hum.amplitude))


def _spectrum(
    data: FloatArray, sampling_rate: float, lines: list[float]
) -> tuple[FloatArray, FloatArray] | None:
    """Median spectrum over windows without a missing reading; None with too few of them.

    Only near the lines, NaN elsewhere: a median over thousands of windows takes its time.
    """
    size = min(_WINDOW, len(data) // _FEWEST_WINDOWS)
    if size < 64:
        return None
    frequencies = np.asarray(np.fft.rfftfreq(size, 1 / sampling_rate), dtype=np.float64)
    asked = np.zeros(frequencies.size, dtype=bool)
    for nominal in lines:
        low, high, reach = _searched(nominal, sampling_rate, frequencies)
        if _SLOWEST <= low <= high:
            asked[max(low - _wide(reach), 0) : high + _wide(reach) + 1] = True
        elif _is_slow(low, high):
            asked[1 : high + _BESIDE + 1] = True
    power = _median_spectrum(data, size, asked)
    return None if power is None else (frequencies, power / sampling_rate)


def _median_spectrum(
    data: FloatArray, size: int, asked: npt.NDArray[np.bool_]
) -> FloatArray | None:
    """Median of the power of windows without a missing reading, NaN where it isn't asked for."""
    if size < 64 or not asked.any():
        return None
    windows = np.lib.stride_tricks.sliding_window_view(data, size)[:: size // 2]
    whole = np.flatnonzero([np.isfinite(window).all() for window in windows])
    if len(whole) < _FEWEST_WINDOWS:
        return None
    power = np.full(asked.size, np.nan)
    power[asked] = np.median(_powers(windows, whole, asked), axis=1)
    return power


def _powers(
    windows: FloatArray, whole: npt.NDArray[np.int64], asked: npt.NDArray[np.bool_]
) -> FloatArray:
    """Power in the asked bins of every whole window, its straight line taken out, a row a bin."""
    size = windows.shape[1]
    place = np.arange(size) - (size - 1) / 2
    hann = scipy.signal.get_window("hann", size)
    double = np.where((np.arange(asked.size) == 0) | (np.arange(asked.size) * 2 == size), 1, 2)
    scale = (double / np.sum(hann**2))[asked, np.newaxis]
    found = np.empty((int(asked.sum()), len(whole)))
    for begin in range(0, len(whole), 64):  # few enough to stay near the processor
        part = windows[whole[begin : begin + 64]]
        part -= part.mean(axis=1, keepdims=True)
        part -= (part @ place / np.sum(place**2))[:, np.newaxis] * place
        part -= part.mean(axis=1, keepdims=True)
        lines = np.fft.rfft(part * hann, axis=1)[:, asked].T
        found[:, begin : begin + 64] = (lines.real**2 + lines.imag**2) * scale
    return found


def _searched(
    nominal: float, sampling_rate: float, frequencies: FloatArray
) -> tuple[int, int, int]:
    """First and last bin in which a line may stand, and how far it may wander."""
    bins = frequencies[1]
    reach = max(2, int(np.ceil(TOLERANCE * nominal / bins)))
    centre = round(alias(nominal, sampling_rate) / bins)
    return centre - reach, min(centre + reach, len(frequencies) - 2), reach


def _wide(reach: int) -> int:
    """Bins on either side of a peak whose power is usual."""
    return 4 * reach + 20


def _line(
    spectrum: tuple[FloatArray, FloatArray],
    sampling_rate: float,
    nominal: float,
    limit: float,
    harmonic: int,
) -> Hum | None:
    frequencies, power = spectrum
    bins = frequencies[1]
    low, high, reach = _searched(nominal, sampling_rate, frequencies)
    if _is_slow(low, high):
        return _slow_line(spectrum, high, limit, harmonic)
    if low < _SLOWEST or low > high:
        return None  # next to zero: drift would look the same
    peak = low + int(np.argmax(power[low : high + 1]))
    if not power[peak] >= max(power[peak - 1], power[peak + 1]):
        return None  # the slope of something slower
    wide = slice(max(_SLOWEST, peak - _wide(reach)), peak + _wide(reach))
    usual = float(np.median(power[wide]))
    if usual <= 0 or power[peak] < limit * usual:
        return None
    folded = bool(nominal > sampling_rate / 2)
    times = float(power[peak] / usual)
    amplitude = _amplitude(power, peak, usual, bins)
    return Hum(float(frequencies[peak]), harmonic, folded, amplitude, times)


def _amplitude(power: FloatArray, peak: int, usual: float, bins: float) -> float:
    above = np.maximum(power[peak - 1 : peak + 2] - usual, 0)
    return float(np.sqrt(2 * bins * above.sum()))


def _is_slow(low: int, high: int) -> bool:
    """Whether a line may stand next to zero, and may as well stand where it can be seen."""
    return low < _SLOWEST and high >= 2 * _SLOWEST


def _beside(power: FloatArray, place: int) -> float:
    """Usual power round a bin: of as many bins before it as after it, for power falls steeply."""
    reach = min(_BESIDE, place - 1, power.size - 1 - place)
    return float(np.median(power[place - reach : place + reach + 1]))


def _slow_line(
    spectrum: tuple[FloatArray, FloatArray], high: int, limit: float, harmonic: int
) -> Hum | None:
    """The line that stands out most of the power beside it, which is of the loading mostly."""
    frequencies, power = spectrum
    places = np.arange(_SLOWEST, high + 1)
    tops = places[
        (power[places] >= power[places - 1]) & (power[places] >= power[places + 1])
    ].tolist()
    usual = {place: _beside(power, place) for place in tops}
    known = [place for place in tops if usual[place] > 0]
    if not known:
        return None
    peak = max(known, key=lambda place: power[place] / usual[place])
    times = float(power[peak] / usual[peak])
    if times < limit:
        return None
    amplitude = _amplitude(power, peak, usual[peak], float(frequencies[1]))
    return Hum(float(frequencies[peak]), harmonic, True, amplitude, times, slow=True)


def line_strength(values: ArrayLike, sampling_rate: float, *, frequency: float) -> float:
    """Power at a frequency over the usual power beside it: about 1 where there is no line.

    Of the same median spectrum in which ``mains_hum`` looks; the strongest of the bins next to
    the frequency counts, so that a line that fell between two bins isn't overlooked.

    Parameters
    ----------
    values : array, shape (n_samples,)
        Evenly sampled, in any one unit, NaN where missing [1].
    sampling_rate : float
        Samples a second [Hz].
    frequency : float
        Where it is looked for, below half the sampling rate [Hz].

    Returns
    -------
    float
        NaN with too few unbroken windows, or where nothing moves at all [1].

    Raises
    ------
    InputError
        If a setting isn't a positive number, or the frequency can't be seen at that rate.
    """
    with Together("line") as given:
        given.positive("sampling_rate", sampling_rate)
        given.positive("frequency", frequency)
        if frequency > sampling_rate / 2:
            allowed = f"at most {sampling_rate / 2:g}, half the sampling rate"
            given.faults.append(InputError("frequency", frequency, allowed))
    data = np.asarray(values, dtype=np.float64)
    size = min(_WINDOW, len(data) // _FEWEST_WINDOWS)
    found = _median_spectrum(data, size, np.ones(size // 2 + 1, dtype=bool))
    if found is None:
        return float("nan")
    place = min(max(round(frequency * size / sampling_rate), 3), size // 2 - 3)
    usual = _beside(found, place)
    return float(found[place - 2 : place + 3].max() / usual) if usual > 0 else float("nan")
