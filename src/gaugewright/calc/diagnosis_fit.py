"""How well the readings of a gauge agree with each cell of a cause, and what else they foretell."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import log_ndtr
from scipy.stats import chi2

from gaugewright.calc.diagnosis_causes import Allowances, Reading, ReadingError
from gaugewright.calc.diagnosis_circuit import LOGARITHMIC
from gaugewright.calc.diagnosis_cloud import Cloud, doubt_covariance, floating_variance
from gaugewright.calc.diagnosis_harness import EVERY_READING
from gaugewright.quantities import FloatArray

__all__ = [
    "Fit",
    "Known",
    "fitted",
    "known_before",
    "log_none_of_these",
    "one_foretold",
]

_ROOT3 = float(np.sqrt(3.0))
_SHARED = 0.8
_ROUNDING = 1e-13
_LN10 = float(np.log(10.0))


@dataclass(frozen=True, slots=True, eq=False)
class Known:
    """What is known of the sound parts of a gauge: of the clouds' doubts, mean and covariance."""

    mean: FloatArray
    covariance: FloatArray
    gates_used: int = 0
    gates_left_out: int = 0


@dataclass(frozen=True, slots=True, eq=False)
class Fit:
    """A cause held against readings.

    Attributes
    ----------
    cloud : Cloud
        The cause.
    log_likelihood : array, shape (n_cells,)
        Of all readings together.
    distance : array, shape (n_cells,)
        Of all readings with a value, in standard uncertainties.
    apart : array, shape (n_readings_taken,)
        Of each reading alone from the nearest cell, in standard uncertainties.
    spot : array, shape (n_cells, n_ranges)
        Where in each cell the readings point, every range from 0 to 1.
    spot_scatter : array, shape (n_cells, n_ranges)
        Standard deviation of that.
    """

    cloud: Cloud
    log_likelihood: FloatArray
    distance: FloatArray
    apart: FloatArray
    spot: FloatArray
    spot_scatter: FloatArray

    @property
    def log_mean(self) -> float:
        """Logarithm of the likelihood, meant over all cells [1]."""
        best = float(np.max(self.log_likelihood))
        if not np.isfinite(best):
            return -np.inf
        return best + float(np.log(np.mean(np.exp(self.log_likelihood - best))))

    @property
    def weights(self) -> FloatArray:
        """Share of each cell, if the cause is true [1]."""
        best = np.max(self.log_likelihood)
        if not np.isfinite(best):
            return np.full(self.log_likelihood.shape, 1.0 / self.log_likelihood.size)
        share = np.exp(self.log_likelihood - best)
        return np.asarray(share / share.sum())


def known_before(
    sound: Cloud,
    allowances: Allowances,
    gates: Sequence[Sequence[Reading]],
    temperature_degc: float | None,
) -> Known:
    """What earlier gates tell of grid and wires, by the normal laws of a sound gauge.

    Each gate was read at its own temperature: copper is brought to that of now. A gate whose
    readings a sound gauge would give less than once in ten thousand times is left out.

    Parameters
    ----------
    sound : Cloud
        Of the healthy gauge.
    allowances : Allowances
        What may change from gate to gate.
    gates : sequence of sequences of Reading
        Earlier ones that passed, in any order.
    temperature_degc : float or None
        Temperature of cable and gauge now [degC].

    Returns
    -------
    Known
        The allowances themselves where there is no earlier gate.
    """
    mean = np.zeros(len(sound.doubts))
    covariance = doubt_covariance(sound.doubts, allowances)
    used = left = 0
    for gate in gates:
        exact = [one for one in gate if not one.bound and one.what not in LOGARITHMIC]
        exact = [one for one in exact if EVERY_READING[one.what] == "ohm"]
        if not exact:
            continue
        columns = [sound.column(one.what) for one in exact]
        slopes = sound.slopes[0][columns]
        warmer, between = _between_gates(sound.doubts, allowances, exact, temperature_degc)
        noise = _meter_covariance(exact) + slopes @ between @ slopes.T
        total = slopes @ covariance @ slopes.T + noise
        values = np.array([one.value for one in exact])
        off = values - sound.middle[0][columns] - slopes @ (mean + warmer)
        if chi2.sf(off @ np.linalg.solve(total, off), len(exact)) < 1e-4:
            left += 1
            continue
        gain = np.linalg.solve(total, slopes @ covariance).T
        mean = mean + gain @ off
        covariance = covariance - gain @ slopes @ covariance
        covariance = (covariance + covariance.T) / 2
        used += 1
    return Known(mean, covariance, used, left)


