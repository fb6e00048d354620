"""Bond of a bar in concrete: bond stress from the change of force along it, slip, local laws.

Bond stress is positive where the bar's force grows with distance. Slip is the bar's movement
against the concrete towards growing distance; it takes total strains, since expansion moves a
bar as much as stress does.
"""

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from gaugewright.calc import allowed
from gaugewright.calc.smooth_field import FieldPoint, SmoothField
from gaugewright.calc.uncertainty import Uncertain, combination
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray

__all__ = [
    "BondLaw",
    "BondStep",
    "bond_at",
    "bond_between_stations",
    "bond_law_fib2010_good",
    "bond_law_fib2010_other",
    "bond_stress_at_yield",
    "concrete_share",
    "local_bond_stress",
    "mean_strain",
    "slip_from",
]


@dataclass(frozen=True, slots=True, eq=False)
class BondStep:
    """Mean bond stress between two neighbouring stations that have a value.

    Attributes
    ----------
    between : tuple of str
        Names of the two stations.
    over : tuple of str
        Names of lost stations in between, which the mean spans.
    first, last : float
        Where they are [m].
    stress : Uncertain
        Mean over the length [Pa].
    """

    between: tuple[str, str]
    over: tuple[str, ...]
    first: float
    last: float
    stress: Uncertain


@dataclass(frozen=True, slots=True)
class BondLaw:
    """Local bond stress against slip: power law, plateau, straight fall, rest.

    Attributes
    ----------
    bond_strength : float
        τ_max [Pa].
    first_slip, second_slip, third_slip : float
        Ends of rise, plateau and fall [m].
    exponent : float
        Of the rise [1].
    rest_share : float
        Rest over strength [1].
    """

    bond_strength: float
    first_slip: float
    second_slip: float
    third_slip: float
    exponent: float = 0.4
    rest_share: float = 0.4

    def __post_init__(self) -> None:
        with allowed.Together("bond law") as given:
            given.positive("bond_strength", self.bond_strength)
            given.positive("first_slip", self.first_slip)
            given.within("exponent", self.exponent, (0.0, 1.0))
            given.within("rest_share", self.rest_share, (0.0, 1.0))
            given.holds(
                "third_slip",
                (self.first_slip, self.second_slip, self.third_slip),
                "the last of three that grow",
                if_=self.first_slip <= self.second_slip < self.third_slip < np.inf,
            )


def bond_between_stations(
    points: Sequence[FieldPoint], perimeter: Uncertain
) -> tuple[BondStep, ...]:
    """Mean bond stresses by differences: (N2 - N1) / (u (x2 - x1)), nothing assumed between.

    Parameters
    ----------
    points : sequence of FieldPoint
        Forces; those with NaN are lost, and the mean then spans them.
    perimeter : Uncertain
        Bonded [m].

    Returns
    -------
    tuple of BondStep
        One less than there are stations with a value.

    Raises
    ------
    InputError
        If two stations are at one place.
    """
    along = sorted(points, key=lambda point: float(point.distance.value))
    kept = [i for i, point in enumerate(along) if np.isfinite(point.value.value)]
    steps = []
    for i, j in itertools.pairwise(kept):
        near, far = along[i], along[j]
        length = far.distance - near.distance
        if not length.value > 0:
            raise InputError("distance", float(near.distance.value), "different at every station")
        steps.append(
            BondStep(
                (near.name, far.name),
                tuple(point.name for point in along[i + 1 : j]),
                float(near.distance.value),
                float(far.distance.value),
                (far.value - near.value) / (length * perimeter),
            )
        )
    return tuple(steps)


def bond_at(
    field: SmoothField,
    positions: ArrayLike,
    perimeter: Uncertain,
    *,
    half_width: float | None = None,
    degree: int = 2,
) -> Uncertain:
    """Bond stress at places: slope of the force over the perimeter.

    Parameters
    ----------
    field : SmoothField
        Of the bar's force.
    positions : array, shape (m,)
        Between the stations [m].
    perimeter : Uncertain
        Bonded [m].
    half_width : float, optional
        Half the window of a local polynomial; left out, the whole field is used [m].
    degree : int
        Of the local polynomial [1].

    Returns
    -------
    Uncertain
        Bond stress [Pa].

    Raises
    ------
    InputError
        If a place lies outside the stations or its window holds too few of them.
    """
    if half_width is None:
        return field.slope_at(positions) / perimeter
    return field.local_slope_at(positions, half_width, degree=degree) / perimeter


def slip_from(
    strain: SmoothField,
    positions: ArrayLike,
    *,
    start: float,
    slip_there: Uncertain,
    concrete_strain: Uncertain | None = None,
) -> Uncertain:
    """Slip along a bar: s = s0 + ∫ (ε_s - ε_c) dx.

    Parameters
    ----------
    strain : SmoothField
        Total strain of the bar.
    positions : array, shape (m,)
        Between the stations [m].
    start : float
        Where the slip is known: measured at an end, or zero midway between two cracks [m].
    slip_there : Uncertain
        With its doubt: zero by symmetry isn't exact [m].
    concrete_strain : Uncertain, optional
        Mean total strain of the concrete beside the bar, shrinkage included, taken as even; left
        out it is zero, which overstates slip where concrete is pulled [1].

    Returns
    -------
    Uncertain
        Slip at each place [m].

    Raises
    ------
    InputError
        If a place lies outside the stations.
    """
    found = strain.sum_from(start, positions) + slip_there
    if concrete_strain is None:
        return found
    length = np.atleast_1d(np.asarray(positions, dtype=np.float64)) - start
    return found - concrete_strain * length


