"""Signs that one gauge's own record gives: what it and its load did round an instant, and after."""

import enum
from dataclasses import dataclass

import numpy as np

from gaugewright.calc import quality
from gaugewright.quantities import FloatArray, parse_unit, to_si
from gaugewright.services.reviewing.checks import Watched
from gaugewright.services.section.predictions import Prediction
from gaugewright.services.strain.strains import Desk

__all__ = [
    "SAME",
    "Seen",
    "Side",
    "Sign",
    "by_course",
    "by_load",
    "by_step",
    "goes_on",
    "lost",
    "step_at",
]

NEAR = 60  # readings before and after that show how a gauge follows its load
FAR = 400  # readings within which an unloading is followed
SAME = 0.15  # share by which a rise per load may differ and be the same
MORE = 1.3  # times the rise per load before: more is a section that opened
FIRST_TIME = 0.98  # of the highest load so far: below it nothing opens for the first time
NO_CRACK_BELOW = 0.6  # of the predicted cracking load
LARGEST = 1.5  # times the jump predicted at cracking
LOUDER = 2.0  # times the noise before
RUNS = 2.0  # times the elastic rise per load: a metal that yields
AT_END = 0.95  # of a channel's range
PLASTIC = 0.15  # of the yield strain left after unloading


class Side(enum.Enum):
    """What a sign or a verdict speaks for."""

    GAUGE = "the gauge"
    SPECIMEN = "the specimen"
    OPEN = "open"


@dataclass(frozen=True, slots=True)
class Sign:
    """One piece of evidence: for which side, with which weight, in words."""

    side: Side
    weight: float
    words: str


@dataclass(frozen=True, slots=True)
class Seen:
    """A gauge's strain and load round an instant, and what is known of its bar."""

    watched: Watched
    time: FloatArray
    strain: FloatArray
    load: FloatArray
    place: int
    predicted: Prediction | None
    yields_at: float

    @property
    def highest(self) -> FloatArray:
        """Highest load up to each reading."""
        return np.fmax.accumulate(np.where(np.isfinite(self.load), self.load, -np.inf))


def lost(desk: Desk, seen: Seen, signs: list[Sign]) -> None:
    """Readings that end off the scale, and how they got there."""
    after = seen.strain[seen.place + 3 :]
    if not after.size or np.isfinite(after).mean() > 0.05:
        return
    before = seen.strain[max(seen.place - NEAR, 0) : seen.place]
    known = before[np.isfinite(before)]
    if known.size < 4:
        return
    last = float(known[-1])
    if _near_edge(desk, seen):
        words = "it rose steadily to the end of its channel's range: the range ends, not the gauge"
        signs.append(Sign(Side.SPECIMEN, 3.0, words))
        return
    words = (
        f"it read {last * 1e6:.0f} µε and from the next scan on nothing: strain doesn't leave a "
        "scale between two scans, an open or shorted circuit does"
    )
    signs.append(Sign(Side.GAUGE, 3.0, words))


def _near_edge(desk: Desk, seen: Seen) -> bool:
    """Whether the last reading before the instant stood at the end of the channel's range."""
    instant = float(seen.time[min(seen.place, seen.time.size - 1)])
    for stretch in seen.watched.stretches:
        if not stretch.time[0] <= instant <= stretch.time[-1]:
            continue
        setting = desk.book.setting_of(stretch.connection).record
        unit = parse_unit(setting.unit)
        until = int(np.searchsorted(stretch.time, instant))
        known = stretch.reading[max(until - NEAR, 0) : until]
        known = known[np.isfinite(known)]
        edges = [edge for edge in (setting.range_low, setting.range_high) if edge is not None]
        if unit is None or not known.size:
            return False
        return any(abs(float(known[-1])) >= AT_END * abs(to_si(edge, unit)) > 0 for edge in edges)
    return False


