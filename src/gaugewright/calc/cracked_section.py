"""Elastic sections in closed form: stresses and strains at a moment, cracked and uncracked.

Depths count from the compressed face. Plane sections, linear concrete and steel, bars without
slip; the cracked section carries no tension in its concrete.
"""

import itertools
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from gaugewright.calc import allowed
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray

__all__ = [
    "ConcreteShape",
    "ElasticSection",
    "balanced_area",
    "balanced_neutral_axis",
    "cracked",
    "cracking_moment",
    "rectangle",
    "tee",
    "uncracked",
]


@dataclass(frozen=True, slots=True)
class ConcreteShape:
    """Rectangle or T, the flange at the compressed face; a rectangle has flange and web alike.

    Attributes
    ----------
    flange_width, flange_depth, web_width, height : float
        Of the concrete [m].
    """

    flange_width: float
    flange_depth: float
    web_width: float
    height: float

    def __post_init__(self) -> None:
        with allowed.Together("concrete section") as given:
            for name in ("flange_width", "flange_depth", "web_width", "height"):
                given.positive(name, getattr(self, name))
            higher = self.flange_depth > self.height
            given.holds("flange_depth", self.flange_depth, "up to the height", if_=not higher)

    def parts(self, depth: float) -> list[tuple[float, float, float]]:
        """Width, upper and lower edge of the rectangles above a depth [m].

        Parameters
        ----------
        depth : float
            From the compressed face [m].
        """
        low = min(depth, self.flange_depth)
        found = [(self.flange_width, 0.0, low)]
        if depth > self.flange_depth:
            found.append((self.web_width, self.flange_depth, depth))
        return found


@dataclass(frozen=True, slots=True)
class ElasticSection:
    """Transformed section, in units of concrete.

    Attributes
    ----------
    neutral_axis_depth : float
        Under pure bending, from the compressed face [m].
    second_moment : float
        About the neutral axis [m^4].
    height : float
        Of the section [m].
    modular_ratio : float
        Modulus of steel over that of concrete [1].
    """

    neutral_axis_depth: float
    second_moment: float
    height: float
    modular_ratio: float

    def concrete_stress(self, moment: ArrayLike, depth: ArrayLike = 0.0) -> FloatArray:
        """Stress of concrete at a depth; meaningless in the cracked part.

        Parameters
        ----------
        moment : float or array
            Positive where the upper face is compressed [N m].
        depth : float or array
            From the compressed face [m].

        Returns
        -------
        stress : array of the broadcast shape
            Tension positive [Pa].
        """
        arm = np.asarray(depth, dtype=np.float64) - self.neutral_axis_depth
        return np.asarray(np.asarray(moment, dtype=np.float64) * arm / self.second_moment)

    def steel_stress(self, moment: ArrayLike, depth: ArrayLike) -> FloatArray:
        """Stress of a bar at a depth: the modular ratio times that of concrete beside it.

        Parameters
        ----------
        moment : float or array
            Positive where the upper face is compressed [N m].
        depth : float or array
            Of the bar, from the compressed face [m].

        Returns
        -------
        stress : array of the broadcast shape
            Tension positive [Pa].
        """
        return self.modular_ratio * self.concrete_stress(moment, depth)

    def curvature(self, moment: ArrayLike, elastic_modulus: ArrayLike) -> FloatArray:
        """Curvature at a moment.

        Parameters
        ----------
        moment : float or array
            Positive where the upper face is compressed [N m].
        elastic_modulus : float or array
            Of the concrete [Pa].

        Returns
        -------
        curvature : array of the broadcast shape
            Positive where the lower face is longer [1/m].
        """
        modulus = allowed.positive("elastic_modulus", elastic_modulus)
        return np.asarray(np.asarray(moment, dtype=np.float64) / (modulus * self.second_moment))

    def moment_at_steel_stress(self, stress: ArrayLike, depth: ArrayLike) -> FloatArray:
        """Moment at which a bar reaches a stress, first yield for one.

        Parameters
        ----------
        stress : float or array
            Of the bar, tension positive [Pa].
        depth : float or array
            Of the bar, from the compressed face [m].

        Returns
        -------
        moment : array of the broadcast shape
            Positive where the upper face is compressed [N m].
        """
        arm = np.asarray(depth, dtype=np.float64) - self.neutral_axis_depth
        wanted = np.asarray(stress, dtype=np.float64)
        return np.asarray(wanted * self.second_moment / (self.modular_ratio * arm))