def _between_gates(
    doubts: Sequence[str], allowances: Allowances, exact: Sequence[Reading], degc: float | None
) -> tuple[FloatArray, FloatArray]:
    """What differs at an earlier gate: warmth of the copper, and what may have changed since."""
    then = next((one.degc for one in exact if one.degc is not None), None)
    warmer, spread = np.zeros(len(doubts)), np.zeros(len(doubts))
    unknown = then is None or degc is None
    kelvin = 0.0 if then is None or degc is None else then - degc
    lead = list(doubts).index("lead")
    warmer[lead] = allowances.copper * kelvin
    doubt = 10.0 if unknown else np.sqrt(2.0) * allowances.degc
    spread[lead] = np.hypot(allowances.copper * doubt, allowances.copper_scatter * kelvin)
    for place, name in enumerate(doubts):
        if name.startswith("grid"):
            spread[place] = allowances.grid_between_gates
        elif name.startswith("wire"):
            spread[place] = 0.01  # ohm, a plug put in anew
    return warmer, np.diag(spread**2)


def fitted(cloud: Cloud, readings: Sequence[Reading], known: Known) -> Fit:
    """Hold a cause against readings.

    Parameters
    ----------
    cloud : Cloud
        The cause.
    readings : sequence of Reading
        One of each thing at most.
    known : Known
        Of the sound parts.

    Returns
    -------
    Fit
        Of every cell.
    """
    law = _Law(cloud, tuple(readings), known)
    exact = [n for n, one in enumerate(readings) if not one.bound]
    off, inner, solved = law.against(exact)
    square = np.clip(np.sum(off * solved, axis=1), 0.0, None)
    _, log_det = np.linalg.slogdet(inner) if exact else (0.0, np.zeros(len(off)))
    likelihood = -0.5 * (square + log_det + len(exact) * np.log(2 * np.pi))
    for n, one in enumerate(readings):
        if one.bound:
            middle, sigma = law.foretold(n, exact, solved)
            side = 1.0 if one.bound == "above" else -1.0
            likelihood = likelihood + log_ndtr(side * (middle - law.values[n]) / sigma)
    steps = law.cells[:, exact]
    spot = cloud.unit + cloud.side * np.einsum("mkd,mk->md", steps, solved) / 12
    likelihood = likelihood - _outside(spot - cloud.unit, cloud.side)
    return Fit(
        cloud,
        likelihood,
        np.sqrt(square),
        law.apart(),
        np.clip(spot, 0.0, 1.0),
        cloud.side * _left_in_cell(steps, inner),
    )


def _outside(moved: FloatArray, side: float) -> FloatArray:
    """What a cell loses for readings that point out of it: a straight slope ends at its walls.

    Without this the long tail of a wide cell would reach values that no element can have. Cells
    along one range touch; those of several leave gaps, which a neighbour may bridge.
    """
    reach = 0.75 if moved.shape[1] == 1 else 1.0
    beyond = np.clip(np.abs(moved) / side - reach, 0.0, None) / 0.15
    return np.asarray(0.5 * np.sum(beyond**2, axis=1))


def _left_in_cell(steps: FloatArray, inner: FloatArray) -> FloatArray:
    """Standard deviation left along each range of a cell, in cells."""
    if not steps.shape[1]:
        return np.full((steps.shape[0], steps.shape[2]), 1 / np.sqrt(12.0))
    told = np.einsum("mkd,mkd->md", steps, np.linalg.solve(inner, steps)) / 144
    return np.asarray(np.sqrt(np.clip(1 / 12 - told, 1e-12, None)))


