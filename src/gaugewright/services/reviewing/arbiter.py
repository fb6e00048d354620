"""Is it the gauge that fails, or the specimen that cracks or yields? Evidence, and a verdict.

Each sign speaks for one side with a weight. A verdict needs more than the other side has by
``ENOUGH``; anything less is said to be open, with what would decide. Weights are common practice
without a source; how often they are right on records made apart is in the documentation.
"""

import contextlib
from dataclasses import dataclass

import numpy as np

from gaugewright.calc import quality
from gaugewright.errors import Faults, InputError
from gaugewright.records import Entry
from gaugewright.records.proof import GateCheck, Verdict, ZeroKind
from gaugewright.records.readings import Finding
from gaugewright.records.specimen import SteelLaw
from gaugewright.services.loading.yields import yield_strain
from gaugewright.services.reviewing.arbiter_signs import (
    SAME,
    Seen,
    Side,
    Sign,
    by_course,
    by_load,
    by_step,
    goes_on,
    lost,
    step_at,
)
from gaugewright.services.reviewing.checks import Watched
from gaugewright.services.reviewing.company import alike
from gaugewright.services.reviewing.leaps import leaps_of, moved
from gaugewright.services.reviewing.review import everybody
from gaugewright.services.section.predictions import predicted_strain
from gaugewright.services.strain.strains import Desk
from gaugewright.services.under_load.loads import load_at, load_series

__all__ = ["Judged", "Side", "Sign", "judged", "judged_of"]

ENOUGH = 2.0
BEGINS = 0.72  # of the load where a course was found: between the windows it is held in
OF_A_COURSE = ("falling away", "differs from similar gauges", "silent")


@dataclass(frozen=True, slots=True)
class Judged:
    """A verdict on one gauge at one instant, with its evidence and what it couldn't ask.

    ``cause`` is in words: "the specimen cracks", "the specimen yields", "a contact or joint of
    the gauge", "the bond of the gauge gives way", "the gauge is lost", or "can't be told".
    """

    side: Side
    cause: str
    signs: tuple[Sign, ...]
    unasked: tuple[str, ...]
    sentence: str


def judged(
    desk: Desk,
    watched: tuple[Watched, ...],
    one: Watched,
    instant: float,
    *,
    is_course: bool = False,
    known: tuple[Sign, ...] = (),
) -> Judged:
    """Verdict on what one gauge did at an instant of the campaign [s].

    ``is_course`` asks for what goes on from there, whatever leapt just then; ``known`` is what was
    found of that course already, so that others aren't asked again.

    Raises
    ------
    InputError
        If the gauge has no strain there, or nothing is known of a load.
    """
    seen = _looked(desk, one, instant)
    if seen is None:
        label = one.gauge.record.label
        what = f"strain of {label} at that instant"
        raise InputError(what, "missing", "worked out", "reducing tells what it lacks")
    signs: list[Sign] = []
    unasked: list[str] = []
    lost(desk, seen, signs)
    step = None if is_course else step_at(seen)
    if not signs:
        if step is not None:
            _by_company(desk, watched, seen, signs, unasked)
            by_step(seen, step, signs, unasked)
        by_load(seen, signs, unasked, is_step=step is not None)
        by_course(seen, signs, unasked)
        signs += known
        if step is None and not known:
            _beside_likes(desk, watched, seen, signs, unasked)
        _by_gates(desk, seen, signs)
    return _verdict(seen, step, signs, unasked)


def judged_of(desk: Desk, finding: Entry[Finding]) -> Judged:
    """Verdict on what a finding is about: at its first row, or where its course begins.

    Raises
    ------
    InputError
        If it names no rows, or its gauge has no strain or no load there.
    """
    record = finding.record
    watched = tuple(everybody(desk))
    one = next((each for each in watched if each.gauge.uid == record.subject), None)
    if one is None or record.first_row is None:
        raise InputError("finding", record.code, "one about rows of a gauge alone in its circuit")
    for stretch in one.stretches:
        row = record.first_row - stretch.first_row
        if stretch.recording.uid == record.recording and 0 <= row < stretch.time.size:
            instant = float(stretch.time[min(row + 1, stretch.time.size - 1)])
            is_course = record.code in OF_A_COURSE
            instant = _on_the_way(desk, instant) if is_course else instant
            known: tuple[Sign, ...] = ()
            if record.code == "falling away":
                words = f"it falls behind: {record.sentence.partition(' ')[2]}"
                known = (Sign(Side.GAUGE, 2.0, words),)
            return judged(desk, watched, one, instant, is_course=is_course, known=known)
    raise InputError("finding", record.code, "about rows that are in the campaign")


def _on_the_way(desk: Desk, instant: float) -> float:
    """When most of the load of an instant was first carried: what goes on from there is a course.

    A gauge that falls behind is found at the top of a loading, after it has begun to.
    """
    series = load_series(desk)
    load = float(np.interp(instant, series.time, series.value))
    beyond = np.flatnonzero(series.value >= BEGINS * load)
    return float(series.time[beyond[0]]) if beyond.size and load > 0 else instant


def _looked(desk: Desk, one: Watched, instant: float) -> Seen | None:
    try:
        whole = desk.strain(one.circuit, ZeroKind.BEFORE_TEST)
        load = load_at(desk, whole.time)
    except (InputError, Faults):
        return None  # what is missing, reducing tells
    if not whole.time.size or not whole.time[0] <= instant <= whole.time[-1]:
        return None
    material = desk.book.material_of(one.gauge)
    limit = np.inf
    if material.record.law is not SteelLaw.ELASTIC:
        limit = yield_strain(desk, material).value.item()
    predicted = None
    place = int(np.searchsorted(whole.time, instant))
    at = float(np.nan_to_num(load[min(place, load.size - 1)]))
    with contextlib.suppress(InputError):  # nothing predicts it: said with what wasn't asked
        predicted = predicted_strain(desk.book, one.gauge, np.array([max(at, 0.0)]))
    return Seen(one, whole.time, whole.strain, load, place, predicted, limit)


