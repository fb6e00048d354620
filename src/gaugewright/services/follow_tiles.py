"""Each gauge or opposite pair of a test being followed, in the numbers a person looks at."""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from gaugewright.calc import load_steps
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray
from gaugewright.records.identity import Uid
from gaugewright.records.stated import State
from gaugewright.services.follow_checks import Loss
from gaugewright.services.follow_rows import Rows
from gaugewright.services.follow_shown import Tile, Yield
from gaugewright.services.follow_watch import Curve, Watch, curve_of, watched
from gaugewright.services.follow_wiring import Wire
from gaugewright.services.gauge_record import BETWEEN
from gaugewright.services.reduction_results import COVERAGE
from gaugewright.services.review import state_of_gauge

__all__ = ["Group", "Tiles", "groups"]

_TREND_S = 30.0
_AGAIN_S = 5.0  # how old a doubt may grow before it is worked out anew
_BELIEVED = (State.SOUND, State.WATCH, State.NOT_YET)
_FIRST_LOADING = 0.98  # of the highest load so far: below it the specimen unloads


@dataclass(frozen=True, slots=True)
class Group:
    """Wires of one gauge, or of two that lie opposite each other."""

    label: str
    station: str
    wires: tuple[Wire, ...]


def groups(rows: Rows) -> tuple[Group, ...]:
    """Gauges that are read now, opposites together, in the order of the file."""
    book = rows.desk.book
    now = [wire for wire in rows.wired.gauge_wires() if wire == rows.wire_now(wire.place)]
    now.sort(key=lambda wire: wire.place)
    by_gauge = {wire.gauges[0].uid: wire for wire in now}
    made: list[Group] = []
    done: set[Uid] = set()
    for wire in now:
        gauge = wire.gauges[0]
        if gauge.uid in done:
            continue
        other = next(
            (
                by_gauge[uid]
                for uid, each in by_gauge.items()
                if uid == gauge.record.opposite or each.gauges[0].record.opposite == gauge.uid
            ),
            None,
        )
        wires = (wire,) if other is None else (wire, other)
        done |= {each.gauges[0].uid for each in wires}
        stations = [book.station_of(each.gauges[0]).record.label for each in wires]
        label = BETWEEN.join(each.gauges[0].record.label for each in wires)
        made.append(Group(label, " and ".join(dict.fromkeys(stations)), wires))
    return tuple(made)


