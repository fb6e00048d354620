"""Uncertainty budgets: what one value's uncertainty is made of, and what would reduce it."""

import math
from dataclasses import dataclass

__all__ = ["Budget", "BudgetLine"]


@dataclass(frozen=True, slots=True)
class BudgetLine:
    """One cause: ``contribution`` = |sensitivity| times standard uncertainty, in the value's unit.

    ``input`` is empty for the independent noise of the reading.
    """

    input: str
    meaning: str
    basis: str
    standard_uncertainty: float
    degrees_of_freedom: float
    sensitivity: float
    contribution: float


@dataclass(frozen=True, slots=True)
class Budget:
    """A value, its uncertainty and the causes, the largest first."""

    value: float
    standard_uncertainty: float
    degrees_of_freedom: float
    coverage: float
    expanded: float
    lines: tuple[BudgetLine, ...]

    @property
    def dominant(self) -> BudgetLine | None:
        """The largest cause, or None when nothing contributes."""
        return self.lines[0] if self.lines and self.lines[0].contribution > 0 else None

    def share(self, line: BudgetLine) -> float:
        """Part of the variance that one line brings.

        Parameters
        ----------
        line : BudgetLine
            One of ``lines``.

        Returns
        -------
        float
            Between 0 and 1; 0 where there is no uncertainty at all [1].
        """
        if self.standard_uncertainty == 0:
            return 0.0
        return (line.contribution / self.standard_uncertainty) ** 2

    def with_half(self, line: BudgetLine) -> float:
        """Combined standard uncertainty if this one cause were halved.

        Parameters
        ----------
        line : BudgetLine
            One of ``lines``.

        Returns
        -------
        float
            In the unit of the value [1].
        """
        others = self.standard_uncertainty**2 - line.contribution**2
        return math.hypot(math.sqrt(max(others, 0.0)), line.contribution / 2)

    @property
    def assumed(self) -> tuple[BudgetLine, ...]:
        """Lines that stand on a value nobody measured or stated, the largest first."""
        return tuple(line for line in self.lines if line.basis == "assumed")