def step_at(seen: Seen) -> float | None:
    """Jump at the instant [1] if it is one: lines before and after carried to it."""
    before, after = _sides(seen)
    if before is None or after is None:
        return None
    noise = float(np.nan_to_num(quality.noise_floor(seen.strain)))
    jump = after[1] - before[1]
    return jump if abs(jump) > 6 * noise * np.sqrt(8 / NEAR) and noise > 0 else None


def _sides(
    seen: Seen,
) -> tuple[tuple[float, float] | None, tuple[float, float] | None]:
    """Slope in time and value at the instant, of the readings before and after it."""
    found: list[tuple[float, float] | None] = []
    for cut in (
        slice(max(seen.place - NEAR, 0), max(seen.place - 1, 0)),
        slice(seen.place + 2, seen.place + NEAR),
    ):
        good = np.isfinite(seen.strain[cut])
        time, strain = seen.time[cut][good], seen.strain[cut][good]
        if time.size < 8:
            found.append(None)
            continue
        at = seen.time[min(seen.place, seen.time.size - 1)]
        slope, _, _ = quality.line_through(time - at, strain)
        middle = float(np.mean(strain)) - slope * float(np.mean(time - at))
        found.append((slope, middle))
    return found[0], found[1]


def by_load(seen: Seen, signs: list[Sign], unasked: list[str], *, is_step: bool) -> None:
    """Where the load stands: first time or not, against predicted cracking and yield."""
    place = min(seen.place, seen.load.size - 1)
    load, highest = float(seen.load[place]), float(seen.highest[place])
    if not np.isfinite(load):
        unasked.append("no load was read at that instant")
        return
    whole = float(np.nanmax(np.abs(seen.load)))
    if is_step and abs(load) <= 0.03 * whole:
        words = "the specimen was unloaded: nothing opens or yields then"
        signs.append(Sign(Side.GAUGE, 3.0, words))
    elif is_step and load < FIRST_TIME * highest - 0.01 * whole:
        words = (
            f"the load is {100 * load / highest if highest > 0 else 0:.0f} % of what was carried "
            "before: nothing opens or yields for the first time there"
        )
        signs.append(Sign(Side.GAUGE, 2.0, words))
    if seen.predicted is None:
        unasked.append("nothing predicts the gauge: no member's record")
        return
    cracking, yielding = seen.predicted.cracking_load, seen.predicted.yield_load
    if is_step and cracking is not None and load < NO_CRACK_BELOW * float(cracking.value):
        words = (
            f"the load is {100 * load / float(cracking.value):.0f} % of the predicted cracking load"
        )
        signs.append(Sign(Side.GAUGE, 1.0, words))
    if yielding is not None and load < 0.85 * float(yielding.value):
        unasked.append("yield isn't due: the load is below 85 % of that predicted for yield")


def by_step(seen: Seen, step: float, signs: list[Sign], unasked: list[str]) -> None:
    """What the jump itself shows: its sign and size, and how the gauge follows its load after."""
    before = _follows(seen, seen.place - FAR, seen.place - 1)
    after = _follows(seen, seen.place + 2, seen.place + FAR)
    rises = before[0] if before is not None else 0.0
    if rises and step * rises < 0:
        words = "it jumped against the way it follows its load: a crack adds to that"
        signs.append(Sign(Side.GAUGE, 1.0, words))
    if seen.predicted is not None:
        gap = float(seen.predicted.cracked.value[0] - seen.predicted.uncracked.value[0])
        below = float(np.nan_to_num(seen.strain[max(seen.place - 2, 0)])) < 0.8 * seen.yields_at
        if below and gap > 0 and abs(step) > LARGEST * gap:
            words = (
                f"it jumped by {abs(step) * 1e6:.0f} µε, where a crack at this load makes "
                f"{gap * 1e6:.0f} µε at most"
            )
            signs.append(Sign(Side.GAUGE, 2.0, words))
    if before is None or after is None:
        unasked.append("the load doesn't move on both sides, so how it follows can't be compared")
    else:
        _compare(before, after, signs, unasked)
    noises = [
        quality.noise_floor(seen.strain[max(cut.start, 0) : cut.stop])
        for cut in (slice(seen.place - NEAR, seen.place), slice(seen.place + 2, seen.place + NEAR))
    ]
    if all(np.isfinite(noises)) and noises[0] > 0 and noises[1] > LOUDER * noises[0]:
        words = f"it is {noises[1] / noises[0]:.1f} times as noisy after it"
        signs.append(Sign(Side.GAUGE, 1.0, words))
    _left(seen, step, signs, unasked)