def rectangle(width: float, height: float) -> ConcreteShape:
    """A rectangular section.

    Parameters
    ----------
    width : float
        Of the compressed face [m].
    height : float
        Of the section [m].

    Returns
    -------
    ConcreteShape
        With flange and web alike.
    """
    with allowed.Together("rectangle") as given:
        given.positive("width", width)
        given.positive("height", height)
    return ConcreteShape(width, height, width, height)


def tee(flange_width: float, flange_depth: float, web_width: float, height: float) -> ConcreteShape:
    """A T section with its flange compressed; with the flange pulled it's a rectangle once cracked.

    Parameters
    ----------
    flange_width : float
        Effective width [m].
    flange_depth : float
        Thickness of the flange [m].
    web_width : float
        Below the flange [m].
    height : float
        Of the whole section [m].

    Returns
    -------
    ConcreteShape
        Of these measures.
    """
    return ConcreteShape(flange_width, flange_depth, web_width, height)


def cracked(
    shape: ConcreteShape,
    depths: ArrayLike,
    areas: ArrayLike,
    modular_ratio: float,
    *,
    compression_ratio: float | None = None,
) -> ElasticSection:
    """Cracked elastic section in pure bending, singly or doubly reinforced.

    The first moment of what works about a trial axis, concrete above it and bars everywhere,
    grows with its depth and is a quadratic between edges and bars: its zero is the axis.

    Parameters
    ----------
    shape : ConcreteShape
        Of the concrete.
    depths : array, shape (n_bars,)
        Of the bars, from the compressed face [m].
    areas : array, shape (n_bars,)
        Of the bars at each depth [m^2].
    modular_ratio : float
        Modulus of steel over that of concrete [1].
    compression_ratio : float, optional
        Weight of a bar above the axis; left out it is the modular ratio less one, since the bar
        displaces concrete. Codes that allow for creep have 1.5 m - 1 [1].

    Returns
    -------
    ElasticSection
        Of the cracked section.

    Raises
    ------
    InputError
        If a measure is impossible or no bar is pulled.

    Examples
    --------
    >>> beam = cracked(rectangle(0.3, 0.45), [0.39], [1350e-6], 200 / 30.1)
    >>> round(beam.neutral_axis_depth * 1e3, 2), round(beam.steel_stress(100e3, 0.39).item() / 1e6)
    (125.72, 213)
    """
    at, steel, ratio = _bars(depths, areas, modular_ratio)
    pushed = ratio - 1.0 if compression_ratio is None else compression_ratio
    allowed.not_negative("compression_ratio", pushed)

    def weights(axis: float) -> FloatArray:
        return np.where(at < axis, pushed, ratio) * steel

    def first_moment(axis: float) -> float:
        concrete = sum(b * (e - t) * (axis - (t + e) / 2) for b, t, e in shape.parts(axis))
        return float(concrete + np.sum(weights(axis) * (axis - at)))

    edges = sorted({0.0, shape.height, shape.flange_depth, *at[at < shape.height].tolist()})
    if first_moment(shape.height) < 0 or first_moment(0.0) >= 0:
        raise InputError(
            "depths", at.tolist(), "such that a bar is pulled while concrete is pushed"
        )
    upper, lower = next((t, e) for t, e in itertools.pairwise(edges) if first_moment(e) >= 0)
    # Halfway between, no bar or edge is touched: the quadratic there holds on the whole piece.
    axis = _zero_of_quadratic(shape, weights((upper + lower) / 2), at, (upper + lower) / 2)
    second = sum(
        b * ((axis - t) ** 3 - (axis - e) ** 3) / 3 for b, t, e in shape.parts(axis)
    ) + np.sum(weights(axis) * (at - axis) ** 2)
    return ElasticSection(axis, float(second), shape.height, ratio)


def _zero_of_quadratic(
    shape: ConcreteShape, weights: FloatArray, at: FloatArray, inside: float
) -> float:
    """Depth of the axis: p x² + q x + r = 0 with the parts that lie above ``inside``."""
    p, q, r = 0.0, float(np.sum(weights)), -float(np.sum(weights * at))
    for width, top, bottom in shape.parts(inside):
        if bottom == inside:  # the part that the axis itself cuts
            p, q, r = p + width / 2, q - width * top, r + width * top**2 / 2
        else:
            q, r = q + width * (bottom - top), r - width * (bottom**2 - top**2) / 2
    root = float(np.sqrt(q**2 - 4 * p * r))
    # The form that doesn't take nearly equal numbers from each other, as thin webs would have it.
    return -2 * r / (q + root) if q > 0 else (root - q) / (2 * p)


