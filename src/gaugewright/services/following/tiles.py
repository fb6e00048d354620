"""Each gauge or opposite pair of a test being followed, in the numbers a person looks at."""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from gaugewright.calc import load_steps
from gaugewright.calc.uncertainty import Uncertain
from gaugewright.errors import InputError
from gaugewright.records.identity import Uid
from gaugewright.records.stated import State
from gaugewright.services.campaign.coverage import COVERAGE
from gaugewright.services.campaign.states import state_of_gauge
from gaugewright.services.following.checks import Loss
from gaugewright.services.following.rows import Rows
from gaugewright.services.following.shown import Tile, Yield
from gaugewright.services.following.together import Together
from gaugewright.services.following.watch import Curve, Watch, curve_of, watched
from gaugewright.services.following.wiring import Wire
from gaugewright.services.under_load.record import BETWEEN

__all__ = ["Group", "Tiles", "groups"]

_TREND_S = 30.0
_TREND_AGAIN_S = 1.0  # how old a trend may grow
_AGAIN_S = 5.0  # how old a doubt may grow before it is worked out anew
_BELIEVED = (State.SOUND, State.WATCH, State.NOT_YET)
_FIRST_LOADING = 0.98  # of the highest load so far: below it the specimen unloads


_Slope = tuple[float | None, float | None]


@dataclass(frozen=True, slots=True)
class Group:
    """Wires of one gauge, or of two that lie opposite each other."""

    label: str
    station: str
    wires: tuple[Wire, ...]


def groups(together: Together) -> tuple[Group, ...]:
    """Gauges that are read now, opposites together, in the order of the files."""
    book = together.book
    now = together.gauge_wires()
    by_gauge = {wire.gauges[0].uid: wire for wire in now}
    back = {wire.gauges[0].record.opposite: wire for wire in now}
    made: list[Group] = []
    done: set[Uid] = set()
    for wire in now:
        gauge = wire.gauges[0]
        if gauge.uid in done:
            continue
        named = gauge.record.opposite
        other = (by_gauge.get(named) if named else None) or back.get(gauge.uid)
        wires = (wire,) if other is None else (wire, other)
        done |= {each.gauges[0].uid for each in wires}
        stations = [book.station_of(each.gauges[0]).record.label for each in wires]
        label = BETWEEN.join(each.gauges[0].record.label for each in wires)
        made.append(Group(label, " and ".join(dict.fromkeys(stations)), wires))
    return tuple(made)


