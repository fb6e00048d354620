"""What does a gauge say over months: segments, gaps, clocks put forward or back, season, drift?"""

import itertools
import math
from dataclasses import dataclass
from datetime import timedelta

import numpy as np
import numpy.typing as npt

from gaugewright.calc.seasons import DAY, YEAR, SeasonFit, season_fit, why_no_cycle
from gaugewright.calc.uncertainty import Uncertain
from gaugewright.errors import Faults, InputError
from gaugewright.quantities import FloatArray
from gaugewright.records import Entry
from gaugewright.records.electrical import BridgeCircuit, Channel, Connection
from gaugewright.records.gauges import Gauge
from gaugewright.records.identity import Uid
from gaugewright.records.proof import Limit, ZeroKind
from gaugewright.records.readings import Clock, Recording
from gaugewright.services.campaign.coverage import COVERAGE
from gaugewright.services.campaign.limit_labels import DRIFT_RATE
from gaugewright.services.reading.series import EPOCH
from gaugewright.services.strain.strains import CircuitStrain, Desk
from gaugewright.services.under_load.record import stress_free_zero
from gaugewright.sources.stamps import zone_named
from gaugewright.store.campaign import CampaignStore

__all__ = [
    "Border",
    "ClockTurn",
    "Fit",
    "Gap",
    "LongTerm",
    "Segment",
    "allow_drift",
    "gauges",
    "look_at",
]

Rows = npt.NDArray[np.int64]
GROWING = "drift allowance, growing with time@1"
REFERENCE = "drift, reference channel@1"
# Choice of this project, no source: ten usual steps, and at least a minute, without a reading.
GAP_STEPS = 10.0
SHORTEST_GAP = 60.0
# A fit is made through means over an hour, or shorter ones in a short record.
LONGEST_MEAN = 3600.0
SHORT_RECORD_MEANS = 20_000
NEAR_BORDER = 25  # readings on either side of a border whose means are compared


@dataclass(frozen=True, slots=True)
class Border:
    """Where one connection ended and the next began.

    ``step`` is the strain just after less that just before, with everything that doesn't cancel,
    None where one side has no strain; ``transfer`` the part of its expanded uncertainty that
    zeros and carrying them over bring.
    """

    ends: float
    begins: float
    step: Uncertain | None
    transfer: float | None
    words: str


@dataclass(frozen=True, slots=True)
class Segment:
    """Readings through one connection; ``border`` is the one before it."""

    connection: Entry[Connection]
    channel: str
    first: int
    last: int
    begins: float
    ends: float
    border: Border | None


@dataclass(frozen=True, slots=True)
class Gap:
    """A stretch without a reading, and why."""

    begins: float
    ends: float
    why: str


@dataclass(frozen=True, slots=True)
class ClockTurn:
    """A recorder's local clock put forward or back inside a recording.

    ``unknown`` rows of the recording stood in an hour that came twice or never: they have no
    time, so no place here.
    """

    at: float
    shift: float
    zone: str
    recording: str
    unknown: int


@dataclass(frozen=True, slots=True)
class Fit:
    """A fit shown beside the record, or why there is none; the record itself is never changed.

    ``time``, ``fitted`` and ``less`` (strain less the seasonal part) are at the means fitted to.
    """

    name: str
    found: SeasonFit | None
    why: tuple[str, ...]
    time: FloatArray
    fitted: FloatArray
    less: FloatArray


@dataclass(frozen=True, slots=True)
class LongTerm:
    """One gauge over its whole record."""

    gauge: Entry[Gauge]
    zero: ZeroKind
    strain: CircuitStrain
    segments: tuple[Segment, ...]
    gaps: tuple[Gap, ...]
    turns: tuple[ClockTurn, ...]
    fits: tuple[Fit, ...]
    drift: Uncertain | None
    drift_source: str
    reference: Entry[BridgeCircuit] | None


