"""What is tested and where gauges sit on it: campaign, questions, specimen, bars, stations."""

import enum
from dataclasses import dataclass, fields
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from gaugewright.errors import InputError
from gaugewright.records.identity import Uid
from gaugewright.records.stated import Stated, check_finite, check_label, check_positive
from gaugewright.records.steel import CouponCurve, CyclicProperties, SteelLaw, check_steel

__all__ = [
    "Bar",
    "Campaign",
    "Flat",
    "Material",
    "Question",
    "SmoothedZone",
    "Specimen",
    "SpecimenKind",
    "Station",
    "SteelLaw",
]


class SpecimenKind(enum.Enum):
    """What kind of thing carries the gauges."""

    CAST_MEMBER = "cast member"
    BARE_METAL = "bare metal"
    STRAND = "strand"
    LOAD_CELL = "load cell"
    TUBE = "torsion tube"
    PLATE = "plate"
    DUMMY = "dummy"


@dataclass(frozen=True, slots=True)
class Campaign:
    """One piece of work: its name, where its clocks are and how its numbers are shown."""

    label: str
    title: str
    zone: str
    units: str = "si"
    laboratory: str = ""
    purpose: str = ""
    invented: bool = False

    def __post_init__(self) -> None:
        check_label("label", self.label)
        check_label("title", self.title)
        if self.units not in ("si", "us"):
            raise InputError("units", self.units, "si or us")
        try:
            ZoneInfo(self.zone)
        except (ZoneInfoNotFoundError, ValueError, OSError) as error:
            raise InputError("zone", self.zone, "an IANA time zone such as Europe/Rome") from error


@dataclass(frozen=True, slots=True)
class Question:
    """What must be known, and how well, in the words of whoever asks.

    ``quantity`` is one of ``QUANTITIES`` or a derived name such as "yield load";
    ``wanted`` is the expanded uncertainty asked for, in the quantity's unit; ``load`` is the
    load at which it is asked [N], None where the load itself is the answer.
    """

    label: str
    text: str
    quantity: str
    wanted: float | None = None
    stations: tuple[Uid, ...] = ()
    load: float | None = None

    def __post_init__(self) -> None:
        check_label("label", self.label)
        if not self.text.strip():
            raise InputError("text", self.text, "the question itself, in words")
        if self.wanted is not None:
            check_positive("wanted", self.wanted)


@dataclass(frozen=True, slots=True)
class Specimen:
    """A thing under test; lengths in m."""

    label: str
    kind: SpecimenKind
    description: str = ""
    length: float | None = None
    width: float | None = None
    height: float | None = None

    def __post_init__(self) -> None:
        check_label("label", self.label)
        for name in ("length", "width", "height"):
            value = getattr(self, name)
            if value is not None:
                check_positive(name, value)


@dataclass(frozen=True, slots=True)
class Material:
    """Metal under a gauge: its law and the numbers of the law, with where they came from [SI].

    ``yield_strength`` is the proof strength at 0.2 % where the law is Ramberg and Osgood's, and for
    a coupon curve half the range over which it unloads along a straight line. ``coupon_rate`` is
    the strain rate beyond yield at which the strengths were measured [1/s].
    """

    label: str
    law: SteelLaw
    elastic_modulus: Stated
    thermal_expansion: Stated
    poisson_ratio: Stated
    yield_strength: Stated | None = None
    hardening_modulus: Stated | None = None
    tensile_strength: Stated | None = None
    coupon: str = ""
    hardening_strain: Stated | None = None
    hardening_onset_modulus: Stated | None = None
    ultimate_strain: Stated | None = None
    exponent: Stated | None = None
    curve: CouponCurve | None = None
    cyclic: CyclicProperties | None = None
    coupon_rate: Stated | None = None

    def __post_init__(self) -> None:
        check_label("label", self.label)
        check_steel(self.law, {f.name: getattr(self, f.name) for f in fields(self)})


@dataclass(frozen=True, slots=True)
class Bar:
    """A bar (or other piece of metal) that carries stations: diameter in m, area in m^2.

    ``diameter`` is the outer one; ``wall_thickness`` is that of a tube, None for a solid bar [m].
    ``capacity`` is the force that a bar-type load cell was made for [N].
    """

    label: str
    specimen: Uid
    material: Uid
    size: str = ""
    diameter: Stated | None = None
    area: Stated | None = None
    length: float | None = None
    wall_thickness: Stated | None = None
    capacity: float | None = None

    def __post_init__(self) -> None:
        check_label("label", self.label)
        for name in ("diameter", "area", "wall_thickness"):
            stated = getattr(self, name)
            if stated is not None:
                check_positive(name, stated.value)
        if self.capacity is not None:
            check_positive("capacity", self.capacity)
        if self.wall_thickness is None:
            return
        if self.diameter is None or not 2 * self.wall_thickness.value < self.diameter.value:
            outer = None if self.diameter is None else self.diameter.value
            raise InputError(
                "wall_thickness", self.wall_thickness.value, f"below half the diameter ({outer})"
            )


@dataclass(frozen=True, slots=True)
class Station:
    """A place for a gauge: distance from a hard datum (m) and clock angle round the bar (rad)."""

    label: str
    bar: Uid
    datum: str
    distance_planned: float
    angle_planned: float = 0.0
    distance_built: Stated | None = None
    angle_built: Stated | None = None

    def __post_init__(self) -> None:
        check_label("label", self.label)
        if not self.datum.strip():
            raise InputError("datum", self.datum, "where the distance is counted from, in words")
        check_finite("distance_planned", self.distance_planned)
        check_finite("angle_planned", self.angle_planned)


@dataclass(frozen=True, slots=True)
class SmoothedZone:
    """Where ribs were taken off: length along the bar and diameter left, by calliper [m]."""

    station: Uid
    length: Stated
    diameter_left: Stated
    note: str = ""


@dataclass(frozen=True, slots=True)
class Flat:
    """A flat ground for the gauge: width as measured, depth when it was measured too [m].

    ``opposite`` says that a like flat was ground on the other side of the bar.
    """

    station: Uid
    width: Stated
    depth: Stated | None = None
    opposite: bool = False

    def __post_init__(self) -> None:
        check_positive("width", self.width.value)
