"""What range a channel needs, the smallest step it shows, and the noise it can't go below."""

import numpy as np
from numpy.typing import ArrayLike

from gaugewright.calc import allowed, bridge
from gaugewright.quantities import Constant, FloatArray

__all__ = [
    "BOLTZMANN",
    "amplifier_noise",
    "johnson_noise",
    "noise_of_parts",
    "range_needed",
    "ratio_step",
    "strain_of_ratio",
]

BOLTZMANN = Constant(
    1.380649e-23, "J/K", 0.0, "SI Brochure, 9th ed. (2019), 2.2: exact by definition"
)


def range_needed(
    strains: ArrayLike,
    gauge_factor: ArrayLike,
    resistance_offset: ArrayLike = 0.0,
    bridge_factor: float = 1.0,
) -> FloatArray:
    """Largest output, either way, that a channel must take without clipping.

    One active arm (``bridge_factor`` 1) is exact: the arm has changed by (1 + x0)(1 + kε) - 1.
    For more arms the straight line B/4 of that stands in, too small by half the change of the arm
    at most: 0.5 % at a strain of 0.005. The offset is wanted both ways, since nobody knows on
    which side of its nominal value a gauge will lie.

    Parameters
    ----------
    strains : array, shape (..., n)
        Expected extremes, tension positive; the last axis is searched for the widest [1].
    gauge_factor : float or array
        Of the gauge [1].
    resistance_offset : float or array
        Largest relative difference between gauge and completion before loading: tolerance of
        the gauge, of the completion, and 2r/R for two-wire leads [1].
    bridge_factor : float
        Number of active arms: 1, 2, 1 + ν, ... [1].

    Returns
    -------
    bridge_ratio : array, shape (...)
        Without margin; NaN where the arm would be shorted [V/V].

    Raises
    ------
    InputError
        If a setting is impossible.
    Faults
        If several are.

    Examples
    --------
    >>> (range_needed([-500e-6, 3000e-6], 2.0, 0.003) * 1e3).round(3).item()
    2.244
    """
    with allowed.Together("range of a channel") as given:
        factor = given.positive("gauge_factor", gauge_factor)
        offset = given.within("resistance_offset", resistance_offset, (0.0, 0.9))
        arms = given.positive("bridge_factor", bridge_factor)
    strain = np.asarray(strains, dtype=np.float64)
    strain = strain[..., np.newaxis] if strain.ndim == 0 else strain
    changes = [(1 + side * offset) * (1 + factor * strain) - 1 for side in (-1.0, 1.0)]
    if np.all(arms == 1):
        ratios = [bridge.quarter_bridge_ratio(change) for change in changes]
    else:
        ratios = [arms / 4 * (1 + side * offset) * factor * strain for side in (-1.0, 1.0)]
        ratios = [np.abs(ratio) + offset / 4 for ratio in ratios]
    return np.asarray(np.abs(np.stack(ratios)).max(axis=(0, -1)))


def ratio_step(full_scale_ratio: ArrayLike, bits: int, *, two_sided: bool = True) -> FloatArray:
    """Output that one count of an analogue to digital converter stands for.

    Its own standard uncertainty, if nothing else blurs it, is the step over the root of 12.

    Parameters
    ----------
    full_scale_ratio : float or array
        Largest output of the range [V/V].
    bits : int
        Of the converter; the *noise-free* ones, not those on the front page [1].
    two_sided : bool
        Whether the range runs from minus to plus full scale.

    Returns
    -------
    bridge_ratio : array shaped like ``full_scale_ratio``
        One count [V/V].

    Raises
    ------
    InputError
        If a setting is impossible.
    Faults
        If several are.

    Examples
    --------
    >>> ratio_step(2e-3, 16).item() == 4e-3 / 65536
    True
    """
    with allowed.Together("converter") as given:
        full = given.positive("full_scale_ratio", full_scale_ratio)
        given.holds("bits", bits, "a whole number from 1 to 32", if_=1 <= bits <= 32)
    return np.asarray((2.0 if two_sided else 1.0) * full / 2.0**bits)


