"""What a channel may write, in which units, and what of its setting others know already."""

from collections.abc import Mapping

from gaugewright.errors import InputError
from gaugewright.present.units_shown import System, resistance_text, unit_shown
from gaugewright.quantities import QUANTITIES, parse_unit
from gaugewright.records.electrical import (
    BridgeCircuit,
    ChannelSetting,
    ReadingKind,
    Topology,
)
from gaugewright.records.sensors import Sensor, TemperaturePoint
from gaugewright.records.stated import Stated

__all__ = [
    "UNITS",
    "WRITES",
    "check_unit",
    "completed",
    "fixed_arm",
    "has_inner_arms",
    "own_unit",
    "writes_words",
]

WRITES: Mapping[ReadingKind, str] = {
    ReadingKind.RATIO: "output over excitation, such as mV/V",
    ReadingKind.STRAIN_LINEAR: "strain, four times the output over the gauge factor set",
    ReadingKind.STRAIN_LINEARISED: "strain, with the curve of the bridge taken out",
    ReadingKind.RESISTANCE: "resistance, such as Ω",
    ReadingKind.OTHER: "a sensor’s own unit, such as kN",
}
_STRAIN = (("µm/m", "µm/m (µε)"), ("mm/m", "mm/m"), ("m/m", "m/m"))
# Of a bridge, the usual unit first.
UNITS: Mapping[ReadingKind, tuple[tuple[str, str], ...]] = {
    ReadingKind.RATIO: (("mV/V", "mV/V"), ("µV/V", "µV/V"), ("V/V", "V/V")),
    ReadingKind.STRAIN_LINEAR: _STRAIN,
    ReadingKind.STRAIN_LINEARISED: _STRAIN,
    ReadingKind.RESISTANCE: (("Ω", "Ω"), ("kΩ", "kΩ")),
}
_FULL = (Topology.FULL_BENDING, Topology.FULL_POISSON, Topology.FULL_TORSION)


def writes_words(setting: ChannelSetting) -> str:
    """What a channel writes, and in what."""
    if setting.kind is ReadingKind.OTHER:
        return f"as its sensor gives it, {setting.unit}"
    return f"{setting.kind.value}, in {setting.unit}"


def fixed_arm(circuit: BridgeCircuit) -> Stated | None:
    """Fixed arm that was entered with a bridge: it is the completion of its channel."""
    return next((arm.resistance for arm in circuit.arms if arm.resistance is not None), None)


def has_inner_arms(circuit: BridgeCircuit) -> bool:
    """Whether a channel completes the bridge: a full one has all its arms outside."""
    return circuit.topology not in _FULL


def completed(
    circuit: BridgeCircuit, setting: ChannelSetting, typed: Stated | None
) -> Stated | None:
    """Completion of a channel that a circuit is put on.

    Raises
    ------
    InputError
        If another resistance was typed than the bridge's own fixed arm.
    """
    own = fixed_arm(circuit)
    if own is None:
        return setting.completion_resistance
    if typed is not None and typed.value != own.value:
        raise InputError(
            "completion_resistance",
            resistance_text(typed.value),
            f"that of bridge {circuit.label}, {resistance_text(own.value)}",
            "leave it empty, or change the fixed arm in the form of the bridge",
        )
    return own


def own_unit(sensor: Sensor | TemperaturePoint | BridgeCircuit, system: System) -> str:
    """Unit that a sensor's channel most likely writes: of its plate, or of what it measures."""
    if isinstance(sensor, TemperaturePoint):
        return unit_shown("temperature_degc", system).text
    if isinstance(sensor, Sensor):
        quantity = sensor.reads or sensor.quantity
        if quantity in QUANTITIES:
            return unit_shown(quantity, system).text
    return ""


def check_unit(sensor: Sensor | TemperaturePoint, unit: str) -> None:
    """Refuse a unit that isn't one of what a sensor's channel writes.

    Raises
    ------
    InputError
        Naming the unit, and what would do.
    """
    quantity = "temperature_degc"
    if isinstance(sensor, Sensor):
        quantity = sensor.reads or sensor.quantity
    found = parse_unit(unit)
    if quantity not in QUANTITIES or found is None:
        return
    if found.coherent != QUANTITIES[quantity].unit:
        usual = unit_shown(quantity).text
        raise InputError(
            "unit",
            unit,
            f"one of {quantity.replace('_degc', '').replace('_', ' ')}, such as {usual}, as "
            f"{sensor.label} was entered",
            "choose in the sensor's form what its channel writes",
        )
