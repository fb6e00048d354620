"""Shunt calibration of half and full bridges behind their wires, solved as the network they are.

Arm 1 lies between signal + and supply −, arm 2 between supply + and signal +, arm 3 between
supply + and signal −, arm 4 between signal − and supply −. Terminals of a half bridge: A on
supply −, B on supply +, C on signal +; its tabs T1 (lead A), N (lead C), T3 (lead B). Opposite
grids: T1 and T2 on leads A and B (arm 1), T3 and T4 on leads C and D (arm 3), A on supply −, C on
supply +. Full bridge: P and N supply, SP and SN signal, KP and KN sense.
"""

from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

import numpy as np
from scipy import optimize

from gaugewright.calc import allowed
from gaugewright.calc.circuit import Network, VoltageSource, solve, voltage_ratio
from gaugewright.errors import InputError

__all__ = ["BridgeKind", "LeadedBridge", "equivalent_strain", "shunt_step", "shunted_ratio"]

BridgeKind = Literal["half", "opposite", "full"]
_WIRES: dict[BridgeKind, tuple[int, ...]] = {"half": (3,), "opposite": (4,), "full": (4, 6)}
# Arms and wires as elements between nodes; a terminal of the channel is a node of its own.
_ELEMENTS: dict[BridgeKind, tuple[tuple[str, str, str], ...]] = {
    "half": (
        ("arm 1", "N", "T1"),
        ("arm 2", "T3", "N"),
        ("arm 3", "EP", "M"),
        ("arm 4", "M", "EN"),
        ("wire A", "T1", "EN"),
        ("wire B", "EP", "T3"),
        ("wire C", "N", "IC"),
    ),
    "opposite": (
        ("arm 1", "T2", "T1"),
        ("arm 2", "EP", "IB"),
        ("arm 3", "T3", "T4"),
        ("arm 4", "ID", "EN"),
        ("wire A", "T1", "EN"),
        ("wire B", "IB", "T2"),
        ("wire C", "EP", "T3"),
        ("wire D", "T4", "ID"),
    ),
    "full": (
        ("arm 1", "CSP", "CN"),
        ("arm 2", "CP", "CSP"),
        ("arm 3", "CP", "CSN"),
        ("arm 4", "CSN", "CN"),
        ("wire P", "EP", "CP"),
        ("wire N", "EN", "CN"),
        ("wire SP", "CSP", "SP"),
        ("wire SN", "CSN", "SN"),
    ),
}
_SENSE = (("wire KP", "CP", "KP"), ("wire KN", "CN", "KN"))
_OUT = {"half": ("IC", "M"), "opposite": ("IB", "ID"), "full": ("SP", "SN")}
# Place of the resistor, named by the two nodes it joins -> words, and the nodes in the network.
_HALF = {
    "T1-N": ("across the grid of arm 1, at its tabs", "T1", "N"),
    "T3-N": ("across the grid of arm 2, at its tabs", "T3", "N"),
    "A-C": ("terminals A and C, across arm 1: its current runs through lead C", "EN", "IC"),
    "B-C": ("terminals B and C, across arm 2: its current runs through lead C", "EP", "IC"),
    "A-M": ("across the channel’s own lower half", "EN", "M"),
    "B-M": ("across the channel’s own upper half", "EP", "M"),
}
_OPPOSITE = {
    "T1-T2": ("across the grid of arm 1, at its tabs", "T1", "T2"),
    "T3-T4": ("across the grid of arm 3, at its tabs", "T3", "T4"),
    "A-B": ("terminals A and B, across arm 1 and its leads", "EN", "IB"),
    "C-D": ("terminals C and D, across arm 3 and its leads", "EP", "ID"),
    "B-C": ("across the completion of arm 2", "IB", "EP"),
    "A-D": ("across the completion of arm 4", "EN", "ID"),
}
_PAIRS = (("SP", "N", 1), ("P", "SP", 2), ("P", "SN", 3), ("SN", "N", 4))
_TERMINAL = {"P": "EP", "N": "EN", "SP": "SP", "SN": "SN", "KP": "KP", "KN": "KN"}
_FULL = {
    f"{one}-{other} at the bridge": (f"across arm {arm} itself", f"C{one}", f"C{other}")
    for one, other, arm in _PAIRS
} | {
    f"{one}-{other} at the channel": (
        f"terminals {one} and {other}, across arm {arm} and its leads",
        _TERMINAL[one],
        _TERMINAL[other],
    )
    for one, other, arm in _PAIRS
}
_SENSED = {
    f"{one}-{other} at the channel": (
        f"terminals {one} and {other}, across arm {arm} by a sense wire",
        _TERMINAL[one],
        _TERMINAL[other],
    )
    for one, other, arm in (("SP", "KN", 1), ("KP", "SP", 2), ("KP", "SN", 3), ("SN", "KN", 4))
}
_PLACES = {"half": _HALF, "opposite": _OPPOSITE, "full": _FULL}
_SHORTEST = 1e-9  # ohm: a wire of nothing, which the network can't hold


