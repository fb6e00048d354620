"""Monte Carlo propagation of distributions: the referee of the linear uncertainty budget.

JCGM 101:2008. It calls the model itself and knows nothing of its derivatives, so it finds what
a first-order budget can't: curvature, one-sided causes, intervals that are not normal.
"""

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from gaugewright.calc import allowed
from gaugewright.calc.uncertainty import InputQuantity
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray

__all__ = [
    "Agreement",
    "MonteCarlo",
    "deviations",
    "first_order_agrees",
    "monte_carlo",
    "numerical_tolerance",
]

Model = Callable[[Mapping[str, FloatArray]], FloatArray]


@dataclass(frozen=True, slots=True, eq=False)
class MonteCarlo:
    """Outcome of a run; ``values`` are all results of the model, sorted.

    ``low`` and ``high`` bound the probabilistically symmetric interval; twice the scatter of
    each of the first four numbers is below ``tolerance``.
    """

    value: float
    standard_uncertainty: float
    low: float
    high: float
    coverage: float
    tolerance: float
    values: FloatArray

    @property
    def trials(self) -> int:
        """How often the model was evaluated [1]."""
        return self.values.size

    def shortest_interval(self) -> tuple[float, float]:
        """Shortest interval of the same coverage (JCGM 101:2008, 7.7.4); for skewed results.

        Returns
        -------
        low, high : float
            In the unit of the value [1].
        """
        inside = _inside(self.trials, self.coverage)
        width = self.values[inside:] - self.values[:-inside]
        first = int(np.argmin(width))
        return self.values[first].item(), self.values[first + inside].item()


@dataclass(frozen=True, slots=True)
class Agreement:
    """Whether the first-order interval stands (JCGM 101:2008, clause 8): both ends within δ."""

    agrees: bool
    low_difference: float
    high_difference: float
    tolerance: float


def numerical_tolerance(standard_uncertainty: float, digits: int = 2) -> float:
    """Half of one unit in the last significant digit of an uncertainty (JCGM 101:2008, 7.9.2).

    Parameters
    ----------
    standard_uncertainty : float
        Above 0, in any unit [1].
    digits : int
        Significant digits that matter [1].

    Returns
    -------
    float
        In the unit of the uncertainty [1].

    Examples
    --------
    >>> numerical_tolerance(0.035, digits=2), numerical_tolerance(2.0, digits=1)
    (0.0005, 0.5)
    """
    with allowed.Together("numerical tolerance") as given:
        given.positive("standard_uncertainty", standard_uncertainty)
        given.holds("digits", digits, "1 or more", if_=digits >= 1)
    # Rounded by the text form: 9.99 has the two digits 10, one power of ten higher.
    exponent = int(f"{standard_uncertainty:.{digits - 1}e}".partition("e")[2])
    return float(f"0.5e{exponent - digits + 1}")


def deviations(
    inputs: Sequence[InputQuantity], trials: int, generator: np.random.Generator
) -> dict[str, FloatArray]:
    """Draws from the distribution of every input (JCGM 101:2008, 6.4), about zero.

    Parameters
    ----------
    inputs : sequence of InputQuantity
        Independent of each other.
    trials : int
        Draws of each [1].
    generator : numpy.random.Generator
        Whose seed makes the run repeatable.

    Returns
    -------
    mapping of input name to array, shape (trials,)
        Deviations in the unit of each input.
    """
    return {quantity.name: _drawn(quantity, trials, generator) for quantity in inputs}


def _drawn(quantity: InputQuantity, trials: int, generator: np.random.Generator) -> FloatArray:
    u = quantity.standard_uncertainty
    if quantity.distribution == "normal":
        return u * generator.standard_normal(trials)
    if quantity.distribution == "rectangular":
        return u * math.sqrt(3) * generator.uniform(-1, 1, trials)
    if quantity.distribution == "triangular":
        return u * math.sqrt(6) * (generator.random(trials) - generator.random(trials))
    if quantity.distribution == "arcsine":
        return u * math.sqrt(2) * np.sin(generator.uniform(-math.pi, math.pi, trials))
    if quantity.distribution == "t":
        return u * generator.standard_t(quantity.degrees_of_freedom, trials)
    raise InputError("distribution", quantity.distribution, "one that can be drawn from")


def _inside(trials: int, coverage: float) -> int:
    return int(coverage * trials + 0.5)


