"""What counted cycles and their damage say, in rows and sentences that command and page share."""

import math
from dataclasses import dataclass

import numpy as np

from gaugewright.present.captions import listed
from gaugewright.present.numbers import fixed_text, significant_text
from gaugewright.present.units_shown import System
from gaugewright.services.answering.parts import brief
from gaugewright.services.cycling.counted import Counted, History
from gaugewright.services.cycling.damage import Damaged, GaugeCycles

__all__ = ["RangeRow", "counted_sentence", "curve_sentence", "damage_sentences", "range_rows"]


@dataclass(frozen=True, slots=True)
class RangeRow:
    """A class of range that holds cycles: its borders, how many, and their means from and to."""

    lower: str
    upper: str
    cycles: str
    mean_from: str
    mean_to: str


def range_rows(found: Counted, system: System) -> tuple[RangeRow, ...]:
    """Classes of range with anything in them, the largest first."""
    rows = []
    for number in np.flatnonzero(found.by_range)[::-1].tolist():
        means = np.flatnonzero(found.matrix[number])
        low, high = found.mean_edges[means[0]], found.mean_edges[means[-1] + 1]
        rows.append(
            RangeRow(
                brief("strain", float(found.range_edges[number]), system),
                brief("strain", float(found.range_edges[number + 1]), system),
                fixed_text(float(found.by_range[number]), 1),
                brief("strain", float(low), system),
                brief("strain", float(high), system),
            )
        )
    return tuple(rows)


def counted_sentence(found: Counted, system: System) -> str:
    """What was counted, by which rule, with which gate."""
    extent = found.extent
    rule = (
        "rainflow of a history that repeats, begun at its greatest value"
        if found.history is History.REPEATING
        else "rainflow, open ranges as halves"
    )
    largest = float(found.largest.ranges.max()) if found.largest.ranges.size else 0.0
    missing = f", {fixed_text(extent.missing, 0)} of them missing," if extent.missing else ""
    return (
        f"{fixed_text(extent.samples, 0)} samples{missing} by {rule} (ASTM E1049-85 (2017), 5.4): "
        f"{fixed_text(found.cycles, 1)} cycles, largest range {brief('strain', largest, system, 4)}"
        f"; moves smaller than the gate of {brief('strain', found.gate, system, 2)} don't count."
    )


def curve_sentence(damage: Damaged, system: System) -> str:
    """Which line the damage stands on, and how it is known."""
    line = damage.line
    limit = (
        f"; ranges below {brief('stress', line.limit_range, system)} do none"
        if line.limit_range
        else ""
    )
    return (
        f"Line {damage.curve}: {brief('stress', line.reference_range, system, 4)} at "
        f"{fixed_text(line.reference_cycles, 0)} cycles, exponent "
        f"{significant_text(line.slope_above)} above and {significant_text(line.slope_below)} "
        f"below{limit}. Source: {line.source}."
    )


def damage_sentences(found: GaugeCycles, system: System) -> tuple[str, ...]:
    """Share of life used with its interval, or why there is none."""
    damage = found.damage
    if damage is None:
        return (f"No damage: {found.why}.",)
    total = significant_text(damage.total, 2)
    if math.isinf(damage.high):
        interval = f"more than {significant_text(damage.low, 2)}"
    else:
        interval = f"{significant_text(damage.low, 2)} to {significant_text(damage.high, 2)}"
    doubt = significant_text(100 * damage.scale_doubt, 2)
    mostly = f", mostly {damage.cause}" if damage.cause else ""
    assumptions = [
        "stress is the modulus times mechanical strain",
        "the order of cycles and their mean don't matter (Palmgren and Miner)",
    ]
    return (
        f"Damage {total} of 1, {interval} for ranges uncertain by {doubt} % (95 %{mostly}).",
        curve_sentence(damage, system),
        f"Taken for granted: {listed(assumptions)}. Scatter of fatigue lives isn't in the "
        "interval, and a damage below 1 is no promise: a qualified person judges.",
    )
