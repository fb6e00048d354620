"""How a gauge reaches a reading: leads, bridge circuits, instruments, channels, connections."""

import enum
from dataclasses import dataclass
from datetime import datetime

from gaugewright.errors import InputError
from gaugewright.records.identity import Uid
from gaugewright.records.stated import Stated, check_finite, check_label, check_positive

__all__ = [
    "Arm",
    "BridgeCircuit",
    "Channel",
    "ChannelSetting",
    "Connection",
    "Instrument",
    "Lead",
    "ReadingKind",
    "ShuntStep",
    "Topology",
]


class Topology(enum.Enum):
    """Bridge circuits by their arms and wires."""

    QUARTER_TWO_WIRE = "quarter bridge, two wires"
    QUARTER_THREE_WIRE = "quarter bridge, three wires"
    HALF_BENDING = "half bridge, bending pair"
    HALF_POISSON = "half bridge, Poisson pair"
    FULL_BENDING = "full bridge, bending"
    HALF_OPPOSITE = "half bridge, opposite pair"
    FULL_POISSON = "full bridge, Poisson pairs"
    FULL_TORSION = "full bridge, torsion"


class ReadingKind(enum.Enum):
    """What a channel writes down."""

    RATIO = "ratio"
    STRAIN_LINEAR = "strain, linear instrument"
    STRAIN_LINEARISED = "strain, linearising instrument"
    RESISTANCE = "resistance"
    OTHER = "other"


@dataclass(frozen=True, slots=True)
class Lead:
    """A cable: number of wires, length (m), resistance of each wire (ohm) and at what °C.

    ``colours`` are those of the laboratory's own cable, one a wire in the order of its
    terminals; none is assumed where they weren't entered.
    """

    label: str
    wires: int
    length: float
    resistance: Stated
    temperature_degc: float
    bundle: str = ""
    spread: Stated | None = None
    colours: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        check_label("label", self.label)
        if self.colours and len(self.colours) != self.wires:
            raise InputError("colours", len(self.colours), f"one for each of {self.wires} wires")
        if self.wires not in (2, 3, 4, 6):
            raise InputError("wires", self.wires, "2, 3, 4 or 6")
        check_positive("length", self.length)
        if self.resistance.value < 0:
            raise InputError("resistance", self.resistance.value, "0 or more ohm")


@dataclass(frozen=True, slots=True)
class Arm:
    """One arm of a bridge: a gauge or a fixed resistor (ohm), and its sign in the output."""

    number: int
    sign: int
    gauge: Uid | None = None
    resistance: Stated | None = None

    def __post_init__(self) -> None:
        if self.number not in (1, 2, 3, 4):
            raise InputError("arm number", self.number, "1, 2, 3 or 4")
        if self.sign not in (-1, 1):
            raise InputError("arm sign", self.sign, "+1 or -1")
        if (self.gauge is None) == (self.resistance is None):
            raise InputError("arm", self.number, "either a gauge or a fixed resistor")


@dataclass(frozen=True, slots=True)
class BridgeCircuit:
    """Grids and fixed arms wired into one bridge. ``dummy`` is the circuit that compensates it."""

    label: str
    topology: Topology
    arms: tuple[Arm, ...]
    lead: Uid
    dummy: Uid | None = None

    def __post_init__(self) -> None:
        check_label("label", self.label)
        if not any(arm.gauge for arm in self.arms):
            raise InputError("arms", "no gauge", "with at least one gauge")
        numbers = [arm.number for arm in self.arms]
        if len(set(numbers)) != len(numbers):
            raise InputError("arms", numbers, "each arm number once")


@dataclass(frozen=True, slots=True)
class Instrument:
    """A recorder as its certificate and settings describe it.

    ``gain`` is reading over truth (near 1); ``dwell`` is the time between two channels of a
    scan and ``filter_delay`` the delay of its filter, both in s.
    """

    label: str
    serial: str
    gain: Stated
    dwell: float
    filter_delay: Stated
    channels_isolated: bool
    certificate: str = ""
    stability: Stated | None = None

    def __post_init__(self) -> None:
        check_label("label", self.label)
        if self.dwell < 0:
            raise InputError("dwell", self.dwell, "0 or more seconds")


@dataclass(frozen=True, slots=True)
class Channel:
    """An input of an instrument and the name it has in the instrument's files."""

    label: str
    instrument: Uid
    number: int
    column: str

    def __post_init__(self) -> None:
        check_label("label", self.label)
        if self.number < 0:
            raise InputError("number", self.number, "0 or more")


@dataclass(frozen=True, slots=True)
class ChannelSetting:
    """How a channel was set: excitation (V), what it writes, its range in the unit it writes."""

    channel: Uid
    kind: ReadingKind
    unit: str
    excitation: float | None = None
    set_gauge_factor: float | None = None
    completion_resistance: Stated | None = None
    range_low: float | None = None
    range_high: float | None = None
    scans_per_second: float | None = None

    def __post_init__(self) -> None:
        if self.kind in (ReadingKind.STRAIN_LINEAR, ReadingKind.STRAIN_LINEARISED):
            if self.set_gauge_factor is None:
                raise InputError("set_gauge_factor", None, "given for a channel that writes strain")
            check_positive("set_gauge_factor", self.set_gauge_factor)
        if self.range_low is not None and self.range_high is not None:
            check_finite("range_low", self.range_low)
            if not self.range_low < self.range_high:
                raise InputError("range_high", self.range_high, "above range_low")


@dataclass(frozen=True, slots=True)
class Connection:
    """A circuit, sensor or temperature point on a channel, from one instant to another.

    ``subject`` is the uid of the circuit, sensor or temperature point. A reading finds its
    gauge only through the connection valid at that instant; ``ends`` None means still there.
    """

    subject: Uid
    channel: Uid
    setting: Uid
    begins: datetime
    ends: datetime | None = None
    plug: str = ""

    def __post_init__(self) -> None:
        if self.ends is not None and self.ends <= self.begins:
            raise InputError("ends", self.ends, f"after it begins ({self.begins})")

    def covers(self, instant: datetime) -> bool:
        """Whether the connection stood at ``instant``: from ``begins``, up to but not ``ends``."""
        return self.begins <= instant and (self.ends is None or instant < self.ends)


@dataclass(frozen=True, slots=True)
class ShuntStep:
    """A calibration resistor put in [ohm], and by how much the channel's number changed.

    ``step`` is with the resistor less without it, in the coherent unit of what the channel
    writes (V/V or strain); ``position`` names the two nodes it joined, "" where nobody knows.
    """

    connection: Uid
    shunt_resistance: Stated
    step: Stated
    measured: datetime
    position: str = ""
    note: str = ""

    def __post_init__(self) -> None:
        check_positive("shunt_resistance", self.shunt_resistance.value)
