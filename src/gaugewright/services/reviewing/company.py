"""Checks that judge a gauge by others: its opposite, those placed alike, and the load."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

from gaugewright.calc import onset, quality
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray
from gaugewright.records import Entry
from gaugewright.records.gauges import Gauge
from gaugewright.records.identity import Uid
from gaugewright.records.proof import ZeroKind
from gaugewright.records.readings import Finding, Severity
from gaugewright.records.specimen import SteelLaw
from gaugewright.services.campaign.book import Book
from gaugewright.services.loading.yields import yield_strain
from gaugewright.services.reviewing.checks import Watched
from gaugewright.services.strain.strains import Desk
from gaugewright.services.under_load.loads import load_at, load_series
from gaugewright.services.work.side_by_side import side_by_side

__all__ = [
    "Answer",
    "alike",
    "answers_to_load",
    "exchanged_places",
    "falling_away",
    "has_load",
    "nearing_yield",
    "on_yielding_bar",
    "out_of_company",
    "silent",
]

# Shares of the load at which the first gauge nears yield: up to where bond lines may begin to
# give way, cracked, and still elastic.
FIRST = (0.10, 0.45)
EARLY = (0.45, 0.70)
LATE = (0.75, 1.00)
# By how much late rises over early ones may differ from bar to bar: concrete between its cracks
# carries a share that each bar has of its own (choice of this project, no source).
BARS_APART = 0.4
# Rise per load late over before from which on a section was whole before and cracked late: whole,
# steel takes several times less (choice of this project, no source).
OPENED = 2.0
ANSWERING = 0.02  # of the largest rise per load: below it likes don't answer themselves


@dataclass(frozen=True, slots=True)
class Answer:
    """How one gauge answers to load between cracking and yield.

    ``first``, ``early`` and ``late`` are rises of strain per load [1/N] in three windows, the
    first NaN where its readings are missing, ``level`` the strain at the upper end of the late
    window, ``recording`` and ``rows`` where that is.
    """

    watched: Watched
    first: float
    early: float
    late: float
    level: float
    doubt: float
    recording: Uid
    rows: tuple[int, int]


def answers_to_load(
    desk: Desk, watched: tuple[Watched, ...], *, between: Callable[[], None] = lambda: None
) -> tuple[Answer, ...]:
    """Answers of all gauges whose metal can yield and whose record covers both windows.

    ``between`` is called after each gauge; what it raises stops the work.
    """
    limit = _elastic_load(desk, watched) if has_load(desk) else None
    if limit is None:
        return ()
    asked = [one for one in watched if on_yielding_bar(desk, one)]
    found: list[Answer] = []
    for answer in side_by_side(lambda one: _answer(desk, one, limit), asked, at_once=desk.at_once):
        found += [answer] if answer is not None else []
        between()
    return tuple(found)


def on_yielding_bar(desk: Desk, watched: Watched) -> bool:
    """Whether the metal under a gauge can yield."""
    return desk.book.material_of(watched.gauge).record.law is not SteelLaw.ELASTIC


def has_load(desk: Desk) -> bool:
    """Whether the campaign has one load cell with readings: without, nothing answers to it."""
    try:
        load_series(desk)
    except InputError:
        return False
    return True


def _strain(desk: Desk, watched: Watched) -> tuple[FloatArray, FloatArray]:
    """Load and strain since the test zero, up to where the load was recorded."""
    strain = desk.strain(watched.circuit, ZeroKind.BEFORE_TEST)
    return load_at(desk, strain.time), strain.strain


def _elastic_load(desk: Desk, watched: tuple[Watched, ...]) -> float | None:
    """Load at which the first three gauges (or all, if fewer) have neared yield."""
    found = (nearing_yield(desk, one) for one in watched if on_yielding_bar(desk, one))
    loads = [load for load in found if load is not None]
    return sorted(loads)[min(2, len(loads) - 1)] if loads else None


def nearing_yield(desk: Desk, watched: Watched) -> float | None:
    """Load at which a gauge first neared yield, None where it never did; worked out once."""
    return watched.once("nearing yield", lambda: _nearing_yield(desk, watched))


def _nearing_yield(desk: Desk, watched: Watched) -> float | None:
    threshold = 0.85 * yield_strain(desk, desk.book.material_of(watched.gauge)).value.item()
    load, strain = _strain(desk, watched)
    index = onset.first_passage(np.where(np.isfinite(load), strain, np.nan), threshold)
    return None if index is None else float(load[index])


def _answer(desk: Desk, watched: Watched, top: float) -> Answer | None:
    load, strain = _strain(desk, watched)
    known = np.isfinite(load) & np.isfinite(strain)
    # First time up only: cracks stay open afterwards and unloading follows another line.
    highest = np.fmax.accumulate(np.where(np.isfinite(load), load, -np.inf))
    first_reach = np.searchsorted(highest, top)
    rising = known & (load >= highest - 0.005 * top)
    rising[first_reach:] = False
    slopes: list[float] = []
    for low, high in (FIRST, EARLY, LATE):
        window = rising & (load >= low * top) & (load <= high * top)
        try:
            slopes.append(quality.line_through(load[window], strain[window])[0])
        except InputError:
            if low is not FIRST[0]:
                return None
            slopes.append(float("nan"))
    rows = np.flatnonzero(rising & (load >= 0.95 * top))
    if not rows.size:
        return None
    reduced = desk.strain(watched.circuit, ZeroKind.BEFORE_TEST)
    level = reduced.uncertain(rows).mean()
    at = int(np.searchsorted(reduced.begins, rows[0], side="right")) - 1
    stretch = reduced.pieces[at].stretch
    shift = stretch.first_row - reduced.begins[at]
    return Answer(
        watched,
        slopes[0],
        slopes[1],
        slopes[2],
        level.value.item(),
        level.standard_uncertainty().item(),
        stretch.recording.uid,
        (int(rows[0]) + shift, int(rows[-1]) + shift),
    )


def falling_away(desk: Desk, answers: tuple[Answer, ...]) -> Iterator[Finding]:
    """A gauge that follows the load less and less, against what similar gauges do.

    Between cracking and yield steel takes a growing share, so a rise of strain per load that
    falls points to a bond line giving way. Everything that multiplies a reading (gauge factor,
    installation, leads) drops out of the ratio late over early. A bond line that gives way early
    has spoilt the second window too: late is held against the first as well. Where the section
    cracked in between, opposite sides of a bar differ by its bending, which is allowed for.
    """
    limit = desk.book.limit("falling away")
    limits = limit.record.value, desk.book.limit("local bending share").record.value
    for answer in answers:
        likes = [other for other in answers if other is not answer and _alike(desk, answer, other)]
        told = [
            fall
            for before in ("early", "first")
            if (fall := _fall(answer, likes, before, limits)) is not None
        ]
        if not told:
            continue
        ratio, middle, allowed = min(told, key=lambda fall: fall[0] / fall[1])
        label = answer.watched.gauge.record.label
        yield Finding(
            "falling away",
            answer.watched.gauge.uid,
            answer.recording,
            *answer.rows,
            ratio / middle,
            "1",
            1 - allowed,
            limit.record.source,
            f"{label} follows the load less and less: its rise per load became {ratio:.2f} times "
            f"what it was, against {middle:.2f} times for similar gauges",
            Severity.DOUBTFUL,
        )


def _fall(
    answer: Answer, likes: list[Answer], before: str, limits: tuple[float, float]
) -> tuple[float, float, float] | None:
    """Rise per load late over before, that of its likes, and what may lie between.

    None where the gauge doesn't fall away, or its likes don't tell.
    """

    def ratio(one: Answer) -> float:
        return one.late / float(getattr(one, before))

    others = np.asarray([each for other in likes if np.isfinite(each := ratio(other))])
    middle = float(np.median(others)) if others.size else 0.0
    own = ratio(answer)
    if not middle > 0 or not np.isfinite(own):
        return None
    # Where similar gauges differ much among themselves (cracks come one by one), more is needed
    # to stand out than the limit alone.
    spread = quality.robust_spread(others) if others.size >= 4 else 0.0
    limit, bending = limits
    allowed = max(limit, 3 * spread / middle)
    if middle > OPENED:
        # The section was whole before: a bar bends otherwise there than beside a crack, and steel
        # took a small part of what it takes now. The bending of the bar no longer drops out.
        allowed = max(allowed, 3 * bending)
    if own / middle >= 1 - allowed:
        return None
    # What the bar does at a place, its opposite shares: cracks come at their own loads. One that
    # is at odds with the other bars too may be the gauge that is wrong, and then they must do.
    opposites = [ratio(other) for other in likes if _are_opposite(answer, other)]
    if any(own / each >= 1 - allowed for each in opposites):
        return None
    far = [ratio(other) for other in likes if not _are_opposite(answer, other)]
    apart = float(np.nanmedian(far)) if np.isfinite(far).any() else middle
    witness = any(abs(each / apart - 1) <= allowed for each in opposites)
    if not witness and own / apart >= 1 - BARS_APART:
        return None
    return own, middle, allowed


def out_of_company(desk: Desk, answers: tuple[Answer, ...]) -> Iterator[Finding]:
    """A gauge far from the mean of similar ones: same distance along like bars, or its opposite.

    Those that fall away are judged, but judge nobody.

    What counts as far is the doubt of the difference, and an allowance for local bending of the
    bar; with one companion only, nothing tells which of the two is wrong and both are named.
    """
    bending = desk.book.limit("local bending share")
    falling = {finding.subject for finding in falling_away(desk, answers)}
    steady = [answer for answer in answers if answer.watched.gauge.uid not in falling]
    for answer in answers:
        likes = [other for other in steady if other is not answer and _alike(desk, answer, other)]
        if not likes:
            continue
        middle = float(np.median([other.level for other in likes]))
        doubt = float(np.hypot(answer.doubt, np.median([o.doubt for o in likes])))
        allowed = 3 * doubt + bending.record.value * abs(middle)
        away = answer.level - middle
        if abs(away) <= allowed:
            continue
        # What a bar does at a place, its opposite shares; then the bar differs, not the gauge.
        opposites = [other for other in likes if _are_opposite(answer, other)]
        if any(abs(answer.level - other.level) <= allowed for other in opposites):
            continue
        label = answer.watched.gauge.record.label
        names = ", ".join(other.watched.gauge.record.label for other in likes[:6])
        yield Finding(
            "differs from similar gauges",
            answer.watched.gauge.uid,
            answer.recording,
            *answer.rows,
            away,
            "1",
            allowed,
            bending.record.source,
            f"{label} reads {answer.level * 1e6:.0f} µε where {names} read "
            f"{middle * 1e6:.0f} µε in the middle",
            Severity.DOUBTFUL if len(likes) > 1 else Severity.NOTE,
        )


def exchanged_places(desk: Desk, answers: tuple[Answer, ...]) -> Iterator[Finding]:
    """Two gauges that each read as the other's likes do, and not as their own."""
    bending = desk.book.limit("local bending share")
    asked = [(answer, _of_likes(desk, answer, answers)) for answer in answers]
    known = [(answer, *likes) for answer, likes in asked if likes is not None]
    for number, (one, own, doubt) in enumerate(known):
        for other, others, others_doubt in known[number + 1 :]:
            if _alike(desk, one, other):
                continue
            allowed = 3 * max(doubt, others_doubt) + bending.record.value * abs(own)
            apart = min(abs(one.level - own), abs(other.level - others))
            crosswise = max(abs(one.level - others), abs(other.level - own))
            if apart <= 2 * allowed or crosswise > allowed:
                continue
            for each, mate in ((one, other), (other, one)):
                yield Finding(
                    "exchanged",
                    each.watched.gauge.uid,
                    each.recording,
                    *each.rows,
                    apart,
                    "1",
                    2 * allowed,
                    bending.record.source,
                    f"{each.watched.gauge.record.label} reads as gauges at the place of "
                    f"{mate.watched.gauge.record.label} do, and that one as those here: channels "
                    "or labels may be exchanged",
                    Severity.DOUBTFUL,
                )


