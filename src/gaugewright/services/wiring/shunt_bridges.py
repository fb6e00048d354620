"""Half and full bridges as their records wire them, ready for a calibration resistor."""

from collections.abc import Mapping
from dataclasses import dataclass

from gaugewright.calc import bridge_shunt, indication
from gaugewright.calc.bridge_shunt import BridgeKind, LeadedBridge
from gaugewright.calc.uncertainty import Uncertain
from gaugewright.errors import InputError
from gaugewright.records.electrical import ReadingKind, Topology
from gaugewright.records.stated import Stated
from gaugewright.services.chaining.causes import uncertain_of_stated
from gaugewright.services.chaining.subject import Wired

__all__ = ["WiredBridge", "bridge_positions", "bridge_step", "bridge_strain", "wired_bridge"]

# Kind of network, arms that are grids, and the strain of each arm over that of arm 1: "ν" is the
# transverse one. In torsion the strain is the principal one at 45° to the shaft.
_TOPOLOGIES: dict[Topology, tuple[BridgeKind, tuple[str, str, str, str]]] = {
    Topology.HALF_BENDING: ("half", ("1", "-1", "", "")),
    Topology.HALF_POISSON: ("half", ("1", "ν", "", "")),
    Topology.HALF_OPPOSITE: ("opposite", ("1", "", "1", "")),
    Topology.FULL_BENDING: ("full", ("1", "-1", "1", "-1")),
    Topology.FULL_POISSON: ("full", ("1", "ν", "1", "ν")),
    Topology.FULL_TORSION: ("full", ("1", "-1", "1", "-1")),
}
# The channel's own half bridge plays no part as long as no resistor is put across it.
_INNER_HALF = 1000.0


@dataclass(frozen=True, slots=True)
class WiredBridge:
    """A bridge with what its numbers may be off; ``knows_inside`` tells of the channel's arms."""

    kind: BridgeKind
    weights: tuple[str, str, str, str]
    wires: int
    values: Mapping[str, Uncertain]
    knows_inside: bool

    def at(self, values: Mapping[str, float]) -> LeadedBridge:
        """The bridge for some values of what is uncertain."""
        grid, inside = values["gauge_resistance"], values.get("completion_resistance", _INNER_HALF)
        arms = [grid if weight else inside for weight in self.weights]
        shares = [
            -values["poisson_ratio"] if weight == "ν" else float(weight or 0)
            for weight in self.weights
        ]
        return LeadedBridge(
            self.kind,
            (arms[0], arms[1], arms[2], arms[3]),
            values["lead_resistance"],
            self.wires,
            (shares[0], shares[1], shares[2], shares[3]),
        )


def wired_bridge(wired: Wired, shunt_resistance: Stated) -> WiredBridge:
    """Half or full bridge of a connection; grids as the card states them, wires as the lead does.

    Raises
    ------
    InputError
        If arms or wires aren't those of the bridge, or what completes it isn't known.
    """
    circuit, lead, pack = wired.circuit.record, wired.lead.record, wired.pack.record
    kind, weights = _TOPOLOGIES[circuit.topology]
    grids = {arm.number for arm in circuit.arms if arm.gauge is not None}
    wanted = {number for number, weight in enumerate(weights, start=1) if weight}
    if grids != wanted:
        raise InputError(
            f"gauges of {circuit.label}",
            f"in arms {sorted(grids)}",
            f"in arms {sorted(wanted)} of a {circuit.topology.value}",
            "correct the circuit",
        )
    given: dict[str, tuple[Stated, str]] = {
        "shunt_resistance": (shunt_resistance, "calibration resistor"),
        "gauge_resistance": (pack.gauge_resistance, "resistance of the gauge"),
        "lead_resistance": (lead.resistance, "resistance of a wire"),
        "gauge_factor": (pack.gauge_factor, "gauge factor"),
        "gain": (wired.instrument.record.gain, "gain of the recorder"),
    }
    if "ν" in weights:
        given["poisson_ratio"] = (wired.material.record.poisson_ratio, "Poisson’s ratio")
    inside = wired.setting.record.completion_resistance
    fixed = [arm.resistance for arm in circuit.arms if arm.resistance is not None]
    inside = inside if inside is not None or not fixed else fixed[0]
    if inside is not None:
        given["completion_resistance"] = (inside, "arms in the channel")
    elif kind == "opposite":
        raise InputError(
            f"completion of {circuit.label}",
            None,
            "in the channel's setting or among the circuit's arms",
            "connect it anew with its completion",
        )
    values = {name: uncertain_of_stated(name, *stated) for name, stated in given.items()}
    return WiredBridge(kind, weights, lead.wires, values, inside is not None)


def bridge_positions(bridge: WiredBridge) -> dict[str, str]:
    """Places of the resistor whose steps can be told."""
    values = {name: float(value.value) for name, value in bridge.values.items()}
    found = bridge.at(values).positions
    if bridge.kind == "half" and not bridge.knows_inside:
        return {name: words for name, words in found.items() if "M" not in name}
    return found


def bridge_step(
    bridge: WiredBridge,
    wired: Wired,
    position: str,
    values: Mapping[str, float],
) -> float:
    """By how much the channel's number changes.

    Raises
    ------
    InputError
        If the channel undoes the curve of a quarter bridge, which this isn't.
    """
    setting = wired.setting.record
    if setting.kind is ReadingKind.STRAIN_LINEARISED:
        raise InputError(
            f"what the channel of {wired.circuit.record.label} writes",
            setting.kind.value,
            "ratio or strain of a linear instrument for a half or full bridge",
            "it undoes the curve of a quarter bridge, which this bridge hasn't",
        )
    at, resistor = bridge.at(values), values["shunt_resistance"]
    ratio = values["gain"] * bridge_shunt.shunt_step(at, position, resistor)
    if setting.kind is ReadingKind.RATIO:
        return ratio
    factor = 2.0 if setting.set_gauge_factor is None else setting.set_gauge_factor
    return float(indication.linear_indication(ratio, factor, 1.0))


def bridge_strain(bridge: WiredBridge, position: str, values: Mapping[str, float]) -> float:
    """Strain of the grid in arm 1 that the step stands for."""
    at, resistor = bridge.at(values), values["shunt_resistance"]
    return bridge_shunt.equivalent_strain(at, position, resistor, values["gauge_factor"])
