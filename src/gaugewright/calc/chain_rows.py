"""Rows for a chain: steps ready to run, and readings and columns laid out for them."""

from collections import OrderedDict
from collections.abc import Callable, Hashable, Iterable, Mapping
from threading import Lock
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from gaugewright.calc.chain_parts import Influence
from gaugewright.calc.stage_kinds import Columns, StageKind, Values
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray

__all__ = ["Shared", "Step", "columns_of", "finite", "laid_out"]


class Step(NamedTuple):
    """A stage that is on: its kind, its numbers and all that disturbs them."""

    kind: StageKind
    values: Values
    influences: tuple[Influence, ...]


class Shared:
    """What stages work out without the reading, kept for the next channels of the same rows.

    It knows a column by being the same array, not by its numbers; the last few parts are kept,
    so that channels with numbers of their own cost no memory. Several threads may share one.
    """

    def __init__(self, at_most: int = 16) -> None:
        self._at_most = at_most
        self._parts: OrderedDict[Hashable, tuple[tuple[object, ...], FloatArray]] = OrderedDict()
        self._lock = Lock()

    def part(
        self, step: Step, held: tuple[object, ...], work_out: Callable[[], FloatArray]
    ) -> FloatArray:
        """What a step works out without the reading, from here or worked out now.

        Parameters
        ----------
        step : Step
            With a split.
        held : tuple
            The columns it is worked out from, as they were given.
        work_out : callable
            Does it.

        Returns
        -------
        array
            Not to be written into [1].
        """
        key = (step.kind.name, tuple(step.values.items()), tuple(id(one) for one in held))
        with self._lock:
            known = self._parts.get(key)
        if known is not None:  # the columns are held here, so that no other array has their id
            return known[1]
        value = work_out()
        with self._lock:
            self._parts[key] = held, value
            while len(self._parts) > self._at_most:
                self._parts.popitem(last=False)
        return value


def columns_of(steps: Iterable[Step]) -> tuple[str, ...]:
    """Names of the columns that some steps need, each once.

    Parameters
    ----------
    steps : iterable of Step
        In order.

    Returns
    -------
    tuple of str
        In the order they are first needed.
    """
    return tuple(dict.fromkeys(name for step in steps for name in step.kind.columns))


def laid_out(
    reading: ArrayLike, columns: Mapping[str, ArrayLike], steps: Iterable[Step]
) -> tuple[FloatArray, Columns]:
    """Reading and needed columns as contiguous numbers of one shape, or single numbers.

    Contiguous, because numpy may take another route through memory that isn't, and the last bit
    would then depend on how the rows were cut.

    Parameters
    ----------
    reading : array of any shape
        As it came [1].
    columns : mapping of name to array
        At least those that the steps need.
    steps : iterable of Step
        That will be run.

    Returns
    -------
    reading : array
        Of the same shape [1].
    columns : mapping of name to array
        Only what is needed [1].

    Raises
    ------
    InputError
        If a column is missing or of another shape.
    """
    given = np.ascontiguousarray(reading, dtype=np.float64).reshape(np.shape(reading))
    needed = columns_of(steps)
    missing = [name for name in needed if name not in columns]
    if missing:
        raise InputError(
            "columns",
            ", ".join(columns) or "empty",
            "complete: " + ", ".join(missing) + " is missing",
            "bring that column in, or switch the stage that needs it off with a reason",
        )
    beside = {}
    for name in needed:
        shape = np.shape(columns[name])
        column = np.ascontiguousarray(columns[name], dtype=np.float64).reshape(shape)
        if column.ndim and column.shape != given.shape:
            raise InputError(f"shape of {name}", shape, f"{given.shape}, or one number")
        beside[name] = column
    return given, beside


def finite(value: FloatArray, shape: tuple[int, ...]) -> FloatArray:
    """A copy in which an infinite value is a missing one.

    Parameters
    ----------
    value : array
        What a stage gave [1].
    shape : tuple of int
        Of the reading.

    Returns
    -------
    array
        Of that shape [1].
    """
    return np.where(np.isfinite(value), value, np.nan).reshape(shape)
