"""What part of a long record goes with season, day and temperature, and how well is it known?"""

import itertools
import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from numpy.typing import ArrayLike

from gaugewright.calc.allowed import Together
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray

__all__ = ["DAY", "PARTS", "YEAR", "Cycle", "SeasonFit", "season_fit", "why_no_cycle"]

DAY = 86_400.0
YEAR = 365.2425 * DAY  # mean year of the calendar
# Residuals inside a part may be alike in any way; parts are taken as independent.
PARTS = 40
# A cycle with nothing in a half of its turn can't be told from a level and a slope.
WIDEST_GAP = 0.5


@dataclass(frozen=True, slots=True)
class Cycle:
    """One period of a fit: its amplitude and when it stands highest, with standard uncertainties.

    ``highest`` is the first instant at or after time 0 at which the cycle peaks [s].
    """

    period: float
    amplitude: float
    amplitude_uncertainty: float
    highest: float
    highest_uncertainty: float


@dataclass(frozen=True, slots=True, eq=False)
class SeasonFit:
    """Level of every segment, steady change, and cycles or temperature, by least squares.

    Attributes
    ----------
    terms : tuple of str
        Names of the coefficients: levels, ``change each second``, then what was asked for.
    coefficients : array, shape (n_terms,)
        Levels are those at the middle of the record and, with temperature, at its mean.
    covariances : array, shape (n_terms, n_terms)
        Allowing for residuals that are alike within a part.
    degrees_of_freedom : float
        Parts with readings less one.
    residual_deviation : float
        Standard deviation of what the fit leaves.
    share : float
        Of the variance about levels and steady change, what cycles or temperature take up.
    seasonal : array, shape (n_samples,)
        What cycles or temperature say at each sample, NaN where nothing was fitted.
    fitted : array, shape (n_samples,)
        The same with levels and steady change.
    cycles : tuple of Cycle
        One for each period.
    """

    terms: tuple[str, ...]
    coefficients: FloatArray
    covariances: FloatArray
    degrees_of_freedom: float
    residual_deviation: float
    share: float
    seasonal: FloatArray
    fitted: FloatArray
    cycles: tuple[Cycle, ...]

    @property
    def standard_uncertainties(self) -> FloatArray:
        """Of the coefficients, in their units [1]."""
        return np.asarray(np.sqrt(np.diag(self.covariances)))


def why_no_cycle(time: ArrayLike, period: float) -> str:
    """Why a cycle can't be told in a record; "" when it can.

    Choice of this project, no source: the record is as long as the period, and no stretch of
    more than half a turn is without samples, all turns laid over each other.

    Parameters
    ----------
    time : array, shape (n_samples,)
        Of samples with a reading [s].
    period : float
        Of the cycle [s].
    """
    known = np.asarray(time, dtype=np.float64)
    known = known[np.isfinite(known)]
    length = float(np.ptp(known)) if known.size else 0.0
    if length < period:
        return f"the record is {length / DAY:.4g} days long, shorter than one turn"
    phases = np.unique(np.mod(known, period) / period)
    gap = float(np.max(np.diff(np.append(phases, phases[0] + 1.0))))
    return f"{gap:.0%} of the turn is never sampled" if gap > WIDEST_GAP else ""


