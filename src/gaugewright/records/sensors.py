"""Other sensors beside gauges: load, displacement, temperature."""

import enum
from dataclasses import dataclass

from gaugewright.errors import InputError
from gaugewright.records.identity import Uid
from gaugewright.records.stated import Stated, check_finite, check_label, check_positive

__all__ = ["Sensor", "TemperaturePoint", "TemperatureRule"]


class TemperatureRule(enum.Enum):
    """How a gauge gets its temperature from the points."""

    NEAREST = "this point stands for these gauges"


@dataclass(frozen=True, slots=True)
class Sensor:
    """A sensor beside gauges, and what one of its channel's reading stands for.

    True value = ``gain`` x reading + ``offset``, in the coherent unit of ``quantity``;
    ``sign`` +1 when the channel's positive direction is the campaign's. ``reads`` is the quantity
    that the channel writes, "" for ``quantity`` itself; where it is another, such as bridge_ratio,
    ``gain`` is ``full_scale`` over what is written there.
    """

    label: str
    quantity: str
    sign: int
    gain: Stated
    offset: Stated
    lag: float = 0.0
    certificate: str = ""
    reads: str = ""
    full_scale: float | None = None

    def __post_init__(self) -> None:
        check_label("label", self.label)
        if self.sign not in (-1, 1):
            raise InputError("sign", self.sign, "+1 or -1")
        if bool(self.reads) != (self.full_scale is not None):
            raise InputError(
                "full_scale", self.full_scale, "given where the channel writes another quantity"
            )
        if self.full_scale is not None:
            check_positive("full_scale", self.full_scale)


@dataclass(frozen=True, slots=True)
class TemperaturePoint:
    """A thermometer and the gauges it stands for: ``doubt`` covers sensor and distance [K].

    ``temperature_degc`` is what it showed all the time where it was read by eye; readings of a
    channel, where there are some, count instead. How far it wandered belongs to ``doubt`` then.
    """

    label: str
    where: str
    gauges: tuple[Uid, ...]
    doubt: Stated
    rule: TemperatureRule = TemperatureRule.NEAREST
    temperature_degc: float | None = None

    def __post_init__(self) -> None:
        check_label("label", self.label)
        if self.temperature_degc is not None:
            check_finite("temperature_degc", self.temperature_degc)
