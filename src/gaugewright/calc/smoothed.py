"""A smoothed zone by callipers: what area is left where ribs were taken off, apart from any flat.

Two losses are told apart because they are measured differently: the zone all round by diameters,
the flat the gauge lies on by its width or depth, cut into what the zone has left.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from gaugewright.calc import allowed
from gaugewright.calc.evaluation import mean_of_readings
from gaugewright.calc.net_area import net_area
from gaugewright.calc.uncertainty import InputQuantity, Uncertain, combination
from gaugewright.errors import InputError

__all__ = ["SmoothedZone", "area_at_gauge", "smoothed_zone"]


@dataclass(frozen=True, slots=True, eq=False)
class SmoothedZone:
    """What callipers found where the ribs were taken off.

    Attributes
    ----------
    diameter : Uncertain
        Mean over directions and places [m].
    area : Uncertain
        π/4 of the mean square of the diameters [m^2].
    lost_share : Uncertain
        Area lost to smoothing over the area of the whole bar [1].
    out_of_round : float
        Largest less smallest diameter [m].
    """

    diameter: Uncertain
    area: Uncertain
    lost_share: Uncertain
    out_of_round: float


def smoothed_zone(
    diameters: ArrayLike, area: Uncertain, calliper: InputQuantity, name: str
) -> SmoothedZone:
    """Area of a smoothed zone from diameters in several directions and places.

    A section of mean-square diameter D² has the area π D²/4 to second order in its ovality; of
    an ellipse with semi-axes a and b read along both it is off by π (a - b)²/2 at most.

    Parameters
    ----------
    diameters : array, shape (n,)
        Two or more, in different directions [m].
    area : Uncertain
        Of the whole bar, ribs included, from its mass [m^2].
    calliper : InputQuantity
        Error common to all readings, such as the calliper's zero [m].
    name : str
        Of the scatter, such as ``zone@`` with the station's uid.

    Returns
    -------
    SmoothedZone
        The scatter of the diameters counts with its degrees of freedom.

    Raises
    ------
    InputError
        If a number can't be used, or the zone is larger than the bar beyond its uncertainty.
    Faults
        If several can't.

    Examples
    --------
    >>> bar = Uncertain.from_input(201e-6, InputQuantity("mass", 0.5e-6))
    >>> found = smoothed_zone(
    ...     [15.2e-3, 15.3e-3, 15.25e-3], bar, InputQuantity("calliper", 0.02e-3), "zone@s1"
    ... )
    >>> (found.area.value * 1e6).round(2).item(), found.lost_share.value.round(4).item()
    (182.66, 0.0913)
    """
    read = np.asarray(diameters, dtype=np.float64)
    with allowed.Together("smoothed zone") as given:
        given.positive("diameters", read)
        given.positive("area", area.value)
        given.holds("number of diameters", read.size, "2 or more", if_=read.size >= 2)
    found = mean_of_readings(read)
    scatter = InputQuantity(
        name, found.standard_uncertainty, found.degrees_of_freedom, meaning="diameters of the zone"
    )
    diameter = Uncertain.from_input(found.mean, scatter) + Uncertain.from_input(0.0, calliper)
    square = float(np.mean(read**2))
    left = diameter.mapped(np.pi / 4 * square, np.pi / 2 * found.mean)
    lost = 1.0 - left / area
    if lost.value.item() < -2 * lost.standard_uncertainty().item():
        raise InputError(
            "diameters",
            read.tolist(),
            "smaller than the bar they were cut from",
            "measure them, or the mass of the bar, again",
        )
    return SmoothedZone(diameter, left, lost, float(read.max() - read.min()))


def area_at_gauge(zone: SmoothedZone, flat_width: Uncertain, *, flats: int = 1) -> Uncertain:
    """Area at the gauge: the smoothed zone less the flat, or two like flats, cut into it.

    Parameters
    ----------
    zone : SmoothedZone
        Where the gauge lies.
    flat_width : Uncertain
        As measured across the bar; zero for none [m].
    flats : int
        1, or 2 for like flats on opposite sides [1].

    Returns
    -------
    Uncertain
        With the causes of zone and flat; the diameter counts in both [m^2].

    Raises
    ------
    InputError
        If the flat is as wide as the bar.
    """
    if flat_width.value.size != 1:
        raise InputError("flat_width", flat_width.value.shape, "one number")
    left = net_area(zone.area.value, zone.diameter.value, flat_width.value, flats=flats)
    return combination(
        left.value,
        [
            (zone.area, left.by_area),
            (zone.diameter, left.by_diameter),
            (flat_width, left.by_flat_width),
        ],
    )
