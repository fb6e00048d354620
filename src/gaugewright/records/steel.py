"""How stress follows from strain in a metal: the law, and the numbers that each law needs."""

import enum
import math
from collections.abc import Mapping
from dataclasses import dataclass

from gaugewright.errors import InputError, InputFaults
from gaugewright.records.stated import Stated, check_finite

__all__ = ["CouponCurve", "CyclicProperties", "SteelLaw", "check_steel"]


class SteelLaw(enum.Enum):
    """How stress follows from mechanical strain."""

    ELASTIC = "elastic"
    BILINEAR = "bilinear"
    MANDER = "plateau, hardening after Mander"
    PARK = "plateau, hardening after Park"
    RAMBERG_OSGOOD = "Ramberg-Osgood"
    COUPON_CURVE = "coupon curve"
    CYCLIC = "cyclic, Giuffre-Menegotto-Pinto"


@dataclass(frozen=True, slots=True)
class CouponCurve:
    """A coupon's own curve as a table from zero, rising in strain; stress in Pa.

    ``true_values`` says that strain is logarithmic and stress is over the present area.
    ``doubt`` is of the stress beyond the elastic line, as a share of it: a value of 0 with its
    plus-minus. ``uniform_elongation`` is the strain at maximum force, in the table's sense; what
    lies beyond it isn't used.
    """

    strain: tuple[float, ...]
    stress: tuple[float, ...]
    true_values: bool = False
    doubt: Stated | None = None
    uniform_elongation: float | None = None

    def __post_init__(self) -> None:
        faults: list[InputError] = []
        for name in ("strain", "stress"):
            for value in getattr(self, name):
                try:
                    check_finite(f"curve {name}", value)
                except InputError as fault:
                    faults.append(fault)
                    break
        if len(self.strain) != len(self.stress) or len(self.strain) < 2:
            counts = f"{len(self.strain)} strains, {len(self.stress)} stresses"
            faults.append(InputError("curve", counts, "as many of both, two at least"))
        pairs = zip(self.strain, self.strain[1:], strict=False)
        if self.strain and (self.strain[0] != 0 or any(not b > a for a, b in pairs)):
            faults.append(InputError("curve strain", "not rising from zero", "zero, then rising"))
        if self.stress and self.stress[0] != 0:
            faults.append(InputError("curve stress", self.stress[0], "zero at no strain"))
        if self.uniform_elongation is not None and not self.uniform_elongation > 0:
            faults.append(
                InputError("uniform_elongation", self.uniform_elongation, "a positive number")
            )
        _raise("coupon curve", faults)


@dataclass(frozen=True, slots=True)
class CyclicProperties:
    """Numbers of the cyclic law beside modulus and yield strength, as fitted or recommended.

    ``misfit`` is the root mean square of the stress that a fit left over [Pa]: how wrong the law
    is on its own coupon, a value of 0 with its plus-minus.
    """

    hardening_share: Stated
    curvature_exponent: Stated
    curvature_loss: Stated
    curvature_loss_half: Stated
    compression_growth: Stated | None = None
    compression_growth_span: Stated | None = None
    tension_growth: Stated | None = None
    tension_growth_span: Stated | None = None
    misfit: Stated | None = None

    def __post_init__(self) -> None:
        faults: list[InputError] = []
        for name in ("hardening_share", "curvature_loss"):
            value = getattr(self, name).value
            if not 0 <= value < 1:
                faults.append(InputError(name, value, "from 0 to below 1"))
        for name in ("curvature_exponent", "curvature_loss_half"):
            value = getattr(self, name).value
            if not value > 0:
                faults.append(InputError(name, value, "a positive number"))
        for side in ("compression", "tension"):
            growth, span = (getattr(self, f"{side}_growth{end}") for end in ("", "_span"))
            if growth is not None and growth.value < 0:
                faults.append(InputError(f"{side}_growth", growth.value, "0 or more"))
            if span is not None and not span.value > 0:
                faults.append(InputError(f"{side}_growth_span", span.value, "a positive number"))
        _raise("cyclic properties", faults)


# What each law can't do without; a bilinear one may get its slope later, before it is used.
NEEDED: dict[SteelLaw, tuple[str, ...]] = {
    SteelLaw.ELASTIC: (),
    SteelLaw.BILINEAR: ("yield_strength",),
    SteelLaw.MANDER: (
        "yield_strength",
        "tensile_strength",
        "hardening_strain",
        "hardening_onset_modulus",
        "ultimate_strain",
    ),
    SteelLaw.PARK: ("yield_strength", "tensile_strength", "hardening_strain", "ultimate_strain"),
    SteelLaw.RAMBERG_OSGOOD: ("yield_strength", "exponent"),
    SteelLaw.COUPON_CURVE: ("yield_strength", "curve"),
    SteelLaw.CYCLIC: ("yield_strength", "cyclic"),
}
_POSITIVE = (
    "elastic_modulus",
    "yield_strength",
    "tensile_strength",
    "hardening_strain",
    "hardening_onset_modulus",
    "ultimate_strain",
    "exponent",
    "coupon_rate",
)


def check_steel(law: SteelLaw, given: Mapping[str, object]) -> None:
    """Refuse a metal whose law lacks a number, or whose numbers aren't possible or in order.

    Raises
    ------
    InputError
        If one thing is wrong.
    Faults
        If several are: all of them by name.
    """
    faults: list[InputError] = []
    for name in _POSITIVE:
        stated = given.get(name)
        if isinstance(stated, Stated) and not (math.isfinite(stated.value) and stated.value > 0):
            faults.append(InputError(name, stated.value, "a positive number"))
    for name in NEEDED[law]:
        if given.get(name) is None:
            faults.append(
                InputError(
                    name,
                    None,
                    f"given for the law {law.value}",
                    "type it in, or take an earlier law",
                )
            )
    hardening = given.get("hardening_modulus")
    if isinstance(hardening, Stated) and hardening.value < 0:
        faults.append(InputError("hardening_modulus", hardening.value, "0 or more"))
    if law in (SteelLaw.MANDER, SteelLaw.PARK):
        faults += _out_of_order(given)
    _raise(f"metal with the law {law.value}", faults)


def _out_of_order(given: Mapping[str, object]) -> list[InputError]:
    number = {name: s.value for name, s in given.items() if isinstance(s, Stated)}
    found: list[InputError] = []
    for smaller, larger, words in (
        ("yield_strength", "tensile_strength", "above the yield strength"),
        ("hardening_strain", "ultimate_strain", "beyond the hardening strain"),
    ):
        low, high = number.get(smaller), number.get(larger)
        if low is not None and high is not None and not high > low:
            found.append(InputError(larger, high, words))
    return found


def _raise(what: str, faults: list[InputError]) -> None:
    if len(faults) == 1:
        raise faults[0]
    if faults:
        raise InputFaults(what, faults)
