"""What is tested and where gauges sit on it: campaign, questions, specimen, bars, stations."""

import enum
from dataclasses import dataclass
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from gaugewright.errors import InputError
from gaugewright.records.identity import Uid
from gaugewright.records.stated import Stated, check_finite, check_label, check_positive

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
    DUMMY = "dummy"


class SteelLaw(enum.Enum):
    """How stress follows from mechanical strain."""

    ELASTIC = "elastic"
    BILINEAR = "bilinear"


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
    """Metal under a gauge: its law and the numbers of the law, with where they came from [SI]."""

    label: str
    law: SteelLaw
    elastic_modulus: Stated
    thermal_expansion: Stated
    poisson_ratio: Stated
    yield_strength: Stated | None = None
    hardening_modulus: Stated | None = None
    tensile_strength: Stated | None = None
    coupon: str = ""

    def __post_init__(self) -> None:
        check_label("label", self.label)
        check_positive("elastic_modulus", self.elastic_modulus.value)
        if self.law is SteelLaw.BILINEAR and self.yield_strength is None:
            raise InputError("yield_strength", None, "given for a bilinear material")


@dataclass(frozen=True, slots=True)
class Bar:
    """A bar (or other piece of metal) that carries stations: diameter in m, area in m^2."""

    label: str
    specimen: Uid
    material: Uid
    size: str = ""
    diameter: Stated | None = None
    area: Stated | None = None
    length: float | None = None

    def __post_init__(self) -> None:
        check_label("label", self.label)
        if self.diameter is not None:
            check_positive("diameter", self.diameter.value)
        if self.area is not None:
            check_positive("area", self.area.value)


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
