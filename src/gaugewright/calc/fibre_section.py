"""Sections cut into layers: curvature, moment and strain of every bar under any material laws.

Plane sections and bars without slip. Depths count from the upper face, curvature and moment are
positive with the lower face pulled, axial force and strain with tension. Strains are total ones;
what concrete would do without stress (shrinkage) is taken off before its law is asked.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from gaugewright.calc import allowed, bracketing
from gaugewright.calc.layers import ConcreteLayers
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray

__all__ = [
    "FibreSection",
    "Law",
    "SectionStates",
    "crushing_state",
    "moment_curvature",
    "states_at",
]

# Stress from mechanical strain, both of any shape, NaN where the law ends.
Law = Callable[[FloatArray], FloatArray]

_SMALLEST_STRAIN = 1e-15
_LARGEST_STRAIN = 0.5
_SCANNED = 13


@dataclass(frozen=True, slots=True, eq=False)
class FibreSection:
    """Concrete in layers, bars at depths, and the two laws.

    Attributes
    ----------
    concrete : ConcreteLayers
        From ``layers.rectangle``, ``layers.tee`` or ``layers.circle``.
    bar_depths, bar_areas : array, shape (n_bars,)
        From the upper face [m]; area of steel at each depth [m^2].
    concrete_law, steel_law : Law
        Stress from strain.
    crushing_strain : float
        Where the concrete's law ends, as a positive number; states with a shorter extreme
        fibre are NaN. Infinite for a law without end [1].
    free_strain : float
        Of the concrete without stress, shrinkage negative [1].
    displaced : bool
        Whether bars take the place of concrete, as they do; False for gross concrete.
    """

    concrete: ConcreteLayers
    bar_depths: FloatArray
    bar_areas: FloatArray
    concrete_law: Law
    steel_law: Law
    crushing_strain: float = np.inf
    free_strain: float = 0.0
    displaced: bool = True

    def __post_init__(self) -> None:
        if self.bar_depths.ndim != 1 or self.bar_depths.shape != self.bar_areas.shape:
            raise InputError("bar_depths", self.bar_depths.shape, "as many as bar_areas")
        if self.bar_depths.size:
            allowed.within("bar_depths", self.bar_depths, (0.0, self.concrete.height))
            allowed.positive("bar_areas", self.bar_areas)
        if not self.crushing_strain > 0:
            raise InputError("crushing_strain", self.crushing_strain, "positive")

    @property
    def pulls(self) -> bool:
        """Whether the concrete's law has any tension."""
        return bool(np.any(self.concrete_law(np.array([1e-6, 1e-5, 5e-5])) > 0))

    def concrete_stress(self, total_strain: ArrayLike) -> FloatArray:
        """Stress of concrete; held at the end of its law so that a search can look beyond.

        Parameters
        ----------
        total_strain : array of any shape
            Tension positive [1].

        Returns
        -------
        stress : array shaped like ``total_strain``
            Tension positive [Pa].
        """
        acting = np.asarray(total_strain, dtype=np.float64) - self.free_strain
        if np.isfinite(self.crushing_strain):
            acting = np.maximum(acting, -self.crushing_strain)
        return np.asarray(self.concrete_law(acting))

    def forces(self, top_strain: ArrayLike, curvatures: ArrayLike) -> tuple[FloatArray, FloatArray]:
        """Axial force and moment of planes of strain.

        Parameters
        ----------
        top_strain : array of any shape
            At the upper face [1].
        curvatures : array of the same shape
            Positive where the lower face is longer [1/m].

        Returns
        -------
        force : array
            Tension positive [N].
        moment : array
            About half the height [N m].
        """
        top, bend = np.broadcast_arrays(
            np.asarray(top_strain, dtype=np.float64), np.asarray(curvatures, dtype=np.float64)
        )
        middle = self.concrete.height / 2
        layer = self.concrete
        stress = self.concrete_stress(top[..., np.newaxis] + bend[..., np.newaxis] * layer.depths)
        at_bars = top[..., np.newaxis] + bend[..., np.newaxis] * self.bar_depths
        steel = np.asarray(self.steel_law(at_bars))
        if self.displaced:
            steel = steel - self.concrete_stress(at_bars)
        force = stress @ layer.areas + steel @ self.bar_areas
        moment = stress @ (layer.areas * (layer.depths - middle))
        moment = moment + steel @ (self.bar_areas * (self.bar_depths - middle))
        return np.asarray(force), np.asarray(moment)