@dataclass(frozen=True, slots=True)
class LeadedBridge:
    """A half or full bridge behind wires that are all alike.

    Attributes
    ----------
    kind : str
        "half", arms 3 and 4 in the channel; "opposite", arms 2 and 4 in the channel; "full".
    arm_resistance : tuple of four floats
        Of arms 1 to 4 as they stand [ohm].
    lead_resistance : float
        Of each wire [ohm].
    wires : int
        3 of a half bridge, 4 of opposite grids, 4 or 6 of a full bridge [1].
    arm_weights : tuple of four floats
        Strain of each arm over that of arm 1; 0 for an arm without a grid [1].

    Raises
    ------
    InputError
        If a resistance is impossible or the wires don't suit the bridge.
    Faults
        If several things are wrong.
    """

    kind: BridgeKind
    arm_resistance: tuple[float, float, float, float]
    lead_resistance: float
    wires: int
    arm_weights: tuple[float, float, float, float]

    def __post_init__(self) -> None:
        with allowed.Together("bridge") as given:
            known = self.kind in _WIRES
            given.holds("kind of bridge", self.kind, "one of " + ", ".join(_WIRES), if_=known)
            given.positive("arm_resistance", self.arm_resistance)
            given.not_negative("lead_resistance", self.lead_resistance)
            fits = known and self.wires in _WIRES[self.kind]
            numbers = " or ".join(map(str, _WIRES.get(self.kind, ())))
            given.holds("wires", self.wires, f"{numbers} for this bridge", if_=fits)
            given.holds(
                "arm_weights",
                self.arm_weights,
                "four, with one that isn't 0",
                if_=len(self.arm_weights) == 4 and any(self.arm_weights),
            )

    @property
    def positions(self) -> dict[str, str]:
        """Places of the resistor, each by the two nodes it joins, in words."""
        sensed = _SENSED if self.wires == 6 else {}
        return {name: place[0] for name, place in (_PLACES[self.kind] | sensed).items()}


@lru_cache(maxsize=64)
def _network(kind: BridgeKind, wires: int, position: str) -> Network:
    elements = _ELEMENTS[kind] + (_SENSE if wires == 6 else ())
    if position:
        _, one, other = (_PLACES[kind] | _SENSED)[position]
        elements = (*elements, ("resistor", one, other))
    return Network(elements, (VoltageSource("supply", "EP", "EN", 1.0),), "EN")


