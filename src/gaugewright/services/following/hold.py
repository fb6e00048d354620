"""Has the load stood still, and the gauges with it, so that the next step may come?"""

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from gaugewright.calc import load_steps
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray
from gaugewright.services.bars.forces import SETTLED
from gaugewright.services.following.shown import HoldNow, Settled
from gaugewright.services.following.together import Together
from gaugewright.services.following.wiring import Wire
from gaugewright.services.loading.holds import SHARE_A_MINUTE, SHORTEST

__all__ = ["Holds"]

_RECENT = 1800  # stretches of the past in which holds are looked for
_FEWEST = 8  # stretches of time that a drift is taken from
_NAMED = 3
_STILL = 1e-6  # strain a minute that is rest for any test; choice of this project


@dataclass(slots=True)
class Holds:
    """The hold that goes on, judged as ``load_holds`` judges those of a finished test.

    A gauge has settled when over the last third of the hold it moves in a minute by less than
    1 % of the step before (common practice, no source), by less than that is known, or by less
    than 1 µε.
    """

    _begins: float | None = None
    _level: float = 0.0
    _at_last: dict[tuple[int, int], float] = field(default_factory=dict)
    _now: dict[tuple[int, int], float] = field(default_factory=dict)

    def now(self, together: Together, gauges: Sequence[Wire]) -> HoldNow:
        """Verdict on some gauges, whichever recorder reads them."""
        rows = together.load_rows
        if rows is None or rows.load_place is None:
            words = "no load cell is read in what is followed: a hold can't be told"
            return HoldNow(Settled.NO_LOAD, words)
        time = rows.past.times()
        load = rows.past.means(rows.load_place)
        held = _held(time, load, rows.past.width)
        if held is None:
            return HoldNow(Settled.MOVING, "the load moves, or was held too short to tell")
        begins, level = held
        self._begun(begins, level, rows.past.width)
        seconds = rows.newest - begins
        late = rows.newest - SETTLED * seconds
        if np.count_nonzero(time >= late) < _FEWEST:
            wait = _FEWEST * rows.past.width / SETTLED
            words = f"held for {seconds:.0f} s: judged from {wait:.0f} s on"
            return HoldNow(Settled.TOO_SHORT, words, begins, seconds, level)
        verdict, words = self._judged(together, gauges, late)
        return HoldNow(verdict, words, begins, seconds, level)

    def _begun(self, begins: float, level: float, width: float) -> None:
        """Keep where the gauges stood in the hold before, when another one has begun."""
        if self._begins is not None and begins - self._begins > 4 * width:
            self._at_last = dict(self._now)
        if self._begins is None or begins - self._begins > 4 * width:
            self._begins, self._level = begins, level

    def _judged(
        self,
        together: Together,
        gauges: Sequence[Wire],
        late: float,
    ) -> tuple[Settled, str]:
        moving: list[tuple[float, str]] = []
        judged = 0
        firsts = [rows.past.since(late) for rows in together.rows]
        times = [
            rows.past.times()[first:] for rows, first in zip(together.rows, firsts, strict=True)
        ]
        for wire in gauges:
            first, past = firsts[wire.source], together.of(wire).past
            try:
                drift = load_steps.drift(times[wire.source], past.means(wire.place, first))
            except InputError:
                continue  # hardly read in this hold
            judged += 1
            label = wire.gauges[0].record.label
            self._now[wire.key] = drift.mean
            step = abs(drift.mean - self._at_last.get(wire.key, 0.0))
            a_minute = 60 * abs(drift.rate)
            if a_minute >= max(SHARE_A_MINUTE * step, 2 * 60 * drift.rate_error, _STILL):
                moving.append((a_minute, f"{label} {60e6 * drift.rate:+.1f} µε a minute"))
        if not judged:
            return Settled.TOO_SHORT, "no gauge was read long enough in this hold"
        unread = len(gauges) - judged
        without = f"; {unread} more can't be told: hardly read in this hold" if unread else ""
        if not moving:
            words = f"all {judged} gauges that are believed stand still{without}"
            return Settled.SETTLED, words
        moving.sort(reverse=True)
        told = ", ".join(words for _, words in moving[:_NAMED])
        more = f" and {len(moving) - _NAMED} more" if len(moving) > _NAMED else ""
        return Settled.NOT_YET, f"still moving: {told}{more}{without}"


def _held(time: FloatArray, load: FloatArray, width: float) -> tuple[float, float] | None:
    """Beginning and level of the hold that the newest rows belong to."""
    time, load = time[-_RECENT:], load[-_RECENT:]
    good = np.isfinite(load)
    if np.count_nonzero(good) < _FEWEST:
        return None
    found = load_steps.holds(time, load, shortest=max(SHORTEST, 8 * width))
    if not found or time[found[-1].last] < time[-1] - 3 * width:
        return None
    hold = found[-1]
    return float(time[hold.first]), hold.level
