"""Modulus of a pulled coupon: the slope of its elastic line, and whether there is such a line."""

import math
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
from numpy.typing import ArrayLike

from gaugewright.calc import allowed
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray

__all__ = [
    "ElasticLine",
    "ModulusLimits",
    "doubts",
    "elastic_line",
    "line_of_known_slope",
    "refuse_doubtful",
]

_PARTS = 4


@dataclass(frozen=True, slots=True)
class ElasticLine:
    """Straight line fitted to stress over strain: σ = σ_m + E (ε - ε_m).

    About its middle (ε_m, σ_m) the slope and the level err independently of each other.

    Attributes
    ----------
    elastic_modulus : float
        Slope [Pa].
    modulus_uncertainty : float
        Its standard uncertainty, from the scatter about the line as far as that is independent
        from sample to sample [Pa].
    middle_strain, middle_stress : float
        Means of the samples [1], [Pa].
    level_uncertainty : float
        Standard uncertainty of the line's stress at its middle [Pa].
    scatter : float
        Standard deviation of the samples about the line [Pa].
    determination : float
        Squared correlation, R² [1].
    persistence : float
        Correlation of one residual with the next: near 1 where the record bends [1].
    local_moduli : array, shape (4,)
        Slopes in four equal parts of the stress range; NaN where a part has under 3 samples [Pa].
    local_uncertainties : array, shape (4,)
        Of those, from scatter alone [Pa].
    strain_spread : float
        Standard deviation of the samples' strain [1].
    strain_step : float
        Smallest step in which strain is written [1].
    strain_levels : float
        Steps of strain from end to end of the line [1].
    samples : int
        How many.
    first_row, last_row : int
        Rows between which they lie.
    lowest_stress, highest_stress : float
        Range asked for [Pa].
    """

    elastic_modulus: float
    modulus_uncertainty: float
    middle_strain: float
    middle_stress: float
    level_uncertainty: float
    scatter: float
    determination: float
    persistence: float
    local_moduli: FloatArray
    local_uncertainties: FloatArray
    strain_spread: float
    strain_step: float
    strain_levels: float
    samples: int
    first_row: int
    last_row: int
    lowest_stress: float
    highest_stress: float

    @property
    def axis_offset(self) -> float:
        """Strain where the line meets zero stress: the origin of all extensions [1]."""
        return self.middle_strain - self.middle_stress / self.elastic_modulus


@dataclass(frozen=True, slots=True)
class ModulusLimits:
    """When a fitted slope is no modulus. Every limit can be set.

    Parameters
    ----------
    least_samples : int
        On the line; common practice, no source.
    greatest_relative_uncertainty : float
        Of the slope: 1 % by ISO 6892-1, annex G (from memory) [1].
    least_determination : float
        R²: 0.9995 by ISO 6892-1, annex G (from memory) [1].
    greatest_departure : float
        Of a slope in a quarter of the range from the whole, beyond twice its own uncertainty;
        common practice, no source [1].
    least_levels : float
        Steps of strain along the line: below 100 rounding shows; common practice, no source [1].
    plausible : pair of float, optional
        Span in which the modulus of this metal must lie; none is assumed [Pa].
    """

    least_samples: int = 20
    greatest_relative_uncertainty: float = 0.01
    least_determination: float = 0.9995
    greatest_departure: float = 0.05
    least_levels: float = 100.0
    plausible: tuple[float, float] | None = None


