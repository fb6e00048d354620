"""How much do bars bend by themselves, as the opposite pairs of a campaign show?"""

from dataclasses import dataclass

import numpy as np

from gaugewright.calc.uncertainty import Uncertain
from gaugewright.errors import InputError
from gaugewright.records.proof import ZeroKind
from gaugewright.services.bars.together import opposite_pairs, usable
from gaugewright.services.reading.series import Series
from gaugewright.services.reviewing.checks import Watched
from gaugewright.services.reviewing.signals import yield_time
from gaugewright.services.strain.strains import Desk

__all__ = ["ShownBend", "bends_shown"]

WELL_LOADED = 0.5  # of a pair's largest mean strain before it neared yield


@dataclass(frozen=True, slots=True)
class ShownBend:
    """Half the difference of two opposite gauges, over their mean."""

    axial: Uncertain
    bending: Uncertain | None


def bends_shown(desk: Desk) -> tuple[ShownBend, ...]:
    """Share of bending in each usable opposite pair, over its well loaded, elastic part.

    A pair one above the other also shows what the plane of the section differs by between them:
    the share is then rather too large.
    """
    return desk.book.once("bends shown by pairs", lambda _: _worked_out(desk))


def _worked_out(desk: Desk) -> tuple[ShownBend, ...]:
    found = []
    for circuits, gauges in opposite_pairs(desk):
        if not all(usable(desk, gauge) for gauge in gauges):
            continue
        try:
            one, other = (desk.strain(circuit, ZeroKind.BEFORE_TEST) for circuit in circuits)
        except InputError:
            continue  # no strain of one of them: reducing tells what is missing
        there = Series(other.time, other.strain).at(one.time)
        until = min(
            yield_time(desk, Watched(circuit, gauge, tuple))
            for circuit, gauge in zip(circuits, gauges, strict=True)
        )
        mean = np.where(one.time < until, (one.strain + there) / 2, np.nan)
        if not np.isfinite(mean).any():
            continue
        loaded = np.abs(mean) >= WELL_LOADED * np.nanmax(np.abs(mean))
        share = float(np.median((one.strain - there)[loaded] / 2 / mean[loaded]))
        found.append(ShownBend(Uncertain.exact(1.0), Uncertain.exact(share)))
    return tuple(found)
