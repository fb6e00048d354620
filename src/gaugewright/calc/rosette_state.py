"""Strain and stress of a surface from a rosette, with what is known of each, and when an axis is.

Small errors go through by their derivatives in closed form. The direction of the principal axes
is different: where Mohr's circle is no larger than its doubt there is none to be told.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import stats

from gaugewright.calc import allowed, rosette
from gaugewright.calc.joint import covariance
from gaugewright.calc.uncertainty import InputQuantity, Uncertain, combination, declare
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray

__all__ = [
    "PrincipalState",
    "SurfaceState",
    "principal_state",
    "principal_stresses",
    "surface_state",
    "tee_state",
]


@dataclass(frozen=True, slots=True, eq=False)
class SurfaceState:
    """State of strain of a surface with its doubt; arrays of moments go through together.

    Attributes
    ----------
    strain_x, strain_y, shear_strain : Uncertain
        Along x, along y, and engineering shear [1].
    residuals : tuple of Uncertain
        Indicated less fitted strain of each grid; nothing is left for three grids [1].
    """

    strain_x: Uncertain
    strain_y: Uncertain
    shear_strain: Uncertain
    residuals: tuple[Uncertain, ...]


@dataclass(frozen=True, slots=True, eq=False)
class PrincipalState:
    """Principal strains, and their axes as far as they are known.

    Attributes
    ----------
    first, second : Uncertain
        The algebraically larger and the smaller [1].
    radius : Uncertain
        Of Mohr's circle: half the largest shear strain in the surface [1].
    angle : Uncertain
        From x to the axis of ``first``, counter-clockwise, above -90° and up to 90° [rad].
    lower, upper : array
        How far the axis may be turned back and forward from ``angle``; NaN where it isn't
        determined [rad].
    significance : array
        Probability that a circle of no size would look at least this large [1].
    is_determined : array of bool
        Whether a circle of no size is excluded at the coverage asked for.
    """

    first: Uncertain
    second: Uncertain
    radius: Uncertain
    angle: Uncertain
    lower: FloatArray
    upper: FloatArray
    significance: FloatArray
    is_determined: np.ndarray[tuple[int, ...], np.dtype[np.bool_]]


def surface_state(
    arms: Sequence[Uncertain],
    grid_angles: ArrayLike,
    sensitivities: Sequence[Uncertain],
    calibration_poisson_ratio: float = 0.285,
) -> SurfaceState:
    """State of strain from three or more grids at any angles, by least squares.

    As ``rosette.surface_strain``, which gives the numbers. With D the rows (d + K d') / (1 - ν0 K)
    and G = (DᵀD)⁻¹: ∂s/∂reading = G Dᵀ and, from DᵀD s = Dᵀ e differentiated,
    ∂s/∂K_i = G ∂D_iᵀ r_i - (G Dᵀ)_i ∂D_i s, with ∂D_i = (d' + ν0 d) / (1 - ν0 K)².

    Parameters
    ----------
    arms : sequence of Uncertain
        Strain indicated by each grid, as many samples in each [1].
    grid_angles : array, shape (n_gauges,)
        From x [rad].
    sensitivities : sequence of Uncertain
        Transverse sensitivity of each grid; those of one pack share their doubt [1].
    calibration_poisson_ratio : float
        Of the beam the gauge factors were measured on [1].

    Returns
    -------
    SurfaceState
        Shaped like each arm.

    Raises
    ------
    InputError
        If the angles are fewer than three different directions, or lists differ in length.
    """
    angles = np.asarray(grid_angles, dtype=np.float64)
    if not len(arms) == angles.size == len(sensitivities):
        counts = (len(arms), angles.size, len(sensitivities))
        raise InputError("arms, angles and sensitivities", counts, "as many of each")
    grids = _grids(arms)
    side = np.array([each.value.item() for each in sensitivities])
    readings = np.stack([grid.value for grid in grids], axis=-1)
    found = rosette.surface_strain(readings, angles, side, calibration_poisson_ratio)
    state = np.stack([found.strain_x, found.strain_y, found.shear_strain], axis=-1)
    along, across = rosette.directions(angles), rosette.directions(angles + np.pi / 2)
    divisor = (1 - calibration_poisson_ratio * side)[:, np.newaxis]
    design = (along + side[:, np.newaxis] * across) / divisor
    turned = (across + calibration_poisson_ratio * along) / divisor**2
    inverse = np.linalg.inv(design.T @ design)
    by_arm = inverse @ design.T
    # Shape (..., n_gauges, 3): what a change of each K does to the three.
    by_side = (
        found.residual[..., np.newaxis] * (turned @ inverse)
        - (state @ turned.T)[..., np.newaxis] * by_arm.T
    )
    parts = [
        _linear(state[..., n], grids, by_arm[n], (sensitivities, by_side[..., n])) for n in range(3)
    ]
    return SurfaceState(parts[0], parts[1], parts[2], _residuals(found.residual, grids, design))


def tee_state(
    arms: Sequence[Uncertain],
    sensitivities: Sequence[Uncertain],
    calibration_poisson_ratio: float = 0.285,
) -> SurfaceState:
    """State of strain from two grids at right angles along axes that are taken as principal.

    Shear is nothing by that assumption, not by measurement: the rosette can't tell where the
    axes are. Each grid indicates (ε + K ε') / (1 - ν0 K), ε' being strain along the other.

    Parameters
    ----------
    arms : sequence of Uncertain
        Strain indicated by the grid along x and the one across it [1].
    sensitivities : sequence of Uncertain
        Transverse sensitivity of each [1].
    calibration_poisson_ratio : float
        Of the beam the gauge factors were measured on [1].

    Returns
    -------
    SurfaceState
        With a shear strain of nothing.

    Raises
    ------
    InputError
        If there aren't two grids.
    """
    if len(arms) != 2 or len(sensitivities) != 2:
        raise InputError("arms", len(arms), "two, at right angles")
    one, other = _grids(arms)
    ka, kb = (each.value.item() for each in sensitivities)
    nu = calibration_poisson_ratio
    whole = 1 - ka * kb
    a, b = (1 - nu * ka) / whole, (1 - nu * kb) / whole
    x = a * one.value - ka * b * other.value
    y = b * other.value - kb * a * one.value
    # From a strain of the grid e (1 - ν0 K) = ε + K ε': (∂x, ∂y) = M⁻¹ of what K changes there.
    by_ka = (-nu * one.value - y) / whole
    by_kb = (-nu * other.value - x) / whole
    return SurfaceState(
        combination(
            x,
            [
                (one, np.asarray(a)),
                (other, np.asarray(-ka * b)),
                (sensitivities[0], by_ka),
                (sensitivities[1], -ka * by_kb),
            ],
        ),
        combination(
            y,
            [
                (one, np.asarray(-kb * a)),
                (other, np.asarray(b)),
                (sensitivities[0], -kb * by_ka),
                (sensitivities[1], by_kb),
            ],
        ),
        Uncertain.exact(np.zeros(x.shape)),
        (),
    )


def principal_state(state: SurfaceState, coverage: float = 0.95) -> PrincipalState:
    """Principal strains and axes by ASTM E1561's convention (from memory), as far as known.

    The axis is determined where the point (ε_x - ε_y, γ) lies outside the ellipse of its doubt
    round the origin (chi-squared of two). Its interval is then the set of all directions that
    the point can't be told from, by the component across them; for a small circle it is wider
    than the straight line says. Stated at 95 %, it held the axis in 95 of 100 trials for circles
    ten times their doubt, and in 93 for circles just large enough to be told.

    Parameters
    ----------
    state : SurfaceState
        As fitted.
    coverage : float
        Probability of the interval [1].

    Returns
    -------
    PrincipalState
        Shaped like the state.
    """
    share = float(allowed.within("coverage", coverage, (0.0, 1.0)))
    x, y, shear = state.strain_x, state.strain_y, state.shear_strain
    found = rosette.principal(x.value, y.value, shear.value)
    angle = np.where(np.isfinite(found.angle), found.angle, 0.0)
    cosine, sine = np.cos(angle), np.sin(angle)
    # ε(θ) is stationary at the principal directions, so their own doubt doesn't enter.
    first = combination(
        found.first, [(x, cosine**2), (y, sine**2), (shear, np.asarray(sine * cosine))]
    )
    second = combination(
        found.second, [(x, sine**2), (y, cosine**2), (shear, np.asarray(-sine * cosine))]
    )
    radius = combination(
        (found.first - found.second) / 2,
        [
            (x, np.cos(2 * angle) / 2),
            (y, -np.cos(2 * angle) / 2),
            (shear, np.sin(2 * angle) / 2),
        ],
    )
    difference = combination(x.value - y.value, [(x, 1.0), (y, -1.0)])
    size = np.hypot(difference.value, shear.value)
    # What rounding leaves of equal strains is no circle.
    size = np.where(size > 1e-12 * (np.abs(x.value) + np.abs(y.value)), size, 0.0)
    slope = np.divide(1.0, 2 * size**2, out=np.zeros(size.shape), where=size > 0)
    turn = combination(
        np.where(size > 0, angle, np.nan),
        [(difference, -shear.value * slope), (shear, difference.value * slope)],
    )
    significance, lower, upper = _axis((difference, shear), size, 2 * angle, share)
    known = np.asarray(significance < 1 - share)
    blank = np.where(known, 0.0, np.nan)
    return PrincipalState(
        first, second, radius, turn, lower + blank, upper + blank, significance, known
    )


def principal_stresses(
    strains: tuple[Uncertain, Uncertain], elastic_modulus: Uncertain, poisson_ratio: Uncertain
) -> tuple[Uncertain, Uncertain]:
    """Elastic stresses along two axes without shear: σ1 = E (ε1 + ν ε2) / (1 - ν²).

    Parameters
    ----------
    strains : tuple of Uncertain
        Along the first axis and the second [1].
    elastic_modulus : Uncertain
        Of the metal [Pa].
    poisson_ratio : Uncertain
        Of the metal [1].

    Returns
    -------
    tuple of Uncertain
        Along the first axis and the second [Pa].

    Raises
    ------
    InputError
        If the modulus isn't positive or Poisson's ratio isn't from 0 to 0.5; all of both at once.
    """
    nu, modulus = poisson_ratio.value.item(), elastic_modulus.value.item()
    with allowed.Together("stresses") as given:
        given.positive("elastic_modulus", modulus)
        given.within("poisson_ratio", nu, (0.0, 0.5))
    kept = 1 - nu**2
    made = []
    for strain, other in (strains, strains[::-1]):
        both = strain.value + nu * other.value
        by_poisson = modulus * (other.value * kept + 2 * nu * both) / kept**2
        made.append(
            combination(
                modulus * both / kept,
                [
                    (strain, modulus / kept),
                    (other, nu * modulus / kept),
                    (elastic_modulus, both / kept),
                    (poisson_ratio, by_poisson),
                ],
            )
        )
    return made[0], made[1]


def _axis(
    point: tuple[Uncertain, Uncertain], size: FloatArray, turn: FloatArray, coverage: float
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Probability of a circle of no size, and how far the axis may be turned each way [rad]."""
    xx, xy, yy = _spread(*point)
    cosine, sine = np.cos(turn), np.sin(turn)
    along = cosine**2 * xx + 2 * cosine * sine * xy + sine**2 * yy
    across = sine**2 * xx - 2 * cosine * sine * xy + cosine**2 * yy
    both = cosine * sine * (yy - xx) + (cosine**2 - sine**2) * xy
    whole = xx * yy - xy**2
    with np.errstate(divide="ignore", invalid="ignore"):
        square = np.where(whole > 0, size**2 * across / whole, np.inf)
    # Without any doubt, or with doubt in one direction only, a circle of any size is one.
    square = np.where(size > 0, square, np.where(np.isnan(size), np.nan, 0.0))
    significance = np.asarray(stats.chi2.sf(square, 2))
    factor = stats.norm.ppf((1 + coverage) / 2) ** 2
    # (size sin δ)² = k² var(across the direction turned by δ), as a quadratic in tan δ.
    head = size**2 - factor * along
    root = np.sqrt(np.clip((factor * both) ** 2 + head * factor * across, 0.0, None))
    with np.errstate(divide="ignore", invalid="ignore"):
        upper = np.arctan((-factor * both + root) / head) / 2
        lower = np.arctan((factor * both + root) / head) / 2
    told = head > 0
    return significance, np.where(told, lower, np.nan), np.where(told, upper, np.nan)


def _spread(difference: Uncertain, shear: Uncertain) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Variances and covariance of two values, sample by sample."""
    shared = covariance(difference, shear)
    return difference.standard_uncertainty() ** 2, shared, shear.standard_uncertainty() ** 2


def _grids(arms: Sequence[Uncertain]) -> list[Uncertain]:
    """Arms whose noise has become an input: all three results owe to the same readings.

    Samples then share it too, which matters only where samples are combined; nobody does here.
    """
    grids = []
    for n, arm in enumerate(arms):
        inputs = dict(arm.inputs)
        noise = InputQuantity(
            f"noise of rosette arm {n + 1}", 1.0, meaning="scatter of the reading"
        )
        declare(inputs, noise)
        slopes = {**arm.sensitivities, noise.name: arm.noise}
        grids.append(Uncertain(arm.value, slopes, inputs=inputs) if np.any(arm.noise) else arm)
    return grids


def _linear(
    value: FloatArray,
    grids: Sequence[Uncertain],
    by_arm: FloatArray,
    by_side: tuple[Sequence[Uncertain], FloatArray],
) -> Uncertain:
    sensitivities, slopes = by_side
    return combination(
        value,
        [
            *((grid, np.asarray(by_arm[m])) for m, grid in enumerate(grids)),
            *((side, np.asarray(slopes[..., m])) for m, side in enumerate(sensitivities)),
        ],
    )


def _residuals(
    residual: FloatArray, grids: Sequence[Uncertain], design: FloatArray
) -> tuple[Uncertain, ...]:
    """What the fit leaves of each grid; a doubt of K works in the second order here."""
    if design.shape[0] == 3:
        return ()
    left = np.eye(design.shape[0]) - design @ np.linalg.pinv(design)
    return tuple(
        combination(
            residual[..., n], [(grid, np.asarray(left[n, m])) for m, grid in enumerate(grids)]
        )
        for n in range(design.shape[0])
    )
