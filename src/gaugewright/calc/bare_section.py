"""Strain on the face of a piece of bare metal that is pulled, bent in two planes and twisted.

Elastic, straight, of one metal. Clock angles count round the axis, seen along the way in which
distances grow. A moment towards an angle is positive where it pulls the face at that angle; a
torque is positive where it turns what lies farther on towards growing clock angles, which
stretches grids at +45° (from the axis towards growing clock angles).
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from gaugewright.calc import allowed
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray

__all__ = ["BareSection", "FaceStress", "flat_section", "ring_section", "strain_along_grid"]

_RIGHT = 1e-3  # a flat bar's faces are at quarter turns, to within this [rad]


@dataclass(frozen=True, slots=True)
class BareSection:
    """Numbers of a round bar, a round tube or a flat bar.

    Attributes
    ----------
    area : float
        Of the metal [m^2].
    towards_top, towards_side : float
        Second moments for bending towards clock angle 0 and towards a quarter turn [m^4].
    height, width : float
        Over all, along clock angles 0 and a quarter turn [m].
    polar : float
        Second moment about the axis of a round one; NaN for a flat bar, which this doesn't
        twist [m^4].
    """

    area: float
    towards_top: float
    towards_side: float
    height: float
    width: float
    polar: float

    @property
    def is_round(self) -> bool:
        """Whether every clock angle is a place on its face."""
        return math.isfinite(self.polar)

    def face(self, clock_angle: float) -> tuple[float, float]:
        """Distances of a place on the face from the axis, towards 0 and towards a quarter turn.

        Parameters
        ----------
        clock_angle : float
            Of the place; of a flat bar the middle of a face [rad].

        Returns
        -------
        up, side : float
            Each signed [m].

        Raises
        ------
        InputError
            If a flat bar has no face there.
        """
        c, s = math.cos(clock_angle), math.sin(clock_angle)
        if not self.is_round and min(abs(c), abs(s)) > _RIGHT:
            raise InputError(
                "clock_angle", clock_angle, "0, 90, 180 or 270 degrees: a flat bar has four faces"
            )
        return c * self.height / 2, s * self.width / 2

    def stress_at(
        self,
        clock_angle: float,
        *,
        axial_force: ArrayLike,
        moments: tuple[ArrayLike, ArrayLike],
        torque: ArrayLike,
    ) -> "FaceStress":
        """Stress at a place on the face: N/A + M y/I in both planes, and T d/2J.

        Parameters
        ----------
        clock_angle : float
            Of the place [rad].
        axial_force : float or array
            Tension positive [N].
        moments : tuple of float or array
            Towards clock angle 0 and towards a quarter turn [N m].
        torque : float or array
            Towards growing clock angles [N m].

        Returns
        -------
        FaceStress
            Along the axis and in shear.

        Raises
        ------
        InputError
            If a flat bar is twisted, or has no face there.
        """
        up, side = self.face(clock_angle)
        along = np.asarray(axial_force, dtype=np.float64) / self.area
        along = along + np.asarray(moments[0]) * up / self.towards_top
        along = along + np.asarray(moments[1]) * side / self.towards_side
        twist = np.asarray(torque, dtype=np.float64)
        if not self.is_round:
            if np.any(twist != 0):
                raise InputError("torque", float(np.max(np.abs(twist))), "0 on a flat bar")
            return FaceStress(along, np.zeros(along.shape))
        return FaceStress(along, np.asarray(twist * self.height / 2 / self.polar))

    def largest_stress(
        self, *, axial_force: float, moments: tuple[float, float], torque: float
    ) -> float:
        """Largest stress after Mises anywhere on the section.

        Parameters
        ----------
        axial_force : float
            Tension positive [N].
        moments : tuple of float
            Towards clock angle 0 and towards a quarter turn [N m].
        torque : float
            Towards growing clock angles [N m].

        Returns
        -------
        stress : float
            Never negative; without the shear of bending, which is nothing at the far faces [Pa].
        """
        if self.is_round:
            bent = math.hypot(*moments) * self.height / 2 / self.towards_top
            shear = torque * self.height / 2 / self.polar
        else:
            bent = abs(moments[0]) * self.height / 2 / self.towards_top
            bent += abs(moments[1]) * self.width / 2 / self.towards_side
            shear = 0.0
        return math.hypot(abs(axial_force) / self.area + bent, math.sqrt(3) * shear)


@dataclass(frozen=True, slots=True, eq=False)
class FaceStress:
    """Stress at a place on the face.

    Attributes
    ----------
    along : array
        Along the axis, tension positive [Pa].
    shear : array
        Positive where grids at +45° are stretched [Pa].
    """

    along: FloatArray
    shear: FloatArray

    @property
    def mises(self) -> FloatArray:
        """Stress of a pull that would yield alike, after Mises: √(σ² + 3τ²) [Pa]."""
        return np.asarray(np.hypot(self.along, math.sqrt(3) * self.shear))


def ring_section(diameter: float, bore: float = 0.0) -> BareSection:
    """Section of a round bar or tube: I = π (d⁴ - b⁴)/64, J = 2 I.

    Source: any text on strength of materials.

    Parameters
    ----------
    diameter : float
        Outer [m].
    bore : float
        Inner diameter, 0 for a solid bar [m].

    Returns
    -------
    BareSection
        Alike in every plane.

    Raises
    ------
    InputError
        If the bore isn't smaller than the diameter.

    Examples
    --------
    >>> round(ring_section(0.02).towards_top * 1e9, 3)
    7.854
    """
    with allowed.Together("round section") as given:
        outer = float(given.positive("diameter", diameter))
        inner = float(given.not_negative("bore", bore))
    if not inner < outer:
        raise InputError("bore", inner, f"below the diameter of {outer:g} m")
    second = math.pi / 64 * (outer**4 - inner**4)
    area = math.pi / 4 * (outer**2 - inner**2)
    return BareSection(area, second, second, outer, outer, 2 * second)


def flat_section(width: float, thickness: float) -> BareSection:
    """Section of a flat bar; clock angle 0 is the middle of a broad face: I = w t³/12 and t w³/12.

    Parameters
    ----------
    width : float
        Of the broad faces [m].
    thickness : float
        Between them [m].

    Returns
    -------
    BareSection
        Without a torsion constant: a flat bar isn't twisted here.

    Raises
    ------
    InputError
        If a measure isn't positive.
    """
    with allowed.Together("flat section") as given:
        w = float(given.positive("width", width))
        t = float(given.positive("thickness", thickness))
    return BareSection(w * t, w * t**3 / 12, t * w**3 / 12, t, w, math.nan)


def strain_along_grid(
    stress: FaceStress, angle: float, elastic_modulus: float, poisson_ratio: float
) -> FloatArray:
    """Strain along a grid: σ/E (cos² - ν sin²) + τ (1 + ν)/E sin 2α.

    By the transformation of plane strain with no stress round the bar, and γ = 2 (1 + ν) τ/E.

    Parameters
    ----------
    stress : FaceStress
        At the grid.
    angle : float
        Of the grid from the axis, towards growing clock angles [rad].
    elastic_modulus : float
        Of the metal [Pa].
    poisson_ratio : float
        Of the metal [1].

    Returns
    -------
    strain : array
        Tension positive [1].

    Raises
    ------
    InputError
        If a number of the metal is impossible.
    """
    with allowed.Together("strain along a grid") as given:
        modulus = float(given.positive("elastic_modulus", elastic_modulus))
        nu = float(given.within("poisson_ratio", poisson_ratio, (0.0, 0.5)))
    c, s = math.cos(angle), math.sin(angle)
    along = stress.along / modulus * (c**2 - nu * s**2)
    return np.asarray(along + stress.shear * (1 + nu) / modulus * 2 * s * c)
