"""Bending of a bar in a testing machine, from gauges round it, in the terms of ASTM E1012."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from gaugewright.calc.around import axial_and_bending
from gaugewright.quantities import FloatArray

__all__ = ["BendingShare", "bending_share"]


@dataclass(frozen=True, slots=True)
class BendingShare:
    """Axial strain and largest bending strain of a bar.

    Attributes
    ----------
    axial : array
        Mean strain of the section [1].
    bending : array
        Largest bending strain at the radius of the gauges; where only one plane was gauged, the
        part in that plane, which is a lower bound [1].
    share : array
        Bending over axial strain, percent bending of ASTM E1012 over 100; NaN at no load [1].
    whole : bool
        Whether both planes were gauged, so that ``bending`` is all of it.
    """

    axial: FloatArray
    bending: FloatArray
    share: FloatArray
    whole: bool


def bending_share(strains: ArrayLike, clock_angles: ArrayLike, gauge_radius: float) -> BendingShare:
    """Percent bending from two opposite gauges, or three and more round a bar.

    Three or more give the whole of it, sqrt(bx² + by²); two opposite ones the part in their
    plane. Turn the bar half round between two mountings to tell the machine's share from the
    bar's own: what turns with the bar is the bar's. Source: ASTM E1012 (from memory).

    Parameters
    ----------
    strains : array, shape (..., n_gauges)
        At one load or many, less zero [1].
    clock_angles : array, shape (n_gauges,)
        Of the gauges [rad].
    gauge_radius : float
        Distance of the grids from the axis, one for all [m].

    Returns
    -------
    BendingShare
        Of the leading shape.

    Raises
    ------
    InputError
        If the gauges can't separate axial strain from bending.

    Examples
    --------
    >>> found = bending_share([1.05e-3, 1.0e-3, 0.95e-3, 1.0e-3], np.arange(4) * np.pi / 2, 8e-3)
    >>> found.share.round(6).item(), found.whole
    (0.05, True)
    """
    plane = axial_and_bending(strains, clock_angles, gauge_radius)
    radius = gauge_radius
    angle = np.asarray(clock_angles, dtype=np.float64)
    if angle.size == 2:
        # The half difference is what the pair sees of bending, whatever plane it stands in.
        reading = np.asarray(strains, dtype=np.float64)
        bending = np.abs(reading[..., 0] - reading[..., 1]) / 2
        return BendingShare(plane.axial, bending, _over(bending, plane.axial), False)
    bending = radius * np.hypot(plane.curvature_x, plane.curvature_y)
    return BendingShare(plane.axial, bending, _over(bending, plane.axial), True)


def _over(bending: FloatArray, axial: FloatArray) -> FloatArray:
    size = np.abs(axial)
    return np.asarray(np.where(size > 0, bending / np.where(size > 0, size, 1.0), np.nan))
