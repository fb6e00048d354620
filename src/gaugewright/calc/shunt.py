"""Shunt calibration: what a known resistor does to a quarter bridge, wherever it is connected.

A position is named by the two nodes the resistor joins: tab T1 carries lead A, tab T2 carries
leads B and C; A, B and C are the instrument's terminals (A on the negative excitation corner).
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from gaugewright.calc import allowed
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray

__all__ = [
    "POSITIONS",
    "QuarterCircuit",
    "ShuntPosition",
    "completion_shunt_strain",
    "equivalent_strain",
    "shunt_resistance_for",
    "shunt_step",
    "shunt_strain",
    "shunted_ratio",
]

ShuntPosition = Literal["T1-T2", "A-C", "A-B", "completion-B", "completion-C"]
POSITIONS: dict[ShuntPosition, str] = {
    "T1-T2": "across the grid, at its tabs",
    "A-C": "terminals A and C: its current runs through lead C",
    "A-B": "terminals A and B",
    "completion-B": "across the completion, from the B node",
    "completion-C": "across the completion, from the sense node: its current runs through lead C",
}


@dataclass(frozen=True, slots=True)
class QuarterCircuit:
    """A quarter bridge as it is wired; numbers or arrays that broadcast together.

    Attributes
    ----------
    gauge_resistance : float or array
        Of the grid as it stands [ohm].
    completion_resistance : float or array
        Fixed arm beside it [ohm].
    lead_a, lead_b : float or array
        Leads of tab T1 and tab T2 [ohm].
    lead_c : float or array, optional
        Sense lead of tab T2; None for two-wire wiring, where B is the sense node too [ohm].
    lower_half_share : float or array
        Lower resistor of the internal half bridge over both: 0.5 when they are equal [1].

    Raises
    ------
    InputError
        If a resistance is impossible.
    Faults
        If several things are wrong.
    """

    gauge_resistance: ArrayLike
    completion_resistance: ArrayLike
    lead_a: ArrayLike = 0.0
    lead_b: ArrayLike = 0.0
    lead_c: ArrayLike | None = 0.0
    lower_half_share: ArrayLike = 0.5

    def __post_init__(self) -> None:
        with allowed.Together("quarter bridge") as given:
            given.positive("gauge_resistance", self.gauge_resistance)
            given.positive("completion_resistance", self.completion_resistance)
            given.not_negative("lead_a", self.lead_a)
            given.not_negative("lead_b", self.lead_b)
            if self.lead_c is not None:
                given.not_negative("lead_c", self.lead_c)
            given.within("lower_half_share", self.lower_half_share, (0.0, 1.0))


def shunted_ratio(
    circuit: QuarterCircuit,
    position: ShuntPosition | None = None,
    shunt_resistance: ArrayLike | None = None,
) -> FloatArray:
    """Output of a quarter bridge, with or without a calibration resistor, exact with its leads.

    Parameters
    ----------
    circuit : QuarterCircuit
        As wired.
    position : str, optional
        One of ``POSITIONS``; None for no resistor.
    shunt_resistance : float or array, optional
        Of the calibration resistor [ohm].

    Returns
    -------
    bridge_ratio : array of the broadcast shape
        Absolute, so not zero for a gauge off its nominal value [V/V].

    Raises
    ------
    InputError
        If the position is unknown or the resistor is missing or impossible.

    Examples
    --------
    >>> circuit = QuarterCircuit(120.0, 120.0, 1.0, 1.0, 1.0)
    >>> shunted_ratio(circuit).item(), shunted_ratio(circuit, "T1-T2", 59880.0).round(9).item()
    (0.0, -0.00049636)
    """
    middle = np.asarray(circuit.lower_half_share, dtype=np.float64)
    return np.asarray(_sense_share(circuit, position, shunt_resistance) - middle)


def shunt_step(
    circuit: QuarterCircuit, position: ShuntPosition, shunt_resistance: ArrayLike
) -> FloatArray:
    """Change of output when the calibration resistor is connected, exact with leads.

    Parameters
    ----------
    circuit : QuarterCircuit
        As wired.
    position : str
        One of ``POSITIONS``.
    shunt_resistance : float or array
        Of the calibration resistor [ohm].

    Returns
    -------
    bridge_ratio : array of the broadcast shape
        Negative for a resistor across the gauge, positive across the completion [V/V].

    Raises
    ------
    InputError
        If the position is unknown or the resistor is impossible.
    """
    before = _sense_share(circuit, None, None)
    return _sense_share(circuit, position, shunt_resistance) - before


def equivalent_strain(
    circuit: QuarterCircuit,
    position: ShuntPosition,
    shunt_resistance: ArrayLike,
    gauge_factor: ArrayLike,
) -> FloatArray:
    """Strain of the grid that would move the output as the resistor does, exact with leads.

    Divided by the strain read for the same step it is the factor of shunt scaling, which then
    holds lead loss and instrument gain together.

    Parameters
    ----------
    circuit : QuarterCircuit
        As wired, the grid as it stood when the step was taken.
    position : str
        One of ``POSITIONS``.
    shunt_resistance : float or array
        Of the calibration resistor [ohm].
    gauge_factor : float or array
        Of the gauge [1].

    Returns
    -------
    strain : array of the broadcast shape
        Negative for a resistor across the gauge [1].

    Raises
    ------
    InputError
        If position, resistor or gauge factor is impossible.

    Examples
    --------
    >>> bare = QuarterCircuit(120.0, 120.0)
    >>> (equivalent_strain(bare, "T1-T2", 59880.0, 2.0) * 1e6).round(6).item()
    -1000.0
    """
    with allowed.Together("shunt") as given:
        factor = given.positive("gauge_factor", gauge_factor)
        given.positive("shunt_resistance", shunt_resistance)
    share = _sense_share(circuit, position, shunt_resistance)
    grid = np.asarray(circuit.gauge_resistance, dtype=np.float64)
    below, above = _arms(circuit)
    # The sense node sits at share = X / (X + above), so the grid would have to be X less its leads.
    return np.asarray((share / (1 - share) * above - below) / grid / factor)


def shunt_strain(
    gauge_resistance: ArrayLike, shunt_resistance: ArrayLike, gauge_factor: ArrayLike
) -> FloatArray:
    """Strain simulated by a resistor straight across the grid: -R / (k (R + R_s)).

    An insulation resistance between the tabs does the same.

    Parameters
    ----------
    gauge_resistance : float or array
        Of the grid [ohm].
    shunt_resistance : float or array
        Across it [ohm].
    gauge_factor : float or array
        Of the gauge [1].

    Returns
    -------
    strain : array of the broadcast shape
        Never positive [1].

    Raises
    ------
    InputError
        If one of them isn't positive.
    Faults
        If several things are wrong.

    Examples
    --------
    >>> (shunt_strain(120.0, 100e3, 2.1) * 1e6).round(4).item()
    -570.7437
    """
    with allowed.Together("shunt") as given:
        grid = given.positive("gauge_resistance", gauge_resistance)
        shunt = given.positive("shunt_resistance", shunt_resistance)
        factor = given.positive("gauge_factor", gauge_factor)
    return np.asarray(-grid / (factor * (grid + shunt)))


def shunt_resistance_for(
    strain: ArrayLike, gauge_resistance: ArrayLike, gauge_factor: ArrayLike
) -> FloatArray:
    """Resistor across the grid that simulates a compression: R / (k |ε|) - R.

    Parameters
    ----------
    strain : float or array
        To be simulated; negative, as a resistor in parallel only lowers the resistance [1].
    gauge_resistance : float or array
        Of the grid [ohm].
    gauge_factor : float or array
        Of the gauge [1].

    Returns
    -------
    shunt_resistance : array of the broadcast shape
        Positive [ohm].

    Raises
    ------
    InputError
        If the strain isn't between -1/k and 0, or a setting is impossible.

    Examples
    --------
    >>> shunt_resistance_for(-1000e-6, 350.0, 2.0).round(3).item()
    174650.0
    """
    wanted = -np.asarray(strain, dtype=np.float64)
    with allowed.Together("shunt resistor") as given:
        grid = given.positive("gauge_resistance", gauge_resistance)
        factor = given.positive("gauge_factor", gauge_factor)
        given.positive("-strain", wanted, "shunt the completion to simulate tension")
    change = wanted * factor
    allowed.within("-strain × gauge_factor", change, (0.0, np.nextafter(1.0, 0.0)))
    return np.asarray(grid / change - grid)


def completion_shunt_strain(
    completion_resistance: ArrayLike, shunt_resistance: ArrayLike, gauge_factor: ArrayLike
) -> FloatArray:
    """Tension simulated by a resistor across the completion of a balanced bridge: R_d / (k R_s).

    Exact without leads: the active arm would have to grow by R_d / R_s for the same output.

    Parameters
    ----------
    completion_resistance : float or array
        Fixed arm beside the gauge [ohm].
    shunt_resistance : float or array
        Across it [ohm].
    gauge_factor : float or array
        Of the gauge [1].

    Returns
    -------
    strain : array of the broadcast shape
        Positive [1].

    Raises
    ------
    InputError
        If one of them isn't positive.
    Faults
        If several things are wrong.
    """
    with allowed.Together("shunt") as given:
        fixed = given.positive("completion_resistance", completion_resistance)
        shunt = given.positive("shunt_resistance", shunt_resistance)
        factor = given.positive("gauge_factor", gauge_factor)
    return np.asarray(fixed / (factor * shunt))


def _arms(circuit: QuarterCircuit) -> tuple[FloatArray, FloatArray]:
    """Resistance from the sense joint down to the negative corner, and up to the positive one."""
    below = np.asarray(circuit.gauge_resistance) + np.asarray(circuit.lead_a)
    above = np.asarray(circuit.completion_resistance, dtype=np.float64)
    if circuit.lead_c is None:  # two-wire: lead B lies below the sense node, not above it
        return np.asarray(below + np.asarray(circuit.lead_b)), above
    return np.asarray(below), np.asarray(above + np.asarray(circuit.lead_b))


def _sense_share(
    circuit: QuarterCircuit, position: ShuntPosition | None, shunt_resistance: ArrayLike | None
) -> FloatArray:
    """Voltage of the sense terminal above the negative corner, over the excitation."""
    below, above = _arms(circuit)
    if position is None:
        return np.asarray(below / (below + above))
    if position not in POSITIONS:
        raise InputError("position", position, "one of " + ", ".join(POSITIONS))
    if shunt_resistance is None:
        raise InputError("shunt_resistance", None, "given with its position")
    shunt = allowed.positive("shunt_resistance", shunt_resistance)
    grid = np.asarray(circuit.gauge_resistance, dtype=np.float64)
    fixed = np.asarray(circuit.completion_resistance, dtype=np.float64)
    if position == "T1-T2":
        below = below - grid + _parallel(grid, shunt)
        return np.asarray(below / (below + above))
    if circuit.lead_c is None:
        # Terminals B and C are one: both gauge positions and both completion positions coincide.
        if position in ("A-C", "A-B"):
            below = _parallel(below, shunt)
        else:
            above = _parallel(above, shunt)
        return np.asarray(below / (below + above))
    lead_b, lead_c = np.asarray(circuit.lead_b), np.asarray(circuit.lead_c)
    if position == "completion-B":
        above = lead_b + _parallel(fixed, shunt)
        return np.asarray(below / (below + above))
    if position == "A-B":
        lower = _parallel(below + lead_b, shunt)
        return np.asarray(lower / (lower + fixed) * below / (below + lead_b))
    through_c = shunt + lead_c
    if position == "A-C":
        lower = _parallel(below, through_c)
        return np.asarray(lower / (lower + above) * shunt / through_c)
    upper = _parallel(above, through_c)
    return np.asarray(1 - upper / (below + upper) * shunt / through_c)


def _parallel(one: FloatArray, other: FloatArray) -> FloatArray:
    return np.asarray(one * other / (one + other))