def season_fit(
    time: ArrayLike,
    values: ArrayLike,
    *,
    periods: tuple[float, ...] = (),
    temperature_degc: ArrayLike | None = None,
    segments: npt.ArrayLike | None = None,
    steady_change: bool = True,
    parts: int = PARTS,
) -> SeasonFit:
    """Level, steady change and cycles or temperature in a record, by least squares.

    y = L_s + q (t - t_m) + Σ [a_p cos(2π t/p) + b_p sin(2π t/p)] + c (T - T_m), with one level
    for each segment: what a remade connection moved isn't taken for season. Residuals of slow
    records are alike for days; the covariance is that of least squares with groups, here equal
    stretches of time (K.-Y. Liang and S. L. Zeger, Biometrika 73 (1986) 13, from memory), times
    G/(G - 1) (n - 1)/(n - k). A steady change of the metal or the gauge and a cycle longer than
    the record can't be told apart: such a period is refused.

    Parameters
    ----------
    time : array, shape (n_samples,)
        Phases count from its 0 [s].
    values : array, shape (n_samples,)
        NaN where missing [1].
    periods : tuple of float
        Of the cycles, may be empty [s].
    temperature_degc : array, shape (n_samples,), optional
        To be fitted too, NaN where missing [degC].
    segments : array of int, shape (n_samples,), optional
        Which level a sample belongs to; one for all if left out [1].
    steady_change : bool
        Whether a change in proportion to time is fitted.
    parts : int
        Equal stretches of time that the doubt is judged by [1].

    Returns
    -------
    SeasonFit
        Coefficients, their doubt, and the seasonal part alone.

    Raises
    ------
    InputError
        If lengths differ, a period can't be told, the temperature never changes, or too few
        parts have readings.
    """
    when = np.asarray(time, dtype=np.float64)
    read = np.asarray(values, dtype=np.float64)
    warm = None if temperature_degc is None else np.asarray(temperature_degc, dtype=np.float64)
    level = np.zeros(when.shape, np.int64) if segments is None else np.asarray(segments)
    _refuse(when, read, warm, level, parts)
    good = np.isfinite(when) & np.isfinite(read)
    good &= True if warm is None else np.isfinite(warm)
    _refuse_periods(when[good], periods)
    design = _Design(when, good, level, steady_change)
    design.add_cycles(when, periods)
    if warm is not None:
        design.add("each kelvin", warm - float(np.mean(warm[good])))
    columns, y = np.column_stack(design.parts)[good], read[good]
    _refuse_alike(columns, design.terms)
    inverse = np.asarray(np.linalg.inv(columns.T @ columns), dtype=np.float64)
    found = inverse @ (columns.T @ y)
    rest = y - columns @ found
    group = np.minimum((parts * (when[good] - when[good].min()) / np.ptp(when[good])), parts - 1)
    covariances, groups = _covariances(columns, rest, inverse, group.astype(np.int64))
    about = _about(columns[:, : design.plain], y)
    seasonal = _back(columns[:, design.plain :] @ found[design.plain :], good)
    fitted = _back(columns @ found, good)
    scale = np.array(design.scale)
    found, covariances = found / scale, covariances / np.outer(scale, scale)
    return SeasonFit(
        tuple(design.terms),
        found,
        covariances,
        float(groups - 1),
        float(np.sqrt(np.sum(rest**2) / (y.size - found.size))),
        1 - float(np.sum(rest**2) / about),
        seasonal,
        fitted,
        tuple(
            _cycle(period, found[at : at + 2], covariances[at : at + 2, at : at + 2])
            for at, period in zip(itertools.count(design.plain, 2), periods, strict=False)
        ),
    )


def _about(plain: FloatArray, y: FloatArray) -> float:
    """Sum of squares about levels and steady change alone."""
    return float(np.sum((y - plain @ np.linalg.lstsq(plain, y, rcond=None)[0]) ** 2))


def _back(values: FloatArray, good: npt.NDArray[np.bool_]) -> FloatArray:
    """Values at the samples they belong to, nothing at the others."""
    whole = np.full(good.shape, np.nan)
    whole[good] = values
    return whole


