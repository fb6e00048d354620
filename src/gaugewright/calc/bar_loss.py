"""What a section still tells when one of its gauges dies, and what that costs."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from gaugewright.calc import allowed
from gaugewright.calc.around import plane_through
from gaugewright.calc.uncertainty import InputQuantity, Uncertain
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray

__all__ = ["SectionAnswers", "axial_of_survivor", "section_answers", "without_gauge"]


@dataclass(frozen=True, slots=True)
class SectionAnswers:
    """What gauges round a bar determine, and how well.

    Attributes
    ----------
    axial : float
        Standard uncertainty of the axial strain for gauges of standard uncertainty 1, independent
        of each other; infinite where they can't tell it from bending [1].
    curvature_x, curvature_y : float
        The same for the curvatures times the mean gauge radius; infinite where not told [1].
    spare : int
        Gauges beyond those needed, which show a bad one in their residuals.
    """

    axial: float
    curvature_x: float
    curvature_y: float
    spare: int

    @property
    def told(self) -> tuple[str, ...]:
        """Which of axial strain and the two curvatures the gauges determine."""
        names = ("axial", "curvature_x", "curvature_y")
        return tuple(name for name in names if np.isfinite(getattr(self, name)))


def section_answers(clock_angles: ArrayLike, gauge_radius: ArrayLike) -> SectionAnswers:
    """What gauges at these places determine of axial strain and bending.

    Parameters
    ----------
    clock_angles : array, shape (n_gauges,)
        Of the gauges [rad].
    gauge_radius : float or array, shape (n_gauges,)
        Distance of the grids from the axis [m].

    Returns
    -------
    SectionAnswers
        Of independent gauges, none of them lost.

    Raises
    ------
    InputError
        If there is no gauge or a radius isn't positive.

    Examples
    --------
    >>> pair = section_answers([0.0, np.pi], 8e-3)
    >>> pair.told, round(pair.axial, 3)
    (('axial', 'curvature_x'), 0.707)
    """
    angle = np.atleast_1d(np.asarray(clock_angles, dtype=np.float64))
    if angle.ndim != 1 or angle.size == 0:
        raise InputError("clock_angles", angle.shape, "one angle for each gauge")
    with allowed.Together("gauges round a bar") as given:
        given.finite("clock_angles", angle)
        distance = given.positive("gauge_radius", gauge_radius)
    radius = np.broadcast_to(distance, angle.shape)
    _, design, inverse = plane_through(angle, radius)
    told = np.isclose(np.diag(inverse @ design), 1.0, atol=1e-6)
    spread = np.where(told, np.linalg.norm(inverse, axis=1), np.inf)
    axial, x, y = spread.tolist()
    rank = int(np.linalg.matrix_rank(design, tol=1e-9))
    return SectionAnswers(axial, x, y, angle.size - rank)


def without_gauge(
    clock_angles: ArrayLike, gauge_radius: ArrayLike, lost: int
) -> tuple[SectionAnswers, SectionAnswers]:
    """What a section tells with all its gauges, and without one of them.

    Parameters
    ----------
    clock_angles : array, shape (n_gauges,)
        Of the gauges [rad].
    gauge_radius : float or array, shape (n_gauges,)
        Distance of the grids from the axis [m].
    lost : int
        Which gauge dies, counted from 0 [1].

    Returns
    -------
    tuple of SectionAnswers
        Before and after.

    Raises
    ------
    InputError
        If there is no such gauge, or it is the only one.

    Examples
    --------
    >>> four = np.radians([0.0, 90.0, 180.0, 270.0])
    >>> before, after = without_gauge(four, 8e-3, lost=0)
    >>> round(before.axial, 3), round(after.axial, 3), after.told, before.spare, after.spare
    (0.5, 0.707, ('axial', 'curvature_x', 'curvature_y'), 1, 0)
    """
    angle = np.atleast_1d(np.asarray(clock_angles, dtype=np.float64))
    with allowed.Together("gauges round a bar") as given:
        given.holds(
            "lost",
            lost,
            f"from 0 to {angle.size - 1}, one of two gauges or more",
            if_=angle.size >= 2 and 0 <= lost < angle.size,
        )
        given.finite("clock_angles", angle)
        distance = given.positive("gauge_radius", gauge_radius)
    radius: FloatArray = np.broadcast_to(distance, angle.shape)
    kept = np.arange(angle.size) != lost
    return section_answers(angle, radius), section_answers(angle[kept], radius[kept])


def axial_of_survivor(strain: Uncertain, last_bending: float, name: str) -> Uncertain:
    """Axial strain from the one gauge left of an opposite pair.

    The mean is gone; what bending the bar has now nobody knows. Its last known size, in half the
    difference of the pair, is taken as a standard deviation about zero: a cause that is assumed,
    says so, and usually dominates.

    Parameters
    ----------
    strain : Uncertain
        Of the gauge that is left [1].
    last_bending : float
        Half the difference of the pair when both last read [1].
    name : str
        Of the cause, such as ``bending unseen@`` with the station's uid.

    Returns
    -------
    Uncertain
        The survivor's strain with the bending unseen [1].

    Raises
    ------
    InputError
        If the bending isn't a number: without one, the axial strain can't be stated.
    """
    if not np.isfinite(last_bending):
        raise InputError(
            "last_bending",
            last_bending,
            "a number",
            "give half the difference of the pair when both last read, or an upper limit of it",
        )
    unseen = InputQuantity(
        name, abs(last_bending), basis="assumed", meaning="bending that the lost gauge would show"
    )
    return strain + Uncertain.from_input(0.0, unseen)