def shunted_ratio(
    bridge: LeadedBridge, position: str = "", shunt_resistance: float | None = None
) -> float:
    """Output with or without a calibration resistor, of the network with every wire in it.

    Signal and sense inputs draw nothing. With six wires it is the ratio to the sensed voltage.

    Parameters
    ----------
    bridge : LeadedBridge
        As wired.
    position : str
        One of ``bridge.positions``; "" for no resistor.
    shunt_resistance : float, optional
        Of the calibration resistor [ohm].

    Returns
    -------
    bridge_ratio : float
        Absolute, so not zero where arms aren't alike [V/V].

    Raises
    ------
    InputError
        If the position isn't one of this bridge, or the resistor is missing or impossible.

    Examples
    --------
    >>> alike = LeadedBridge("full", (350.0,) * 4, 0.0, 4, (1.0, -1.0, 1.0, -1.0))
    >>> round(shunted_ratio(alike, "SP-N at the bridge", 174650.0), 7)
    -0.0005005
    """
    return _solved(bridge, bridge.arm_resistance, position, shunt_resistance)


def shunt_step(bridge: LeadedBridge, position: str, shunt_resistance: float) -> float:
    """Change of output when the calibration resistor is connected.

    Parameters
    ----------
    bridge : LeadedBridge
        As wired.
    position : str
        One of ``bridge.positions``.
    shunt_resistance : float
        Of the calibration resistor [ohm].

    Returns
    -------
    bridge_ratio : float
        Negative across arms 1 and 3, positive across arms 2 and 4 [V/V].

    Raises
    ------
    InputError
        If the position isn't one of this bridge, or the resistor is impossible.
    """
    return shunted_ratio(bridge, position, shunt_resistance) - shunted_ratio(bridge)


def equivalent_strain(
    bridge: LeadedBridge, position: str, shunt_resistance: float, gauge_factor: float
) -> float:
    """Strain of arm 1 that moves the output as the resistor does, its partners strained with it.

    Found by Brent's method on the same network: every arm changes by k times its weight times the
    strain, so leads and curvature of the bridge are in it.

    Parameters
    ----------
    bridge : LeadedBridge
        As wired.
    position : str
        One of ``bridge.positions``.
    shunt_resistance : float
        Of the calibration resistor [ohm].
    gauge_factor : float
        Of the grids [1].

    Returns
    -------
    strain : float
        Positive where the resistor moves the output as tension of arm 1 does [1].

    Raises
    ------
    InputError
        If position, resistor or gauge factor is impossible, or no strain of the grids within
        20 % change of resistance does the same.
    """
    with allowed.Together("equivalent strain") as given:
        factor = float(given.positive("gauge_factor", gauge_factor))
        given.positive("shunt_resistance", shunt_resistance)
    wanted = shunted_ratio(bridge, position, shunt_resistance)
    weights = np.asarray(bridge.arm_weights)

    def missing(change: float) -> float:
        arms = np.asarray(bridge.arm_resistance) * (1 + change * weights)
        return _solved(bridge, tuple(arms.tolist()), "", None) - wanted

    ends = (missing(-0.2), missing(0.2))
    if ends[0] * ends[1] > 0:
        raise InputError(
            "shunt_resistance",
            shunt_resistance,
            "large enough that a strain of the grids could do the same",
        )
    found = optimize.brentq(missing, -0.2, 0.2, xtol=1e-14, rtol=1e-12)
    return float(found) / factor


def _solved(
    bridge: LeadedBridge,
    arms: tuple[float, ...],
    position: str,
    shunt_resistance: float | None,
) -> float:
    if position and position not in bridge.positions:
        raise InputError("position", position, "one of " + ", ".join(bridge.positions))
    if position and shunt_resistance is None:
        raise InputError("shunt_resistance", None, "given with its position")
    network = _network(bridge.kind, bridge.wires, position)
    wire = max(bridge.lead_resistance, _SHORTEST)
    ohms = [*arms, *[wire] * (len(network.elements) - 4 - bool(position))]
    if position:
        ohms.append(float(allowed.positive("shunt_resistance", shunt_resistance or 0.0)))
    plus, minus = _OUT[bridge.kind]
    references = ("KP", "KN") if bridge.wires == 6 else ("EP", "EN")
    return float(voltage_ratio(solve(network, ohms), plus, minus, *references))
