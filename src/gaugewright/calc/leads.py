"""Lead wires: their resistance, what they take from the reading and what three of them tell."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from gaugewright.calc import allowed, far_bridge
from gaugewright.errors import InputError
from gaugewright.quantities import Constant, FloatArray

__all__ = [
    "COPPER_RESISTIVITY",
    "COPPER_TEMPERATURE_COEFFICIENT",
    "LeadSolution",
    "excitation_lead_sensitivity",
    "four_lead_resistance",
    "grid_change",
    "lead_resistance",
    "lead_sensitivity",
    "slope_counted_from",
    "three_lead_solution",
    "two_wire_lead_strain",
    "wire_diameter",
]

COPPER_RESISTIVITY = Constant(
    1 / 58e6,
    "ohm m",
    0.0,
    "International annealed copper standard at 20 degC, IEC 60028:1925: 1/58 ohm mm²/m by "
    "definition; commercial wire is 0 to 3 % above it and stranding adds about 2 % of length "
    "(from memory)",
)
COPPER_TEMPERATURE_COEFFICIENT = Constant(
    0.00393,
    "1/K",
    0.0,
    "Annealed copper of standard conductivity at 20 degC, constant mass, IEC 60028:1925 "
    "(from memory)",
)


def wire_diameter(awg: int) -> float:
    """Diameter of a solid conductor of the American wire gauge.

    Forty sizes in geometric steps from 0.005 inch (No. 36) to 0.46 inch (No. 0000):
    d = 0.005 inch × 92^((36 - n) / 39). Source: ASTM B258, nominal diameters (from memory).

    Parameters
    ----------
    awg : int
        Size number; 0 for 1/0, -1 for 2/0, -2 for 3/0, -3 for 4/0 [1].

    Returns
    -------
    diameter : float
        Unrounded; tables round it to 0.1 mil first, which moves resistance by up to 0.8 % [m].

    Raises
    ------
    InputError
        If the number isn't from -3 to 56.

    Examples
    --------
    >>> round(wire_diameter(26) * 1e3, 4)
    0.4049
    """
    if not -3 <= awg <= 56:
        raise InputError("awg", awg, "a size number from -3 (0000) to 56")
    return float(0.005 * 0.0254 * 92 ** ((36 - awg) / 39))


def lead_resistance(
    length: ArrayLike,
    cross_section: ArrayLike,
    temperature_degc: ArrayLike = 20.0,
    resistivity: float = COPPER_RESISTIVITY.value,
    resistance_slope: float = COPPER_TEMPERATURE_COEFFICIENT.value,
) -> FloatArray:
    """Resistance of one conductor, one way: ρ l / A (1 + α (T - 20 °C)).

    Parameters
    ----------
    length : float or array
        Of the cable, one way [m].
    cross_section : float or array
        Of the conductor's metal [m^2].
    temperature_degc : float or array
        Of the conductor [degC].
    resistivity : float
        At 20 °C; copper when left out [ohm m].
    resistance_slope : float
        Relative change per kelvin counted from 20 °C; copper when left out [1/K].

    Returns
    -------
    lead_resistance : array of the broadcast shape
        One wire, one way [ohm].

    Raises
    ------
    InputError
        If length or metal is impossible.
    Faults
        If several things are wrong.

    Examples
    --------
    >>> lead_resistance(10.0, 0.1288e-6, temperature_degc=20.0).round(3).item()
    1.339
    """
    with allowed.Together("lead wires") as given:
        metres = given.not_negative("length", length)
        area = given.positive("cross_section", cross_section)
        rho = given.positive("resistivity", resistivity)
    rise = np.asarray(temperature_degc, dtype=np.float64) - 20.0
    return np.asarray(rho * metres / area * (1 + resistance_slope * rise))


@dataclass(frozen=True, slots=True)
class LeadSolution:
    """What three pair readings tell of lead A (alone on tab 1) and B and C (on tab 2).

    Attributes
    ----------
    gauge_and_lead_a : array
        Grid and lead A in series: pair readings never separate the two [ohm].
    lead_b, lead_c : array
        The other leads [ohm].
    """

    gauge_and_lead_a: FloatArray
    lead_b: FloatArray
    lead_c: FloatArray

    def gauge_resistance(self, lead_a: ArrayLike | None = None) -> FloatArray:
        """Resistance of the grid once lead A is known or taken as the mean of the other two.

        Parameters
        ----------
        lead_a : float or array, optional
            A recorded value; without it the leads are taken to be alike [ohm].

        Returns
        -------
        gauge_resistance : array
            Of the grid with its joints [ohm].
        """
        lead = (self.lead_b + self.lead_c) / 2 if lead_a is None else np.asarray(lead_a)
        return np.asarray(self.gauge_and_lead_a - lead)


def slope_counted_from(
    temperature_degc: ArrayLike, resistance_slope: float = COPPER_TEMPERATURE_COEFFICIENT.value
) -> FloatArray:
    """Relative change per kelvin of a resistance known at another temperature than 20 °C.

    α / (1 + α (T - 20 °C)), for copper 1 / (234.5 + T): one straight line, counted from where the
    resistance was measured. Source: as ``COPPER_TEMPERATURE_COEFFICIENT``.

    Parameters
    ----------
    temperature_degc : float or array
        At which the resistance is known [degC].
    resistance_slope : float
        Relative change per kelvin counted from 20 °C; copper when left out [1/K].

    Returns
    -------
    resistance_slope : array of the same shape
        Counted from that temperature [1/K].

    Examples
    --------
    >>> (slope_counted_from([0.0, 20.0, 50.0]) * 1e3).round(3).tolist()
    [4.265, 3.93, 3.516]
    """
    above = np.asarray(temperature_degc, dtype=np.float64) - 20.0
    return np.asarray(resistance_slope / (1 + resistance_slope * above))


def three_lead_solution(pair_ab: ArrayLike, pair_ac: ArrayLike, pair_bc: ArrayLike) -> LeadSolution:
    """Lead resistances from the meter's readings between three leads, the instrument unplugged.

    P = R + r_A + r_B, Q = R + r_A + r_C, S = r_B + r_C, so each unknown is a half sum: with
    independent readings of uncertainty u each carries u sqrt(3) / 2. Zero the meter first.

    Parameters
    ----------
    pair_ab : float or array
        Between leads A and B [ohm].
    pair_ac : float or array
        Between leads A and C [ohm].
    pair_bc : float or array
        Between leads B and C, both on tab 2 [ohm].

    Returns
    -------
    LeadSolution
        A negative lead means that a reading is wrong or the leads are not as named.

    Examples
    --------
    >>> found = three_lead_solution(122.7, 122.7, 2.68)
    >>> found.lead_b.round(2).item(), found.gauge_resistance().round(2).item()
    (1.34, 120.02)
    """
    p, q, s = (np.asarray(pair, dtype=np.float64) for pair in (pair_ab, pair_ac, pair_bc))
    return LeadSolution(
        gauge_and_lead_a=np.asarray((p + q - s) / 2),
        lead_b=np.asarray((p + s - q) / 2),
        lead_c=np.asarray((q + s - p) / 2),
    )


def four_lead_resistance(voltage: ArrayLike, current: ArrayLike) -> FloatArray:
    """Resistance between the sense joints when current and voltage have leads of their own.

    Parameters
    ----------
    voltage : float or array
        Between the sense leads [V].
    current : float or array
        Through the current leads [A].

    Returns
    -------
    resistance : array
        Free of lead resistance; thermal voltages remain, reverse the current to see them [ohm].

    Raises
    ------
    InputError
        If a current is zero.
    """
    amperes = np.asarray(current, dtype=np.float64)
    if np.any(amperes == 0):
        raise InputError("current", 0.0, "other than zero")
    return np.asarray(np.asarray(voltage, dtype=np.float64) / amperes)


def lead_sensitivity(
    gauge_resistance: ArrayLike, lead_resistance: ArrayLike, wires_in_arm: int
) -> FloatArray:
    """Share of the grid's relative change that its whole arm shows: R / (R + n r).

    Three-wire and half-bridge wiring has one wire in the arm, two-wire wiring has two.

    Parameters
    ----------
    gauge_resistance : float or array
        Grid at the zero [ohm].
    lead_resistance : float or array
        One wire, one way [ohm].
    wires_in_arm : int
        1 or 2 [1].

    Returns
    -------
    lead_sensitivity : array
        From 0 to 1 [1].

    Raises
    ------
    InputError
        If a resistance or the number of wires is impossible.
    Faults
        If several things are wrong.

    Examples
    --------
    >>> lead_sensitivity(120.0, 1.0, wires_in_arm=1).round(7).item()
    0.9917355
    """
    with allowed.Together("lead wires") as given:
        count = "1 (three-wire) or 2 (two-wire)"
        given.holds("wires_in_arm", wires_in_arm, count, if_=wires_in_arm in (1, 2))
        grid = given.positive("gauge_resistance", gauge_resistance)
        lead = given.not_negative("lead_resistance", lead_resistance)
    return np.asarray(grid / (grid + wires_in_arm * lead))


def grid_change(
    arm_change: ArrayLike,
    gauge_resistance: ArrayLike,
    lead_resistance: ArrayLike,
    wires_in_arm: int,
) -> FloatArray:
    """Relative change of the grid alone, from that of the arm it shares with its leads.

    Exact as long as the leads keep their resistance; never together with shunt scaling.

    Parameters
    ----------
    arm_change : array of any shape
        Counted from the zero, see ``bridge.relative_arm_change`` [1].
    gauge_resistance : float or array
        Grid at the zero [ohm].
    lead_resistance : float or array
        One wire, one way [ohm].
    wires_in_arm : int
        1 (three-wire) or 2 (two-wire) [1].

    Returns
    -------
    grid_change : array shaped like ``arm_change``
        Larger than the arm's [1].

    Raises
    ------
    InputError
        If a resistance or the number of wires is impossible.
    """
    change = np.asarray(arm_change, dtype=np.float64)
    return change / lead_sensitivity(gauge_resistance, lead_resistance, wires_in_arm)


def excitation_lead_sensitivity(
    bridge_resistance: ArrayLike, lead_resistance: ArrayLike
) -> FloatArray:
    """Share of a full bridge's output left when both excitation leads drop voltage: R / (R + 2r).

    For a bridge without sense leads; with six wires the ratio is to the sensed voltage.

    Parameters
    ----------
    bridge_resistance : float or array
        Between the excitation corners [ohm].
    lead_resistance : float or array
        One excitation wire, one way [ohm].

    Returns
    -------
    lead_sensitivity : array
        From 0 to 1 [1].

    Raises
    ------
    InputError
        If a resistance is impossible.
    Faults
        If several things are wrong.
    """
    with allowed.Together("lead wires") as given:
        bridge = given.positive("bridge_resistance", bridge_resistance)
        lead = given.not_negative("lead_resistance", lead_resistance)
    return far_bridge.supply_share(bridge, lead, lead)


def two_wire_lead_strain(
    lead_resistance_change: ArrayLike,
    gauge_resistance: ArrayLike,
    gauge_factor: ArrayLike,
    lead_resistance: ArrayLike = 0.0,
) -> FloatArray:
    """Apparent strain when both wires of a two-wire gauge warm up: 2 Δr / (k (R + 2r)).

    With ``lead_resistance`` this is what the reading shows before lead correction; after it, leave
    it at zero: the corrected reading shows 2 Δr / (k R). Three equal wires cancel it.

    Parameters
    ----------
    lead_resistance_change : float or array
        Of one wire, since the zero [ohm].
    gauge_resistance : float or array
        Grid at the zero [ohm].
    gauge_factor : float or array
        Of the gauge [1].
    lead_resistance : float or array
        Of one wire at the zero, where the reading isn't yet corrected for leads [ohm].

    Returns
    -------
    strain : array
        Positive as the wires warm: subtract it [1].

    Raises
    ------
    InputError
        If a resistance or the gauge factor is impossible.
    Faults
        If several things are wrong.

    Examples
    --------
    >>> (two_wire_lead_strain(0.04, 120.0, 2.0) * 1e6).round(2).item()
    333.33
    """
    with allowed.Together("lead wires") as given:
        grid = given.positive("gauge_resistance", gauge_resistance)
        lead = given.not_negative("lead_resistance", lead_resistance)
        factor = given.positive("gauge_factor", gauge_factor)
    change = np.asarray(lead_resistance_change, dtype=np.float64)
    return 2 * change / (factor * (grid + 2 * lead))