def _compare(
    before: tuple[float, float],
    after: tuple[float, float],
    signs: list[Sign],
    unasked: list[str],
) -> None:
    ratio = after[0] / before[0] if before[0] else np.inf
    doubt = abs(ratio) * np.hypot(before[1] / before[0], after[1] / after[0]) if before[0] else 0.0
    if not np.isfinite(ratio):
        unasked.append("it didn't follow the load before")
    elif ratio > MORE + 2 * doubt:
        words = f"it follows its load {ratio:.1f} times as steeply after it: a section that opened"
        signs.append(Sign(Side.SPECIMEN, 2.0, words))
    elif 2 * doubt > SAME:
        unasked.append("how it follows its load is too uncertain on one side")
    elif abs(ratio - 1) <= SAME:
        words = f"it follows its load as before ({ratio:.2f} times): only its level moved"
        signs.append(Sign(Side.GAUGE, 2.0, words))


def _follows(seen: Seen, first: int, last: int) -> tuple[float, float] | None:
    """Rise of strain per load [1/N] over some readings, and its doubt; None if none moves."""
    cut = slice(max(first, 0), max(last, 0))
    load, strain = seen.load[cut], seen.strain[cut]
    # First loads only: unloading follows another line.
    first_time = load >= seen.highest[cut] - 0.005 * float(np.nanmax(np.abs(seen.load)))
    good = np.isfinite(load) & np.isfinite(strain) & first_time
    if good.sum() < 12:
        return None
    load, strain = load[good], strain[good]
    if float(np.ptp(load)) < 0.02 * float(np.nanmax(np.abs(seen.load))):
        return None
    slope, doubt, _ = quality.line_through(load, strain)
    return slope, doubt


def _left(seen: Seen, step: float, signs: list[Sign], unasked: list[str]) -> None:
    """Whether the jump is still there once the load is off again."""
    whole = float(np.nanmax(np.abs(seen.load)))
    before = seen.load[: seen.place] <= 0.05 * whole
    after = seen.load[seen.place :] <= 0.05 * whole
    values = seen.strain[: seen.place][before], seen.strain[seen.place :][after]
    kept = [part[np.isfinite(part)] for part in values]
    if min(part.size for part in kept) < 20:
        unasked.append("the load wasn't taken off afterwards")
        return
    if float(np.nanmax(seen.strain[np.isfinite(seen.strain)])) > 0.9 * seen.yields_at:
        unasked.append("the bar neared yield, so what is left unloaded isn't the jump alone")
        return
    share = float(np.median(kept[1][:200]) - np.median(kept[0][-200:])) / step
    if 0.8 < share < 1.2:
        words = f"unloaded, {100 * share:.0f} % of the jump is left"
        signs.append(Sign(Side.GAUGE, 1.0, words))
    elif -0.2 < share < 0.6:
        words = f"unloaded, only {100 * share:.0f} % of the jump is left, as of a crack that closes"
        signs.append(Sign(Side.SPECIMEN, 1.0, words))


