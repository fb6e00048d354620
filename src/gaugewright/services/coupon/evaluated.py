"""What a coupon test says of its metal: evaluated from its recording, refused with the reason."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from gaugewright.calc import coupon_size
from gaugewright.calc.coupon import CouponInputs, CouponValues, coupon_values
from gaugewright.calc.coupon_points import greatest_stress
from gaugewright.calc.uncertainty import Uncertain
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray
from gaugewright.records import Entry
from gaugewright.records.coupons import CouponTest
from gaugewright.records.stated import Stated
from gaugewright.services.campaign.book import Book
from gaugewright.services.chaining.causes import uncertain_of_stated
from gaugewright.services.coupon.of_recordings import read_columns
from gaugewright.store.campaign import CampaignStore

__all__ = [
    "CouponResult",
    "Value",
    "evaluated",
    "pulled_record",
    "quality_of",
    "values_of",
    "was_to_and_fro",
]

OFFSET = 0.002
# Where nobody stated a range: our own choice, after ISO 6892-1, annex G, from memory (10 % to 40 %
# of the yield or proof strength there).
_FROM, _TO = 0.10, 0.40
# A coupon whose compression reaches this part of its greatest tension was strained to and fro.
_TO_AND_FRO = 0.25


@dataclass(frozen=True, slots=True)
class CouponResult:
    """A coupon test evaluated: stress and strain as read, and what came of them.

    ``strain`` and ``stress`` are engineering values with their scales, origin not taken off.
    ``elongation`` is None with the reason in ``elongation_how``, else that says how it was had.
    ``left_out`` names what isn't in the uncertainties.
    """

    test: Entry[CouponTest]
    strain: FloatArray
    stress: FloatArray
    values: CouponValues
    bounds: tuple[float, float]
    bounds_stated: bool
    elongation: Uncertain | None
    elongation_how: str
    left_out: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Value:
    """A line of the table: ``value`` None with the reason in ``how``; ``is_share`` in per cent."""

    key: str
    name: str
    symbol: str
    quantity: str
    value: Uncertain | None
    how: str
    is_share: bool = False


def evaluated(store: CampaignStore, book: Book, test: Entry[CouponTest]) -> CouponResult:
    """Evaluate one coupon as pulled to its maximum force.

    Raises
    ------
    InputError
        If its size is missing, its record can't be read so, or it was strained to and fro.
    """
    record = test.record
    force, strain, inputs = pulled_record(store, book, test)
    stress = force * float(inputs.force_factor.value) / float(inputs.area.value)
    read = strain * float(inputs.strain_factor.value)
    _refuse_to_and_fro(record.label, stress)
    stated = record.lowest_stress is not None and record.highest_stress is not None
    top = greatest_stress(read, stress).stress
    bounds = (_FROM * top, _TO * top)
    if record.lowest_stress is not None and record.highest_stress is not None:
        bounds = (record.lowest_stress, record.highest_stress)
    modulus = None
    if record.modulus is not None:
        modulus = uncertain_of_stated("modulus from elsewhere", record.modulus, "modulus as stated")
    values = coupon_values(force, strain, inputs, *bounds, offset=OFFSET, modulus=modulus)
    elongation, how = _elongation(record, read, stress, values, inputs)
    return CouponResult(
        test, read, stress, values, bounds, stated, elongation, how, _left_out(record, modulus)
    )


def pulled_record(
    store: CampaignStore, book: Book, test: Entry[CouponTest]
) -> tuple[FloatArray, FloatArray, CouponInputs]:
    """Force [N] and strain as read, and what the readings are worth.

    Where the recording holds stress, force is that times the area; without an area it is taken
    over one square metre and the area's doubt is left out.

    Raises
    ------
    InputError
        If a force has no size of the coupon beside it.
    """
    record = test.record
    force, strain, is_stress = read_columns(store, book, record)
    area = _area(record)
    if area is None and not is_stress:
        raise InputError(
            f"size of coupon {record.label}",
            None,
            "given: diameter, width and thickness, or area",
            "state it, or name a column of stress instead of the force",
        )
    area = area or Uncertain.exact(1.0)
    inputs = CouponInputs(
        record.label,
        area,
        uncertain_of_stated(f"force@{test.uid}", record.force_scale, "scale of the force"),
        _strain_scale(test),
    )
    return (force * float(area.value) if is_stress else force), strain, inputs


def _strain_scale(test: Entry[CouponTest]) -> Uncertain:
    """Scale of the extensometer, and of its gauge length where it writes an extension."""
    scale = uncertain_of_stated(
        f"extensometer@{test.uid}", test.record.strain_scale, "scale of the extensometer"
    )
    length = test.record.gauge_length
    if length is None:
        return scale
    known = uncertain_of_stated(f"gauge length@{test.uid}", length, "gauge length")
    return scale * (length.value / known)


def _area(record: CouponTest) -> Uncertain | None:
    def given(name: str, stated: Stated) -> Uncertain:
        return uncertain_of_stated(f"{record.label}: {name}", stated, f"{name} of the coupon")

    if record.diameter is not None:
        return coupon_size.round_area(given("diameter", record.diameter))
    if record.width is not None and record.thickness is not None:
        sides = given("width", record.width), given("thickness", record.thickness)
        return coupon_size.flat_area(*sides)
    return None if record.area is None else given("area", record.area)


def was_to_and_fro(store: CampaignStore, book: Book, test: Entry[CouponTest]) -> bool:
    """Whether a coupon was compressed as well as pulled: then the cyclic law is for it.

    Raises
    ------
    InputError
        If its size is missing or its record can't be read so.
    """
    return _is_to_and_fro(pulled_record(store, book, test)[0])


def _is_to_and_fro(force: FloatArray) -> bool:
    return bool(-np.nanmin(force) > _TO_AND_FRO * np.nanmax(force))


def _refuse_to_and_fro(label: str, stress: FloatArray) -> None:
    if _is_to_and_fro(stress):
        lowest, highest = float(np.nanmin(stress)), float(np.nanmax(stress))
        raise InputError(
            f"coupon {label}",
            f"compressed to {lowest / 1e6:.1f} MPa and pulled to {highest / 1e6:.1f} MPa",
            "pulled only",
            "a coupon strained to and fro is for: gaugewright results cyclic-fit",
        )


def _elongation(
    record: CouponTest,
    strain: FloatArray,
    stress: FloatArray,
    values: CouponValues,
    inputs: CouponInputs,
) -> tuple[Uncertain | None, str]:
    if record.marked_length is not None and record.final_length is not None:
        ends = [
            uncertain_of_stated(f"{record.label}: {name}", stated, f"{name} between the marks")
            for name, stated in (("L_0", record.marked_length), ("L_u", record.final_length))
        ]
        length = f"{1e3 * record.marked_length.value:g} mm"
        return coupon_size.elongation_by_marks(*ends), f"by marks {length} apart before the test"
    found = coupon_size.elongation_by_extensometer(strain, stress, values, inputs.strain_factor)
    if found is not None:
        return found, "plastic extension at fracture, by the extensometer"
    return None, (
        "no marks on the coupon were stated, and the extensometer gives no plastic extension at "
        "fracture; state --marked-length and --final-length"
    )


def _left_out(record: CouponTest, modulus: Uncertain | None) -> tuple[str, ...]:
    """What the uncertainties don't hold, so that nobody takes them for more than they are."""
    sizes = {
        "diameter": record.diameter,
        "width": record.width,
        "thickness": record.thickness,
        "area": record.area,
        "gauge length": record.gauge_length,
    }
    said = [f"doubt of the {name}: none was stated" for name, s in sizes.items() if _silent(s)]
    if not any(sizes[name] for name in ("diameter", "width", "area")):
        said.append("doubt of the area behind the column of stress: no size was stated")
    if record.force_scale.plus_minus is None:
        said.append("calibration of the force: no class or certificate was stated")
    if record.strain_scale.plus_minus is None:
        said.append("calibration of the extensometer: no class or certificate was stated")
    if modulus is not None and _silent(record.modulus):
        said.append("doubt of the modulus from elsewhere: none was stated")
    said.append("rate of straining, bending of the coupon, and that one coupon is not the heat")
    return tuple(said)


