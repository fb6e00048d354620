"""How a specimen is to be loaded, as it was planned: what predictions are made for.

Steps of the load, and how the load reaches a piece of bare metal.
"""

from dataclasses import dataclass

from gaugewright.errors import InputError
from gaugewright.records.identity import Uid
from gaugewright.records.member import Held, check_eccentric, check_held
from gaugewright.records.stated import Stated, check_finite, check_label

__all__ = ["AcrossForce", "BarLoading", "PlannedStep", "Protocol"]


@dataclass(frozen=True, slots=True)
class PlannedStep:
    """One step of a protocol: the load to be reached [N], and how, in words."""

    label: str
    load: float
    note: str = ""

    def __post_init__(self) -> None:
        check_label("label", self.label)
        check_finite("load", self.load)


@dataclass(frozen=True, slots=True)
class Protocol:
    """Steps in the order in which they are planned; the load is what the load cell is to read."""

    label: str
    specimen: Uid
    steps: tuple[PlannedStep, ...]
    note: str = ""

    def __post_init__(self) -> None:
        check_label("label", self.label)
        if not self.steps:
            raise InputError("steps", 0, "one step or more")
        labels = [step.label for step in self.steps]
        twice = next((label for label in labels if labels.count(label) > 1), None)
        if twice is not None:
            raise InputError("steps", twice, "each step's name once")


@dataclass(frozen=True, slots=True)
class AcrossForce:
    """A force across a bar [m along it], its share of the load [1], towards which clock angle."""

    distance: Stated
    share: float
    towards: float

    def __post_init__(self) -> None:
        check_finite("share", self.share)
        check_finite("towards", self.towards)


@dataclass(frozen=True, slots=True)
class BarLoading:
    """How the load reaches a piece of bare metal: along it, across it, turning it.

    Without one, all of the load is taken to pull it centrally. ``axial_share`` is the part of the
    load cell's force along the axis, negative where it presses, acting ``eccentricity`` off it [m]
    towards the clock angle ``eccentric_towards`` [rad]. ``supports`` are places on the scale of the
    bar's stations, for the forces ``across``. ``torque_arm`` is torque over load [m], positive
    where what lies farther on is turned towards growing clock angles.
    """

    label: str
    bar: Uid
    axial_share: float = 1.0
    eccentricity: Stated | None = None
    eccentric_towards: float = 0.0
    held: Held = Held.TWO_SUPPORTS
    supports: tuple[Stated, ...] = ()
    across: tuple[AcrossForce, ...] = ()
    torque_arm: Stated | None = None
    note: str = ""

    def __post_init__(self) -> None:
        check_label("label", self.label)
        check_finite("axial_share", self.axial_share)
        check_finite("eccentric_towards", self.eccentric_towards)
        if self.held is Held.AT_ITS_ENDS and self.across:
            raise InputError("held", self.held.value, "against the forces across it")
        if self.across or self.supports:
            check_held(self.held, self.supports)
        if not self.axial_share and not self.across and self.torque_arm is None:
            raise InputError("axial_share", self.axial_share, "not 0 where nothing else loads it")
        check_eccentric(self.held, self.eccentricity, self.axial_share)
