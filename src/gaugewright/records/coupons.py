"""What tests of a metal's own pieces say: a coupon as it was pulled, a line of fatigue."""

import math
from dataclasses import dataclass

from gaugewright.errors import InputError
from gaugewright.records.identity import Uid
from gaugewright.records.stated import Stated, check_label, check_positive

__all__ = ["CouponTest", "FatigueCurve"]


@dataclass(frozen=True, slots=True)
class CouponTest:
    """A recording as the test of a coupon: which columns, its size, how well they are known.

    ``force_column`` holds a force, or engineering stress (then the size only adds its doubt);
    ``strain_column`` an extension in a length (then ``gauge_length`` is needed) or a strain.
    ``force_scale`` and ``strain_scale`` are true value over reading. The elastic line lies
    between ``lowest_stress`` and ``highest_stress`` [Pa], None where nobody stated them;
    ``modulus`` is one from elsewhere [Pa]. ``final_length`` over ``marked_length`` after fracture
    is elongation by marks [m].
    """

    label: str
    recording: Uid
    force_column: str
    strain_column: str
    force_scale: Stated
    strain_scale: Stated
    diameter: Stated | None = None
    width: Stated | None = None
    thickness: Stated | None = None
    area: Stated | None = None
    gauge_length: Stated | None = None
    lowest_stress: float | None = None
    highest_stress: float | None = None
    modulus: Stated | None = None
    marked_length: Stated | None = None
    final_length: Stated | None = None
    material: Uid | None = None
    note: str = ""

    def __post_init__(self) -> None:
        check_label("label", self.label)
        check_label("force_column", self.force_column)
        check_label("strain_column", self.strain_column)
        sizes = ("diameter", "width", "thickness", "area", "gauge_length")
        for name in (*sizes, "modulus", "marked_length", "final_length"):
            stated = getattr(self, name)
            if stated is not None:
                check_positive(name, stated.value)
        _check_scale("force_scale", self.force_scale)
        _check_scale("strain_scale", self.strain_scale)
        if (self.width is None) != (self.thickness is None):
            raise InputError("width and thickness", "one of them", "given together")
        ways = [self.diameter, self.width, self.area]
        if sum(way is not None for way in ways) > 1:
            allowed = "given in one way: diameter, width and thickness, or area"
            raise InputError("size of the coupon", "given twice", allowed)
        if (self.marked_length is None) != (self.final_length is None):
            raise InputError("marked_length and final_length", "one of them", "given together")
        if (self.lowest_stress is None) != (self.highest_stress is None):
            raise InputError("lowest_stress and highest_stress", "one of them", "given together")


@dataclass(frozen=True, slots=True)
class FatigueCurve:
    """Cycles to failure against stress range: two straight lines on double logarithmic paper [SI].

    ``below`` is the exponent for ranges smaller than ``reference_range``, ``above`` from it up;
    ranges smaller than ``limit_range`` do no damage, 0 when all do.
    """

    label: str
    reference_range: float
    reference_cycles: float
    above: float
    below: float
    source: str
    limit_range: float = 0.0

    def __post_init__(self) -> None:
        check_label("label", self.label)
        for name in ("reference_range", "reference_cycles", "above", "below"):
            check_positive(name, getattr(self, name))
        if not (math.isfinite(self.limit_range) and self.limit_range >= 0):
            raise InputError("limit_range", self.limit_range, "0 or more")
        if not self.source.strip():
            raise InputError("source", self.source, "who says so: a standard's table, own tests")


def _check_scale(name: str, scale: Stated) -> None:
    check_positive(name, scale.value)
    if scale.plus_minus is not None and scale.plus_minus >= scale.value:
        raise InputError(f"plus_minus of {name}", scale.plus_minus, "below the scale itself")
