"""Lead wires that warm: the strain they feign in two-wire and in unequal three-wire wiring."""

import numpy as np
from numpy.typing import ArrayLike

from gaugewright.calc import allowed
from gaugewright.quantities import FloatArray

__all__ = ["three_wire_warming", "two_wire_error", "two_wire_offset"]


def two_wire_offset(
    gauge_resistance: ArrayLike, lead_resistance: ArrayLike, gauge_factor: ArrayLike
) -> FloatArray:
    """Strain that two wires in the arm feign by being there at all: 2r / (k R), exact.

    It belongs to the zero and goes with it; before that it takes its part of the range.

    Parameters
    ----------
    gauge_resistance : float or array
        Of the grid, equal to the completion [ohm].
    lead_resistance : float or array
        One wire, one way [ohm].
    gauge_factor : float or array
        Of the gauge [1].

    Returns
    -------
    strain : array of the broadcast shape
        Read from an exact bridge equation [1].

    Raises
    ------
    InputError
        If a setting is impossible.
    Faults
        If several are.

    Examples
    --------
    >>> (two_wire_offset(120.0, 1.34, 2.0) * 1e6).round(0).item()
    11167.0
    """
    with allowed.Together("two-wire gauge") as given:
        grid = given.positive("gauge_resistance", gauge_resistance)
        lead = given.not_negative("lead_resistance", lead_resistance)
        factor = given.positive("gauge_factor", gauge_factor)
    return np.asarray(2 * lead / (factor * grid))


def two_wire_error(
    lead_temperature_degc: ArrayLike,
    lead_temperature_zero_degc: ArrayLike,
    *,
    lead_resistance: ArrayLike,
    gauge_resistance: ArrayLike,
    gauge_factor: ArrayLike,
    resistance_slope: float,
) -> FloatArray:
    """Strain feigned by two wires in the arm since the zero, in a reading corrected for leads.

    2 r α (T - T0) / (k R). Before lead correction it shows less, by R / (R + 2r).

    Parameters
    ----------
    lead_temperature_degc : array of any shape
        Mean of the lead over its length; NaN gives NaN [degC].
    lead_temperature_zero_degc : float or array
        The same at the zero [degC].
    lead_resistance : float or array
        One wire at the zero, one way [ohm].
    gauge_resistance : float or array
        Of the grid [ohm].
    gauge_factor : float or array
        Of the gauge [1].
    resistance_slope : float
        Of the conductor at the zero: α20 / (1 + α20 (T0 - 20)) for a value stated at 20 °C [1/K].

    Returns
    -------
    strain : array of the broadcast shape
        Positive as the wires warm: subtract it [1].

    Raises
    ------
    InputError
        If a setting is impossible.
    Faults
        If several are.

    Examples
    --------
    >>> wire = {"lead_resistance": 1.34, "gauge_resistance": 120.0, "gauge_factor": 2.0}
    >>> (two_wire_error(21.0, 20.0, **wire, resistance_slope=0.00393) * 1e6).round(1).item()
    43.9
    """
    with allowed.Together("two-wire gauge") as given:
        grid = given.positive("gauge_resistance", gauge_resistance)
        lead = given.not_negative("lead_resistance", lead_resistance)
        factor = given.positive("gauge_factor", gauge_factor)
    zero = np.asarray(lead_temperature_zero_degc, dtype=np.float64)
    warmer = np.asarray(lead_temperature_degc, dtype=np.float64) - zero
    return np.asarray(2 * lead * resistance_slope * warmer / (factor * grid))


def three_wire_warming(
    lead_a_change: ArrayLike,
    lead_b_change: ArrayLike,
    *,
    lead_resistance: ArrayLike,
    gauge_resistance: ArrayLike,
    gauge_factor: ArrayLike,
) -> FloatArray:
    """Strain feigned since the zero where leads A and B of a three-wire gauge warm unequally.

    Equal leads, balanced with their completion at the zero, seen after lead correction:
    (Δa - Δb) / (k R (1 + Δb/(R + r))), exact. Equal warming leaves nothing; lead C carries no
    current and doesn't count. To first order it is (Δa - Δb) / (k R).

    Parameters
    ----------
    lead_a_change : array of any shape
        Of lead A since the zero [ohm].
    lead_b_change : array of any shape
        Of lead B since the zero [ohm].
    lead_resistance : float or array
        Of either lead at the zero, one way [ohm].
    gauge_resistance : float or array
        Of grid and completion at the zero [ohm].
    gauge_factor : float or array
        Of the gauge [1].

    Returns
    -------
    strain : array of the broadcast shape
        Positive where lead A warms more: subtract it [1].

    Raises
    ------
    InputError
        If a setting is impossible.
    Faults
        If several are.

    Examples
    --------
    >>> wire = {"lead_resistance": 1.34, "gauge_resistance": 120.0, "gauge_factor": 2.0}
    >>> (three_wire_warming(0.1, 0.0, **wire) * 1e6).round(1).item()
    416.7
    """
    with allowed.Together("three-wire gauge") as given:
        grid = given.positive("gauge_resistance", gauge_resistance)
        lead = given.not_negative("lead_resistance", lead_resistance)
        factor = given.positive("gauge_factor", gauge_factor)
    above = np.asarray(lead_b_change, dtype=np.float64)
    change = np.asarray(lead_a_change, dtype=np.float64) - above
    return np.asarray(change / (factor * grid * (1 + above / (grid + lead))))
