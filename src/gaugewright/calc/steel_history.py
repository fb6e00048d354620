"""Stress of steel that is loaded beyond yield and unloaded, along a record in time."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from numpy.typing import ArrayLike

from gaugewright.calc import allowed
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray

__all__ = ["SteelState", "stress_along", "unloaded_strain"]


@dataclass(frozen=True, slots=True)
class SteelState:
    """What the steel remembers at the end of a block of a record.

    Attributes
    ----------
    highest : array, shape (...)
        Highest mechanical strain so far, zero at least [1].
    lowest : array, shape (...)
        Lowest so far, zero at most [1].
    reversed : array of bool, shape (...)
        Whether it has yielded back, after which this law knows no stress.
    """

    highest: FloatArray
    lowest: FloatArray
    reversed: npt.NDArray[np.bool_]


def stress_along(
    strain: ArrayLike,
    first_loading: Callable[[FloatArray], FloatArray],
    elastic_modulus: float,
    yield_strength: float,
    state: SteelState | None = None,
) -> tuple[FloatArray, SteelState]:
    """Stress along a record: the curve of first loading, and straight lines of slope E back.

    σ = σ(ε_max) - E (ε_max - ε) below the highest strain so far, likewise upside down for steel
    that yields in compression first. Good for loading with unloading; after yielding the other way
    the stress depends on more than this law holds, and is NaN from there on. Reverse yield is put
    at 2 f_y below the highest stress, the range of kinematic hardening: real steel rounds off
    earlier (Bauschinger), so within the last third of that range expect to overstate stress.

    Parameters
    ----------
    strain : array, shape (n_samples, ...)
        Mechanical strain in order of time. A missing sample is NaN and is passed over; a maximum
        that fell into a gap is not known [1].
    first_loading : function of strain
        Gives stress on first loading, odd in strain: ``bilinear_stress`` or ``measured_stress``
        with its properties bound; its initial slope must be ``elastic_modulus``.
    elastic_modulus : float
        Slope of unloading [Pa].
    yield_strength : float
        Half the elastic range [Pa].
    state : SteelState, optional
        Of the block before; virgin steel when left out.

    Returns
    -------
    stress : array shaped like ``strain``
        Tension positive; NaN from reverse yield on [Pa].
    SteelState
        To be handed to the next block: cutting a record changes nothing [1].

    Raises
    ------
    InputError
        If a property isn't positive, or the record has no time axis.

    Examples
    --------
    >>> from functools import partial
    >>> from gaugewright.calc.steel import bilinear_stress
    >>> law = partial(bilinear_stress, elastic_modulus=200e9, yield_strength=500e6)
    >>> stress, _ = stress_along([0.0, 0.004, 0.0035], law, 200e9, 500e6)
    >>> (stress / 1e6).round(6).tolist()
    [0.0, 500.0, 400.0]
    """
    with allowed.Together("steel") as given:
        given.positive("elastic_modulus", elastic_modulus)
        given.positive("yield_strength", yield_strength)
    value = np.asarray(strain, dtype=np.float64)
    if value.ndim == 0:
        raise InputError("strain", value, "a record, time along its first axis")
    before = _virgin(value.shape[1:]) if state is None else state
    # fmax and fmin pass over missing samples.
    highest = np.fmax.accumulate(np.concatenate([before.highest[np.newaxis], value]))[1:]
    lowest = np.fmin.accumulate(np.concatenate([before.lowest[np.newaxis], value]))[1:]
    top, bottom = first_loading(highest), first_loading(lowest)
    # Before any reverse yield only one of the two has left the elastic line.
    plastic = (highest - top / elastic_modulus) + (lowest - bottom / elastic_modulus)
    stress = elastic_modulus * (value - plastic)
    band = 2 * yield_strength * (1 + 1e-9)
    # An elastic excursion to the other side moves no yield point.
    pulled, pushed = (
        way * elastic_modulus > yield_strength * (1 + 1e-9) for way in (highest, -lowest)
    )
    back = (pulled & (stress < top - band)) | (pushed & (stress > bottom + band))
    turned = np.logical_or.accumulate(np.concatenate([before.reversed[np.newaxis], back]), axis=0)[
        1:
    ]
    if value.shape[0] == 0:
        return stress, before
    return np.where(turned, np.nan, stress), SteelState(highest[-1], lowest[-1], turned[-1])


def unloaded_strain(strain: ArrayLike, stress: ArrayLike, elastic_modulus: ArrayLike) -> FloatArray:
    """Strain that stays after unloading along the elastic slope: ε - σ / E.

    Parameters
    ----------
    strain : array of any shape
        Mechanical strain where unloading begins [1].
    stress : array of any shape
        There [Pa].
    elastic_modulus : float or array
        Slope of unloading [Pa].

    Returns
    -------
    plastic_strain : array of the broadcast shape
        Left at zero stress [1].

    Raises
    ------
    InputError
        If the modulus isn't positive.
    """
    modulus = allowed.positive("elastic_modulus", elastic_modulus)
    return np.asarray(np.asarray(strain, dtype=np.float64) - np.asarray(stress) / modulus)


def _virgin(shape: tuple[int, ...]) -> SteelState:
    return SteelState(np.zeros(shape), np.zeros(shape), np.zeros(shape, dtype=np.bool_))