def _of_likes(
    desk: Desk, answer: Answer, answers: tuple[Answer, ...]
) -> tuple[float, float] | None:
    """Level in the middle of a gauge's likes and the doubt of the difference; None without two."""
    likes = [other for other in answers if other is not answer and _alike(desk, answer, other)]
    if len(likes) < 2:
        return None
    middle = float(np.median([other.level for other in likes]))
    return middle, float(np.hypot(answer.doubt, np.median([o.doubt for o in likes])))


def _are_opposite(one: Answer, other: Answer) -> bool:
    here, there = one.watched.gauge, other.watched.gauge
    return here.record.opposite == there.uid or there.record.opposite == here.uid


def _alike(desk: Desk, one: Answer, other: Answer) -> bool:
    return alike(desk.book, one.watched.gauge, other.watched.gauge)


def alike(book: Book, first: Entry[Gauge], second: Entry[Gauge]) -> bool:
    """Whether two gauges should read alike: opposites, or the same distance along like bars."""
    if first.record.opposite == second.uid or second.record.opposite == first.uid:
        return True
    here, there = book.station_of(first).record, book.station_of(second).record
    bars = book.bar_of(first), book.bar_of(second)
    same_row = bars[0].record.specimen == bars[1].record.specimen
    same_size = bars[0].record.size == bars[1].record.size
    return same_row and same_size and abs(here.distance_planned - there.distance_planned) < 0.025


def silent(desk: Desk, answers: tuple[Answer, ...]) -> Iterator[Finding]:
    """A gauge that hardly answers while similar ones do: shorted, unbonded or mixed up.

    Held against its likes alone: where a part of a member isn't cracked yet, or near a bar's end,
    none of them answers much, rightly.
    """
    limit = desk.book.limit("silent share")
    largest = max((abs(answer.late) for answer in answers), default=0.0)
    for answer in answers:
        likes = [other for other in answers if other is not answer and _alike(desk, answer, other)]
        middle = float(np.median([other.late for other in likes])) if likes else 0.0
        if abs(middle) <= ANSWERING * largest:
            continue
        if abs(answer.late) >= limit.record.value * abs(middle):
            continue
        label = answer.watched.gauge.record.label
        yield Finding(
            "silent",
            answer.watched.gauge.uid,
            answer.recording,
            *answer.rows,
            answer.late / middle,
            "1",
            limit.record.value,
            limit.record.source,
            f"{label} hardly answers to load: {100 * answer.late / middle:.0f} % of what similar "
            "gauges do",
            Severity.DOUBTFUL,
        )