@dataclass(slots=True)
class Tiles:
    """Doubts, yield watches and predictions, each worked out when it is due."""

    _watch: dict[int, tuple[float, Watch | None]] = field(default_factory=dict)
    _curve: dict[Uid, Curve | str] = field(default_factory=dict)
    _highest: float = -math.inf
    passed: set[Uid] = field(default_factory=set)

    def forget(self) -> None:
        """Begin anew with doubts and predictions: the records have changed."""
        self._watch.clear()
        self._curve.clear()

    def tile(self, rows: Rows, group: Group, losses: Mapping[int, Loss], load: float) -> Tile:
        """One tile as it stands."""
        if math.isfinite(load):
            self._highest = max(self._highest, load)
        states = [self._state(rows, wire, losses) for wire in group.wires]
        live = [
            wire
            for wire, state in zip(group.wires, states, strict=True)
            if state is not State.LOST and wire.built is not None
        ]
        why = self._why(group, live, losses)
        known = [(wire, now) for wire in live if (now := self._now(rows, wire)) is not None]
        empty = _empty(group, max(states, key=list(State).index), why)
        if not known:
            return replace(empty, why=why or "nothing was read of it yet")
        return self._filled(rows, empty, known, load)

    def _filled(self, rows: Rows, tile: Tile, known: list[tuple[Wire, float]], load: float) -> Tile:
        """A tile with the numbers of the gauges that are read."""
        wires = [wire for wire, _ in known]
        predicted, doubt_predicted, no_prediction = self._predicted(rows, wires, load)
        watch, share = self._stands(rows, known)
        trend, trend_error = _trend(rows, wires)
        return replace(
            tile,
            strain=float(np.mean([value for _, value in known])),
            doubt=self._doubt(rows, wires),
            bending=(known[0][1] - known[1][1]) / 2 if len(known) == 2 else None,
            predicted=predicted,
            predicted_doubt=doubt_predicted,
            share=share,
            watch=watch,
            trend=trend,
            trend_error=trend_error,
            why="; ".join(words for words in (tile.why, no_prediction) if words),
        )

    def _state(self, rows: Rows, wire: Wire, losses: Mapping[int, Loss]) -> State:
        if wire.place in losses:
            return State.LOST
        known = state_of_gauge(rows.desk.book, wire.gauges[0])
        return State.SOUND if known is State.NOT_YET else known

    def _why(self, group: Group, live: list[Wire], losses: Mapping[int, Loss]) -> str:
        said = []
        for wire in group.wires:
            label = wire.gauges[0].record.label
            if wire.place in losses:
                said.append(f"{label} {losses[wire.place].words}")
            elif wire.built is None:
                said.append(f"{label} has no strain: {wire.why}")
            elif wire not in live:
                said.append(f"{label} is lost by the records")
        if len(group.wires) == 2 and len(live) == 1:
            said.append(f"{live[0].gauges[0].record.label} alone: local bending is in it")
        return "; ".join(said)

    def _now(self, rows: Rows, wire: Wire) -> float | None:
        """Mean strain of the last second, or of the newest row where rows come slower."""
        values = rows.window(1.0)[1][:, wire.place]
        good = values[np.isfinite(values)]
        return float(np.mean(good)) if good.size else None

    def counts(self, rows: Rows, wire: Wire) -> bool:
        """Whether a gauge is believed enough to say whether a hold has settled."""
        return state_of_gauge(rows.desk.book, wire.gauges[0]) in _BELIEVED

    def watch(self, rows: Rows, wire: Wire) -> Watch | None:
        """Doubt and yield watch of one wire, not older than a few seconds of rows."""
        at, known = self._watch.get(wire.place, (-math.inf, None))
        if not rows.newest - at < _AGAIN_S:
            known = watched(rows, wire)
            self._watch[wire.place] = (rows.newest, known)
        return known

    def _doubt(self, rows: Rows, wires: list[Wire]) -> float | None:
        found = [self.watch(rows, wire) for wire in wires]
        known = [watch.strain for watch in found if watch is not None]
        if len(known) < len(wires):
            return None
        mean = known[0] if len(known) == 1 else (known[0] + known[1]) / 2
        return float(mean.expanded(COVERAGE).item())

    def _stands(self, rows: Rows, known: list[tuple[Wire, float]]) -> tuple[Yield, float | None]:
        """Where the gauge nearest to yield stands; once passed it stays passed."""
        order = list(Yield)
        worst, most = Yield.NONE, None
        for wire, strain in known:
            watch = self.watch(rows, wire)
            if watch is None:
                continue
            stands, share = watch.stands(strain)
            if stands is Yield.PASSED and self._five_in_a_row(rows, wire, watch):
                self.passed.add(wire.gauges[0].uid)
            elif stands is Yield.PASSED:
                stands = Yield.PERHAPS
            if wire.gauges[0].uid in self.passed:
                stands = Yield.PASSED
            worst = max(worst, stands, key=order.index)
            if share is not None:
                most = share if most is None else max(most, share)
        return worst, most

    def _five_in_a_row(self, rows: Rows, wire: Wire, watch: Watch) -> bool:
        """Whether the last five scans are all beyond yield, as the criterion of results asks."""
        last = rows.value.last(5)[:, wire.place]
        return len(last) == 5 and all(
            math.isfinite(strain) and watch.stands(strain)[0] is Yield.PASSED
            for strain in last.tolist()
        )

    def _predicted(
        self, rows: Rows, wires: list[Wire], load: float
    ) -> tuple[float | None, float | None, str]:
        if rows.load_place is None or not math.isfinite(load):
            return None, None, "no prediction: no load is read in this file"
        found = []
        for wire in wires:
            gauge = wire.gauges[0]
            if gauge.uid not in self._curve:
                kind = wire.built.subject.zero.record.kind if wire.built else None
                self._curve[gauge.uid] = (
                    "it has no zero" if kind is None else curve_of(rows.desk.book, gauge, kind)
                )
            curve = self._curve[gauge.uid]
            if isinstance(curve, str):
                return None, None, f"no prediction: {curve}"
            found.append(curve.at(max(load, 0.0)))
        if load < _FIRST_LOADING * self._highest and self._highest > 0:
            return None, None, "no prediction: it is of first loading, and the load was higher"
        known = [pair for pair in found if pair is not None]
        if len(known) < len(found):
            return None, None, "no prediction: the load is beyond what the member is predicted for"
        # Opposites share nearly all of what a prediction is doubtful by: the doubts aren't thinned.
        doubt = float(np.mean([pair[1] for pair in known]))
        return float(np.mean([pair[0] for pair in known])), doubt, ""


def _empty(group: Group, state: State, why: str) -> Tile:
    """A tile without numbers."""
    labels = tuple(wire.gauges[0].record.label for wire in group.wires)
    return Tile(
        label=group.label,
        gauges=labels,
        station=group.station,
        state=state,
        strain=None,
        doubt=None,
        bending=None,
        predicted=None,
        predicted_doubt=None,
        share=None,
        watch=Yield.NONE,
        trend=None,
        trend_error=None,
        why=why,
    )


def _trend(rows: Rows, wires: list[Wire]) -> tuple[float | None, float | None]:
    """Slope of the last half minute [1/s] with its standard error; None while that is too short."""
    time = rows.past.times()
    late = time >= rows.newest - max(_TREND_S, 10 * rows.past.width)
    mean: FloatArray = np.mean([rows.past.means(wire.place)[late] for wire in wires], axis=0)
    try:
        found = load_steps.drift(time[late], mean)
    except InputError:
        return None, None
    return found.rate, found.rate_error