def by_course(seen: Seen, signs: list[Sign], unasked: list[str]) -> None:
    """How strain goes on with load: running away, falling behind, and back when unloaded."""
    steep = _steepness(seen)
    if steep is None:
        return
    early, late, back = steep
    level = float(np.nanmax(seen.strain[np.isfinite(seen.strain)]))
    place = min(seen.place, seen.strain.size - 1)
    now = float(np.nan_to_num(seen.strain[place]))
    if now > 0.85 * seen.yields_at and late > RUNS * early:
        words = (
            f"from {now / seen.yields_at * 100:.0f} % of the yield strain on it rises "
            f"{late / early:.1f} times as steeply"
        )
        signs.append(Sign(Side.SPECIMEN, 2.0, words))
        left = _unloaded(seen)
        if left is None:
            unasked.append("the load wasn't taken off afterwards")
        elif left > PLASTIC * seen.yields_at:
            words = f"unloaded, {left * 1e6:.0f} µε are left, as of metal that yielded"
            signs.append(Sign(Side.SPECIMEN, 2.0, words))
    elif level < 0.85 * seen.yields_at and back is not None and back < (1 - SAME) * early:
        words = f"unloading it gives back only {back / early:.2f} of its rise per load"
        signs.append(Sign(Side.GAUGE, 1.0, words))


def _steepness(seen: Seen) -> tuple[float, float, float | None] | None:
    """Rise per load before and after the instant on loads carried for the first time, and back."""
    highest = seen.highest
    whole = float(np.nanmax(np.abs(seen.load)))
    first_time = np.isfinite(seen.load) & (seen.load >= highest - 0.005 * whole)
    loaded = seen.load > 0.1 * whole
    rows = np.arange(seen.load.size)
    good = first_time & loaded & np.isfinite(seen.strain)
    before, after = good & (rows < seen.place - 2), good & (rows > seen.place + 2)
    found = []
    for part, size in ((before, -2 * FAR), (after, 2 * FAR)):
        at = np.flatnonzero(part)
        at = at[size:] if size < 0 else at[:size]
        if at.size < 20 or float(np.ptp(seen.load[at])) < 0.01 * whole:
            return None
        found.append(float(quality.line_through(seen.load[at], seen.strain[at])[0]))
    if found[0] <= 0:
        return None
    down = np.flatnonzero((rows > seen.place) & (np.gradient(seen.load) < 0) & loaded & ~first_time)
    down = down[np.isfinite(seen.strain[down])][-FAR:]
    back = None
    if down.size > 20 and float(np.ptp(seen.load[down])) > 0.1 * whole:
        back = float(quality.line_through(seen.load[down], seen.strain[down])[0])
    return found[0], found[1], back


def _unloaded(seen: Seen) -> float | None:
    """Strain left when the load is off after the instant; None where it isn't taken off."""
    whole = float(np.nanmax(np.abs(seen.load)))
    rest = seen.strain[seen.place :][seen.load[seen.place :] <= 0.05 * whole]
    rest = rest[np.isfinite(rest)]
    return float(np.median(rest)) if rest.size >= 20 else None


def goes_on(seen: Seen) -> float | None:
    """Rise from the instant to the highest load below yield, over the strain had by then."""
    top = int(np.nanargmax(np.where(np.isfinite(seen.load), seen.load, -np.inf)))
    beyond = np.flatnonzero(seen.strain[: top + 1] > 0.9 * seen.yields_at)
    last = int(beyond[0]) if beyond.size else top
    if last <= seen.place + 20:
        return None
    ends = [float(np.nanmedian(seen.strain[max(at - 5, 0) : at + 6])) for at in (seen.place, last)]
    loads = [float(np.nanmedian(seen.load[max(at - 5, 0) : at + 6])) for at in (seen.place, last)]
    if ends[0] <= 0 or loads[1] - loads[0] < 0.05 * abs(loads[1]):
        return None
    # Over the loads, so that one that ends earlier isn't behind for that alone.
    return (ends[1] - ends[0]) / (loads[1] - loads[0]) / (ends[0] / loads[0])
