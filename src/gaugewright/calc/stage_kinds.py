"""What a stage of the correction chain is made of, and the list of all kinds ever released.

A kind is never changed once a campaign may have used it: a better formula gets the next number,
and the old one stays executable, so that an archived result can be recomputed.
"""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TypeAlias

from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray

__all__ = ["SLOTS", "Columns", "Parameter", "Partials", "Split", "StageKind", "Values", "no_check"]

# The fixed order: each later stage assumes that the earlier ones are done.
SLOTS = (
    "integrity",
    "reading",
    "bridge",
    "reference",
    "lead",
    "gauge factor",
    "large strain",
    "installation",
    "alignment",
    "transverse",
    "temperature",
    "lead temperature",
    "drift",
    "zero stability",
    "drift allowance",
    "insulation",
    "section",
    "initial strain",
)

# Plain numbers; Monte Carlo puts an array of draws in the place of each disturbed one.
Values: TypeAlias = Mapping[str, float]
Columns: TypeAlias = Mapping[str, FloatArray]
# Derivative by the value that enters, and by each parameter or column that may be uncertain.
Partials: TypeAlias = tuple[FloatArray, dict[str, FloatArray]]

_ALLOWED: dict[str, Callable[[float], bool]] = {
    "a finite number": math.isfinite,
    "a positive number": lambda value: 0 < value < math.inf,
    "0 or more": lambda value: 0 <= value < math.inf,
    "from 0 to 0.5": lambda value: 0 <= value <= 0.5,
}


@dataclass(frozen=True, slots=True)
class Parameter:
    """A plain number that a stage needs. ``fixed``: a choice, not a measured value."""

    name: str
    unit: str
    meaning: str
    allowed: str = "a finite number"
    fixed: bool = False

    def check(self, kind: str, value: float) -> None:
        """Refuse a value that this parameter can't have.

        Parameters
        ----------
        kind : str
            Of the stage, for the sentence.
        value : float
            In ``unit`` [1].

        Raises
        ------
        InputError
            Naming the stage and the parameter.
        """
        if not _ALLOWED[self.allowed](value):
            raise InputError(f"{kind}: {self.name}", value, f"{self.allowed} [{self.unit}]")


def no_check(values: Values) -> None:
    """Nothing to compare between the parameters of this kind."""


@dataclass(frozen=True, slots=True)
class Split:
    """A formula in two steps: what doesn't touch the reading, and the reading put to that.

    Channels with the same numbers and the same columns share the first step, which with a
    temperature for each sample is most of the work.
    """

    ahead: Callable[[Values, Columns], FloatArray]
    onto: Callable[[FloatArray, FloatArray], FloatArray]


@dataclass(frozen=True, slots=True)
class StageKind:
    """One formula of the chain: name with number, its place, what it needs, and how it is done.

    ``value`` and ``partials`` are pure; ``stops`` says in words when a sample becomes NaN;
    ``check`` compares parameters with each other. ``role`` says how blocks of rows may be cut:
    every kind so far is element-wise. ``split`` gives ``value`` to the last bit, in two steps.
    """

    name: str
    slot: str
    summary: str
    parameters: tuple[Parameter, ...]
    value: Callable[[FloatArray, Values, Columns], FloatArray]
    partials: Callable[[FloatArray, Values, Columns], Partials]
    columns: tuple[str, ...] = ()
    stops: str = ""
    check: Callable[[Values], None] = no_check
    role: str = "element-wise"
    split: Split | None = None

    @property
    def uncertain_names(self) -> tuple[str, ...]:
        """Parameters and columns that an influence may act on."""
        return (*(p.name for p in self.parameters if not p.fixed), *self.columns)