def look_at(desk: Desk, label: str) -> LongTerm:
    """One gauge over months, from the earliest zero that all its connections can count from.

    Raises
    ------
    InputError
        If there is no such gauge, it has no readings, or a value of its chain is missing.
    """
    known = gauges(desk)
    if label not in known:
        names = ", ".join(known) or "none: no gauge is alone in a circuit"
        raise InputError("gauge", label, f"one of {names}")
    circuit, gauge = known[label]
    zero = stress_free_zero(desk, circuit)
    strain = desk.strain(circuit, zero)
    if not np.isfinite(strain.strain).any():
        raise InputError(f"strain of {label}", "missing everywhere", "read somewhere")
    drift, source = _drift(strain)
    segments = _segments(desk, strain)
    return LongTerm(
        gauge,
        zero,
        strain,
        segments,
        _gaps(strain, segments),
        _turns(desk, strain),
        _fits(desk, gauge, strain, segments),
        drift,
        source,
        _reference(desk, strain),
    )


def gauges(desk: Desk) -> dict[str, tuple[Entry[BridgeCircuit], Entry[Gauge]]]:
    """Gauges that are alone in a circuit, by label; no dummies and no arms of rosettes."""
    dummies = {circuit.record.dummy for circuit in desk.book.of(BridgeCircuit)}
    found = {}
    for circuit in desk.book.of(BridgeCircuit):
        inside = desk.book.gauges_of(circuit)
        if len(inside) == 1 and not inside[0].record.group and circuit.uid not in dummies:
            found[inside[0].record.label] = (circuit, inside[0])
    return found


def allow_drift(
    store: CampaignStore, rate: float, *, source: str, confirmed: bool = False
) -> Entry[Limit]:
    """Let drift that grows with time count in every strain of a campaign.

    ``rate`` is the standard uncertainty of a gauge's drift in strain each second; ``source``
    says where it comes from. Written down as a limit of the campaign, or its next version.

    Raises
    ------
    InputError
        If the rate is negative or nothing is said of where it comes from.
    """
    if not 0 <= rate < math.inf:
        raise InputError("rate", rate, "0 or more")
    meaning = "standard uncertainty of a gauge's drift each second since its zero"
    made = Limit(DRIFT_RATE, "strain_rate", rate, "1/s", source, not confirmed, meaning)
    for entry in store.entries(Limit):
        if entry.record.label == DRIFT_RATE:
            return store.revise(entry.uid, entry.version, made, reason=source)
    return store.add(made, reason=source)


def _segments(desk: Desk, strain: CircuitStrain) -> tuple[Segment, ...]:
    """Runs of pieces that were read through one connection, in order of time."""
    sizes = [piece.stretch.reading.size for piece in strain.pieces]
    runs: list[list[int]] = []
    for place, piece in enumerate(strain.pieces):
        same = runs and strain.pieces[runs[-1][-1]].stretch.connection.uid
        if same == piece.stretch.connection.uid:
            runs[-1].append(place)
        else:
            runs.append([place])
    made: list[Segment] = []
    for run in runs:
        first, last = strain.begins[run[0]], strain.begins[run[-1]] + sizes[run[-1]] - 1
        connection = strain.pieces[run[0]].stretch.connection
        channel = desk.book.entry(connection.record.channel, Channel).record
        border = _border(desk, strain, made[-1], (first, last), connection) if made else None
        made.append(
            Segment(
                connection,
                f"{channel.label} of {desk.book.label(channel.instrument)}",
                first,
                last,
                float(strain.time[first]),
                float(strain.time[last]),
                border,
            )
        )
    return tuple(made)


