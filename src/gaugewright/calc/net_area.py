"""Area that ground flats leave of a bar, and how it changes with what was measured."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from gaugewright.calc import allowed
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray

__all__ = ["NetArea", "net_area"]


@dataclass(frozen=True, slots=True)
class NetArea:
    """Area left and its derivatives by the three measured numbers.

    Attributes
    ----------
    value : array
        Area left at the gauge [m^2].
    by_area : array
        Per area of the whole bar [1].
    by_diameter : array
        Per diameter of the round core [m].
    by_flat_width : array
        Per width of the flat [m].
    """

    value: FloatArray
    by_area: FloatArray
    by_diameter: FloatArray
    by_flat_width: FloatArray


def net_area(
    area: ArrayLike, diameter: ArrayLike, flat_width: ArrayLike, *, flats: int = 1
) -> NetArea:
    """Area of a bar less the segments that one flat, or two like ones, cut off.

    A flat of width w on radius r cuts off r² asin(w/2r) - (w/2) sqrt(r² - w²/4); its derivative
    by w is (w²/4)/sqrt(r² - w²/4), by r it is 2r asin(w/2r) - w r/sqrt(r² - w²/4). The area of
    the whole bar comes from its mass, so ribs count in it, while flats are cut into the core.

    Parameters
    ----------
    area : float or array
        Of the bar where it is whole, ribs included [m^2].
    diameter : float or array
        Of the round core under the flat [m].
    flat_width : float or array
        As measured across the bar [m].
    flats : int
        1, or 2 for like flats on opposite sides [1].

    Returns
    -------
    NetArea
        Of the broadcast shape.

    Raises
    ------
    InputError
        If the flat is as wide as the bar, or ``flats`` is neither 1 nor 2.
    Faults
        If several things are wrong.

    Examples
    --------
    >>> left = net_area(201.1e-6, 16e-3, 6e-3)
    >>> (left.value * 1e6).round(2).item()
    198.75
    """
    with allowed.Together("section") as given:
        whole = given.positive("area", area)
        radius = given.positive("diameter", diameter) / 2
        width = given.not_negative("flat_width", flat_width)
        given.holds("flats", flats, "1 or 2", if_=flats in (1, 2))
        given.holds(
            "flat_width",
            width,
            "narrower than the bar",
            if_=not np.any(width >= 2 * radius),
            do="measure both again",
        )
    half_angle = np.arcsin(width / (2 * radius))
    to_centre = np.sqrt(radius**2 - width**2 / 4)
    cut = radius**2 * half_angle - width / 2 * to_centre
    by_radius = 2 * radius * half_angle - width * radius / to_centre
    value = np.asarray(whole - flats * cut)
    if not np.all(value > 0):
        raise InputError("net_area", value, "above 0", "look at area, diameter and width again")
    return NetArea(
        value,
        np.ones_like(value),
        np.asarray(-flats * by_radius / 2) + np.zeros_like(value),
        np.asarray(-flats * (width**2 / 4) / to_centre) + np.zeros_like(value),
    )