def mean_strain(
    strain: SmoothField,
    first: float,
    last: float,
    *,
    initial_strain: Uncertain,
    crack_spacing: float | None = None,
) -> Uncertain:
    """Mean strain of a bar over a length with several cracks, counted from no stress.

    Parameters
    ----------
    strain : SmoothField
        Since the zero of the gauges.
    first : float
        Beginning [m].
    last : float
        End [m].
    initial_strain : Uncertain
        Of the bar at that zero, shrinkage of the concrete makes it negative. It must be stated,
        zero with its doubt where nothing is known: left out it looks like tension stiffening.
    crack_spacing : float, optional
        When given, a length below two spacings is refused: it holds no mean [m].

    Returns
    -------
    Uncertain
        One value [1].

    Raises
    ------
    InputError
        If the length is too short or lies outside the stations.
    """
    length = last - first
    shortest = 0.0 if crack_spacing is None else 2 * float(crack_spacing)
    if not length > 0 or length < shortest:
        raise InputError("last", last, f"beyond {first + shortest:g} m", "take a longer length")
    return strain.sum_from(first, last)[0] / length + initial_strain


def concrete_share(
    load: Uncertain, strain: Uncertain, elastic_modulus: Uncertain, area: Uncertain
) -> Uncertain:
    """Mean force that cracked concrete still carries in a tie: N - E A ε_sm.

    Parameters
    ----------
    load : Uncertain
        Applied, tension positive [N].
    strain : Uncertain
        Mean of the bar from no stress, as ``mean_strain`` gives it.
    elastic_modulus : Uncertain
        Of the bar.
    area : Uncertain
        Of the bar.

    Returns
    -------
    Uncertain
        Force of the concrete [N].
    """
    e, a, n = strain.value, area.value, elastic_modulus.value
    return combination(
        load.value - n * a * e,
        [(load, 1.0), (strain, -n * a), (elastic_modulus, -a * e), (area, -n * e)],
    )


def bond_stress_at_yield(
    yield_strength: ArrayLike, diameter: ArrayLike, bonded_length: ArrayLike
) -> FloatArray:
    """Mean bond stress that makes a bar yield over its bonded length: f_y φ / (4 l_b).

    Parameters
    ----------
    yield_strength : float or array
        Of the bar [Pa].
    diameter : float or array
        Of the bar [m].
    bonded_length : float or array
        Embedded [m].

    Returns
    -------
    bond_stress : array of the broadcast shape
        Mean over the length [Pa].

    Raises
    ------
    InputError
        If a number isn't positive.
    """
    with allowed.Together("bonded bar") as given:
        strength = given.positive("yield_strength", yield_strength)
        thick = given.positive("diameter", diameter)
        long = given.positive("bonded_length", bonded_length)
    return np.asarray(strength * thick / (4 * long))


def bond_law_fib2010_good(mean_strength: float, clear_rib_spacing: float) -> BondLaw:
    """Pull-out of ribbed bars in confined concrete, good bond conditions.

    Source: fib Model Code 2010, table 6.1-1: 2.5 √f_cm, slips 1 mm, 2 mm and the clear rib
    spacing, exponent 0.4, rest 0.4 (exponent and rest from memory). Bars not yielding.

    Parameters
    ----------
    mean_strength : float
        f_cm [Pa].
    clear_rib_spacing : float
        Above 2 mm, else the law can't fall [m].

    Returns
    -------
    BondLaw
        For ``local_bond_stress``.

    Raises
    ------
    InputError
        If a number is impossible.
    """
    strength = float(allowed.positive("mean_strength", mean_strength))
    return BondLaw(2.5e6 * (strength / 1e6) ** 0.5, 1e-3, 2e-3, float(clear_rib_spacing))


def bond_law_fib2010_other(mean_strength: float, clear_rib_spacing: float) -> BondLaw:
    """Pull-out of ribbed bars in confined concrete, all other bond conditions.

    Source: as ``bond_law_fib2010_good``: 1.25 √f_cm, slips 1.8 mm, 3.6 mm.

    Parameters
    ----------
    mean_strength : float
        f_cm [Pa].
    clear_rib_spacing : float
        Above 3.6 mm, else the law can't fall [m].

    Returns
    -------
    BondLaw
        For ``local_bond_stress``.

    Raises
    ------
    InputError
        If a number is impossible.
    """
    strength = float(allowed.positive("mean_strength", mean_strength))
    return BondLaw(1.25e6 * (strength / 1e6) ** 0.5, 1.8e-3, 3.6e-3, float(clear_rib_spacing))


def local_bond_stress(slip: ArrayLike, law: BondLaw) -> FloatArray:
    """Bond stress at a slip that grows, by a local law; odd in slip.

    Parameters
    ----------
    slip : array of any shape
        Local [m].
    law : BondLaw
        Its numbers.

    Returns
    -------
    bond_stress : array shaped like ``slip``
        With the sign of the slip [Pa].

    Examples
    --------
    >>> law = bond_law_fib2010_good(36e6, 10e-3)
    >>> (local_bond_stress([1e-3, 1.5e-3, 20e-3], law) / 1e6).round(6).tolist()
    [15.0, 15.0, 6.0]
    """
    moved = np.asarray(slip, dtype=np.float64)
    size = np.abs(moved)
    rise = np.minimum(size / law.first_slip, 1.0) ** law.exponent
    fallen = np.clip((size - law.second_slip) / (law.third_slip - law.second_slip), 0.0, 1.0)
    share = rise - (1 - law.rest_share) * fallen
    return np.asarray(np.copysign(law.bond_strength * share, moved))
