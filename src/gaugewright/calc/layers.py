"""Shapes of concrete cut into thin layers, each with its depth and area."""

from dataclasses import dataclass

import numpy as np

from gaugewright.calc import allowed
from gaugewright.quantities import FloatArray

__all__ = ["ConcreteLayers", "circle", "rectangle", "tee"]


@dataclass(frozen=True, slots=True, eq=False)
class ConcreteLayers:
    """Layers from the upper face down.

    Attributes
    ----------
    depths : array, shape (n_layers,)
        Of the layers' centroids [m].
    areas : array, shape (n_layers,)
        Of the layers, bars not taken out [m^2].
    height : float
        Of the section [m].
    """

    depths: FloatArray
    areas: FloatArray
    height: float


def rectangle(width: float, height: float, *, layers: int = 200) -> ConcreteLayers:
    """Layers of a rectangle.

    With 200 layers the second moment is low by 1/layers² of itself, 25 millionths.

    Parameters
    ----------
    width : float
        Of the section [m].
    height : float
        Of the section [m].
    layers : int
        At least 2 [1].

    Returns
    -------
    ConcreteLayers
        Of equal thickness.

    Raises
    ------
    InputError
        If a measure isn't positive or there are too few layers.
    """
    with allowed.Together("rectangle") as given:
        given.positive("width", width)
        given.positive("height", height)
        _enough(given, layers)
    return tee(width, height, width, height, layers=layers)


def tee(
    flange_width: float, flange_depth: float, web_width: float, height: float, *, layers: int = 200
) -> ConcreteLayers:
    """Layers of a T with its flange at the upper face.

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
    layers : int
        At least 2 [1].

    Returns
    -------
    ConcreteLayers
        An edge of a layer lies at the flange's lower face.

    Raises
    ------
    InputError
        If a measure isn't positive, the flange is thicker than the section is high, or there
        are too few layers.
    """
    with allowed.Together("T-section") as given:
        wide = float(given.positive("flange_width", flange_width))
        thick = float(given.positive("flange_depth", flange_depth))
        web = float(given.positive("web_width", web_width))
        high = float(given.positive("height", height))
        allowed_depth = f"up to the height, {high:g} m"
        given.holds("flange_depth", thick, allowed_depth, if_=not thick > high)
        count = _enough(given, layers)
    in_flange = count if thick == high else min(max(round(count * thick / high), 1), count - 1)
    edges = np.concatenate(
        [
            np.linspace(0.0, thick, in_flange + 1),
            np.linspace(thick, high, count - in_flange + 1)[1:],
        ]
    )
    middles = (edges[1:] + edges[:-1]) / 2
    return ConcreteLayers(middles, np.diff(edges) * np.where(middles < thick, wide, web), high)


def circle(diameter: float, *, layers: int = 200) -> ConcreteLayers:
    """Layers of a circle, areas and centroids exact.

    Parameters
    ----------
    diameter : float
        Of the section [m].
    layers : int
        At least 2 [1].

    Returns
    -------
    ConcreteLayers
        Of equal thickness.

    Raises
    ------
    InputError
        If the diameter isn't positive or there are too few layers.
    """
    with allowed.Together("round section") as given:
        radius = float(given.positive("diameter", diameter)) / 2
        count = _enough(given, layers)
    below = np.linspace(-radius, radius, count + 1)
    half_chord = np.sqrt(np.clip(radius**2 - below**2, 0.0, None))
    # Area above a chord, and its first moment about the centre (downwards positive).
    above = radius**2 * np.arcsin(np.clip(below / radius, -1, 1)) + below * half_chord
    moment = -2.0 / 3.0 * half_chord**3
    areas = np.diff(above)
    return ConcreteLayers(np.diff(moment) / areas + radius, areas, 2 * radius)


def _enough(given: allowed.Together, layers: int) -> int:
    given.holds("layers", layers, "2 at least", if_=layers >= 2, do="200 are a good number")
    return layers
