"""Reinforcing bars: sizes, what a ground flat takes away, and strain at the flat and in the bar."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from gaugewright.calc import allowed
from gaugewright.quantities import Constant, FloatArray

__all__ = [
    "METRIC_BARS",
    "STEEL_DENSITY",
    "US_BARS",
    "BarSize",
    "FlatSection",
    "area_from_mass",
    "bar_strain",
    "bond_lost",
    "bond_lost_wrap",
    "flat_depth",
    "flat_strain",
    "flat_width",
    "section_at_flat",
    "stress_ratio_free",
    "stress_ratio_restrained",
]

STEEL_DENSITY = Constant(
    7850.0,
    "kg/m^3",
    0.0,
    "EN 1992-1-1:2004, 3.2.7(3): mean density of reinforcing steel, by which EN 10080 turns mass "
    "into area (from memory)",
)


@dataclass(frozen=True, slots=True)
class BarSize:
    """Nominal numbers of one size, as its standard prints them.

    Attributes
    ----------
    name : str
        As it is ordered.
    diameter : float
        Nominal; ribs stand outside it [m].
    area : float
        Nominal, rounded by the standard, not πd²/4 [m^2].
    mass_per_length : float
        Nominal [kg/m].
    """

    name: str
    diameter: float
    area: float
    mass_per_length: float


def _metric(size: int, area_mm2: float, mass_per_length: float) -> BarSize:
    return BarSize(str(size), size * 1e-3, area_mm2 * 1e-6, mass_per_length)


def _us(number: int, diameter_in: float, area_in2: float, pounds_per_foot: float) -> BarSize:
    return BarSize(
        f"#{number}",
        diameter_in * 0.0254,
        area_in2 * 0.0254**2,
        pounds_per_foot * 0.45359237 / 0.3048,
    )


# BS 4449:2005 Table 7, sizes of EN 10080 (8, 12, 20 and 25 mm read in a reproduction of the
# table, 6, 32, 40 and 50 mm from memory); 10, 14, 16 and 28 mm with the mass of EN 10080:2005
# Table 6 (from memory), where BS 4449 prints 0.616 and 1.579 kg/m for 10 and 16 mm.
METRIC_BARS: dict[str, BarSize] = {
    size.name: size
    for size in (
        _metric(6, 28.3, 0.222),
        _metric(8, 50.3, 0.395),
        _metric(10, 78.5, 0.617),
        _metric(12, 113.1, 0.888),
        _metric(14, 153.9, 1.21),
        _metric(16, 201.1, 1.58),
        _metric(20, 314.2, 2.466),
        _metric(25, 490.9, 3.854),
        _metric(28, 615.8, 4.83),
        _metric(32, 804.2, 6.313),
        _metric(40, 1256.6, 9.864),
        _metric(50, 1963.5, 15.413),
    )
}
# ASTM A615/A615M Table 1, inch-pound numbers (#3 to #10 read in a reproduction of the table; #11,
# #14 and #18 from memory).
US_BARS: dict[str, BarSize] = {
    size.name: size
    for size in (
        _us(3, 0.375, 0.11, 0.376),
        _us(4, 0.500, 0.20, 0.668),
        _us(5, 0.625, 0.31, 1.043),
        _us(6, 0.750, 0.44, 1.502),
        _us(7, 0.875, 0.60, 2.044),
        _us(8, 1.000, 0.79, 2.670),
        _us(9, 1.128, 1.00, 3.400),
        _us(10, 1.270, 1.27, 4.303),
        _us(11, 1.410, 1.56, 5.313),
        _us(14, 1.693, 2.25, 7.65),
        _us(18, 2.257, 4.00, 13.60),
    )
}


def area_from_mass(
    mass_per_length: ArrayLike, density: ArrayLike = STEEL_DENSITY.value
) -> FloatArray:
    """Mean area of a bar, ribs included, from the mass of a measured length.

    Parameters
    ----------
    mass_per_length : float or array
        Weighed mass over length [kg/m].
    density : float or array
        Of the steel [kg/m^3].

    Returns
    -------
    area : array of the broadcast shape
        Of the whole section [m^2].

    Raises
    ------
    InputError
        If one isn't positive.

    Examples
    --------
    >>> (area_from_mass(1.578) * 1e6).round(1).item()
    201.0
    """
    with allowed.Together("bar") as given:
        mass = given.positive("mass_per_length", mass_per_length)
        dense = given.positive("density", density)
    return np.asarray(mass / dense)


def flat_depth(diameter: ArrayLike, flat_width: ArrayLike) -> FloatArray:
    """Depth of a flat of a given width, on the round core: r - sqrt(r² - w²/4).

    Parameters
    ----------
    diameter : float or array
        Of the round core [m].
    flat_width : float or array
        As ground, across the bar [m].

    Returns
    -------
    flat_depth : array of the broadcast shape
        Below the highest point of the core [m].

    Raises
    ------
    InputError
        If the flat is wider than the bar.
    Faults
        If several things are wrong.

    Examples
    --------
    >>> (flat_depth(16e-3, 6e-3) * 1e3).round(3).item()
    0.584
    """
    with allowed.Together("flat") as given:
        size = given.positive("diameter", diameter)
        width = given.not_negative("flat_width", flat_width)
    allowed.within("flat_width over diameter", width / size, (0.0, 1.0), "measure both again")
    radius, half = size / 2, width / 2
    # Written so that a narrow flat loses no digits in the difference.
    return np.asarray(half**2 / (radius + np.sqrt(radius**2 - half**2)))


def flat_width(diameter: ArrayLike, flat_depth: ArrayLike) -> FloatArray:
    """Width of a flat of a given depth, on the round core: 2 sqrt(h (d - h)).

    Parameters
    ----------
    diameter : float or array
        Of the round core [m].
    flat_depth : float or array
        Below the highest point of the core [m].

    Returns
    -------
    flat_width : array of the broadcast shape
        Across the bar [m].

    Raises
    ------
    InputError
        If the flat is deeper than half the bar.
    """
    size, (depth,) = _flats(diameter, {"flat_depth": flat_depth})
    return np.asarray(2 * np.sqrt(depth * (size - depth)))


@dataclass(frozen=True, slots=True)
class FlatSection:
    """Section of a bar left at one flat, or at two opposite ones.

    Distances are measured across the first flat, from the axis of the round bar towards it.

    Attributes
    ----------
    area : array
        Of the bar elsewhere [m^2].
    net_area : array
        Left at the flat [m^2].
    centroid : array
        Of what is left; negative, away from the first flat, when there is only one [m].
    second_moment : array
        About that centroid, for bending towards the flat [m^4].
    surface : array
        Distance of the first flat from the axis [m].
    """

    area: FloatArray
    net_area: FloatArray
    centroid: FloatArray
    second_moment: FloatArray
    surface: FloatArray

    @property
    def lost_share(self) -> FloatArray:
        """Area lost over area of the bar [1]."""
        return np.asarray(1 - self.net_area / self.area)


def section_at_flat(
    diameter: ArrayLike, flat_depth: ArrayLike, opposite_flat_depth: ArrayLike = 0.0
) -> FlatSection:
    """What one flat, or two opposite ones, leave of a round bar.

    A flat cuts off a segment of central angle θ = 2 acos(1 - 2h/d) with area d²(θ - sin θ)/8, first
    moment w³/12 and second moment r⁴(θ - sin θ + 2 sin θ sin²(θ/2))/8 about the bar's axis: by
    integration over strips; the same in Roark's Formulas, Table A.1 (from memory).

    Parameters
    ----------
    diameter : float or array
        Of the round core; a bar's ribs are a matter of ``area`` elsewhere [m].
    flat_depth : float or array
        Of the flat the gauge lies on [m].
    opposite_flat_depth : float or array
        Of a second flat on the other side; zero for none [m].

    Returns
    -------
    FlatSection
        Of the broadcast shape.

    Raises
    ------
    InputError
        If a flat is deeper than half the bar.

    Examples
    --------
    >>> one = section_at_flat(16e-3, 1e-3)
    >>> (one.net_area * 1e6).round(2).item(), (one.centroid * 1e3).round(5).item()
    (195.83, -0.19777)
    """
    size, (depth, opposite) = _flats(
        diameter, {"flat_depth": flat_depth, "opposite_flat_depth": opposite_flat_depth}
    )
    radius = size / 2
    area_1, first_1, second_1 = _segment(radius, depth)
    area_2, first_2, second_2 = _segment(radius, opposite)
    whole = np.pi * radius**2
    net = whole - area_1 - area_2
    centroid = (first_2 - first_1) / net
    second = np.pi * radius**4 / 4 - second_1 - second_2 - net * centroid**2
    return FlatSection(
        area=np.asarray(np.broadcast_to(whole, np.shape(net))),
        net_area=np.asarray(net),
        centroid=np.asarray(centroid),
        second_moment=np.asarray(second),
        surface=np.asarray(np.broadcast_to(radius - depth, np.shape(net))),
    )


def stress_ratio_restrained(section: FlatSection) -> FloatArray:
    """Elastic stress at the flat over mean stress of the bar where concrete keeps it straight.

    Parameters
    ----------
    section : FlatSection
        At the gauge.

    Returns
    -------
    stress_ratio : array
        A / A_net [1].
    """
    return np.asarray(section.area / section.net_area)


def stress_ratio_free(section: FlatSection) -> FloatArray:
    """Elastic stress at the flat over mean stress of a bar pulled along its axis, free to bend.

    One flat leaves the centroid off the axis, and the force bends the section towards the flat:
    A/A_net + A e (e + s)/I with e off-centre of the force and s the flat's distance from the axis.
    Right at a flat some diameters long; the ends of a short one do not reach it.

    Parameters
    ----------
    section : FlatSection
        At the gauge.

    Returns
    -------
    stress_ratio : array
        Never below that of a restrained bar with one flat [1].

    Examples
    --------
    >>> one = section_at_flat(16e-3, flat_depth(16e-3, 6e-3))
    >>> stress_ratio_free(one).round(3).item()
    1.056
    """
    lever = -section.centroid
    bending = section.area * lever * (section.surface + lever) / section.second_moment
    return np.asarray(stress_ratio_restrained(section) + bending)


def bar_strain(strain: ArrayLike, stress_ratio: ArrayLike) -> FloatArray:
    """Elastic strain of the full bar from that at the flat; beyond yield see ``steel``.

    Parameters
    ----------
    strain : array of any shape
        At the flat [1].
    stress_ratio : float or array
        Stress at the flat over mean stress of the bar [1].

    Returns
    -------
    strain : array of the broadcast shape
        Of the full bar [1].

    Raises
    ------
    InputError
        If the ratio isn't positive.
    """
    ratio = allowed.positive("stress_ratio", stress_ratio)
    return np.asarray(np.asarray(strain, dtype=np.float64) / ratio)


def flat_strain(strain: ArrayLike, stress_ratio: ArrayLike) -> FloatArray:
    """Elastic strain at the flat from that of the full bar.

    Parameters
    ----------
    strain : array of any shape
        Of the full bar [1].
    stress_ratio : float or array
        Stress at the flat over mean stress of the bar [1].

    Returns
    -------
    strain : array of the broadcast shape
        At the flat [1].

    Raises
    ------
    InputError
        If the ratio isn't positive.
    """
    ratio = allowed.positive("stress_ratio", stress_ratio)
    return np.asarray(np.asarray(strain, dtype=np.float64) * ratio)


def bond_lost(
    covered_length: ArrayLike,
    covered_width: ArrayLike,
    diameter: ArrayLike,
    bonded_length: ArrayLike,
) -> FloatArray:
    """Share of the bar's surface taken by protection on one side: w L / (π d L_bonded).

    Parameters
    ----------
    covered_length : float or array
        Along the bar, protection and leads included [m].
    covered_width : float or array
        Round the bar [m].
    diameter : float or array
        Of the bar [m].
    bonded_length : float or array
        Over which the bar is embedded [m].

    Returns
    -------
    bond_lost : array of the broadcast shape
        From 0 to 1 [1].

    Raises
    ------
    InputError
        If the patch is larger than the bar's surface.
    Faults
        If several things are wrong.
    """
    with allowed.Together("protection") as given:
        length = given.not_negative("covered_length", covered_length)
        width = given.not_negative("covered_width", covered_width)
        round_bar = np.pi * given.positive("diameter", diameter)
        bonded = given.positive("bonded_length", bonded_length)
    allowed.within("covered_width over girth", width / round_bar, (0.0, 1.0))
    return allowed.within("covered share", length * width / (round_bar * bonded), (0.0, 1.0))


def bond_lost_wrap(covered_length: ArrayLike, bonded_length: ArrayLike) -> FloatArray:
    """Share of the bar's surface taken by protection all round: L / L_bonded.

    Parameters
    ----------
    covered_length : float or array
        Along the bar [m].
    bonded_length : float or array
        Over which the bar is embedded [m].

    Returns
    -------
    bond_lost : array of the broadcast shape
        From 0 to 1 [1].

    Raises
    ------
    InputError
        If the wrap is longer than the bonded length.
    Faults
        If several things are wrong.
    """
    with allowed.Together("protection") as given:
        length = given.not_negative("covered_length", covered_length)
        bonded = given.positive("bonded_length", bonded_length)
    return allowed.within("covered share", length / bonded, (0.0, 1.0))


def _flats(
    diameter: ArrayLike, depths: Mapping[str, ArrayLike]
) -> tuple[FloatArray, list[FloatArray]]:
    with allowed.Together("flat") as given:
        size = given.positive("diameter", diameter)
        ground = [given.not_negative(name, depth) for name, depth in depths.items()]
        for name, depth in zip(depths, ground, strict=True):
            given.holds(
                name,
                np.max(depth),
                "no more than half the diameter",
                if_=not np.any(depth > size / 2),
                do="measure both again",
            )
    return size, ground


def _segment(radius: FloatArray, depth: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Area cut off by a flat, and its first and second moment about the bar's axis."""
    half = np.arccos(1 - depth / radius)
    angle = 2 * half
    bow = angle - np.sin(angle)
    area = radius**2 * bow / 2
    first = 2 * (radius * np.sin(half)) ** 3 / 3
    second = radius**4 * (bow + 2 * np.sin(angle) * np.sin(half) ** 2) / 8
    return np.asarray(area), np.asarray(first), np.asarray(second)