def _border(
    desk: Desk,
    strain: CircuitStrain,
    before: Segment,
    rows: tuple[int, int],
    connection: Entry[Connection],
) -> Border:
    words = _zero_words(strain, rows[0], connection)
    good = np.isfinite(strain.strain)
    earlier = np.flatnonzero(good[before.first : before.last + 1])[-NEAR_BORDER:] + before.first
    later = np.flatnonzero(good[rows[0] : rows[1] + 1])[:NEAR_BORDER] + rows[0]
    if not (earlier.size and later.size):
        return Border(before.ends, float(strain.time[rows[0]]), None, None, words)
    step = strain.uncertain(later).mean() - strain.uncertain(earlier).mean()
    parts = [
        float(np.abs(part))
        for name, part in step.contributions().items()
        if name.startswith(("transfer@", "zero@"))
    ]
    whole = float(step.standard_uncertainty())
    factor = float(step.expanded(COVERAGE)) / whole if whole else 0.0
    return Border(
        float(strain.time[earlier[-1]]),
        float(strain.time[later[0]]),
        step,
        factor * math.hypot(*parts),
        words,
    )


def _zero_words(strain: CircuitStrain, row: int, connection: Entry[Connection]) -> str:
    """How this segment has its zero."""
    place = int(np.searchsorted(strain.begins, row, side="right")) - 1
    zero = strain.pieces[place].built.subject.zero.record
    if zero.connection == connection.uid:
        return f"its own zero: {zero.bridge_ratio.source or 'taken on this connection'}"
    words = zero.transfer.source if zero.transfer is not None else ""
    return f"zero carried over: {words or 'nobody said with which uncertainty'}"


def _gaps(strain: CircuitStrain, segments: tuple[Segment, ...]) -> tuple[Gap, ...]:
    good = np.flatnonzero(np.isfinite(strain.strain) & np.isfinite(strain.time))
    steps = np.diff(strain.time[good])
    if not steps.size:
        return ()
    least = max(GAP_STEPS * float(np.median(steps)), SHORTEST_GAP)
    starts = [segment.first for segment in segments]
    found = []
    for place in np.flatnonzero(steps > least).tolist():
        row, following = int(good[place]), int(good[place + 1])
        why = "rows without a reading: excluded, marked, or no temperature"
        if following == row + 1:
            why = "no rows in the recording"
        if _piece(strain, row) != _piece(strain, following):
            why = "no recording"
        if np.searchsorted(starts, row, "right") != np.searchsorted(starts, following, "right"):
            why = "between two connections"
        found.append(Gap(float(strain.time[row]), float(strain.time[following]), why))
    return tuple(found)


def _piece(strain: CircuitStrain, row: int) -> Uid:
    place = int(np.searchsorted(strain.begins, row, side="right")) - 1
    return strain.pieces[place].stretch.recording.uid


def _turns(desk: Desk, strain: CircuitStrain) -> tuple[ClockTurn, ...]:
    """Where a recorder's zone changed its offset inside one of the recordings."""
    found: list[ClockTurn] = []
    seen: dict[Uid, list[float]] = {}
    for piece in strain.pieces:
        ends = [float(piece.stretch.time[0]), float(piece.stretch.time[-1])]
        seen.setdefault(piece.stretch.recording.uid, []).extend(ends)
    for uid, ends in seen.items():
        recording = desk.book.entry(uid, Recording).record
        zone = desk.book.entry(recording.clock, Clock).record.zone
        unknown = sum(m.count for m in recording.marks if m.code in ("hour_twice", "hour_missing"))
        for at, shift in _offset_changes(zone, min(ends), max(ends)):
            found.append(ClockTurn(at, shift, zone, recording.label, unknown))
    return tuple(found)


def _offset_changes(zone: str, begins: float, ends: float) -> list[tuple[float, float]]:
    """Campaign seconds at which a zone's offset changed, and by how much [s]."""
    place = zone_named(zone)
    if place is None:
        return []

    def offset(seconds: float) -> float:
        shown = (EPOCH + timedelta(seconds=seconds)).astimezone(place).utcoffset()
        return shown.total_seconds() if shown is not None else 0.0

    changes = []
    days = np.append(np.arange(begins, ends, DAY), ends).tolist()
    for low, high in itertools.pairwise(days):
        before, after = offset(low), offset(high)
        if before == after:
            continue
        while high - low > 0.5:
            middle = (low + high) / 2
            low, high = (middle, high) if offset(middle) == before else (low, middle)
        changes.append((float(round(high)), after - before))
    return changes