def elastic_line(
    strain: ArrayLike, stress: ArrayLike, lowest_stress: float, highest_stress: float
) -> ElasticLine:
    """Least-squares line through the first loading between two stresses.

    Samples from the start of the record to the first that reaches ``highest_stress`` are used.
    An unloading line is had by handing over its samples in reverse. Stress is taken as scattered
    about exact strain; where residuals persist from sample to sample there are fewer independent
    ones, n (1 - ρ) / (1 + ρ), and the uncertainties say so. ASTM E111 and ISO 6892-1, annex G,
    are the models (from memory); neither's forms are reproduced.

    Parameters
    ----------
    strain : array, shape (n_samples,)
        Of the extensometer; NaN where it has no reading [1].
    stress : array, shape (n_samples,)
        Force over the original area [Pa].
    lowest_stress : float
        Above seating [Pa].
    highest_stress : float
        Below the proportional limit [Pa].

    Returns
    -------
    ElasticLine
        Whatever its quality: ``doubts`` judges it.

    Raises
    ------
    InputError
        If the range is empty, isn't reached, or holds fewer than three samples with strain.

    Examples
    --------
    >>> stress = np.linspace(0, 300e6, 301)
    >>> line = elastic_line(stress / 200e9 + 1e-4, stress, 50e6, 200e6)
    >>> round(line.elastic_modulus / 1e9, 6), round(line.axis_offset, 9)
    (200.0, 0.0001)
    """
    e, s, rows = _chosen(strain, stress, lowest_stress, highest_stress)
    slope, deviation = _slope(e, s)
    residual = s - np.mean(s) - slope * (e - np.mean(e))
    square = float(np.sum(residual**2))
    scatter = math.sqrt(square / (e.size - 2))
    persistence = float(np.sum(residual[1:] * residual[:-1])) / square if square > 0 else 0.0
    # Fewer independent samples than samples where what is left goes up and down slowly.
    held = min(max(persistence, 0.0), 1 - 2 / e.size)
    widened = math.sqrt((1 + held) / (1 - held))
    moduli, uncertainties = _local(e, s, lowest_stress, highest_stress)
    step = _written_step(e)
    return ElasticLine(
        elastic_modulus=slope,
        modulus_uncertainty=deviation * widened,
        middle_strain=float(np.mean(e)),
        middle_stress=float(np.mean(s)),
        level_uncertainty=scatter / math.sqrt(e.size) * widened,
        scatter=scatter,
        determination=1 - square / float(np.sum((s - np.mean(s)) ** 2)),
        persistence=persistence,
        local_moduli=moduli,
        local_uncertainties=uncertainties,
        strain_spread=float(np.std(e)),
        strain_step=step,
        strain_levels=float(np.ptp(e)) / step,
        samples=int(e.size),
        first_row=int(rows[0]),
        last_row=int(rows[-1]),
        lowest_stress=lowest_stress,
        highest_stress=highest_stress,
    )


def line_of_known_slope(line: ElasticLine, elastic_modulus: float) -> ElasticLine:
    """The same samples with a slope known otherwise: only where the line lies is fitted.

    For a record whose own slope is refused. Samples that bend away from the given slope do not
    average out, so their whole standard deviation about the new line is the uncertainty of its
    level.

    Parameters
    ----------
    line : ElasticLine
        As fitted.
    elastic_modulus : float
        Of the metal, from a better record or by agreement [Pa].

    Returns
    -------
    ElasticLine
        Through the same middle; the modulus's own uncertainty is the giver's to state.

    Raises
    ------
    InputError
        If the modulus isn't positive.
    """
    modulus = float(allowed.positive("elastic_modulus", elastic_modulus))
    scatter = math.hypot(line.scatter, (modulus - line.elastic_modulus) * line.strain_spread)
    return replace(
        line,
        elastic_modulus=modulus,
        modulus_uncertainty=0.0,
        level_uncertainty=scatter,
        scatter=scatter,
    )


def doubts(line: ElasticLine, limits: ModulusLimits | None = None) -> tuple[str, ...]:
    """Why a fitted slope can't be believed as a modulus, a sentence each; none if it can.

    Parameters
    ----------
    line : ElasticLine
        As fitted.
    limits : ModulusLimits, optional
        The package's own where left out.

    Returns
    -------
    tuple of str
        With the number found and the limit it broke.
    """
    given = limits or ModulusLimits()
    slope = line.elastic_modulus
    said = []
    if line.samples < given.least_samples:
        said.append(f"only {line.samples} samples lie on the line, {given.least_samples} wanted")
    relative = line.modulus_uncertainty / abs(slope) if slope else math.inf
    if relative > given.greatest_relative_uncertainty:
        limit = given.greatest_relative_uncertainty
        said.append(f"the slope is uncertain by {relative:.1%}, {limit:.1%} allowed")
    if line.determination < given.least_determination:
        said.append(f"R² is {line.determination:.5f}, {given.least_determination} wanted")
    beyond = np.abs(line.local_moduli - slope) - 2 * line.local_uncertainties
    if np.any(beyond > given.greatest_departure * abs(slope)):
        shown = ", ".join(f"{value / 1e9:.0f}" for value in line.local_moduli)
        shape = "bends steadily" if _steady(line.local_moduli) else "is kinked"
        said.append(
            f"the line {shape}: {shown} GPa in the quarters from {line.lowest_stress / 1e6:g} to "
            f"{line.highest_stress / 1e6:g} MPa, departures up to {given.greatest_departure:.0%} "
            "allowed"
        )
    if line.strain_levels < given.least_levels:
        said.append(
            f"strain is written in steps of {line.strain_step:.0e}: {line.strain_levels:.0f} steps "
            f"along the line, {given.least_levels:g} wanted"
        )
    if given.plausible and not given.plausible[0] <= slope <= given.plausible[1]:
        low, high = given.plausible
        said.append(
            f"{slope / 1e9:.1f} GPa is outside the {low / 1e9:g} to {high / 1e9:g} GPa of this "
            "metal"
        )
    return tuple(said)


