"""The figures of a coupon: its curve, the start of it with its lines, and a cyclic one's loops."""

from dataclasses import dataclass

import numpy as np

from gaugewright.present.plots import Axis, Curve, Plot, Point
from gaugewright.present.units_shown import System, in_shown, series_shown, unit_shown
from gaugewright.quantities import FloatArray
from gaugewright.services.coupon.cyclic import CyclicCoupon
from gaugewright.services.coupon.evaluated import OFFSET, CouponResult

__all__ = ["CouponFigure", "cyclic_figures", "figures"]

_PERCENT = 100.0
_LINE_POINTS = 50


@dataclass(frozen=True, slots=True)
class CouponFigure:
    """A plot with its words."""

    title: str
    caption: str
    plot: Plot


def figures(found: CouponResult, system: System) -> tuple[CouponFigure, ...]:
    """The start of the curve with its lines, and the whole curve as far as there is strain."""
    return (_start(found, system), _whole(found, system))


def _start(found: CouponResult, system: System) -> CouponFigure:
    line, values = found.values.line, found.values
    highest = float(np.nanmax(found.stress))
    last = _PERCENT * (line.axis_offset + OFFSET + 2.0 * highest / line.elastic_modulus)
    strain = _PERCENT * found.strain
    stress = series_shown(np.where(strain <= last, found.stress, np.nan), "stress", system)
    strain = np.where(strain <= last, strain, np.nan)
    ends = np.linspace(0.0, highest, _LINE_POINTS)
    fitted = line.axis_offset + ends / line.elastic_modulus
    curves = [Curve("record", strain, stress, "a")]
    known = not values.doubts or found.test.record.modulus is not None
    words = "elastic line" if known else "fitted line, refused as a modulus"
    shown = series_shown(ends, "stress", system)
    curves.append(Curve(words, _PERCENT * fitted, shown, "b"))
    points = [
        Point(
            _PERCENT * (line.axis_offset + bound / line.elastic_modulus),
            in_shown(bound, "stress", system),
            label,
        )
        for bound, label in zip(found.bounds, ("from", "to"), strict=True)
    ]
    if known:
        moved = _PERCENT * (fitted + OFFSET)
        curves.append(Curve("moved by 0.2 %", moved, shown, "c"))
    points += [mark for mark in _marks(found, system) if mark.x <= last]
    low, high = (in_shown(bound, "stress", system) for bound in found.bounds)
    unit = unit_shown("stress", system).text
    return CouponFigure(
        "Start of the curve",
        f"Strain as read; the elastic line is fitted from {low:.0f} to {high:.0f} {unit}.",
        Plot(
            Axis("strain as read", "%"),
            Axis("stress", unit),
            f"Stress over strain of coupon {found.test.record.label} up to {last:.2g} %, with the "
            "line fitted to its elastic part",
            tuple(curves),
            tuple(points),
        ),
    )


def _marks(found: CouponResult, system: System) -> list[Point]:
    """Proof strength and yield, where they stand on the record."""
    line, values = found.values.line, found.values
    marks = []
    if values.proof_strength is not None:
        proof = float(values.proof_strength.value)
        at = line.axis_offset + OFFSET + proof / line.elastic_modulus
        marks.append(_mark(at, proof, float(values.proof_strength.expanded()), "Rp0.2", system))
    for value, label in (
        (values.upper_yield_strength, "ReH"),
        (values.lower_yield_strength, "ReL"),
    ):
        if value is not None:
            height = float(value.value)
            row = _row_at(found, height)
            at = float(found.strain[row])
            marks.append(_mark(at, height, float(value.expanded()), label, system))
    return marks


def _row_at(found: CouponResult, stress: float) -> int:
    """Row whose stress is the one named: values are readings of the record itself."""
    known = np.isfinite(found.strain)
    return int(np.nanargmin(np.where(known, np.abs(found.stress - stress), np.nan)))


def _mark(strain: float, stress: float, doubt: float, label: str, system: System) -> Point:
    whisker = in_shown(doubt, "stress", system) or None
    at = _PERCENT * strain
    return Point(at, in_shown(stress, "stress", system), label, y_plus_minus=whisker)


def _whole(found: CouponResult, system: System) -> CouponFigure:
    count = found.values.extensometer_rows
    strain, stress = found.strain[:count], found.stress[:count]
    unit = unit_shown("stress", system).text
    points = []
    if count:
        last = int(np.flatnonzero(np.isfinite(strain))[-1])
        words = "extensometer off" if count < found.strain.size else "end of record"
        points.append(
            Point(_PERCENT * strain[last], in_shown(stress[last], "stress", system), words)
        )
    return CouponFigure(
        "Whole curve",
        "As far as the extensometer read; strengths beyond it are in the table.",
        Plot(
            Axis("strain as read", "%"),
            Axis("stress", unit),
            f"Stress over strain of coupon {found.test.record.label} as far as there is strain",
            (Curve("", _PERCENT * strain, series_shown(stress, "stress", system), "a"),),
            tuple(points),
        ),
    )


def cyclic_figures(found: CyclicCoupon, system: System) -> tuple[CouponFigure, ...]:
    """Measured loops with those of the law, and the stress left over along the record."""
    unit = unit_shown("stress", system).text
    label = found.test.record.label
    strain = _PERCENT * found.strain
    left = found.stress - found.followed
    order: FloatArray = np.arange(strain.size, dtype=np.float64)
    return (
        CouponFigure(
            "Loops",
            "Measured, and by the law with the fitted properties along the same strain.",
            Plot(
                Axis("strain", "%"),
                Axis("stress", unit),
                f"Stress over strain of coupon {label}, measured and by the cyclic law",
                (
                    Curve("measured", strain, series_shown(found.stress, "stress", system), "a"),
                    Curve("law", strain, series_shown(found.followed, "stress", system), "b"),
                ),
            ),
        ),
        CouponFigure(
            "Left over",
            "Measured stress less that of the law, sample by sample.",
            Plot(
                Axis("sample", ""),
                Axis("stress left over", unit),
                f"Stress left over by the cyclic law along the record of coupon {label}",
                (Curve("", order, series_shown(left, "stress", system), "a"),),
            ),
        ),
    )
