"""Which settings a calculation accepts: refused ones are named in one sentence."""

from collections.abc import Callable
from types import TracebackType

import numpy as np
import numpy.typing as npt
from numpy.typing import ArrayLike

from gaugewright.errors import InputError, InputFaults
from gaugewright.quantities import FloatArray

__all__ = ["Together", "not_negative", "positive", "within"]


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


class Together:
    """Several settings looked at before anything is refused, so that all faults are told at once.

    Leaving the ``with`` block raises the one fault, or ``Faults`` that lists them all by name,
    value and what is allowed.

    Parameters
    ----------
    what : str
        What the settings belong to, for the heading of the list.

    Examples
    --------
    >>> with Together("wire") as given:
    ...     metres = given.not_negative("length", -1.0)
    ...     area = given.positive("cross_section", 0.0)
    Traceback (most recent call last):
    gaugewright.errors.InputFaults: wire: 2 things to mend
      length is -1.0; it must be zero or more
      cross_section is 0.0; it must be a positive number
    """

    def __init__(self, what: str) -> None:
        self.what = what
        self.faults: list[InputError] = []

    def __enter__(self) -> "Together":
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        if error is not None or not self.faults:
            return
        if len(self.faults) == 1:
            raise self.faults[0]
        raise InputFaults(self.what, self.faults)

    def positive(self, name: str, value: ArrayLike, do: str = "") -> FloatArray:
        """As ``positive``, the refusal kept for the end of the block.

        Parameters
        ----------
        name : str
            Of the setting.
        value : number or array
            In its owner's unit [1].
        do : str
            What the person can do about a refusal.

        Returns
        -------
        array shaped like ``value``
            The same numbers; NaN where refused, never used since the block raises [1].
        """
        return self._kept(value, lambda: positive(name, value, do))

    def not_negative(self, name: str, value: ArrayLike, do: str = "") -> FloatArray:
        """As ``not_negative``, the refusal kept for the end of the block.

        Parameters
        ----------
        name : str
            Of the setting.
        value : number or array
            In its owner's unit [1].
        do : str
            What the person can do about a refusal.

        Returns
        -------
        array shaped like ``value``
            The same numbers; NaN where refused, never used since the block raises [1].
        """
        return self._kept(value, lambda: not_negative(name, value, do))

    def within(
        self, name: str, value: ArrayLike, span: tuple[int | float, int | float], do: str = ""
    ) -> FloatArray:
        """As ``within``, the refusal kept for the end of the block.

        Parameters
        ----------
        name : str
            Of the setting.
        value : number or array
            In its owner's unit [1].
        span : (lowest, highest)
            In the same unit [1].
        do : str
            What the person can do about a refusal.

        Returns
        -------
        array shaped like ``value``
            The same numbers; NaN where refused, never used since the block raises [1].
        """
        return self._kept(value, lambda: within(name, value, span, do))

    def finite(self, name: str, value: ArrayLike, do: str = "") -> bool:
        """Whether every number is finite, the refusal kept for the end of the block.

        Parameters
        ----------
        name : str
            Of the setting.
        value : number or array
            In its owner's unit [1].
        do : str
            What the person can do about a refusal.

        Returns
        -------
        bool
            So that what rests on the numbers can be left out where they aren't there.
        """
        number = np.asarray(value, dtype=np.float64)
        good = np.isfinite(number)
        whole = bool(np.all(good))
        wrong = None if whole else number[~good].flat[0]
        self.holds(name, wrong, "a finite number", if_=whole, do=do)
        return whole

    def holds(self, name: str, value: object, allowed: str, *, if_: bool, do: str = "") -> None:
        """Keep a refusal of its own kind unless ``if_`` holds.

        Parameters
        ----------
        name : str
            Of the setting.
        value : object
            As it came.
        allowed : str
            In words.
        if_ : bool
            Whether the value can be used.
        do : str
            What the person can do about a refusal.
        """
        if not if_:
            self.faults.append(InputError(name, value, allowed, do))

    def _kept(self, value: ArrayLike, check: Callable[[], FloatArray]) -> FloatArray:
        try:
            return check()
        except InputError as fault:
            self.faults.append(fault)
            return np.full(np.shape(value), np.nan)