def _symmetric(values: FloatArray, coverage: float) -> tuple[float, float]:
    """Ends of the probabilistically symmetric interval of sorted values (7.7.2)."""
    inside = _inside(values.size, coverage)
    first = max((values.size - inside + 1) // 2, 1)
    return values[first - 1].item(), values[first - 1 + inside].item()


def _four(values: FloatArray, coverage: float) -> tuple[float, float, float, float]:
    low, high = _symmetric(values, coverage)
    return float(np.mean(values)), float(np.std(values, ddof=1)), low, high


def monte_carlo(
    model: Model,
    inputs: Sequence[InputQuantity],
    generator: np.random.Generator,
    *,
    coverage: float = 0.95,
    digits: int = 2,
    tolerance: float | None = None,
    largest_trials: int = 5_000_000,
) -> MonteCarlo:
    """Distribution of what a model makes of its inputs, run until the result has settled.

    The adaptive procedure of JCGM 101:2008, 7.9: batches of the model until twice the standard
    deviation of mean, standard uncertainty and both interval ends is below the tolerance.

    Parameters
    ----------
    model : callable
        From a mapping of input name to deviations, shape (trials,), to results of that shape.
    inputs : sequence of InputQuantity
        All that the model reads; independent.
    generator : numpy.random.Generator
        Whose seed makes the run repeatable.
    coverage : float
        Probability of the interval [1].
    digits : int
        Significant digits of the uncertainty that matter; sets the tolerance [1].
    tolerance : float, optional
        Numerical tolerance in the unit of the result, in place of ``digits`` [1].
    largest_trials : int
        Where to give up [1].

    Returns
    -------
    MonteCarlo
        From all batches together.

    Raises
    ------
    InputError
        If the model gives no number for some draws, or has not settled in time.
    """
    with allowed.Together("Monte Carlo") as given:
        given.holds("coverage", coverage, "between 0 and 1", if_=0 < coverage < 1)
        given.holds("digits", digits, "1 or more", if_=digits >= 1)
        if tolerance is not None:
            given.positive("tolerance", tolerance)
        given.positive("largest_trials", largest_trials)
    batch = max(math.ceil(100 / (1 - coverage)), 10_000)
    batches: list[FloatArray] = []
    summaries: list[tuple[float, float, float, float]] = []
    while len(batches) * batch < largest_trials:
        batches.append(np.sort(_results(model, deviations(inputs, batch, generator), batch)))
        summaries.append(_four(batches[-1], coverage))
        if len(batches) < 2:
            continue
        # The standard uncertainty of everything so far, from batch means and deviations.
        means, spreads, _, _ = np.array(summaries).T
        total = float(np.sqrt(np.mean(spreads**2) + np.var(means)))
        if total == 0:
            limit = 0.0
        else:
            limit = numerical_tolerance(total, digits) if tolerance is None else tolerance
        scatter = np.std(np.array(summaries), axis=0, ddof=1) / math.sqrt(len(batches))
        if np.all(2 * scatter <= limit):
            values = np.sort(np.concatenate(batches))
            return MonteCarlo(*_four(values, coverage), coverage, limit, values)
    raise InputError(
        "largest_trials",
        largest_trials,
        "enough for the result to settle",
        "allow more trials or fewer digits; t with 2 degrees of freedom or less never settles",
    )


def _results(model: Model, drawn: Mapping[str, FloatArray], trials: int) -> FloatArray:
    results = np.asarray(model(drawn), dtype=np.float64)
    if results.shape != (trials,):
        results = np.broadcast_to(results, (trials,))
    missing = trials - int(np.count_nonzero(np.isfinite(results)))
    if missing:
        raise InputError(
            "model",
            f"without a number for {missing} of {trials} draws",
            "able to give one for every draw",
            "narrow the distribution that leads outside its range",
        )
    return results


def first_order_agrees(
    value: float, expanded: float, referee: MonteCarlo, *, tolerance: float
) -> Agreement:
    """Compare value ± expanded uncertainty with a Monte Carlo interval (JCGM 101:2008, 8.1).

    The run should have been made with a fifth of ``tolerance`` (8.2).

    Parameters
    ----------
    value : float
        Of the first-order budget [1].
    expanded : float
        Its expanded uncertainty for the coverage of ``referee`` [1].
    referee : MonteCarlo
        Of the same model.
    tolerance : float
        δ: ``numerical_tolerance`` of the first-order standard uncertainty [1].

    Returns
    -------
    Agreement
        Whether both ends differ by no more than δ.
    """
    low = abs(value - expanded - referee.low)
    high = abs(value + expanded - referee.high)
    return Agreement(low <= tolerance and high <= tolerance, low, high, tolerance)