@dataclass(slots=True)
class Tiles:
    """Doubts, yield watches and predictions, each worked out when it is due."""

    _watch: dict[tuple[int, int], tuple[float, Watch | None]] = field(default_factory=dict)
    _doubts: dict[tuple[int, int], tuple[tuple[Uncertain, ...], float]] = field(
        default_factory=dict
    )
    _trend: dict[tuple[int, int], tuple[float, _Slope]] = field(default_factory=dict)
    _state: dict[Uid, State] = field(default_factory=dict)
    _curve: dict[Uid, Curve | str] = field(default_factory=dict)
    _highest: float = -math.inf
    passed: set[Uid] = field(default_factory=set)

    def forget(self) -> None:
        """Begin anew with doubts and predictions: the records have changed."""
        self._watch.clear()
        self._doubts.clear()
        self._curve.clear()
        self._state.clear()

    def loaded(self, load: float) -> None:
        """Keep the highest load so far, from which on the specimen unloads."""
        if math.isfinite(load):
            self._highest = max(self._highest, load)

    def tile(
        self,
        together: Together,
        group: Group,
        losses: Mapping[tuple[int, int], Loss],
        stale: Mapping[int, str],
    ) -> Tile:
        """One tile as it stands; ``stale`` says of recorders by number that nothing new comes."""
        states = [self._stated(together, wire, losses) for wire in group.wires]
        live = [
            wire
            for wire, state in zip(group.wires, states, strict=True)
            if state is not State.LOST and wire.built is not None
        ]
        why = self._why(group, live, losses, stale)
        known = [(wire, now) for wire in live if (now := together.mean_now(wire)) is not None]
        empty = _empty(group, max(states, key=list(State).index), why)
        if not known:
            return replace(empty, why=why or "nothing was read of it yet")
        return self._filled(together, empty, known)

    def _filled(self, together: Together, tile: Tile, known: list[tuple[Wire, float]]) -> Tile:
        """A tile with the numbers of the gauges that are read."""
        wires = [wire for wire, _ in known]
        predicted, doubt_predicted, no_prediction = self._predicted(together, wires)
        watch, share = self._stands(together, known)
        trend, trend_error = self._trends(together, wires)
        return replace(
            tile,
            strain=sum(value for _, value in known) / len(known),
            doubt=self._doubt(together, wires),
            bending=(known[0][1] - known[1][1]) / 2 if len(known) == 2 else None,
            predicted=predicted,
            predicted_doubt=doubt_predicted,
            share=share,
            watch=watch,
            trend=trend,
            trend_error=trend_error,
            why="; ".join(words for words in (tile.why, no_prediction) if words),
        )

    def _stated(
        self, together: Together, wire: Wire, losses: Mapping[tuple[int, int], Loss]
    ) -> State:
        if wire.key in losses:
            return State.LOST
        known = self._known_state(together, wire)
        return State.SOUND if known is State.NOT_YET else known

    def _known_state(self, together: Together, wire: Wire) -> State:
        """State by the records, asked once until they change."""
        gauge = wire.gauges[0]
        if gauge.uid not in self._state:
            self._state[gauge.uid] = state_of_gauge(together.book, gauge)
        return self._state[gauge.uid]

    def _why(
        self,
        group: Group,
        live: list[Wire],
        losses: Mapping[tuple[int, int], Loss],
        stale: Mapping[int, str],
    ) -> str:
        said = list(dict.fromkeys(stale[w.source] for w in group.wires if w.source in stale))
        for wire in group.wires:
            label = wire.gauges[0].record.label
            if wire.key in losses:
                said.append(f"{label} {losses[wire.key].words}")
            elif wire.built is None:
                said.append(f"{label} has no strain: {wire.why}")
            elif wire not in live:
                said.append(f"{label} is lost by the records")
        if len(group.wires) == 2 and len(live) == 1:
            said.append(f"{live[0].gauges[0].record.label} alone: local bending is in it")
        return "; ".join(said)

    def counts(self, together: Together, wire: Wire) -> bool:
        """Whether a gauge is believed enough to say whether a hold has settled."""
        return self._known_state(together, wire) in _BELIEVED

    def watch(self, together: Together, wire: Wire) -> Watch | None:
        """Doubt and yield watch of one wire, not older than a few seconds of rows."""
        rows = together.of(wire)
        at, known = self._watch.get(wire.key, (-math.inf, None))
        if not rows.newest - at < _AGAIN_S:
            known = watched(rows, wire)
            self._watch[wire.key] = (rows.newest, known)
        return known

    def _doubt(self, together: Together, wires: list[Wire]) -> float | None:
        found = [self.watch(together, wire) for wire in wires]
        known = tuple(watch.strain for watch in found if watch is not None)
        if len(known) < len(wires):
            return None
        at, kept = self._doubts.get(wires[0].key, ((), 0.0))
        if len(at) != len(known) or any(a is not b for a, b in zip(at, known, strict=True)):
            mean = known[0] if len(known) == 1 else (known[0] + known[1]) / 2
            kept = float(mean.expanded(COVERAGE).item())
            self._doubts[wires[0].key] = (known, kept)
        return kept

    def _stands(
        self, together: Together, known: list[tuple[Wire, float]]
    ) -> tuple[Yield, float | None]:
        """Where the gauge nearest to yield stands; once passed it stays passed."""
        order = list(Yield)
        worst, most = Yield.NONE, None
        for wire, strain in known:
            watch = self.watch(together, wire)
            if watch is None:
                continue
            stands, share = watch.stands(strain)
            if stands is Yield.PASSED and self._five_in_a_row(together.of(wire), wire, watch):
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
        self, together: Together, wires: list[Wire]
    ) -> tuple[float | None, float | None, str]:
        load = together.load_at(wires[0])
        if not math.isfinite(load):
            return None, None, "no prediction: no load is read with it"
        found = []
        for wire in wires:
            gauge = wire.gauges[0]
            if gauge.uid not in self._curve:
                kind = wire.built.subject.zero.record.kind if wire.built else None
                self._curve[gauge.uid] = (
                    "it has no zero" if kind is None else curve_of(together.book, gauge, kind)
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
        doubt = sum(pair[1] for pair in known) / len(known)
        return sum(pair[0] for pair in known) / len(known), doubt, ""

    def _trends(self, together: Together, wires: list[Wire]) -> _Slope:
        """Slope of the last half minute [1/s] of one gauge, or of the mean of a pair."""
        slopes = [self._trend_of(together, wire) for wire in wires]
        rates = [rate for rate, _ in slopes if rate is not None]
        errors = [error for _, error in slopes if error is not None]
        if len(rates) < len(wires) or len(errors) < len(wires):
            return None, None
        return sum(rates) / len(wires), math.hypot(*errors) / len(wires)

    def _trend_of(self, together: Together, wire: Wire) -> _Slope:
        """Slope of one gauge with its standard error, worked out again every second of rows."""
        rows = together.of(wire)
        at, known = self._trend.get(wire.key, (-math.inf, (None, None)))
        if not rows.newest - at < _TREND_AGAIN_S:
            known = _slope(rows, wire.place)
            self._trend[wire.key] = (rows.newest, known)
        return known


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


def _slope(rows: Rows, place: int) -> _Slope:
    """Slope of the last half minute [1/s] with its standard error; None while that is too short."""
    first = rows.past.since(rows.newest - max(_TREND_S, 10 * rows.past.width))
    try:
        found = load_steps.drift(rows.past.times()[first:], rows.past.means(place, first))
    except InputError:
        return None, None
    return found.rate, found.rate_error
