"""Conductors of standard classes: between which resistances a wire of stated size must lie.

A nominal cross-section says less than it seems to: the standard limits the resistance per length,
from above, and the metal itself limits it from below.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from gaugewright.calc import allowed
from gaugewright.calc.leads import COPPER_RESISTIVITY
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray

__all__ = [
    "CONDUCTOR_CLASSES",
    "ConductorRange",
    "conductor_range",
    "resistance_at_20_degc",
    "temperature_factor",
]

# IEC 60228:2004, tables 1 to 4, largest resistance of copper at 20 °C in ohm/km (read in several
# reproductions of the tables, which agree): nominal mm², then solid or stranded plain and tinned,
# flexible plain and tinned.
_LARGEST = (
    (0.5, 36.0, 36.7, 39.0, 40.1),
    (0.75, 24.5, 24.8, 26.0, 26.7),
    (1.0, 18.1, 18.2, 19.5, 20.0),
    (1.5, 12.1, 12.2, 13.3, 13.7),
    (2.5, 7.41, 7.56, 7.98, 8.21),
    (4.0, 4.61, 4.70, 4.95, 5.09),
    (6.0, 3.08, 3.11, 3.30, 3.39),
    (10.0, 1.83, 1.84, 1.91, 1.95),
    (16.0, 1.15, 1.16, 1.21, 1.24),
)
# Conductors of shielded signal cables are smaller than the standard goes. Low confidence: two
# copies of an extract of DIN VDE 0295 differ by up to 8 %, and the larger, which leaves the
# resistance less certain, is taken (0.22 mm² stands in one copy only). Nominal mm², plain, tinned.
_LARGEST_SMALL = (
    (0.14, 138.0, 142.0),
    (0.22, 96.0, 99.0),
    (0.25, 79.0, 82.0),
    (0.34, 57.0, 59.0),
)
CONDUCTOR_CLASSES: dict[str, dict[float, float]] = {
    name: {row[0] * 1e-6: row[place] * 1e-3 for row in table}
    for name, table, place in (
        ("class 1 or 2, plain", _LARGEST, 1),
        ("class 1 or 2, tinned", _LARGEST, 2),
        ("class 5 or 6, plain", _LARGEST, 3),
        ("class 5 or 6, tinned", _LARGEST, 4),
        ("fine strands below 0.5 mm², plain", _LARGEST_SMALL, 1),
        ("fine strands below 0.5 mm², tinned", _LARGEST_SMALL, 2),
    )
}


@dataclass(frozen=True, slots=True)
class ConductorRange:
    """Resistances at 20 °C between which a conductor of a class lies.

    Attributes
    ----------
    least : array
        Of pure copper of the full nominal cross-section, straight [ohm].
    largest : array
        That the class allows [ohm].
    middle : array
        Halfway [ohm].
    standard_uncertainty : array
        Of the middle, as a rectangular distribution between the two [ohm].
    """

    least: FloatArray
    largest: FloatArray

    @property
    def middle(self) -> FloatArray:
        """Halfway between the two limits [ohm]."""
        return np.asarray((self.least + self.largest) / 2)

    @property
    def standard_uncertainty(self) -> FloatArray:
        """Of the middle: half the width over the root of 3, JCGM 100:2008, 4.3.7 [ohm]."""
        return np.asarray((self.largest - self.least) / 2 / np.sqrt(3))


def conductor_range(
    length: ArrayLike, cross_section: float, conductor_class: str
) -> ConductorRange:
    """Between which resistances one wire of a standard class lies at 20 °C.

    Parameters
    ----------
    length : float or array
        Of the cable, one way [m].
    cross_section : float
        Nominal [m^2].
    conductor_class : str
        One of ``CONDUCTOR_CLASSES``.

    Returns
    -------
    ConductorRange
        Of one wire.

    Raises
    ------
    InputError
        If class, size or length isn't one there is.
    Faults
        If several aren't.

    Examples
    --------
    >>> found = conductor_range(10.0, 0.5e-6, "class 5 or 6, plain")
    >>> found.least.round(4).item(), found.largest.round(4).item()
    (0.3448, 0.39)
    """
    sizes = CONDUCTOR_CLASSES.get(conductor_class, {})
    near = [size for size in sizes if abs(size - cross_section) < 1e-3 * size]
    with allowed.Together("conductor") as given:
        metres = given.not_negative("length", length)
        names = "one of " + "; ".join(CONDUCTOR_CLASSES)
        known = conductor_class in CONDUCTOR_CLASSES
        given.holds("conductor_class", conductor_class, names, if_=known)
        if known:
            given.holds(
                "cross_section",
                cross_section,
                "one of " + ", ".join(f"{size:g} m^2" for size in sizes),
                if_=bool(near),
                do="measure the resistance of a known length instead",
            )
    largest = metres * sizes[near[0]]
    return ConductorRange(
        np.asarray(metres * COPPER_RESISTIVITY.value / near[0]), np.asarray(largest)
    )


def temperature_factor(temperature_degc: ArrayLike) -> FloatArray:
    """Factor from a copper resistance at a temperature to 20 °C: 254.5 / (234.5 + T).

    Source: IEC 60228:2004, Annex B (from memory). Older tables use 250/(230 + T), which differs
    by 0.4 % at 90 °C; by the slope of 0.00393 per kelvin it is 254.45/(234.45 + T).

    Parameters
    ----------
    temperature_degc : float or array
        Of the conductor; NaN gives NaN [degC].

    Returns
    -------
    temperature_factor : array shaped like ``temperature_degc``
        Above 1 for a cold conductor [1].

    Raises
    ------
    InputError
        If a temperature lies below -200 °C, where the line no longer holds.

    Examples
    --------
    >>> temperature_factor([20.0, 50.0]).round(4).tolist()
    [1.0, 0.8946]
    """
    degrees = np.asarray(temperature_degc, dtype=np.float64)
    if np.any(degrees < -200):
        raise InputError("temperature_degc", np.nanmin(degrees), "-200 or more")
    return np.asarray(254.5 / (234.5 + degrees))


def resistance_at_20_degc(resistance: ArrayLike, temperature_degc: ArrayLike) -> FloatArray:
    """Copper resistance brought to 20 °C, so that readings of different days compare.

    Parameters
    ----------
    resistance : float or array
        As measured [ohm].
    temperature_degc : float or array
        Of the conductor while it was measured [degC].

    Returns
    -------
    resistance : array of the broadcast shape
        At 20 °C [ohm].
    """
    return np.asarray(
        np.asarray(resistance, dtype=np.float64) * temperature_factor(temperature_degc)
    )
