"""What a coupon says, in rows and sentences that command line and page share."""

from dataclasses import dataclass

from gaugewright.present.captions import listed
from gaugewright.present.numbers import Shown, fixed_text, significant_text
from gaugewright.present.units_shown import System, quantity_shown
from gaugewright.services.answering.parts import brief, percent
from gaugewright.services.coupon.cyclic import CyclicCoupon
from gaugewright.services.coupon.evaluated import CouponResult, Value, quality_of, values_of

__all__ = [
    "Row",
    "cyclic_rows",
    "cyclic_sentences",
    "extensometer_sentence",
    "quality_sentence",
    "rows",
]

_PROPERTIES = {
    "elastic_modulus": ("modulus E", "elastic_modulus"),
    "yield_strength": ("yield strength f_y", "stress"),
    "hardening_share": ("hardening share b", ""),
    "curvature_exponent": ("curvature R_0", ""),
    "curvature_loss": ("its loss c_R1", ""),
    "curvature_loss_half": ("c_R2", ""),
    "compression_growth": ("growth in compression a_1", ""),
    "tension_growth": ("growth in tension a_3", ""),
}


@dataclass(frozen=True, slots=True)
class Row:
    """A line of the table of a coupon: ``number`` None where ``how`` says why there is none."""

    key: str
    name: str
    symbol: str
    number: Shown | None
    cause: str
    how: str


def rows(found: CouponResult, system: System) -> tuple[Row, ...]:
    """Every value of a coupon with its expanded uncertainty (95 %)."""
    return tuple(_row(value, system) for value in values_of(found))


def _row(value: Value, system: System) -> Row:
    number, cause = None, ""
    if value.value is not None:
        if value.is_share:
            number = percent(value.name, value.value).shown
        else:
            doubt = float(value.value.expanded())
            best = float(value.value.value)
            number = quantity_shown(value.quantity, best, doubt or None, system)
        main = value.value.budget().dominant
        cause = main.meaning if main else ""
    return Row(value.key, value.name, value.symbol, number, cause, value.how)


def quality_sentence(found: CouponResult, system: System) -> str:
    """How good the elastic line is, and whether its slope is believed."""
    quality, line = quality_of(found), found.values.line
    low, high = (brief("stress", bound, system) for bound in found.bounds)
    said = (
        f"Elastic line from {low} to {high}: slope "
        f"{brief('elastic_modulus', line.elastic_modulus, system, 4)} ± "
        f"{significant_text(100 * quality['relative_uncertainty'], 2)} % (standard, by scatter), "
        f"R² {quality['determination']:.5f}, {line.samples} samples, "
        f"{significant_text(quality['strain_levels'], 3)} steps of strain along it."
    )
    if not found.values.doubts:
        return f"{said} Nothing speaks against it."
    instead = "; the stated modulus is used" if found.test.record.modulus else ""
    return f"{said} Refused as a modulus{instead}: {'; '.join(found.values.doubts)}."


def extensometer_sentence(found: CouponResult, system: System) -> str:
    """Until where the record has strain."""
    count, total = found.values.extensometer_rows, found.strain.size
    if count == 0:
        return "The extensometer never read."
    last = significant_text(100 * float(found.strain[count - 1]), 3)
    if count == total:
        return f"The extensometer read to the end of the record, {last} % as read."
    return (
        f"The extensometer read in the first {fixed_text(count, 0)} of {fixed_text(total, 0)} "
        f"rows, to {last} % as read."
    )


def cyclic_rows(found: CyclicCoupon, system: System) -> list[tuple[str, str]]:
    """Properties of the fitted law."""
    made = []
    for name, (words, quantity) in _PROPERTIES.items():
        value = float(getattr(found.fit.steel, name))
        text = brief(quantity, value, system, 4) if quantity else significant_text(value, 4)
        open_end = ", not determined: at an end of its range" if name in found.fit.at_bounds else ""
        made.append((words, text + open_end))
    return made


def cyclic_sentences(found: CyclicCoupon, system: System) -> tuple[str, ...]:
    """Quality of the fit, the modulus it stands on, and the cycles of its strain."""
    fit, line = found.fit, found.line
    way = "tension" if found.direction > 0 else "compression"
    peak = float(abs(found.stress[abs(found.stress) <= float("inf")]).max())
    quality = (
        f"Left over: {brief('stress', fit.misfit, system)} as root mean square, "
        f"{brief('stress', fit.greatest_misfit, system)} at the worst of {fit.samples} samples, of "
        f"a record that peaks at {brief('stress', peak, system, 4)}; R² {fit.determination:.4f}."
    )
    search = "" if fit.settled else "The search didn't come to rest: don't use these properties."
    whence = (
        f"Modulus stated from elsewhere: {brief('elastic_modulus', found.modulus, system, 4)}."
        if found.test.record.modulus
        else f"First loading was {way}: {brief('elastic_modulus', found.modulus, system, 4)} from "
        f"{brief('stress', line.lowest_stress, system)} to "
        f"{brief('stress', line.highest_stress, system)}, R² {line.determination:.5f}."
    )
    largest = float(found.cycles.ranges.max()) if found.cycles.ranges.size else 0.0
    counted = (
        f"Cycles of strain by rainflow: {found.every.counts.sum():g} in all, "
        f"{found.cycles.counts.sum():g} with a gate of {brief('strain', found.gate, system)}; "
        f"largest range {brief('strain', largest, system, 4)}."
    )
    undetermined = (
        f"The record doesn't determine {listed([_PROPERTIES[n][0] for n in fit.at_bounds])}."
        if fit.at_bounds
        else ""
    )
    kept = "Good for histories like the coupon's; the misfit is the least doubt of its stress."
    return tuple(text for text in (quality, search, undetermined, whence, counted, kept) if text)