class _Law:
    """Normal law of some readings in every cell of a cause."""

    def __init__(self, cloud: Cloud, readings: tuple[Reading, ...], known: Known) -> None:
        self.cloud, self.readings, self.known = cloud, readings, known
        self.columns = [cloud.column(one.what) for one in readings]
        self.values = np.array([_in_measure(one.what, one.value) for one in readings])
        slopes = cloud.slopes[:, self.columns]
        self.cells = cloud.cells[:, self.columns]
        self.middle = cloud.middle[:, self.columns] + slopes @ known.mean
        names = [one.what for one in readings]
        self.covariance = (
            self.cells @ np.swapaxes(self.cells, 1, 2) / 12
            + slopes @ known.covariance @ np.swapaxes(slopes, 1, 2)
            + _meter_covariance(readings)
            + np.diag(floating_variance(cloud.cause, names))
        )

    def against(self, exact: list[int]) -> tuple[FloatArray, FloatArray, FloatArray]:
        """What readings with a value are off by, their covariance, and the one over the other."""
        off = self.values[exact] - self.middle[:, exact]
        inner = self.covariance[:, exact][:, :, exact]
        if not exact:
            return off, inner, off
        # A cell of megohms beside a meter of hundredths: the last digits of a float are noise,
        # which is kept from making a variance negative.
        inner = inner * (1 + _ROUNDING * np.eye(len(exact)))
        return off, inner, np.asarray(np.linalg.solve(inner, off[..., np.newaxis])[..., 0])

    def foretold(
        self, place: int, exact: list[int], solved: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """Middle and standard deviation of one reading, given those with a value."""
        own = self.covariance[:, place, place]
        if not exact:
            return self.middle[:, place], np.sqrt(own)
        across = self.covariance[:, exact, place]
        middle = self.middle[:, place] + np.sum(across * solved, axis=1)
        inner = self.covariance[:, exact][:, :, exact]
        told = np.sum(across * np.linalg.solve(inner, across[..., np.newaxis])[..., 0], axis=1)
        least = _meter_covariance(self.readings)[place, place] / 100
        return middle, np.sqrt(np.clip(own - told, least, None))

    def apart(self) -> FloatArray:
        """How far each reading alone is from the nearest cell, in standard uncertainties."""
        sigma = np.sqrt(np.einsum("mkk->mk", self.covariance))
        score = (self.values - self.middle) / sigma
        for place, one in enumerate(self.readings):
            if one.bound == "above":
                score[:, place] = np.clip(score[:, place], 0.0, None)
            elif one.bound == "below":
                score[:, place] = np.clip(-score[:, place], 0.0, None)
        return np.asarray(np.min(np.abs(score), axis=0))


def _in_measure(what: str, value: float) -> float:
    return float(np.log10(value)) if what in LOGARITHMIC else value


def _meter_covariance(readings: Sequence[Reading]) -> FloatArray:
    """What meters add: limits of error taken as even, shared by readings of the same meter."""
    alone = np.zeros(len(readings))
    shared: dict[ReadingError, list[FloatArray]] = {}
    for place, one in enumerate(readings):
        error, size = one.error, abs(one.value)
        scale = 1 / (one.value * _LN10) if one.what in LOGARITHMIC else 1.0
        alone[place] = scale**2 * (error.resolution**2 / 12 + error.scatter**2)
        parts = shared.setdefault(error, [np.zeros(len(readings)), np.zeros(len(readings))])
        parts[0][place] = scale * error.share * size / _ROOT3
        parts[1][place] = scale * error.fixed / _ROOT3
    # Gain and zero are common to all readings of a meter; ranges and curvature are each
    # reading's own. Certificates don't part them: a fifth of the variance is taken as its own.
    total = np.diag(alone)
    for error_parts in shared.values():
        for part in error_parts:
            total = total + _SHARED * np.outer(part, part) + (1 - _SHARED) * np.diag(part**2)
    return np.asarray(total)


def log_none_of_these(readings: Sequence[Reading]) -> float:
    """Logarithm of the likelihood if the cause isn't in the list: anything, evenly.

    Pairs and their like are even in the logarithm from 0.05 ohm to 100 kohm, seven in ten, else
    open; insulation is even over 13 decades, a bridge over 1.2 V/V. A choice of this project.

    Parameters
    ----------
    readings : sequence of Reading
        As for ``fitted``.

    Returns
    -------
    log_likelihood : float
        In the same measure as that of ``fitted`` [1].
    """
    total = 0.0
    for one in readings:
        if one.what in LOGARITHMIC:
            decades = np.clip(np.log10(one.value), 0.0, 12.99) / 13
            share = {"": 1 / 13, "above": 1 - decades, "below": decades + 1e-3}[one.bound]
        elif EVERY_READING[one.what] == "ohm":
            span = np.log(2e6)
            below = np.clip(np.log(max(one.value, 0.0501) / 0.05) / span, 0.0, 1.0)
            share = {
                "": 0.7 / (max(abs(one.value), 0.05) * span),
                "above": 0.3 + 0.7 * (1 - below),
                "below": 0.7 * below + 1e-3,
            }[one.bound]
        else:
            share = 1 / 1.2 if not one.bound else 0.3
        total += float(np.log(share))
    return total


def one_foretold(
    cloud: Cloud, readings: Sequence[Reading], further: Reading, known: Known
) -> tuple[FloatArray, FloatArray]:
    """What a further reading would be in every cell, given those that were taken.

    Parameters
    ----------
    cloud : Cloud
        The cause.
    readings : sequence of Reading
        Taken.
    further : Reading
        Not taken; its value only says at which size its meter's error counts.
    known : Known
        Of the sound parts.

    Returns
    -------
    middle : array, shape (n_cells,)
        In the measure it is compared in [1].
    sigma : array, shape (n_cells,)
        Standard deviation, meter included [1].
    """
    law = _Law(cloud, (*readings, further), known)
    exact = [n for n, one in enumerate(readings) if not one.bound]
    _, _, solved = law.against(exact)
    return law.foretold(len(readings), exact, solved)
