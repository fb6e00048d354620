"""Values with uncertainty: what moves each value, by how much, and what two values share.

Linear propagation after JCGM 100:2008 (GUM), clause 5: a value carries its sensitivity to every
named cause, so whatever two values have in common is kept through any arithmetic.
``calc.monte_carlo`` is the referee that does not linearise.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, ClassVar, TypeAlias

import numpy as np
from numpy.typing import ArrayLike

from gaugewright.calc import allowed
from gaugewright.calc.budget import Budget, BudgetLine
from gaugewright.calc.evaluation import coverage_factor
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray

__all__ = [
    "BASES",
    "DISTRIBUTIONS",
    "InputQuantity",
    "Term",
    "Uncertain",
    "combination",
    "declare",
]

DISTRIBUTIONS = ("normal", "rectangular", "triangular", "arcsine", "t")
BASES = ("measured", "stated", "calculated", "assumed")


@dataclass(frozen=True, slots=True)
class InputQuantity:
    """One named cause of uncertainty: a deviation of zero mean.

    Two values that carry the same name share the cause fully; different names are independent.
    An error with a part common to a lot and a part of each piece is therefore two inputs.

    Parameters
    ----------
    name : str
        Unique within a campaign; built from uids, opaque here.
    standard_uncertainty : float
        Standard deviation of the cause, in the unit of what it disturbs [1].
    degrees_of_freedom : float
        Behind ``standard_uncertainty``; infinite when it was not estimated from few readings [1].
    distribution : str
        One of ``DISTRIBUTIONS``; used by Monte Carlo only. With ``t`` the standard uncertainty
        scales a t-distribution of ``degrees_of_freedom`` (JCGM 101:2008, 6.4.9).
    basis : str
        One of ``BASES``: where the number came from.
    meaning : str
        Words for the report: "gauge factor of the pack, as its card says".
    """

    name: str
    standard_uncertainty: float
    degrees_of_freedom: float = math.inf
    distribution: str = "normal"
    basis: str = "measured"
    meaning: str = ""

    def __post_init__(self) -> None:
        freedom, shape = self.degrees_of_freedom, self.distribution
        shapes, bases = "one of " + ", ".join(DISTRIBUTIONS), "one of " + ", ".join(BASES)
        with allowed.Together("input") as given:
            unlike = "a name that no other input has"
            given.holds("name", self.name, unlike, if_=bool(self.name.strip()))
            given.not_negative("standard_uncertainty", self.standard_uncertainty)
            given.holds("degrees_of_freedom", freedom, "above 0", if_=freedom > 0)
            given.holds("distribution", shape, shapes, if_=shape in DISTRIBUTIONS)
            endless = shape == "t" and math.isinf(freedom)
            given.holds(
                "degrees_of_freedom", freedom, "finite with t", if_=not endless, do="or say normal"
            )
            given.holds("basis", self.basis, bases, if_=self.basis in BASES)


def _no_sensitivities() -> Mapping[str, FloatArray]:
    return {}


def _no_inputs() -> Mapping[str, InputQuantity]:
    return {}


def _no_noise() -> FloatArray:
    return np.zeros(())


@dataclass(frozen=True, slots=True, eq=False)
class Uncertain:
    """An array of values, what each owes to every input, and noise of its own.

    ``noise`` is independent between samples and between values that were not made from each
    other. Where one noisy value enters a formula twice, say it in one ``combination``: the
    operators below treat the noise of two intermediate results as independent.

    Parameters
    ----------
    value : array of any shape
        Best estimates, in any one unit [1].
    sensitivities : mapping of input name to array
        Derivative of the value by the input; scalar or broadcastable to ``value`` [1].
    noise : array
        Standard deviation of the independent part; scalar or broadcastable to ``value`` [1].
    inputs : mapping of input name to InputQuantity
        Every name in ``sensitivities``.
    """

    value: FloatArray
    sensitivities: Mapping[str, FloatArray] = field(default_factory=_no_sensitivities)
    noise: FloatArray = field(default_factory=_no_noise)
    inputs: Mapping[str, InputQuantity] = field(default_factory=_no_inputs)

    # Without this numpy would take ``array * Uncertain`` apart, element by element.
    __array_ufunc__: ClassVar[None] = None

    def __post_init__(self) -> None:
        unknown = [name for name in self.sensitivities if name not in self.inputs]
        if unknown:
            raise InputError("sensitivities", ", ".join(unknown), "names found in inputs")
        for name, part in (*self.sensitivities.items(), ("noise", self.noise)):
            if part.ndim and np.broadcast_shapes(part.shape, self.value.shape) != self.value.shape:
                raise InputError(
                    f"shape of {name}", part.shape, f"broadcastable to {self.value.shape}"
                )

    @classmethod
    def exact(cls, value: ArrayLike) -> "Uncertain":
        """Values without uncertainty.

        Parameters
        ----------
        value : array of any shape
            Taken as they are [1].

        Returns
        -------
        Uncertain
            Without inputs and without noise.
        """
        return cls(np.asarray(value, dtype=np.float64))

    @classmethod
    def noisy(cls, value: ArrayLike, noise: ArrayLike) -> "Uncertain":
        """Values whose only uncertainty is independent from sample to sample.

        Parameters
        ----------
        value : array of any shape
            Best estimates [1].
        noise : array broadcastable to ``value``
            Standard deviation of each [1].

        Returns
        -------
        Uncertain
            Without inputs.
        """
        spread = np.asarray(noise, dtype=np.float64)
        if not np.all(spread >= 0):
            raise InputError("noise", spread, "0 or more everywhere")
        return cls(np.asarray(value, dtype=np.float64), noise=spread)

    @classmethod
    def from_input(
        cls, value: ArrayLike, quantity: InputQuantity, sensitivity: ArrayLike = 1.0
    ) -> "Uncertain":
        """Values disturbed by one input.

        Parameters
        ----------
        value : array of any shape
            Best estimates [1].
        quantity : InputQuantity
            The cause.
        sensitivity : array broadcastable to ``value``
            Change of the value per unit of the cause [1].

        Returns
        -------
        Uncertain
            Carrying that input.
        """
        slope = np.asarray(sensitivity, dtype=np.float64)
        return cls(
            np.asarray(value, dtype=np.float64),
            {quantity.name: slope},
            inputs={quantity.name: quantity},
        )

    def __getitem__(self, index: Any) -> "Uncertain":
        def part(array: FloatArray) -> FloatArray:
            if not array.ndim:
                return array
            return np.asarray(np.broadcast_to(array, self.value.shape)[index], dtype=np.float64)

        return Uncertain(
            np.asarray(self.value[index], dtype=np.float64),
            {name: part(slope) for name, slope in self.sensitivities.items()},
            part(self.noise),
            self.inputs,
        )

    def mapped(self, value: ArrayLike, derivative: ArrayLike) -> "Uncertain":
        """What a function of one variable makes of this value.

        Parameters
        ----------
        value : array shaped like this value
            The function at this value [1].
        derivative : array broadcastable to ``value``
            Its derivative there [1].

        Returns
        -------
        Uncertain
            The function's value with its uncertainty.

        Examples
        --------
        >>> side = Uncertain.from_input(3.0, InputQuantity("rule", 0.1))
        >>> side.mapped(side.value**2, 2 * side.value).standard_uncertainty().round(3).item()
        0.6
        """
        return combination(value, [(self, derivative)])

    def mean(self) -> "Uncertain":
        """Mean over all samples: noise averages out, shared causes do not.

        Returns
        -------
        Uncertain
            One value [1].
        """
        if not self.value.size:
            raise InputError("value", "empty", "at least one sample")
        count = self.value.size
        shape = self.value.shape
        noise = np.sqrt(np.sum(np.broadcast_to(self.noise, shape) ** 2)) / count
        return Uncertain(
            np.asarray(np.mean(self.value)),
            {
                name: np.asarray(np.mean(np.broadcast_to(slope, shape)))
                for name, slope in self.sensitivities.items()
            },
            np.asarray(noise, dtype=np.float64),
            self.inputs,
        )

    def __neg__(self) -> "Uncertain":
        return combination(-self.value, [(self, -1.0)])

    def __add__(self, other: "Uncertain | ArrayLike") -> "Uncertain":
        if isinstance(other, Uncertain):
            return combination(self.value + other.value, [(self, 1.0), (other, 1.0)])
        return combination(self.value + np.asarray(other, dtype=np.float64), [(self, 1.0)])

    __radd__ = __add__

    def __sub__(self, other: "Uncertain | ArrayLike") -> "Uncertain":
        if isinstance(other, Uncertain):
            return combination(self.value - other.value, [(self, 1.0), (other, -1.0)])
        return combination(self.value - np.asarray(other, dtype=np.float64), [(self, 1.0)])

    def __rsub__(self, other: ArrayLike) -> "Uncertain":
        return combination(np.asarray(other, dtype=np.float64) - self.value, [(self, -1.0)])

    def __mul__(self, other: "Uncertain | ArrayLike") -> "Uncertain":
        if isinstance(other, Uncertain):
            return combination(self.value * other.value, [(self, other.value), (other, self.value)])
        factor = np.asarray(other, dtype=np.float64)
        return combination(self.value * factor, [(self, factor)])

    __rmul__ = __mul__

    def __truediv__(self, other: "Uncertain | ArrayLike") -> "Uncertain":
        if isinstance(other, Uncertain):
            ratio = self.value / other.value
            return combination(ratio, [(self, 1 / other.value), (other, -ratio / other.value)])
        factor = np.asarray(other, dtype=np.float64)
        return combination(self.value / factor, [(self, 1 / factor)])

    def __rtruediv__(self, other: ArrayLike) -> "Uncertain":
        ratio = np.asarray(other, dtype=np.float64) / self.value
        return combination(ratio, [(self, -ratio / self.value)])

    def contributions(self) -> dict[str, FloatArray]:
        """Signed standard uncertainty that each input gives to each value.

        Returns
        -------
        mapping of input name to array
            Sensitivity times standard uncertainty, in the unit of the value [1].
        """
        return {
            name: np.asarray(slope * self.inputs[name].standard_uncertainty)
            for name, slope in self.sensitivities.items()
        }

    def standard_uncertainty(self) -> FloatArray:
        """Combined standard uncertainty of each value (JCGM 100:2008, equation 10).

        Returns
        -------
        array shaped like ``value``
            In the unit of the value [1].
        """
        variance = np.array(np.broadcast_to(self.noise**2, self.value.shape))
        for part in self.contributions().values():
            variance += part**2
        return np.asarray(np.sqrt(variance))

    def effective_degrees_of_freedom(self) -> FloatArray:
        """Degrees of freedom of the combined uncertainty, by Welch and Satterthwaite.

        JCGM 100:2008, equation G.2b, not cut to a whole number. Noise counts as known.

        Returns
        -------
        array shaped like ``value``
            Infinite where every part is known or there is no uncertainty [1].
        """
        weights = np.zeros(self.value.shape)
        for name, part in self.contributions().items():
            weights += part**4 / self.inputs[name].degrees_of_freedom
        total = self.standard_uncertainty() ** 4
        freedom = np.full(self.value.shape, np.inf)
        np.divide(total, weights, out=freedom, where=~(weights == 0))
        return freedom

    def expanded(self, coverage: float = 0.95) -> FloatArray:
        """Half-width of the interval that holds the true value with the stated probability.

        Student's t for the effective degrees of freedom of each sample (JCGM 100:2008, G.6.4).

        Parameters
        ----------
        coverage : float
            Probability wanted [1].

        Returns
        -------
        array shaped like ``value``
            In the unit of the value [1].
        """
        factor = coverage_factor(self.effective_degrees_of_freedom(), coverage)
        return np.asarray(factor * self.standard_uncertainty())

    def budget(self, at: Any = None, *, coverage: float = 0.95) -> Budget:
        """What the uncertainty of one sample is made of, the largest cause first.

        Parameters
        ----------
        at : index
            Which sample; may be left out when there is only one.
        coverage : float
            Probability of the expanded uncertainty [1].

        Returns
        -------
        Budget
            One line per input, and one for noise where there is any.
        """
        if at is None and self.value.size != 1:
            raise InputError("at", None, f"the index of one of the {self.value.size} samples")
        sample = self if at is None else self[at]
        if sample.value.size != 1:
            raise InputError("at", at, "the index of one sample, not of several")
        lines = [
            _line(sample.inputs[name], slope.item()) for name, slope in sample.sensitivities.items()
        ]
        noise = sample.noise.item()
        if noise:
            lines.append(
                BudgetLine(
                    "", "independent noise of the reading", "measured", noise, math.inf, 1.0, noise
                )
            )
        return Budget(
            sample.value.item(),
            sample.standard_uncertainty().item(),
            sample.effective_degrees_of_freedom().item(),
            coverage,
            sample.expanded(coverage).item(),
            tuple(sorted(lines, key=lambda line: -line.contribution)),
        )


def _line(quantity: InputQuantity, sensitivity: float) -> BudgetLine:
    return BudgetLine(
        quantity.name,
        quantity.meaning,
        quantity.basis,
        quantity.standard_uncertainty,
        quantity.degrees_of_freedom,
        sensitivity,
        abs(sensitivity) * quantity.standard_uncertainty,
    )


# An argument of a closed form and the partial derivative of the closed form by it.
Term: TypeAlias = tuple[Uncertain, ArrayLike]


def combination(function_value: ArrayLike, terms: Sequence[Term]) -> Uncertain:
    """What any closed form makes of its uncertain arguments.

    The same object named in several terms is one argument: its partial derivatives are added
    before its noise is counted.

    Parameters
    ----------
    function_value : array of any shape
        The closed form at the best estimates [1].
    terms : sequence of (Uncertain, array)
        Each argument with the partial derivative of the closed form by it.

    Returns
    -------
    Uncertain
        The value with all that its arguments owed to their inputs.

    Raises
    ------
    InputError
        If two arguments use one input name for different inputs.

    Examples
    --------
    >>> span = Uncertain.noisy(2.0, 0.1)
    >>> combination(span.value - span.value, [(span, 1.0), (span, -1.0)]).noise.item()
    0.0
    """
    value = np.asarray(function_value, dtype=np.float64)
    sensitivities: dict[str, FloatArray] = {}
    inputs: dict[str, InputQuantity] = {}
    own: dict[int, tuple[Uncertain, FloatArray]] = {}
    for argument, partial in terms:
        slope = np.asarray(partial, dtype=np.float64)
        for name, sensitivity in argument.sensitivities.items():
            declare(inputs, argument.inputs[name])
            part = slope * sensitivity
            sensitivities[name] = sensitivities[name] + part if name in sensitivities else part
        known = own.get(id(argument))
        own[id(argument)] = (argument, slope if known is None else known[1] + slope)
    variance = np.zeros(())
    for argument, slope in own.values():
        if np.any(argument.noise):
            variance = variance + (slope * argument.noise) ** 2
    return Uncertain(value, sensitivities, np.asarray(np.sqrt(variance)), inputs)


def declare(inputs: dict[str, InputQuantity], quantity: InputQuantity) -> None:
    """Add an input to a list of inputs in which a name means one thing.

    Raises
    ------
    InputError
        If the name stands there for another input.
    """
    known = inputs.setdefault(quantity.name, quantity)
    if known != quantity:
        raise InputError(
            quantity.name,
            f"{known.standard_uncertainty} here, {quantity.standard_uncertainty} there",
            "one and the same input in both",
            "give the two causes different names",
        )
