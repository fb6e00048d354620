"""Gauges and what is put on and around them: packs, gauges, protection, supplies, bench steps."""

import enum
import re
from dataclasses import dataclass
from datetime import date, datetime

from gaugewright.errors import InputError
from gaugewright.records.benching import BenchReading, RanOut, SupplySheet
from gaugewright.records.identity import Ref, Uid
from gaugewright.records.stated import Stated, check_finite, check_label, check_positive

__all__ = [
    "Attachment",
    "BenchStep",
    "Gauge",
    "GaugePack",
    "LargeStrainLaw",
    "Protection",
    "Supply",
    "ThermalOutput",
]

_HASH = re.compile(r"[0-9a-f]{64}")


class LargeStrainLaw(enum.Enum):
    """How grid resistance follows strain above 1 %; the chain stops there until one is declared."""

    NOT_DECLARED = "not declared"
    CONSTANT_GAUGE_FACTOR = "constant gauge factor"
    CONSTANT_VOLUME_GRID = "constant-volume grid"


@dataclass(frozen=True, slots=True)
class ThermalOutput:
    """Apparent strain of the unloaded gauge as its card gives it.

    ``coefficients`` c0, c1, ... of a polynomial in degrees Celsius, result in strain (not µε),
    for the metal with ``thermal_expansion`` [1/K] and an instrument set to ``gauge_factor``.
    Valid from ``low_degc`` to ``high_degc``. ``slope_uncertainty`` is the stated doubt per
    kelvin away from the zero [1/K].
    """

    coefficients: tuple[float, ...]
    gauge_factor: float
    thermal_expansion: float
    low_degc: float
    high_degc: float
    slope_uncertainty: Stated

    def __post_init__(self) -> None:
        if not 1 <= len(self.coefficients) <= 6:
            raise InputError("coefficients", len(self.coefficients), "1 to 6 numbers")
        check_positive("gauge_factor", self.gauge_factor)
        if not self.low_degc < self.high_degc:
            raise InputError("high_degc", self.high_degc, f"above low_degc ({self.low_degc})")


@dataclass(frozen=True, slots=True)
class GaugePack:
    """What a pack's card says of every gauge in it; each value with what its plus-minus means.

    Resistance in ohm, sizes of grid and backing in m, slope of gauge factor in 1/K.
    ``matched_expansion`` is the expansion of the metal that a card without a curve of thermal
    output names: the gauge is self-temperature-compensated for it [1/K].
    """

    label: str
    lot: str
    gauge_resistance: Stated
    gauge_factor: Stated
    grid_length: float
    grid_width: float
    transverse_sensitivity: Stated
    gauge_factor_temperature_degc: float = 23.0
    gauge_factor_slope: Stated | None = None
    poisson_ratio_of_card: float = 0.285
    thermal_output: ThermalOutput | None = None
    strain_limit: float | None = None
    large_strain_law: LargeStrainLaw = LargeStrainLaw.NOT_DECLARED
    expires: date | None = None
    lot_share: float = 0.5
    note: str = ""
    backing_length: float | None = None
    backing_width: float | None = None
    matched_expansion: float | None = None

    def __post_init__(self) -> None:
        check_label("label", self.label)
        if self.matched_expansion is not None:
            check_finite("matched_expansion", self.matched_expansion)
            if self.thermal_output is not None:
                raise InputError(
                    "matched_expansion",
                    self.matched_expansion,
                    "left out where the card has a curve, which names its metal",
                )
        check_positive("gauge_resistance", self.gauge_resistance.value)
        check_positive("gauge_factor", self.gauge_factor.value)
        check_positive("grid_length", self.grid_length)
        check_positive("grid_width", self.grid_width)
        if not 0 <= self.lot_share <= 1:
            raise InputError("lot_share", self.lot_share, "from 0 to 1")
        for name, grid in (
            ("backing_length", self.grid_length),
            ("backing_width", self.grid_width),
        ):
            backing: float | None = getattr(self, name)
            if backing is not None and not grid <= backing < 1:
                raise InputError(name, backing, f"the grid's own {grid} or more, in m")


@dataclass(frozen=True, slots=True)
class Gauge:
    """One grid: its pack, its station, its angle to the axis of the bar (rad).

    ``opposite`` names the gauge on the other side of the same bar; ``group`` ties the arms
    of a rosette together.
    """

    label: str
    pack: Uid
    station: Uid
    angle_to_axis: float = 0.0
    opposite: Uid | None = None
    group: str = ""
    number_in_pack: int | None = None

    def __post_init__(self) -> None:
        check_label("label", self.label)
        check_finite("angle_to_axis", self.angle_to_axis)


@dataclass(frozen=True, slots=True)
class Protection:
    """What covers a gauge: layers from the metal outwards and the covered length (m)."""

    gauge: Uid
    layers: tuple[str, ...]
    covered_length: Stated
    full_wrap: bool = False

    def __post_init__(self) -> None:
        if not self.layers:
            raise InputError("layers", self.layers, "one layer or more")


@dataclass(frozen=True, slots=True)
class Supply:
    """A thing used up: what it is in general words, its batch, expiry and data sheet's times."""

    label: str
    what: str
    batch: str
    expires: date | None = None
    sheet: SupplySheet | None = None

    def __post_init__(self) -> None:
        check_label("label", self.label)


@dataclass(frozen=True, slots=True)
class BenchStep:
    """A step of the bench done for one gauge: what, when, by whom, with which supplies.

    ``method`` and ``limits`` are the versions it was done by and held to; ``flags`` say what was
    odd and kept all the same, ``ran_out`` which limits it didn't keep, ``not_read`` what the step
    is done for and nobody read.
    """

    gauge: Uid
    step: str
    begun: datetime
    ended: datetime | None
    person: Uid
    supplies: tuple[Uid, ...] = ()
    temperature_degc: float | None = None
    humidity: float | None = None
    parked: str = ""
    note: str = ""
    method: Ref | None = None
    limits: tuple[Ref, ...] = ()
    readings: tuple[BenchReading, ...] = ()
    initials: str = ""
    flags: tuple[str, ...] = ()
    ran_out: tuple[RanOut, ...] = ()
    not_read: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        check_label("step", self.step)
        if self.ended is not None and self.ended < self.begun:
            raise InputError("ended", self.ended, f"not before it began ({self.begun})")


@dataclass(frozen=True, slots=True)
class Attachment:
    """A photo or paper that belongs to a record; bytes are kept under their SHA-256.

    ``taken_sha256`` is that of the file as it was taken, where what is kept was written anew from
    it; "" where the very bytes are kept.
    """

    of: Uid
    sha256: str
    file_name: str
    caption: str = ""
    taken_sha256: str = ""

    def __post_init__(self) -> None:
        if not _HASH.fullmatch(self.sha256):
            raise InputError("sha256", self.sha256, "64 hexadecimal digits")
        if self.taken_sha256 and not _HASH.fullmatch(self.taken_sha256):
            raise InputError("taken_sha256", self.taken_sha256, "64 hexadecimal digits, or empty")
