"""A bridge at the end of a cable: what supply, sense and signal wires take from its output.

Four wires lose voltage in the supply pair, six wires refer the output to the voltage sensed at
the bridge, and whatever input an instrument has loads what it measures.
"""

import numpy as np
from numpy.typing import ArrayLike

from gaugewright.calc import allowed
from gaugewright.quantities import FloatArray

__all__ = [
    "corner_resistance",
    "quarter_unit_resistance",
    "sensed_share",
    "signal_share",
    "supply_share",
    "terminal_shunt_ratio_full",
    "terminal_shunt_ratio_half",
]


def corner_resistance(arm_changes: ArrayLike, arm_resistance: ArrayLike) -> FloatArray:
    """Resistance between the supply corners: arms 1 + 2 beside arms 3 + 4.

    Parameters
    ----------
    arm_changes : array, shape (..., 4)
        Relative change of arms 1 to 4, as in ``bridge.four_arm_ratio`` [1].
    arm_resistance : float or array
        Of an arm at its nominal value [ohm].

    Returns
    -------
    bridge_resistance : array, shape (...)
        As an ohmmeter reads it without cable [ohm].

    Raises
    ------
    InputError
        If ``arm_resistance`` isn't positive.

    Examples
    --------
    >>> corner_resistance([0.0, 0.0, 0.0, 0.0], 350.0).item()
    350.0
    """
    nominal = allowed.positive("arm_resistance", arm_resistance)
    one, two, three, four = np.moveaxis(1 + np.asarray(arm_changes, dtype=np.float64), -1, 0)
    left, right = one + two, three + four
    return np.asarray(nominal * left * right / (left + right))


def quarter_unit_resistance(
    arm_resistance: ArrayLike, completion_resistance: ArrayLike, half_resistance: ArrayLike
) -> FloatArray:
    """Resistance that a quarter bridge with its own completion shows to a far supply.

    Parameters
    ----------
    arm_resistance : float or array
        Of the active arm with every lead in series with it [ohm].
    completion_resistance : float or array
        Fixed arm beside it [ohm].
    half_resistance : float or array
        Of the internal half bridge, both resistors together [ohm].

    Returns
    -------
    bridge_resistance : array of the broadcast shape
        Between the supply corners [ohm].

    Raises
    ------
    InputError
        If a resistance isn't positive.
    Faults
        If several aren't.
    """
    with allowed.Together("quarter bridge unit") as given:
        arm = given.positive("arm_resistance", arm_resistance)
        fixed = given.positive("completion_resistance", completion_resistance)
        half = given.positive("half_resistance", half_resistance)
    active = arm + fixed
    return np.asarray(active * half / (active + half))


def supply_share(
    bridge_resistance: ArrayLike, lead_plus: ArrayLike, lead_minus: ArrayLike
) -> FloatArray:
    """Share of the supply that reaches a bridge through its two supply wires: R / (R + r+ + r-).

    The output over the supply is the bridge's own ratio times this share: exact, and constant
    only as long as bridge and wires keep their resistance.

    Parameters
    ----------
    bridge_resistance : float or array
        Between the supply corners [ohm].
    lead_plus : float or array
        Supply wire to the plus corner [ohm].
    lead_minus : float or array
        Supply wire to the minus corner [ohm].

    Returns
    -------
    lead_sensitivity : array of the broadcast shape
        From 0 to 1 [1].

    Raises
    ------
    InputError
        If a resistance is impossible.
    Faults
        If several are.

    Examples
    --------
    >>> supply_share(350.0, 1.0, 1.0).round(6).item()
    0.994318
    """
    with allowed.Together("supply wires") as given:
        bridge = given.positive("bridge_resistance", bridge_resistance)
        plus = given.not_negative("lead_plus", lead_plus)
        minus = given.not_negative("lead_minus", lead_minus)
    return np.asarray(bridge / (bridge + plus + minus))


def sensed_share(
    sense_input_resistance: ArrayLike, lead_plus: ArrayLike, lead_minus: ArrayLike
) -> FloatArray:
    """Share of the bridge's own supply that a sensing input sees: R_in / (R_in + r+ + r-).

    With six wires the supply wires no longer count at all; what is left is the drop in the sense
    wires. The output over the sensed voltage is the bridge's ratio *divided* by this share.

    Parameters
    ----------
    sense_input_resistance : float or array
        Of the instrument between its sense terminals; infinite for an ideal one [ohm].
    lead_plus : float or array
        Sense wire to the plus corner [ohm].
    lead_minus : float or array
        Sense wire to the minus corner [ohm].

    Returns
    -------
    lead_sensitivity : array of the broadcast shape
        From 0 to 1 [1].

    Raises
    ------
    InputError
        If a resistance is impossible.
    Faults
        If several are.

    Examples
    --------
    >>> sensed_share(float("inf"), 5.0, 5.0).item(), sensed_share(1e6, 5.0, 5.0).round(7).item()
    (1.0, 0.99999)
    """
    with allowed.Together("sense wires") as given:
        load, wires = _loaded(
            given, "sense_input_resistance", sense_input_resistance, lead_plus, lead_minus
        )
    # Written so that an infinite input takes nothing.
    return np.asarray(1 / (1 + wires / load))