def refuse_doubtful(line: ElasticLine, limits: ModulusLimits | None = None) -> None:
    """Refuse a slope that isn't a modulus, with every reason.

    Parameters
    ----------
    line : ElasticLine
        As fitted.
    limits : ModulusLimits, optional
        The package's own where left out.

    Raises
    ------
    InputError
        Naming what was found and what can be done.
    """
    found = doubts(line, limits)
    if found:
        raise InputError(
            "elastic_modulus",
            f"{line.elastic_modulus / 1e9:.1f} GPa by fit",
            "the slope of a straight line",
            "; ".join(found) + "; choose a range of stress where the record is straight, or give "
            "the modulus from another test with its uncertainty",
        )


def _chosen(
    strain: ArrayLike, stress: ArrayLike, lowest: float, highest: float
) -> tuple[FloatArray, FloatArray, npt.NDArray[np.intp]]:
    e, s = np.asarray(strain, dtype=np.float64), np.asarray(stress, dtype=np.float64)
    if e.ndim != 1 or e.shape != s.shape:
        raise InputError("strain", f"of shape {e.shape}", f"one for each stress, {s.shape}")
    reached = s >= highest
    greatest = f"reached by the record, whose greatest stress is {np.nanmax(s, initial=-np.inf):g}"
    with allowed.Together("elastic range") as given:
        below = 0 <= lowest < highest or (not highest > 0 and lowest >= 0)
        given.holds("lowest_stress", lowest, "below the highest and not negative", if_=below)
        given.holds("highest_stress", highest, greatest, if_=highest > 0 and bool(np.any(reached)))
    end = int(np.argmax(reached))
    rows = np.flatnonzero((s[:end] >= lowest) & np.isfinite(e[:end]))
    if rows.size < 3 or np.ptp(e[rows]) == 0:
        raise InputError(
            "lowest_stress",
            f"{lowest:g} and the highest {highest:g}, with {rows.size} samples between them",
            "a range with three samples or more whose strain differs",
            "widen it",
        )
    return e[rows], s[rows], rows


def _slope(e: FloatArray, s: FloatArray) -> tuple[float, float]:
    """Slope by least squares and its standard deviation by independent scatter."""
    across = e - np.mean(e)
    spread = float(np.sum(across**2))
    slope = float(np.sum(across * s)) / spread
    residual = s - np.mean(s) - slope * across
    return slope, math.sqrt(float(np.sum(residual**2)) / (e.size - 2) / spread)


def _local(
    e: FloatArray, s: FloatArray, lowest: float, highest: float
) -> tuple[FloatArray, FloatArray]:
    edges = np.linspace(lowest, highest, _PARTS + 1)
    found = np.full((2, _PARTS), np.nan)
    for part in range(_PARTS):
        inside = (s >= edges[part]) & (s < edges[part + 1])
        if np.count_nonzero(inside) >= 3 and np.ptp(e[inside]) > 0:
            found[:, part] = _slope(e[inside], s[inside])
    return found[0], found[1]


def _steady(moduli: FloatArray) -> bool:
    """Whether slopes only fall, as they do where the proportional limit has been passed."""
    return bool(np.all(np.diff(moduli[np.isfinite(moduli)]) < 0))


def _written_step(e: FloatArray) -> float:
    """Greatest step, a power of ten times 1, 2 or 5, of which every strain is a multiple."""
    size = float(np.ptp(e))
    for exponent in range(math.floor(math.log10(size)), -16, -1):
        for digit in (5, 2, 1):
            step = digit * 10.0**exponent
            if np.all(np.abs(e / step - np.round(e / step)) < 1e-4):
                return step
    return 1e-15
