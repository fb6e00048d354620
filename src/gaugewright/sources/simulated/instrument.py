"""What a recorder reads of a simulated circuit, and what a hand meter finds at its plug.

Every number comes from the resistive network itself. Orientation: terminal A is the negative
excitation corner, B the completion corner, C the sense wire; tension raises the reading.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from gaugewright.calc import circuit
from gaugewright.quantities import FloatArray

__all__ = [
    "HALF_BRIDGE",
    "QUARTER_BRIDGE",
    "QUARTER_BRIDGE_CRUSHED",
    "Completion",
    "Digitiser",
    "WiredBridge",
    "bridge_ratio",
    "plug_insulation",
    "plug_resistances",
]

_SUPPLY = circuit.VoltageSource("V", "EP", "EN", 2.5)
_INSIDE = ("RD", "RHU", "RHL", "RIN")
_HALVES = (("RHU", "EP", "M"), ("RHL", "M", "EN"), ("RIN", "IC", "M"))
_QUARTER_INSIDE = (("RD", "EP", "IB"), *_HALVES)

QUARTER_BRIDGE = circuit.Network(
    (
        *_QUARTER_INSIDE,
        ("rA", "EN", "T1"),
        ("rB", "IB", "T2"),
        ("rC", "T2", "IC"),
        ("RG", "T2", "T1"),
        ("leak T1", "T1", "BAR"),
        ("leak T2", "T2", "BAR"),
    ),
    (_SUPPLY,),
    "EN",
)
# All three wires pass a place where the cable may be crushed: XA, XB and XC may touch there.
QUARTER_BRIDGE_CRUSHED = circuit.Network(
    (
        *_QUARTER_INSIDE,
        ("rA", "EN", "XA"),
        ("rB", "IB", "XB"),
        ("rC", "XC", "IC"),
        ("RG", "T2", "T1"),
        ("leak T1", "T1", "BAR"),
        ("leak T2", "T2", "BAR"),
        ("rA far", "XA", "T1"),
        ("rB far", "XB", "T2"),
        ("rC far", "T2", "XC"),
        ("crush AB", "XA", "XB"),
        ("crush BC", "XB", "XC"),
    ),
    (_SUPPLY,),
    "EN",
)
HALF_BRIDGE = circuit.Network(
    (
        *_HALVES,
        ("rA", "EN", "T1"),
        ("rB", "T3", "EP"),
        ("rC", "N", "IC"),
        ("RG", "N", "T1"),
        ("leak T1", "T1", "BAR"),
        ("leak T2", "T3", "BAR"),
        ("RG2", "T3", "N"),
    ),
    (_SUPPLY,),
    "EN",
)


@dataclass(frozen=True, slots=True)
class Completion:
    """The fixed arms inside a channel as they truly are [ohm]."""

    dummy: float
    upper: float
    lower: float
    input_resistance: float = 1e10

    @classmethod
    def fitted(cls, nominal: float, rng: np.random.Generator) -> "Completion":
        """Arms within 0.02 % of nominal, as precision resistors are."""
        parts = 1 + 1e-4 * rng.standard_normal(3)
        return cls(nominal * parts[0], 1000.0 * parts[1], 1000.0 * parts[2])


@dataclass(frozen=True, slots=True)
class WiredBridge:
    """One circuit through time: each array has the shape of the samples, or is a number [ohm].

    ``second_grid`` makes it a half bridge; ``crush`` gives the resistances A-B and B-C at a
    crushed place, at ``crush_place`` of the cable counted from the plug.
    """

    grid: ArrayLike
    wires: FloatArray
    leaks: tuple[ArrayLike, ArrayLike]
    completion: Completion
    second_grid: ArrayLike | None = None
    crush: tuple[float, float] | None = None
    crush_place: float = 0.5

    @property
    def network(self) -> circuit.Network:
        """What is joined to what."""
        if self.second_grid is not None:
            return HALF_BRIDGE
        return QUARTER_BRIDGE if self.crush is None else QUARTER_BRIDGE_CRUSHED

    def resistances(self) -> FloatArray:
        """Resistance of every element, shape (..., n_elements) [ohm]."""
        near = 1.0 if self.crush is None else self.crush_place
        inside = self.completion
        columns: dict[str, ArrayLike] = {
            "RD": inside.dummy,
            "RHU": inside.upper,
            "RHL": inside.lower,
            "RIN": inside.input_resistance,
            "RG": self.grid,
            "leak T1": self.leaks[0],
            "leak T2": self.leaks[1],
        }
        for place, name in enumerate(("rA", "rB", "rC")):
            columns[name] = self.wires[..., place] * near
            columns[f"{name} far"] = self.wires[..., place] * (1 - near)
        if self.second_grid is not None:
            columns["RG2"] = self.second_grid
        if self.crush is not None:
            columns["crush AB"], columns["crush BC"] = self.crush
        chosen = [np.asarray(columns[name], dtype=np.float64) for name in self.network.names]
        return np.stack(np.broadcast_arrays(*chosen), axis=-1)


def bridge_ratio(bridge: WiredBridge) -> FloatArray:
    """Output over excitation of a circuit, no zero subtracted, tension positive [V/V]."""
    solution = circuit.solve(bridge.network, bridge.resistances())
    return circuit.voltage_ratio(solution, "IC", "M", "EP", "EN")


def plug_resistances(bridge: WiredBridge) -> dict[str, float]:
    """True resistance between each two pins of the unplugged cable, infinite when open [ohm]."""
    b_pin = "EP" if bridge.second_grid is not None else "IB"
    pins = {"A-B": ("EN", b_pin), "A-C": ("EN", "IC"), "B-C": (b_pin, "IC")}
    ohms = bridge.resistances()
    inside = [name for name in _INSIDE if name in bridge.network.names]
    return {
        pair: float(circuit.resistance_between(bridge.network, *ends, ohms, unplugged=inside))
        for pair, ends in pins.items()
    }


def plug_insulation(bridge: WiredBridge) -> float:
    """True resistance from all pins tied together to the metal [ohm]."""
    b_pin = "EP" if bridge.second_grid is not None else "IB"
    tied = bridge.network.joined({b_pin: "EN", "IC": "EN"})
    inside = [name for name in _INSIDE if name in bridge.network.names]
    ohms = bridge.resistances()
    return float(circuit.resistance_between(tied, "EN", "BAR", ohms, unplugged=inside))


@dataclass(frozen=True, slots=True)
class Digitiser:
    """What a recorder does to a signal: gain, offset, slow wander, noise, steps of the converter.

    All in the unit of the signal; values beyond ``highest`` either way are over range.
    """

    gain: float
    offset: float
    wander: float
    noise: float
    step: float
    highest: float

    def read(
        self, signal: FloatArray, seconds: FloatArray, rng: np.random.Generator
    ) -> tuple[FloatArray, FloatArray]:
        """Numbers read, and +1, -1 or 0 where beyond the range above, below or not at all."""
        phase, period = rng.uniform(0, 2 * np.pi), rng.uniform(2500.0, 6000.0)
        slow = self.wander * np.sin(2 * np.pi * seconds / period + phase)
        seen = self.gain * signal + self.offset + slow
        seen = seen + self.noise * rng.standard_normal(seen.shape)
        seen = np.round(seen / self.step) * self.step
        beyond = np.where(np.abs(seen) > self.highest, np.sign(seen), 0.0)
        return np.clip(seen, -self.highest, self.highest), beyond