@dataclass(frozen=True, slots=True, eq=False)
class SectionStates:
    """States of a section, one a row; NaN where there is none.

    Attributes
    ----------
    curvature : array, shape (n,)
        Positive where the lower face is longer [1/m].
    moment : array, shape (n,)
        About half the height [N m].
    top_strain : array, shape (n,)
        Total strain of the upper face [1].
    bar_strain : array, shape (n, n_bars)
        Total strain, which for steel without free strain is the mechanical one [1].
    bar_stress : array, shape (n, n_bars)
        Tension positive [Pa].
    neutral_axis_depth : array, shape (n,)
        Where the total strain is zero; NaN without curvature [m].
    """

    curvature: FloatArray
    moment: FloatArray
    top_strain: FloatArray
    bar_strain: FloatArray
    bar_stress: FloatArray
    neutral_axis_depth: FloatArray


def moment_curvature(
    section: FibreSection, curvatures: ArrayLike, *, axial_force: float = 0.0
) -> SectionStates:
    """States at given curvatures under a constant axial force.

    Parameters
    ----------
    section : FibreSection
        With its laws.
    curvatures : array, shape (n,)
        Positive where the lower face is longer [1/m].
    axial_force : float
        At half the height, tension positive [N].

    Returns
    -------
    SectionStates
        NaN where the section can't carry the force at that curvature, where the concrete has
        crushed, or where the steel's law has ended.
    """
    bend = np.atleast_1d(np.asarray(curvatures, dtype=np.float64))

    def out_of_balance(top: FloatArray) -> FloatArray:
        return section.forces(top, bend)[0] - axial_force

    # In pure bending the zero lies between "all pushed" and "all pulled"; an axial force or free
    # strain moves it, and the bracket grows until it holds it.
    across = np.stack([-bend * section.concrete.height, np.zeros_like(bend)])
    low = np.min(across, axis=0) + min(section.free_strain, 0.0) - 1e-9
    high = np.max(across, axis=0) + max(section.free_strain, 0.0) + 1e-9
    low, high = bracketing.grown(out_of_balance, low, high, largest=_LARGEST_STRAIN)
    if section.pulls:
        low, high = _least_cracked(section, bend, low, high, axial_force)
    return _states(section, bracketing.zeros(out_of_balance, low, high, _SMALLEST_STRAIN), bend)


