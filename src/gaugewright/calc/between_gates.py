"""What did temperature alone do to a reading between two gates, and what is the rest in strain?

Copper follows its straight line through -234.5 °C, the grid its thermal output on its metal.
"""

import numpy as np
from numpy.typing import ArrayLike

from gaugewright.calc import allowed, shunt
from gaugewright.calc.leads import COPPER_TEMPERATURE_COEFFICIENT
from gaugewright.quantities import FloatArray

__all__ = ["grid_warmed", "leak_strain", "strain_of_change", "wires_warmed"]


def wires_warmed(
    resistance: ArrayLike,
    temperature_zero_degc: ArrayLike,
    temperature_degc: ArrayLike,
    resistance_slope: float = COPPER_TEMPERATURE_COEFFICIENT.value,
) -> FloatArray:
    """Change of resistance of wires from one temperature to another.

    R2 / R1 = (1 + α (T2 - 20 °C)) / (1 + α (T1 - 20 °C)), which for copper is
    (234.5 + T2) / (234.5 + T1). Source: IEC 60028:1925 (from memory) and any textbook of circuits.

    Parameters
    ----------
    resistance : float or array
        At the first temperature [ohm].
    temperature_zero_degc : float or array
        First temperature [degC].
    temperature_degc : float or array
        Second temperature [degC].
    resistance_slope : float
        Relative change per kelvin counted from 20 °C; copper when left out [1/K].

    Returns
    -------
    resistance : array of the broadcast shape
        Change, positive when it grew [ohm].

    Raises
    ------
    InputError
        If ``resistance`` is negative.

    Examples
    --------
    >>> wires_warmed(50.0, 20.0, 100.0).round(2).item()
    15.72
    """
    first = allowed.not_negative("resistance", resistance)
    start = 1 + resistance_slope * (np.asarray(temperature_zero_degc, dtype=np.float64) - 20.0)
    end = 1 + resistance_slope * (np.asarray(temperature_degc, dtype=np.float64) - 20.0)
    return np.asarray(first * (end / start - 1))


def grid_warmed(
    gauge_resistance: ArrayLike, gauge_factor: ArrayLike, thermal_output: ArrayLike
) -> FloatArray:
    """Change of resistance of an unloaded grid by its thermal output: R k ε_T.

    Source: the definition of thermal output as the strain that gauge factor ``k`` turns it into.

    Parameters
    ----------
    gauge_resistance : float or array
        Of the grid [ohm].
    gauge_factor : float or array
        With which ``thermal_output`` was worked out [1].
    thermal_output : float or array
        Between both temperatures, on the metal it is bonded to [1].

    Returns
    -------
    resistance : array of the broadcast shape
        Change, positive when it grew [ohm].

    Raises
    ------
    InputError
        If a setting isn't positive.
    Faults
        If several aren't.

    Examples
    --------
    >>> grid_warmed(350.0, 2.0, 10e-6).round(4).item()
    0.007
    """
    with allowed.Together("grid") as given:
        grid = given.positive("gauge_resistance", gauge_resistance)
        factor = given.positive("gauge_factor", gauge_factor)
    return np.asarray(grid * factor * np.asarray(thermal_output, dtype=np.float64))


def strain_of_change(
    resistance: ArrayLike, gauge_resistance: ArrayLike, gauge_factor: ArrayLike
) -> FloatArray:
    """Strain that a change of resistance in the gauge's arm would be taken for: ΔR / (R k).

    Source: definition of the gauge factor. In the neighbouring arm it counts with a minus sign.

    Parameters
    ----------
    resistance : float or array
        Change of resistance [ohm].
    gauge_resistance : float or array
        Of the grid [ohm].
    gauge_factor : float or array
        Of the gauge [1].

    Returns
    -------
    strain : array of the broadcast shape
        To first order, tension positive [1].

    Raises
    ------
    InputError
        If a setting isn't positive.
    Faults
        If several aren't.

    Examples
    --------
    >>> (strain_of_change(0.1, 120.0, 2.0) * 1e6).round(1).item()
    416.7
    """
    with allowed.Together("grid") as given:
        grid = given.positive("gauge_resistance", gauge_resistance)
        factor = given.positive("gauge_factor", gauge_factor)
    return np.asarray(np.asarray(resistance, dtype=np.float64) / (grid * factor))


def leak_strain(
    insulation_resistance: ArrayLike, gauge_resistance: ArrayLike, gauge_factor: ArrayLike
) -> FloatArray:
    """Strain that a leak as large as the insulation would feign, lying across the whole grid.

    Grid and leak in parallel are R R_p / (R + R_p), so ΔR / R = -R / (R + R_p): the worst place a
    leak can have. Source: two resistors in parallel, as a shunt.

    Parameters
    ----------
    insulation_resistance : float or array
        Of grid and leads to the metal [ohm].
    gauge_resistance : float or array
        Of the grid [ohm].
    gauge_factor : float or array
        Of the gauge [1].

    Returns
    -------
    strain : array of the broadcast shape
        Never positive [1].

    Raises
    ------
    InputError
        If a setting isn't positive.
    Faults
        If several aren't.

    Examples
    --------
    >>> (leak_strain(1e6, 120.0, 2.0) * 1e6).round(0).item()
    -60.0
    """
    with allowed.Together("leak") as given:
        leak = given.positive("insulation_resistance", insulation_resistance)
        grid = given.positive("gauge_resistance", gauge_resistance)
        factor = given.positive("gauge_factor", gauge_factor)
    return shunt.shunt_strain(grid, leak, factor)
