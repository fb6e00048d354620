"""A gauged bar loaded against a traceable load before it is cast: newtons per reading.

The result replaces gauge factor, area and misalignment in the chain, and only in the range, the
wiring and the temperature in which it was found.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from gaugewright.calc import calibration_terms
from gaugewright.calc.chain_parts import Influence, Stage
from gaugewright.calc.joint import jointly_uncertain
from gaugewright.calc.polynomial_fit import PolynomialFit, polynomial_fit
from gaugewright.calc.uncertainty import InputQuantity, Uncertain, combination
from gaugewright.errors import InputError, InputFaults
from gaugewright.quantities import FloatArray

__all__ = ["BarCalibration", "LoadSeries", "bar_calibration", "rising_readings"]

_PARTS = ("calibration_offset", "calibration_slope", "calibration_square", "calibration_cube")
_NO_LOAD = 0.01  # share of the largest load that a set-down machine may still show; our choice


@dataclass(frozen=True, slots=True, eq=False)
class LoadSeries:
    """One run from no load up to the largest and back to none, as read.

    Attributes
    ----------
    force : array, shape (n,)
        By the reference, tension positive; rising, then falling, nothing at both ends [N].
    reading : array, shape (n,)
        Of the gauged bar beside it, absolute: relative change of the arm [1].
    """

    force: FloatArray
    reading: FloatArray

    @classmethod
    def of(cls, force: ArrayLike, reading: ArrayLike) -> "LoadSeries":
        """A series from any sequences of numbers.

        Parameters
        ----------
        force : array, shape (n,)
            By the reference [N].
        reading : array, shape (n,)
            Of the gauged bar [1].

        Returns
        -------
        LoadSeries
            Checked when it is used.
        """
        return cls(np.asarray(force, dtype=np.float64), np.asarray(reading, dtype=np.float64))

    @property
    def turn(self) -> int:
        """Row of the force farthest from nothing, where rising ends [1]."""
        return int(np.argmax(np.abs(self.force)))

    @property
    def relative(self) -> FloatArray:
        """Readings since the first one, at no load: (1 + x)/(1 + x0) - 1 [1]."""
        zero = self.reading[0]
        return np.asarray((self.reading - zero) / (1 + zero))

    @property
    def zero_shift(self) -> float:
        """Reading at the end, back at no load, since the first one [1]."""
        return float(self.relative[-1])

    @property
    def hysteresis(self) -> FloatArray:
        """Falling less rising reading at every force read both ways [1]."""
        up, down = slice(0, self.turn + 1), slice(self.turn, None)
        order = np.argsort(self.force[up])
        rising = np.interp(self.force[down], self.force[up][order], self.relative[up][order])
        return np.asarray(self.relative[down] - rising)


@dataclass(frozen=True, slots=True, eq=False)
class BarCalibration:
    """Force of a bar from its own reading, with what is doubtful about it.

    Attributes
    ----------
    fit : PolynomialFit
        Force [N] over relative change of the arm since the zero [1], all series together.
    inputs : tuple of InputQuantity
        Causes: the reference, the fit, scatter, hysteresis, return of the zero.
    influences : tuple of Influence
        What each cause disturbs, for the chain.
    hysteresis : float
        Largest difference between falling and rising, as force [N].
    zero_return : float
        Largest shift of the zero over a run, as force [N].
    repeatability : array
        Range of the rising series over their mean at each common force; NaN at no load, empty
        for one series [1].
    lower_limit_factor : float
        2.4 deviations about the curve, as ASTM E74 defines it [N].
    temperature_degc : float
        At which it was done [degC].
    """

    fit: PolynomialFit
    inputs: tuple[InputQuantity, ...]
    influences: tuple[Influence, ...]
    hysteresis: float
    zero_return: float
    repeatability: FloatArray
    lower_limit_factor: float
    temperature_degc: float

    @property
    def force_per_reading(self) -> float:
        """Slope at no load [N]."""
        return float(self.fit.coefficients[1])

    @property
    def nonlinearity(self) -> float:
        """Largest distance of the curve from the line through its ends over its own span [N]."""
        at = np.linspace(*self.fit.span, 201)
        ends = self.fit.fitted(np.asarray(self.fit.span))
        line = ends[0] + (ends[1] - ends[0]) * np.linspace(0.0, 1.0, 201)
        return float(np.max(np.abs(self.fit.fitted(at) - line)))

    def stage(self) -> Stage:
        """The chain's calibration stage: in the place of gauge factor, area and misalignment.

        Its causes are ``inputs``; give both to ``Chain.of``, which hands ``influences`` on.
        """
        low, high = self.fit.span
        numbers = dict.fromkeys(_PARTS, 0.0)
        numbers |= dict(zip(_PARTS, self.fit.coefficients.tolist(), strict=False))
        numbers |= {"calibration_low": low, "calibration_high": high}
        kind = "calibration to force, curve@1"
        return Stage(kind, True, "", tuple(numbers.items()), self.influences)

    def force(self, reading: ArrayLike) -> Uncertain:
        """Force behind readings since the zero, with its uncertainty.

        Parameters
        ----------
        reading : array of any shape
            Relative change of the arm since the zero [1].

        Returns
        -------
        Uncertain
            NaN outside the range of the calibration [N].
        """
        at = np.asarray(reading, dtype=np.float64)
        low, high = self.fit.span
        at = np.where((at >= low) & (at <= high), at, np.nan)
        known = {quantity.name: quantity for quantity in self.inputs}
        terms = [
            (
                Uncertain.from_input(0.0, known[part.input_name]),
                part.coefficient * at ** _PARTS.index(part.parameter),
            )
            for part in self.influences
        ]
        return combination(self.fit.fitted(at), terms)


def bar_calibration(
    series: Sequence[LoadSeries],
    reference: InputQuantity,
    name: str,
    *,
    degree: int = 1,
    temperature_degc: float,
) -> BarCalibration:
    """Calibration of one gauged bar from its loading and unloading series.

    Force is fitted over reading, for all rows of all series; both scatter together, and with
    readings that follow the load to 1 part in 1000 the difference from fitting the other way
    round is 1 part in a million. Half of the hysteresis, and the return of the zero, count as
    rectangular limits; one further reading scatters as those of the calibration did.

    Parameters
    ----------
    series : sequence of LoadSeries
        Three or more are usual; one is enough for a fit, and tells nothing of repeatability.
    reference : InputQuantity
        Relative error of the reference load, such as its certificate's.
    name : str
        Common to the causes made, such as ``calibration@`` with the bar's uid.
    degree : int
        1 or 3; 3 only where the residuals of 1 show a curve [1].
    temperature_degc : float
        Of the bar meanwhile [degC].

    Returns
    -------
    BarCalibration
        For the range of readings that was covered.

    Raises
    ------
    InputError
        If something can't be used.
    Faults
        If several things can't.

    Examples
    --------
    >>> force = np.array([0.0, 20e3, 40e3, 20e3, 0.0])
    >>> run = LoadSeries.of(force, force / 20e6)
    >>> cell = InputQuantity("load cell", 0.002)
    >>> found = bar_calibration([run, run], cell, "calibration@b1", temperature_degc=21.0)
    >>> round(found.force_per_reading), round(found.force(1e-3).standard_uncertainty().item(), 1)
    (20000000, 40.0)
    """
    _refuse(series, degree)
    force = np.concatenate([run.force for run in series])
    reading = np.concatenate([run.relative for run in series])
    fit = polynomial_fit(reading, force, degree)
    slope = abs(float(fit.coefficients[1]))
    hysteresis = slope * max(float(np.max(np.abs(run.hysteresis))) for run in series)
    zero_return = slope * max(abs(run.zero_shift) for run in series)
    inputs, influences = _causes(fit, reference, name, (hysteresis / 2, zero_return))
    return BarCalibration(
        fit,
        inputs,
        influences,
        hysteresis,
        zero_return,
        _repeatability(series),
        calibration_terms.lower_limit_factor(fit.residual_deviation).item(),
        temperature_degc,
    )


def _causes(
    fit: PolynomialFit, reference: InputQuantity, name: str, limits: tuple[float, float]
) -> tuple[tuple[InputQuantity, ...], tuple[Influence, ...]]:
    freedom = float(fit.degrees_of_freedom)
    coefficients = jointly_uncertain(
        fit.coefficients,
        fit.covariances,
        f"{name}/fit",
        degrees_of_freedom=freedom,
        meaning="coefficients of the calibration",
    )
    inputs = {reference.name: reference, **coefficients[0].inputs}
    influences = [
        Influence(parameter, cause, slope.item())
        for parameter, part in zip(_PARTS, coefficients, strict=False)
        for cause, slope in part.sensitivities.items()
    ]
    # A reference that is wrong by a share makes every coefficient wrong by that share.
    influences += [
        Influence(parameter, reference.name, value)
        for parameter, value in zip(_PARTS, fit.coefficients.tolist(), strict=False)
    ]
    half, shift = limits
    own = (
        InputQuantity(
            f"{name}/scatter", fit.residual_deviation, freedom, meaning="one more reading"
        ),
        InputQuantity(
            f"{name}/hysteresis",
            half / np.sqrt(3),
            distribution="rectangular",
            meaning="between rising and falling load",
        ),
        InputQuantity(
            f"{name}/zero return",
            shift / np.sqrt(3),
            distribution="rectangular",
            meaning="zero before and after the load",
        ),
    )
    inputs |= {quantity.name: quantity for quantity in own}
    influences += [Influence("calibration_offset", quantity.name) for quantity in own]
    return tuple(inputs.values()), tuple(influences)


def rising_readings(series: Sequence[LoadSeries]) -> FloatArray:
    """Readings while the load rose, at the forces of the first series, straight between rows.

    Parameters
    ----------
    series : sequence of LoadSeries
        One or more.

    Returns
    -------
    readings : array, shape (n_series, n_steps)
        Since the zero of each; NaN where a series didn't reach the force [1].
    """
    first = series[0]
    at = first.force[: first.turn + 1]
    rising = []
    for run in series:
        force, reading = run.force[: run.turn + 1], run.relative[: run.turn + 1]
        order = np.argsort(force)
        inside = (at >= force.min()) & (at <= force.max())
        rising.append(np.where(inside, np.interp(at, force[order], reading[order]), np.nan))
    return np.stack(rising)


def _repeatability(series: Sequence[LoadSeries]) -> FloatArray:
    """Range over mean of the rising readings at the forces of the first series."""
    if len(series) < 2:
        return np.empty(0)
    return calibration_terms.reproducibility(rising_readings(series))


def _refuse(series: Sequence[LoadSeries], degree: int) -> None:
    found: list[InputError] = []
    if not series:
        found.append(InputError("series", "empty", "one run of loads at least"))
    if degree not in (1, 3):
        found.append(InputError("degree", degree, "1 (straight line) or 3 (cubic)"))
    for number, run in enumerate(series, start=1):
        where = f"series {number}"
        if run.force.ndim != 1 or run.force.shape != run.reading.shape or run.force.size < 3:
            found.append(InputError(where, run.reading.shape, "3 rows or more, in pairs"))
            continue
        rows = np.isfinite(run.force) & np.isfinite(run.reading)
        missing = int(np.count_nonzero(~rows))
        if missing:
            say = "leave those rows out and say how many"
            found.append(InputError(where, f"{missing} rows missing a number", "complete", say))
        elif not 0 < run.turn < run.force.size - 1:
            found.append(InputError(where, "one way only", "loaded and unloaded again"))
        elif not _one_turn(run):
            found.append(InputError(where, "up and down again", "rising once and falling once"))
        elif not _without_load_at_its_ends(run):
            ends = f"{run.force[0]:g} N at its beginning and {run.force[-1]:g} N at its end"
            say = "add the readings of the bar unloaded; the zero is taken from the first of them"
            found.append(InputError(where, ends, "from no load to no load again", say))
    if len(found) == 1:
        raise found[0]
    if found:
        raise InputFaults("calibration series", found)


def _one_turn(run: LoadSeries) -> bool:
    steps = np.diff(run.force) * np.sign(run.force[run.turn] - run.force[0])
    return bool(np.all(steps[: run.turn] > 0) and np.all(steps[run.turn :] < 0))


def _without_load_at_its_ends(run: LoadSeries) -> bool:
    """Told by force: a first row under load would be taken for the zero, a last for its return."""
    ends = np.abs(run.force[[0, -1]])
    return bool(np.all(ends <= _NO_LOAD * np.abs(run.force[run.turn])))