def states_at(
    section: FibreSection,
    moments: ArrayLike,
    largest_curvature: float,
    *,
    axial_force: float = 0.0,
    trial_curvatures: int = 48,
) -> SectionStates:
    """States at given moments on first loading: the strain of each bar against the moment.

    The first curvature at which the moment is reached; where cracking lets the moment drop, a
    higher one is first reached on the cracked branch, as under a growing load.

    Parameters
    ----------
    section : FibreSection
        With its laws.
    moments : array, shape (n,)
        About half the height, positive with the lower face pulled; none negative [N m].
    largest_curvature : float
        Where the search ends [1/m].
    axial_force : float
        At half the height, tension positive [N].
    trial_curvatures : int
        Points of the first search; a dip of the moment between two of them isn't seen [1].

    Returns
    -------
    SectionStates
        NaN where no curvature up to the largest carries the moment.

    Raises
    ------
    InputError
        If a moment is negative or the largest curvature isn't positive.
    """
    wanted = np.atleast_1d(np.asarray(moments, dtype=np.float64))
    with allowed.Together("states of a section") as given:
        given.not_negative("moments", wanted[~np.isnan(wanted)])
        last = float(given.positive("largest_curvature", largest_curvature))
    # Shrinkage alone may bend a section the other way: the search begins on that side.
    other_side = -last * np.geomspace(0.1, 1e-4, trial_curvatures // 4)
    trial = np.concatenate([other_side, [0.0], last * np.geomspace(1e-4, 1.0, trial_curvatures)])
    carried = moment_curvature(section, trial, axial_force=axial_force).moment
    # NaN compares false both ways: a gap in the curve never counts as reached.
    reached = carried[np.newaxis, :] >= wanted[:, np.newaxis]
    place = np.argmax(reached, axis=1)
    usable = np.any(reached, axis=1)
    # The same curvature asked for twice may differ in its last digit, so neither end may lie
    # right at the wanted moment: one point farther below, and a trifle less is wanted.
    before = np.maximum(place - 2, 0)
    least = 1e-12 * float(np.nanmax(np.abs(carried), initial=0.0))
    low = np.where(usable, trial[before], np.nan)
    high = np.where(usable, trial[place], np.nan)

    def short_of(bend: FloatArray) -> FloatArray:
        found = moment_curvature(section, bend, axial_force=axial_force)
        return np.asarray(found.moment - wanted + least)

    bend = bracketing.zeros(short_of, low, high, last * 1e-12)
    return moment_curvature(section, bend, axial_force=axial_force)


def crushing_state(section: FibreSection, *, axial_force: float = 0.0) -> SectionStates:
    """State with the upper face at the crushing strain: what a section carries at most by codes.

    Parameters
    ----------
    section : FibreSection
        With a finite crushing strain.
    axial_force : float
        At half the height, tension positive [N].

    Returns
    -------
    SectionStates
        One row.

    Raises
    ------
    InputError
        If the law has no crushing strain.
    """
    if not np.isfinite(section.crushing_strain):
        raise InputError("crushing_strain", section.crushing_strain, "finite")
    top = np.array([section.free_strain - section.crushing_strain])

    def out_of_balance(bend: FloatArray) -> FloatArray:
        return section.forces(top, bend)[0] - axial_force

    low = np.zeros(1)
    high = np.array([_LARGEST_STRAIN / section.concrete.height])
    # The steel's law may end long before: draw back until it answers.
    for _ in range(40):
        if np.all(np.isfinite(out_of_balance(high))):
            break
        high = high * 0.8
    bend = bracketing.zeros(out_of_balance, low, high, 1e-13)
    return _states(section, top + 0 * bend, bend)


def _least_cracked(
    section: FibreSection, bend: FloatArray, low: FloatArray, high: FloatArray, axial_force: float
) -> tuple[FloatArray, FloatArray]:
    """The first of several balanced planes as seen from the compressed side.

    Where concrete loses its tension in cracking, one curvature may have an uncracked and a
    cracked state in balance; on first loading the section is in the uncracked one.
    """
    share = np.linspace(0.0, 1.0, _SCANNED)
    trial = low[:, np.newaxis] + (high - low)[:, np.newaxis] * share
    force = section.forces(trial, np.broadcast_to(bend[:, np.newaxis], trial.shape))[0]
    place = np.maximum(np.argmax(force >= axial_force, axis=1), 1)[:, np.newaxis]
    first = np.take_along_axis(trial, place - 1, axis=1)[:, 0]
    return first, np.take_along_axis(trial, place, axis=1)[:, 0]


def _states(section: FibreSection, top: FloatArray, bend: FloatArray) -> SectionStates:
    height = section.concrete.height
    extreme = np.minimum(top, top + bend * height) - section.free_strain
    kept = extreme >= -section.crushing_strain * (1 + 1e-9)
    top = np.where(kept, top, np.nan)
    bars = top[:, np.newaxis] + bend[:, np.newaxis] * section.bar_depths
    axis = np.full(top.shape, np.nan)
    np.divide(-top, bend, out=axis, where=bend != 0)
    return SectionStates(
        curvature=np.where(np.isnan(top), np.nan, bend),
        moment=section.forces(top, bend)[1],
        top_strain=top,
        bar_strain=bars,
        bar_stress=np.asarray(section.steel_law(bars)),
        neutral_axis_depth=axis,
    )