def _by_company(
    desk: Desk,
    watched: tuple[Watched, ...],
    seen: Seen,
    signs: list[Sign],
    unasked: list[str],
) -> None:
    """Whether gauges that should have seen the specimen do it, saw it at that instant."""
    instant = float(seen.time[min(seen.place, seen.time.size - 1)])
    saw: list[str] = []
    blind: list[str] = []
    for other in watched:
        own = other.gauge.uid == seen.watched.gauge.uid
        if own or not alike(desk.book, seen.watched.gauge, other.gauge):
            continue
        for told, stretch in zip(leaps_of(desk, other), other.stretches, strict=True):
            inside = stretch.time.size and stretch.time[0] <= instant <= stretch.time[-1]
            around = np.abs(stretch.time - instant) <= 20 * told.scan
            if not inside or np.isfinite(stretch.reading[around]).mean() < 0.5:
                continue
            did = moved(stretch.time, stretch.reading, told.noise, instant, told.scan)
            (saw if did else blind).append(other.gauge.record.label)
    if not saw and not blind:
        unasked.append("no gauge that should read alike was reading")
    elif saw:
        words = f"{', '.join(saw)} moved at the same instant"
        signs.append(Sign(Side.SPECIMEN, 2.0 if len(saw) < 2 else 3.0, words))
    else:
        words = f"{', '.join(blind)} saw nothing at that instant"
        signs.append(Sign(Side.GAUGE, 1.0 if len(blind) < 2 else 2.0, words))
    series = load_series(desk)
    noise = float(np.nan_to_num(quality.noise_floor(series.value)))
    scan = float(np.median(np.diff(seen.time[:120])))
    if moved(series.time, series.value, noise, instant, scan):
        signs.append(Sign(Side.SPECIMEN, 1.0, "the load moved at the same instant"))


def _beside_likes(
    desk: Desk,
    watched: tuple[Watched, ...],
    seen: Seen,
    signs: list[Sign],
    unasked: list[str],
) -> None:
    """How much it follows its load from the instant on, beside the gauges that should be alike."""
    own = goes_on(seen)
    if own is None:
        return
    instant = float(seen.time[min(seen.place, seen.time.size - 1)])
    ratios = {}
    for other in watched:
        if other.gauge.uid != seen.watched.gauge.uid and alike(
            desk.book, seen.watched.gauge, other.gauge
        ):
            beside = _looked(desk, other, instant)
            theirs = None if beside is None else goes_on(beside)
            if theirs is not None:
                ratios[other.gauge.record.label] = theirs
    if not ratios:
        unasked.append("no gauge that should read alike was reading")
        return
    middle = float(np.median(list(ratios.values())))
    names = ", ".join(ratios)
    told = f"from there on it goes on by {own:.2f} of what it had, {names} by {middle:.2f}"
    if own < (1 - SAME) * middle:
        signs.append(Sign(Side.GAUGE, 2.0 if len(ratios) < 2 else 3.0, f"it falls behind: {told}"))
    elif abs(own - middle) <= SAME * middle:
        signs.append(Sign(Side.SPECIMEN, 1.0, f"others do as it does: {told}"))


def _by_gates(desk: Desk, seen: Seen, signs: list[Sign]) -> None:
    """What the gauge's last proof said of it."""
    mine = [c for c in desk.book.of(GateCheck) if c.record.gauge == seen.watched.gauge.uid]
    if not mine:
        return
    last = max(mine, key=lambda check: max(r.measured for r in check.record.readings)).record
    if last.verdict is Verdict.FAIL:
        words = f"it failed the gate {last.gate.value}: {last.reason}"
        signs.append(Sign(Side.GAUGE, 1.0, words))


def _verdict(seen: Seen, step: float | None, signs: list[Sign], unasked: list[str]) -> Judged:
    weights = {
        side: sum(sign.weight for sign in signs if sign.side is side)
        for side in (Side.GAUGE, Side.SPECIMEN)
    }
    ahead = weights[Side.GAUGE] - weights[Side.SPECIMEN]
    side = Side.GAUGE if ahead > 0 else Side.SPECIMEN
    label = seen.watched.gauge.record.label
    ordered = tuple(sorted(signs, key=lambda sign: -sign.weight))
    if abs(ahead) < ENOUGH:
        evenly = "signs speak for both" if signs else "no sign speaks for either"
        words = f"{label}: gauge or specimen can't be told, {evenly}"
        return Judged(Side.OPEN, "can't be told", ordered, tuple(unasked), words)
    cause = _cause(seen, step, side, ordered)
    said = "; ".join(sign.words for sign in ordered if sign.side is side)
    against = [sign.words for sign in ordered if sign.side is not side]
    words = f"{label}: {cause}, because {said}"
    if against:
        words += f"; against it: {'; '.join(against)}"
    return Judged(side, cause, ordered, tuple(unasked), words)


def _cause(seen: Seen, step: float | None, side: Side, signs: tuple[Sign, ...]) -> str:
    words = " ".join(sign.words for sign in signs)
    if side is Side.SPECIMEN:
        if "yield strain" in words or "metal that yielded" in words:
            return "the specimen yields"
        return "the channel's range ends" if "range ends" in words else "the specimen cracks"
    if "open or shorted" in words:
        return "the gauge is lost"
    if step is None and "falls behind" in words:
        return "the bond of the gauge gives way"
    return "a contact or joint of the gauge"