def signal_share(
    input_resistance: ArrayLike,
    bridge_resistance: ArrayLike,
    lead_plus: ArrayLike = 0.0,
    lead_minus: ArrayLike = 0.0,
) -> FloatArray:
    """Share of the open output that an input of finite resistance sees.

    R_in / (R_in + R_signal + r+ + r-): the bridge drives its input through its own resistance
    between the signal corners, with the supply corners joined by an ideal source.

    Parameters
    ----------
    input_resistance : float or array
        Of the amplifier; infinite for an ideal one [ohm].
    bridge_resistance : float or array
        Between the signal corners with the supply shorted: R for four arms of R [ohm].
    lead_plus : float or array
        Signal wire [ohm].
    lead_minus : float or array
        Signal wire [ohm].

    Returns
    -------
    lead_sensitivity : array of the broadcast shape
        From 0 to 1 [1].

    Raises
    ------
    InputError
        If a resistance is impossible.
    Faults
        If several are.

    Examples
    --------
    >>> signal_share(1e6, 350.0).round(6).item()
    0.99965
    """
    with allowed.Together("signal wires") as given:
        source = given.not_negative("bridge_resistance", bridge_resistance)
        load, wires = _loaded(given, "input_resistance", input_resistance, lead_plus, lead_minus)
    # Written so that an infinite input takes nothing.
    return np.asarray(1 / (1 + (source + wires) / load))


def terminal_shunt_ratio_full(
    shunt_resistance: ArrayLike, arm_resistance: ArrayLike, lead_resistance: ArrayLike
) -> FloatArray:
    """Step of a full bridge with the resistor at the channel's terminals, behind the wires.

    -(R + 2r) / (2 (R + 3r + 2 R_s)) of the supply at the instrument, from the four equations of
    the nodes: every arm R, every one of the four wires r, the resistor from the signal terminal
    of arm 1 to its supply terminal. Without wires it is the step across the arm itself.

    Parameters
    ----------
    shunt_resistance : float or array
        Calibration resistor [ohm].
    arm_resistance : float or array
        Of each arm [ohm].
    lead_resistance : float or array
        Of each wire, one way [ohm].

    Returns
    -------
    bridge_ratio : array of the broadcast shape
        Change of the output over the supply at the instrument [V/V].

    Raises
    ------
    InputError
        If a resistance is impossible.
    Faults
        If several are.

    Examples
    --------
    >>> terminal_shunt_ratio_full(100e3, 350.0, 0.0).round(8).item()
    -0.00087347
    """
    resistor, arm, wire = _shunted(shunt_resistance, arm_resistance, lead_resistance)
    return np.asarray(-(arm + 2 * wire) / (2 * (arm + 3 * wire + 2 * resistor)))


def terminal_shunt_ratio_half(
    shunt_resistance: ArrayLike, arm_resistance: ArrayLike, lead_resistance: ArrayLike
) -> FloatArray:
    """Step of a half bridge on three wires, the resistor at the channel's terminals across arm 1.

    -(R + 3r) / (2 (R + 3r + 2 R_s)): the signal wire carries the resistor's current too.

    Parameters
    ----------
    shunt_resistance : float or array
        Calibration resistor [ohm].
    arm_resistance : float or array
        Of each of the two arms [ohm].
    lead_resistance : float or array
        Of each wire, one way [ohm].

    Returns
    -------
    bridge_ratio : array of the broadcast shape
        Change of the output over the supply [V/V].

    Raises
    ------
    InputError
        If a resistance is impossible.
    Faults
        If several are.

    Examples
    --------
    >>> terminal_shunt_ratio_half(100e3, 350.0, 0.0).round(8).item()
    -0.00087347
    """
    resistor, arm, wire = _shunted(shunt_resistance, arm_resistance, lead_resistance)
    return np.asarray(-(arm + 3 * wire) / (2 * (arm + 3 * wire + 2 * resistor)))


def _shunted(
    shunt_resistance: ArrayLike, arm_resistance: ArrayLike, lead_resistance: ArrayLike
) -> tuple[FloatArray, FloatArray, FloatArray]:
    with allowed.Together("bridge with a calibration resistor") as given:
        resistor = given.positive("shunt_resistance", shunt_resistance)
        arm = given.positive("arm_resistance", arm_resistance)
        wire = given.not_negative("lead_resistance", lead_resistance)
    return resistor, arm, wire


def _loaded(
    given: allowed.Together,
    name: str,
    input_resistance: ArrayLike,
    lead_plus: ArrayLike,
    lead_minus: ArrayLike,
) -> tuple[FloatArray, FloatArray]:
    """What draws the current, and the two wires it flows through."""
    load = np.asarray(input_resistance, dtype=np.float64)
    usable = bool(np.all(load > 0))
    given.holds(name, input_resistance, "above 0, or infinite", if_=usable)
    plus = given.not_negative("lead_plus", lead_plus)
    return load, np.asarray(plus + given.not_negative("lead_minus", lead_minus))
