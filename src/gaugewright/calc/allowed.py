"""Which settings a calculation accepts: refused ones are named in one sentence."""

from collections.abc import Callable

import numpy as np
import numpy.typing as npt
from numpy.typing import ArrayLike

from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray

__all__ = ["not_negative", "positive", "within"]


def positive(name: str, value: ArrayLike, do: str = "") -> FloatArray:
    """A setting, or several, as an array; each must be a positive finite number.

    Parameters
    ----------
    name : str
        Of the setting, as its owner calls it.
    value : number or array
        NaN is refused: a missing setting is not a missing sample. In its owner's unit [1].
    do : str
        What the person can do about a refusal.

    Returns
    -------
    array shaped like ``value``
        The same numbers [1].

    Raises
    ------
    InputError
        Naming the setting and the first value refused.
    """
    return _kept(
        name, value, lambda number: (number > 0) & (number < np.inf), "a positive number", do
    )


def not_negative(name: str, value: ArrayLike, do: str = "") -> FloatArray:
    """A setting, or several, as an array; each must be zero or a positive finite number.

    Parameters
    ----------
    name : str
        Of the setting, as its owner calls it.
    value : number or array
        NaN is refused. In its owner's unit [1].
    do : str
        What the person can do about a refusal.

    Returns
    -------
    array shaped like ``value``
        The same numbers [1].

    Raises
    ------
    InputError
        Naming the setting and the first value refused.
    """
    return _kept(name, value, lambda number: (number >= 0) & (number < np.inf), "zero or more", do)


def within(
    name: str, value: ArrayLike, span: tuple[int | float, int | float], do: str = ""
) -> FloatArray:
    """A setting, or several, as an array; each must lie in a span, ends included.

    Parameters
    ----------
    name : str
        Of the setting, as its owner calls it.
    value : number or array
        NaN is refused. In its owner's unit [1].
    span : (lowest, highest)
        In the same unit [1].
    do : str
        What the person can do about a refusal.

    Returns
    -------
    array shaped like ``value``
        The same numbers [1].

    Raises
    ------
    InputError
        Naming the setting and the first value refused.
    """
    low, high = span
    allowed = f"from {low:g} to {high:g}"
    return _kept(name, value, lambda number: (number >= low) & (number <= high), allowed, do)


def _kept(
    name: str,
    value: ArrayLike,
    accepts: Callable[[FloatArray], npt.NDArray[np.bool_]],
    allowed: str,
    do: str,
) -> FloatArray:
    number = np.asarray(value, dtype=np.float64)
    accepted = accepts(number)
    if not np.all(accepted):
        raise InputError(name, number[~accepted].flat[0], allowed, do)
    return number
