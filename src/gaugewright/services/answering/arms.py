"""Which arms of a half or full bridge feel what, and the change of an arm behind its output."""

from gaugewright.calc import active_arms, bridge
from gaugewright.quantities import FloatArray

__all__ = ["ARMS", "arm_change"]

# Arms 1 to 4 of each circuit, "" where a fixed resistor is.
ARMS = {
    "half-bending": ("+ε", "−ε", "", ""),
    "half-poisson": ("+ε", "−νε", "", ""),
    "half-opposite": ("+ε", "", "+ε", ""),
    "full-bending": ("+ε", "−ε", "+ε", "−ε"),
    "full-axial": ("+ε", "−νε", "+ε", "−νε"),
}


def arm_change(circuit: str, ratio: FloatArray, contraction: float) -> FloatArray:
    """Relative change of arm 1 behind an output [1]; ``contraction`` is that of arms across."""
    if circuit == "half-bending":
        return bridge.half_bridge_bending_arm_change(ratio)
    if circuit == "half-poisson":
        return bridge.half_bridge_poisson_arm_change(ratio, contraction)
    if circuit == "half-opposite":
        return active_arms.half_bridge_opposite_arm_change(ratio)
    if circuit == "full-bending":
        return active_arms.full_bridge_bending_arm_change(ratio)
    return active_arms.full_bridge_axial_arm_change(ratio, contraction)