class _Design:
    """Columns of a fit, each scaled to about one, and what they are called."""

    def __init__(
        self,
        time: FloatArray,
        good: npt.NDArray[np.bool_],
        level: npt.NDArray[np.int64],
        steady_change: bool,
    ) -> None:
        self.parts: list[FloatArray] = []
        self.terms: list[str] = []
        self.scale: list[float] = []
        for one in np.unique(level[good]).tolist():
            self.add(f"level {one}", (level == one).astype(np.float64))
        if steady_change:
            middle = float(time[good].min() + time[good].max()) / 2
            length = float(np.ptp(time[good]))
            self.add("change each second", (time - middle) / length, length)
        self.plain = len(self.parts)

    def add(self, term: str, part: FloatArray, scale: float = 1.0) -> None:
        """One more column, whose coefficient is divided by ``scale`` at the end."""
        self.terms.append(term)
        self.parts.append(part)
        self.scale.append(scale)

    def add_cycles(self, time: FloatArray, periods: tuple[float, ...]) -> None:
        """Cosine and sine of each period."""
        for period in periods:
            turn = 2 * math.pi * np.mod(time, period) / period
            self.add(f"cosine of {period:g} s", np.cos(turn))
            self.add(f"sine of {period:g} s", np.sin(turn))


def _covariances(
    columns: FloatArray, rest: FloatArray, inverse: FloatArray, group: npt.NDArray[np.int64]
) -> tuple[FloatArray, int]:
    scores = columns * rest[:, None]
    names, place = np.unique(group, return_inverse=True)
    sums = np.zeros((names.size, columns.shape[1]))
    np.add.at(sums, place, scores)
    n, k = columns.shape
    if names.size < k + 2:
        raise InputError(
            "stretches of time with readings",
            int(names.size),
            f"{k + 2} or more for {k} unknowns",
            "a longer record, or fewer cycles",
        )
    larger = names.size / (names.size - 1) * (n - 1) / (n - k)
    return np.asarray(larger * inverse @ (sums.T @ sums) @ inverse), int(names.size)


def _cycle(period: float, parts: FloatArray, covariances: FloatArray) -> Cycle:
    """Amplitude and instant of the peak of a cos + b sin, to first order in their doubt."""
    size = math.hypot(*parts)
    along = parts / size if size else np.array([1.0, 0.0])
    across = np.array([-along[1], along[0]])
    turn = 2 * math.pi / period
    doubt = math.sqrt(along @ covariances @ along)
    side = math.sqrt(across @ covariances @ across)
    late = side / size / turn if size else math.inf
    return Cycle(period, size, doubt, math.atan2(parts[1], parts[0]) / turn % period, late)


def _refuse(
    time: FloatArray,
    values: FloatArray,
    warm: FloatArray | None,
    level: npt.NDArray[np.int64],
    parts: int,
) -> None:
    sizes = [values.shape, level.shape, *([] if warm is None else [warm.shape])]
    with Together("season") as given:
        one = time.ndim == 1 and all(size == time.shape for size in sizes)
        given.holds("series", sizes, f"each as long as time, {time.shape}", if_=one)
        given.holds("parts", parts, "4 or more", if_=parts >= 4)
    there = np.isfinite(time) & np.isfinite(values)
    there &= True if warm is None else np.isfinite(warm)
    if there.sum() < 4 or not np.ptp(time[there]) > 0:
        do = "choose a gauge with a longer record"
        raise InputError("samples that have all", int(there.sum()), "4 or more, over time", do)


def _refuse_periods(time: FloatArray, periods: tuple[float, ...]) -> None:
    for period in periods:
        if not 0 < period < math.inf:
            raise InputError("periods", period, "a positive number of seconds")
        why = why_no_cycle(time, period)
        if why:
            allowed = "one that the record can tell"
            raise InputError(f"cycle of {period / DAY:g} days", why, allowed, "leave it out")


def _refuse_alike(columns: FloatArray, terms: list[str]) -> None:
    """Refuse terms of which one says the same as others: its coefficient could be anything."""
    size = np.sqrt(np.sum(columns**2, axis=0))
    for term, length in zip(terms, size.tolist(), strict=True):
        if length == 0:
            raise InputError(term, "never changes", "changing over the record", "leave it out")
    smallest = float(np.linalg.svd(columns / size, compute_uv=False)[-1])
    if smallest < 1e-6:
        raise InputError("terms of the fit", ", ".join(terms), "told apart by this record")