def _fits(
    desk: Desk, gauge: Entry[Gauge], strain: CircuitStrain, segments: tuple[Segment, ...]
) -> tuple[Fit, ...]:
    level = np.zeros(strain.time.size, np.int64)
    for number, segment in enumerate(segments):
        level[segment.first : segment.last + 1] = number
    means = _means(strain.time, strain.strain, level)
    time = means[0]
    reasons = {"year": why_no_cycle(time, YEAR), "day": why_no_cycle(time, DAY)}
    periods = tuple(period for name, period in (("year", YEAR), ("day", DAY)) if not reasons[name])
    why = tuple(f"no cycle of a {name}: {words}" for name, words in reasons.items() if words)
    seasonal = _nothing("season", why)
    if periods:
        seasonal = _fit("season", why, means, periods=periods)
    try:
        point = desk.book.temperature_point_of(gauge)
        warm = desk.series(point.uid).at(time)
    except InputError as error:
        return (seasonal, _nothing("temperature", (str(error),)))
    return (seasonal, _fit("temperature", (), means, warm=warm))


def _fit(
    name: str,
    why: tuple[str, ...],
    means: tuple[FloatArray, FloatArray, Rows],
    *,
    periods: tuple[float, ...] = (),
    warm: FloatArray | None = None,
) -> Fit:
    time, mean, level = means
    try:
        found = season_fit(time, mean, periods=periods, temperature_degc=warm, segments=level)
    except (InputError, Faults) as error:
        return _nothing(name, (*why, str(error)))
    return Fit(name, found, why, time, found.fitted, mean - found.seasonal)


def _nothing(name: str, why: tuple[str, ...]) -> Fit:
    empty = np.empty(0)
    return Fit(name, None, why, empty, empty, empty)


def _means(
    time: FloatArray, strain: FloatArray, level: Rows
) -> tuple[FloatArray, FloatArray, Rows]:
    """Means over equal stretches of time within a segment, so that every hour counts alike."""
    good = np.isfinite(time) & np.isfinite(strain)
    time, strain, level = time[good], strain[good], level[good]
    order = np.argsort(time, kind="stable")
    time, strain, level = time[order], strain[order], level[order]
    width = min(LONGEST_MEAN, float(np.ptp(time)) / SHORT_RECORD_MEANS) or 1.0
    key = np.stack([np.floor(time / width).astype(np.int64), level])
    first = np.flatnonzero(np.any(np.diff(key, axis=1, prepend=key[:, :1] - 1) != 0, axis=0))
    count = np.diff(np.append(first, time.size))
    return (
        np.asarray(np.add.reduceat(time, first) / count),
        np.asarray(np.add.reduceat(strain, first) / count),
        level[first],
    )


def _drift(strain: CircuitStrain) -> tuple[Uncertain | None, str]:
    """What the growing allowance alone makes of the last reading, and where it comes from."""
    piece = strain.pieces[-1]
    stage = next((s for s in piece.built.chain.stages if s.kind == GROWING and s.on), None)
    if stage is None:
        return None, ""
    last = int(np.flatnonzero(np.isfinite(strain.strain))[-1])
    whole = strain.uncertain([last])
    names = {part.input_name for part in stage.influences}
    kept = {name: part for name, part in whole.sensitivities.items() if name in names}
    inputs = {name: whole.inputs[name] for name in kept}
    source = next(
        (s.words for s in piece.built.sources if (s.stage, s.parameter) == (GROWING, "drift_rate")),
        "",
    )
    return Uncertain(whole.value, kept, np.zeros(whole.value.shape), inputs)[0], source


def _reference(desk: Desk, strain: CircuitStrain) -> Entry[BridgeCircuit] | None:
    """Unloaded circuit whose strain the chain takes off, if it does."""
    uid = strain.pieces[-1].built.beside.get("reference_strain")
    return None if uid is None else desk.book.entry(uid, BridgeCircuit)
