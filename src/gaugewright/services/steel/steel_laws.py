"""The law of a metal as its record states it: stress from strain, with every number's doubt."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

import numpy as np
import numpy.typing as npt

from gaugewright.calc import steel, steel_curves, steel_plateau, steel_table
from gaugewright.calc.by_difference import by_difference
from gaugewright.calc.steel_cyclic import CyclicSteel, cyclic_stress
from gaugewright.calc.steel_history import stress_along
from gaugewright.calc.uncertainty import Uncertain
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray
from gaugewright.records import Entry
from gaugewright.records.specimen import Material, SteelLaw
from gaugewright.records.stated import Stated
from gaugewright.services.chaining.causes import uncertain_of_stated

__all__ = ["LawInUse", "law_of"]

# Stress on first loading from strain and the law's numbers, modulus and yield strength first.
First = Callable[..., FloatArray]

MEANINGS = {
    "modulus": ("elastic_modulus", "modulus of the steel"),
    "yield_strength": ("yield_strength", "yield strength of the steel"),
    "hardening": ("hardening_modulus", "hardening of the steel"),
    "tensile_strength": ("tensile_strength", "tensile strength of the steel"),
    "hardening_strain": ("hardening_strain", "strain where the steel's plateau ends"),
    "hardening_onset": ("hardening_onset_modulus", "slope where the steel's plateau ends"),
    "ultimate_strain": ("ultimate_strain", "strain of the steel at maximum force"),
    "exponent": ("exponent", "exponent of the steel's curve"),
}
NUMBERS: dict[SteelLaw, tuple[str, ...]] = {
    SteelLaw.ELASTIC: ("modulus",),
    SteelLaw.BILINEAR: ("modulus", "yield_strength", "hardening"),
    SteelLaw.MANDER: (
        "modulus",
        "yield_strength",
        "tensile_strength",
        "hardening_strain",
        "hardening_onset",
        "ultimate_strain",
    ),
    SteelLaw.PARK: (
        "modulus",
        "yield_strength",
        "tensile_strength",
        "hardening_strain",
        "ultimate_strain",
    ),
    SteelLaw.RAMBERG_OSGOOD: ("modulus", "yield_strength", "exponent"),
    SteelLaw.COUPON_CURVE: ("modulus", "yield_strength"),
    SteelLaw.CYCLIC: ("modulus", "yield_strength"),
}
CYCLIC = (
    "hardening_share",
    "curvature_exponent",
    "curvature_loss",
    "curvature_loss_half",
    "compression_growth",
    "compression_growth_span",
    "tension_growth",
    "tension_growth_span",
)


@dataclass(frozen=True, slots=True)
class LawInUse:
    """A law with its numbers: ``first`` on first loading, ``along`` for a record in time.

    ``yield_strain`` is f_y/E, infinite for metal that is taken as elastic.
    """

    words: str
    numbers: tuple[Uncertain, ...]
    first: First
    along: Callable[..., FloatArray]
    yield_strain: float

    def of_first_loading(self, strain: Uncertain) -> Uncertain:
        """Stress on first loading with all doubts [Pa]; NaN beyond the law's end.

        Raises
        ------
        InputError
            If a doubt reaches beyond what the law knows.
        """
        values = tuple(float(number.value) for number in self.numbers)
        small = 1e-7
        up, down = (self.first(strain.value + way, *values) for way in (small, -small))
        slope = np.nan_to_num((up - down) / (2 * small), nan=values[0])
        return by_difference(
            self.first,
            [strain, *self.numbers],
            noise_slopes=[slope, *(0.0 for _ in self.numbers)],
        )

    def of_record(self, strain: Uncertain, rows: npt.NDArray[np.int64], gate: float) -> Uncertain:
        """Stress at some rows of a record, its history replayed with every cause moved [Pa].

        Noise counts with the modulus, the steepest slope there is: after a reversal it is that.

        Raises
        ------
        InputError
            If a doubt reaches beyond what the law knows.
        """

        def replayed(e: FloatArray, *numbers: FloatArray) -> FloatArray:
            return np.asarray(self.along(e, *numbers, gate=gate)[rows])

        return by_difference(
            replayed,
            [_quiet(strain), *self.numbers],
            noise_slopes=[0.0 for _ in range(1 + len(self.numbers))],
        ) + Uncertain.noisy(
            np.zeros(rows.size),
            np.broadcast_to(strain.noise, strain.value.shape)[rows] * float(self.numbers[0].value),
        )


def law_of(material: Entry[Material]) -> LawInUse:
    """Law of a metal, ready to use.

    Raises
    ------
    InputError
        If the record lacks a number that the law needs before it can be used.
    """
    record = material.record
    numbers = [_number(material, name) for name in NUMBERS[record.law]]
    words = f"law: {record.law.value}"
    if record.law is SteelLaw.ELASTIC:
        return LawInUse(words, tuple(numbers), _elastic, _elastic_along, float("inf"))
    yields = float(numbers[1].value / numbers[0].value)
    if record.law is SteelLaw.CYCLIC:
        return _cyclic(material, numbers, words, yields)
    first = _first(material, numbers)
    return LawInUse(words, tuple(numbers), first, partial(_along, first), yields)


def _first(material: Entry[Material], numbers: list[Uncertain]) -> First:
    record = material.record
    if record.law is SteelLaw.COUPON_CURVE:
        return _own_curve(material, numbers)
    found: dict[SteelLaw, First] = {
        SteelLaw.BILINEAR: steel.bilinear_stress,
        SteelLaw.MANDER: _mander,
        SteelLaw.PARK: _park,
        SteelLaw.RAMBERG_OSGOOD: steel_curves.ramberg_osgood_stress,
    }
    return found[record.law]


def _elastic(strain: FloatArray, modulus: FloatArray) -> FloatArray:
    return steel.elastic_stress(strain, modulus)


def _elastic_along(strain: FloatArray, modulus: FloatArray, *, gate: float) -> FloatArray:
    return steel.elastic_stress(strain, modulus)


def _mander(strain: FloatArray, *numbers: FloatArray) -> FloatArray:
    modulus, low, high, begins, slope, ends = (float(number) for number in numbers)
    return steel_plateau.mander_stress(
        strain,
        modulus,
        low,
        high,
        hardening_strain=begins,
        hardening_onset_modulus=slope,
        ultimate_strain=ends,
    )


def _park(strain: FloatArray, *numbers: FloatArray) -> FloatArray:
    modulus, low, high, begins, ends = (float(number) for number in numbers)
    return steel_curves.park_paulay_stress(
        strain, modulus, low, high, hardening_strain=begins, ultimate_strain=ends
    )


def _along(first: First, strain: FloatArray, *numbers: FloatArray, gate: float) -> FloatArray:
    """First loading with straight unloading; NaN from reverse yield on."""
    curve = partial(_with_numbers, first, numbers)
    return stress_along(strain, curve, float(numbers[0]), float(numbers[1]))[0]


def _with_numbers(first: First, numbers: tuple[FloatArray, ...], strain: FloatArray) -> FloatArray:
    return first(strain, *numbers)


def _own_curve(material: Entry[Material], numbers: list[Uncertain]) -> First:
    """Stress from the coupon's table; its doubt joins the law's numbers."""
    curve = material.record.curve
    if curve is None:
        raise _incomplete(material, "curve")
    points, heights = np.asarray(curve.strain), np.asarray(curve.stress)
    last = curve.uniform_elongation
    if curve.true_values:
        points, heights = steel_table.engineering_curve(points, heights)
        last = None if last is None else float(np.expm1(last))
    nominal = float(numbers[0].value)
    # The share by which the curve is in doubt beyond its elastic line.
    doubt = curve.doubt or Stated(0.0)
    numbers.append(
        uncertain_of_stated(
            f"curve@{material.uid}", doubt, "coupon's curve beyond its elastic line"
        )
    )

    def first(
        strain: FloatArray, modulus: FloatArray, _strength: FloatArray, share: FloatArray
    ) -> FloatArray:
        table = steel_table.coupon_curve_stress(strain, points, heights, uniform_elongation=last)
        elastic = np.abs(strain) <= points[1]
        return np.asarray(table.stress * np.where(elastic, modulus / nominal, 1 + share))

    return first


def _cyclic(
    material: Entry[Material], numbers: list[Uncertain], words: str, yields: float
) -> LawInUse:
    properties = material.record.cyclic
    if properties is None:
        raise _incomplete(material, "cyclic")
    usual = {"compression_growth": 0.0, "tension_growth": 0.0}
    for name in CYCLIC:
        stated: Stated | None = getattr(properties, name)
        numbers.append(
            uncertain_of_stated(
                f"{name}@{material.uid}",
                stated or Stated(usual.get(name, 1.0)),
                f"{name.replace('_', ' ')} of the cyclic law",
            )
        )
    misfit = properties.misfit or Stated(0.0)
    numbers.append(
        uncertain_of_stated(
            f"misfit@{material.uid}", misfit, "misfit of the cyclic law to its coupon"
        )
    )

    def along(strain: FloatArray, *given: FloatArray, gate: float) -> FloatArray:
        law = CyclicSteel(*(float(number) for number in given[:-1]))
        # Right in the elastic range; beyond it the law is as wrong as it was on its coupon.
        beyond = np.maximum.accumulate(np.nan_to_num(np.abs(strain))) > yields
        return np.asarray(cyclic_stress(strain, law, gate=gate)[0] + beyond * float(given[-1]))

    def first(strain: FloatArray, *given: FloatArray) -> FloatArray:
        modulus, strength, share, sharp = given[:4]
        found = steel_curves.menegotto_pinto_stress(
            strain, modulus, strength, share * modulus, sharp
        )
        return np.asarray(found + (np.abs(strain) > yields) * float(given[-1]))

    return LawInUse(words, tuple(numbers), first, along, yields)


def _number(material: Entry[Material], name: str) -> Uncertain:
    field, meaning = MEANINGS[name]
    stated: Stated | None = getattr(material.record, field)
    if stated is None and name == "hardening":
        return _slope_to_maximum_force(material)
    if stated is None:
        raise _incomplete(material, field)
    return uncertain_of_stated(f"{name}@{material.uid}", stated, meaning)


def _slope_to_maximum_force(material: Entry[Material]) -> Uncertain:
    """Slope of the inclined branch of EN 1992-1-1 where nobody stated one.

    Raises
    ------
    InputError
        If tensile strength or strain at maximum force isn't known either.
    """
    record = material.record
    if record.tensile_strength is None or record.ultimate_strain is None:
        raise InputError(
            f"hardening_modulus of {record.label}",
            None,
            "given, or tensile strength and strain at maximum force from which it follows",
            "type it in from the coupon; 0 for a level branch",
        )

    def slope(e: FloatArray, low: FloatArray, high: FloatArray, last: FloatArray) -> FloatArray:
        return steel.hardening_modulus_en1992(e, low, high / low, last)

    names = ("modulus", "yield_strength", "tensile_strength", "ultimate_strain")
    return by_difference(
        slope, [_number(material, name) for name in names], noise_slopes=[0.0] * len(names)
    )


def _incomplete(material: Entry[Material], field: str) -> InputError:
    return InputError(
        f"{field} of {material.record.label}",
        None,
        f"given for the law {material.record.law.value}",
        "type it in from the coupon, or choose a law that does without",
    )


def _quiet(value: Uncertain) -> Uncertain:
    """The same without noise: it is counted where the sample stands, not with its history."""
    return Uncertain(value.value, value.sensitivities, inputs=value.inputs)