def _silent(stated: Stated | None) -> bool:
    return stated is not None and stated.plus_minus is None


def values_of(found: CouponResult) -> tuple[Value, ...]:
    """Every value of a coupon, in the order of the table, each with how it was had."""
    values, test = found.values, found.test.record
    why = values.missing
    fitted = "as stated, from elsewhere" if test.modulus else _line_words(found)
    plain = (
        ("elastic_modulus", "Modulus", "E", "elastic_modulus", fitted),
        ("proof_strength", "Proof strength", "Rp0.2", "stress", "elastic line moved by 0.2 %"),
        ("upper_yield_strength", "Upper yield", "ReH", "stress", "stress before the first drop"),
        ("lower_yield_strength", "Lower yield", "ReL", "stress", "lowest stress while it yields"),
        ("tensile_strength", "Tensile strength", "Rm", "stress", "greatest force"),
    )
    lines = [
        Value(key, name, symbol, quantity, getattr(values, key), why.get(key, how))
        for key, name, symbol, quantity, how in plain
    ]
    shares = (
        ("total_extension", "Extension at maximum force", "Agt", "by the extensometer"),
        ("plastic_extension", "Plastic part of it", "Ag", "less stress over modulus"),
    )
    lines += [
        Value(key, name, symbol, "strain", getattr(values, key), why.get(key, how), is_share=True)
        for key, name, symbol, how in shares
    ]
    name = "Elongation after fracture"
    how = found.elongation_how
    lines.append(Value("elongation", name, "A", "strain", found.elongation, how, is_share=True))
    how = why.get("axis_offset", "where the elastic line meets zero stress")
    lines.append(Value("axis_offset", "Axis offset", "", "strain", values.axis_offset, how))
    refused = why.get("elastic_modulus", "")
    return tuple(
        replace(line, how="needs the modulus, which is refused")
        if refused and line.how == refused and line.key != "elastic_modulus"
        else line
        for line in lines
    )


def _line_words(found: CouponResult) -> str:
    low, high = (bound / 1e6 for bound in found.bounds)
    chosen = "" if found.bounds_stated else ", 10 % to 40 % of Rm as nobody stated a range"
    return f"least squares from {low:.0f} to {high:.0f} MPa{chosen}"


def quality_of(found: CouponResult) -> Mapping[str, float]:
    """Quality of the elastic line: samples, R², relative uncertainty of its slope, its steps."""
    line = found.values.line
    return {
        "samples": line.samples,
        "determination": line.determination,
        "relative_uncertainty": line.modulus_uncertainty / line.elastic_modulus,
        "persistence": line.persistence,
        "strain_levels": line.strain_levels,
    }