def uncracked(
    shape: ConcreteShape,
    depths: ArrayLike = (),
    areas: ArrayLike = (),
    modular_ratio: float = 1.0,
) -> ElasticSection:
    """Whole transformed section: concrete in tension works, bars count with n - 1.

    Parameters
    ----------
    shape : ConcreteShape
        Of the concrete.
    depths : array, shape (n_bars,)
        Of the bars, from the compressed face [m].
    areas : array, shape (n_bars,)
        Of the bars at each depth [m^2].
    modular_ratio : float
        Modulus of steel over that of concrete [1].

    Returns
    -------
    ElasticSection
        Of the uncracked section.

    Raises
    ------
    InputError
        If a measure is impossible.
    """
    at, steel, ratio = _bars(depths, areas, modular_ratio)
    parts, weights = shape.parts(shape.height), (ratio - 1.0) * steel
    area = sum(b * (e - t) for b, t, e in parts) + np.sum(weights)
    first = sum(b * (e**2 - t**2) / 2 for b, t, e in parts) + np.sum(weights * at)
    axis = float(first / area)
    second = sum(b * ((e - axis) ** 3 - (t - axis) ** 3) / 3 for b, t, e in parts)
    second = second + np.sum(weights * (at - axis) ** 2)
    return ElasticSection(axis, float(second), shape.height, ratio)


def cracking_moment(section: ElasticSection, concrete_tensile_strength: float) -> float:
    """Moment at which the lower face of the uncracked section reaches a tensile strength.

    Parameters
    ----------
    section : ElasticSection
        Uncracked.
    concrete_tensile_strength : float
        Flexural; restrained shrinkage lowers what is left of it [Pa].

    Returns
    -------
    moment : float
        At first cracking [N m].

    Raises
    ------
    InputError
        If the strength is negative.
    """
    strength = allowed.not_negative("concrete_tensile_strength", concrete_tensile_strength)
    arm = section.height - section.neutral_axis_depth
    return float(strength * section.second_moment / arm)


def balanced_neutral_axis(
    depth: float, stress: float, compressive_strength: float, modular_ratio: float
) -> float:
    """Depth of the neutral axis at which bar and concrete reach their stresses together.

    Parameters
    ----------
    depth : float
        Of the bar, from the compressed face [m].
    stress : float
        Of the bar then [Pa].
    compressive_strength : float
        Stress of the extreme fibre then, as a positive number [Pa].
    modular_ratio : float
        Modulus of steel over that of concrete [1].

    Returns
    -------
    neutral_axis_depth : float
        d / (1 + σ_s / (n σ_c)) [m].

    Raises
    ------
    InputError
        If a number isn't positive.
    """
    with allowed.Together("balanced neutral axis") as given:
        d, steel = given.positive("depth", depth), given.positive("stress", stress)
        concrete = given.positive("compressive_strength", compressive_strength)
        ratio = given.positive("modular_ratio", modular_ratio)
    return float(d / (1 + steel / (ratio * concrete)))


def balanced_area(
    width: float, depth: float, stress: float, compressive_strength: float, *, modular_ratio: float
) -> float:
    """Area of the pulled bars of a rectangle at which both reach their stresses together.

    Parameters
    ----------
    width : float
        Of the section [m].
    depth : float
        Of the bar, from the compressed face [m].
    stress : float
        Of the bar then [Pa].
    compressive_strength : float
        Stress of the extreme fibre then, as a positive number [Pa].
    modular_ratio : float
        Modulus of steel over that of concrete [1].

    Returns
    -------
    area : float
        b x σ_c / (2 σ_s) [m^2].

    Raises
    ------
    InputError
        If a number isn't positive.
    """
    with allowed.Together("balanced section") as given:
        wide = float(given.positive("width", width))
        for name, value in (
            ("depth", depth),
            ("stress", stress),
            ("compressive_strength", compressive_strength),
            ("modular_ratio", modular_ratio),
        ):
            given.positive(name, value)
    axis = balanced_neutral_axis(depth, stress, compressive_strength, modular_ratio)
    return wide * axis * compressive_strength / (2 * stress)


def _bars(
    depths: ArrayLike, areas: ArrayLike, modular_ratio: float
) -> tuple[FloatArray, FloatArray, float]:
    at, steel = np.atleast_1d(np.asarray(depths, dtype=np.float64)), np.atleast_1d(areas)
    if at.ndim != 1 or at.shape != steel.shape:
        raise InputError("depths", f"of shape {at.shape}", f"as many as areas, {steel.shape}")
    with allowed.Together("bars of a section") as given:
        given.positive("depths", at)
        given.positive("areas", steel)
        ratio = float(given.positive("modular_ratio", modular_ratio))
    return at, np.asarray(steel, dtype=np.float64), ratio
