"""What a chain is made of: stages of plain numbers, and what disturbs those numbers."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from gaugewright.errors import InputError

__all__ = ["Influence", "Stage"]


@dataclass(frozen=True, slots=True)
class Influence:
    """How an input disturbs a parameter: parameter = stated value + coefficient × input.

    ``parameter`` may also be the name of a column, all of whose rows are then disturbed alike.
    """

    parameter: str
    input_name: str
    coefficient: float = 1.0

    def __post_init__(self) -> None:
        if not math.isfinite(self.coefficient):
            raise InputError(f"coefficient on {self.parameter}", self.coefficient, "finite")


@dataclass(frozen=True, slots=True)
class Stage:
    """One correction of a chain: kind with number, a switch with a reason, plain numbers.

    Parameters are kept sorted by name, so that a stage read back is equal to the one written.
    """

    kind: str
    on: bool
    reason: str
    parameters: tuple[tuple[str, float], ...]
    influences: tuple[Influence, ...] = ()

    def __post_init__(self) -> None:
        names = [name for name, _ in self.parameters]
        twice = sorted({name for name in names if names.count(name) > 1})
        if twice:
            raise InputError(f"{self.kind}: parameters", ", ".join(twice), "given once each")
        ordered = tuple(sorted((name, float(value)) for name, value in self.parameters))
        object.__setattr__(self, "parameters", ordered)
        if not self.on and not self.reason.strip():
            raise InputError(
                f"{self.kind}: reason", self.reason, "given for a stage that is off", "say why"
            )

    @classmethod
    def of(
        cls,
        kind: str,
        *,
        on: bool = True,
        reason: str = "",
        influences: Sequence[Influence] = (),
        **parameters: float,
    ) -> "Stage":
        """A stage with its parameters named.

        Parameters
        ----------
        kind : str
            Name with number.
        on : bool
            Whether it is applied.
        reason : str
            Why; needed when it is off.
        influences : sequence of Influence
            What disturbs its parameters.
        **parameters : float
            Every number that the kind needs.

        Returns
        -------
        Stage
            Checked against its kind when it is put into a chain.

        Examples
        --------
        >>> Stage.of("shunt scaling@1", shunt_factor=1.002).parameters
        (('shunt_factor', 1.002),)
        """
        return cls(kind, on, reason, tuple(parameters.items()), tuple(influences))

    def as_plain(self) -> dict[str, Any]:
        """The stage as texts and numbers.

        Returns
        -------
        dict
            For ``from_plain``.
        """
        return {
            "kind": self.kind,
            "on": self.on,
            "reason": self.reason,
            "parameters": dict(self.parameters),
            "influences": [
                {
                    "parameter": influence.parameter,
                    "input_name": influence.input_name,
                    "coefficient": influence.coefficient,
                }
                for influence in self.influences
            ],
        }

    @classmethod
    def from_plain(cls, plain: Mapping[str, Any]) -> "Stage":
        """The stage that ``as_plain`` wrote down.

        Parameters
        ----------
        plain : mapping
            As read from JSON.

        Returns
        -------
        Stage
            Equal to the one written.
        """
        return cls(
            plain["kind"],
            plain["on"],
            plain["reason"],
            tuple(plain["parameters"].items()),
            tuple(Influence(**item) for item in plain["influences"]),
        )
