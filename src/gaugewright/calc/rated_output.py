"""From the plate of a sensor, or the error of its indication, to the true value per reading."""

import math
from dataclasses import dataclass

from gaugewright.calc import allowed

__all__ = ["PerReading", "value_per_reading"]


@dataclass(frozen=True, slots=True)
class PerReading:
    """True value per reading of a straight sensor, with what is stated after ±.

    Attributes
    ----------
    value : float
        In the units of what it relates [1].
    plus_minus : float, optional
        As wide, relatively, as that of the reading; None where nobody stated one [1].
    """

    value: float
    plus_minus: float | None


def value_per_reading(value: float, reading: float, plus_minus: float | None = None) -> PerReading:
    """What one of a reading stands for, by the reading at one known value: a straight line.

    A plate that says "2 mV/V at 200 kN" gives 200 kN over 2 mV/V; an indication that is 1.002 of
    what is true gives 1 over 1.002. A quotient is relatively as uncertain as what it is divided by
    (JCGM 100:2008, 5.1.6, equation (12) with the power -1).

    Parameters
    ----------
    value : float
        True value: the full scale, or 1 for an indication over truth [1].
    reading : float
        What is read at it [1].
    plus_minus : float, optional
        Of the reading; None where nobody stated one [1].

    Returns
    -------
    PerReading
        In the units of both.

    Raises
    ------
    InputError
        If value or reading isn't a finite number, or is 0.
    Faults
        If both are.

    Examples
    --------
    >>> found = value_per_reading(200e3, 2e-3, 2e-6)
    >>> round(found.value), round(found.plus_minus)
    (100000000, 100000)
    """
    with allowed.Together("value per reading") as given:
        for name, number in (("value", value), ("reading", reading)):
            is_usable = math.isfinite(number) and bool(number)
            given.holds(name, number, "a finite number other than 0", if_=is_usable)
    found = value / reading
    width = None if plus_minus is None else abs(found / reading) * plus_minus
    return PerReading(found, width)