def strain_of_ratio(
    bridge_ratio: ArrayLike, gauge_factor: ArrayLike, bridge_factor: ArrayLike = 1.0
) -> FloatArray:
    """Small step or noise of the output as strain, about zero: 4r / (k B).

    Parameters
    ----------
    bridge_ratio : array of any shape
        Step, or standard deviation, of the output over excitation [V/V].
    gauge_factor : float or array
        Of the gauge [1].
    bridge_factor : float or array
        Number of active arms [1].

    Returns
    -------
    strain : array of the broadcast shape
        Of one arm [1].

    Raises
    ------
    InputError
        If a setting isn't positive.
    Faults
        If several aren't.

    Examples
    --------
    >>> (strain_of_ratio(ratio_step(2e-3, 16), 2.0) * 1e6).round(3).item()
    0.122
    """
    with allowed.Together("strain of an output") as given:
        factor = given.positive("gauge_factor", gauge_factor)
        arms = given.positive("bridge_factor", bridge_factor)
    return np.asarray(4 * np.asarray(bridge_ratio, dtype=np.float64) / (factor * arms))


def johnson_noise(
    resistance: ArrayLike, bandwidth: ArrayLike, temperature_degc: ArrayLike = 25.0
) -> FloatArray:
    """Thermal noise voltage of a resistance, root mean square: sqrt(4 k T R B).

    Source: Johnson (1928) and Nyquist (1928); four arms of R look like one R from the signal
    corners. No instrument can do better with the same excitation and bandwidth.

    Parameters
    ----------
    resistance : float or array
        Between the signal corners [ohm].
    bandwidth : float or array
        Equivalent noise bandwidth: 1.57 times the cut-off of one simple filter stage [Hz].
    temperature_degc : float or array
        Of the resistance [degC].

    Returns
    -------
    voltage : array of the broadcast shape
        Standard deviation [V].

    Raises
    ------
    InputError
        If a setting is impossible.
    Faults
        If several are.

    Examples
    --------
    >>> (johnson_noise(350.0, 100.0) * 1e9).round(1).item()
    24.0
    """
    with allowed.Together("thermal noise") as given:
        ohms = given.not_negative("resistance", resistance)
        width = given.not_negative("bandwidth", bandwidth)
        kelvin = np.asarray(temperature_degc, dtype=np.float64) + 273.15
        given.not_negative("temperature_degc + 273.15", kelvin)
    return np.asarray(np.sqrt(4 * BOLTZMANN.value * kelvin * ohms * width))


def amplifier_noise(
    noise_density: ArrayLike,
    lowest_frequency: ArrayLike,
    highest_frequency: ArrayLike,
    corner_frequency: ArrayLike = 0.0,
) -> FloatArray:
    """Noise voltage of an amplifier, referred to its input, between two frequencies.

    Density e² (1 + f_c/f) integrated: e sqrt(f2 - f1 + f_c ln(f2/f1)). A record of length T sees
    nothing slower than about 1/T; without that lower limit the flicker part has no end.

    Parameters
    ----------
    noise_density : float or array
        White part, referred to the input [V/Hz^0.5].
    lowest_frequency : float or array
        Of the band, one over the length of the record; zero only without flicker part [Hz].
    highest_frequency : float or array
        Of the band [Hz].
    corner_frequency : float or array
        Where flicker noise is as strong as white noise; zero without any [Hz].

    Returns
    -------
    voltage : array of the broadcast shape
        Standard deviation [V].

    Raises
    ------
    InputError
        If a setting is impossible.
    Faults
        If several are.

    Examples
    --------
    >>> (amplifier_noise(10e-9, 0.0, 100.0) * 1e9).round(1).item()
    100.0
    """
    with allowed.Together("amplifier noise") as given:
        density = given.not_negative("noise_density", noise_density)
        low = given.not_negative("lowest_frequency", lowest_frequency)
        high = given.positive("highest_frequency", highest_frequency)
        corner = given.not_negative("corner_frequency", corner_frequency)
        given.holds(
            "lowest_frequency",
            lowest_frequency,
            "not above highest_frequency",
            if_=bool(np.all(~(low > high))),
        )
        endless = bool(np.any((corner > 0) & (low == 0)))
        given.holds(
            "lowest_frequency",
            lowest_frequency,
            "above 0 where there is a flicker part",
            if_=not endless,
            do="give one over the length of the record",
        )
    with np.errstate(divide="ignore", invalid="ignore"):
        flicker = np.where(corner > 0, corner * np.log(high / low), 0.0)
    return np.asarray(density * np.sqrt(high - low + flicker))


def noise_of_parts(*noises: ArrayLike) -> FloatArray:
    """Noise of independent sources: root of the sum of squares.

    Parameters
    ----------
    *noises : float or array
        Standard deviations in one unit [1].

    Returns
    -------
    noise : array of the broadcast shape
        Standard deviation of their sum, in that unit [1].
    """
    total = np.zeros(())
    for noise in noises:
        total = total + np.asarray(noise, dtype=np.float64) ** 2
    return np.asarray(np.sqrt(total))
