"""Draws benches, lets the fault finder and a plain rule table judge them, and counts."""

import copy
import itertools
from collections import defaultdict
from dataclasses import dataclass

import numpy as np

from gaugewright.calc.diagnosis import Finder
from gaugewright.calc.diagnosis_causes import HEALTHY, NONE_OF_THESE, Reading, ReadingError
from gaugewright.calc.diagnosis_circuit import Setup
from tests.calc import benches

SIZES = ((120.0, 0.4), (120.0, 1.34), (120.0, 2.7), (350.0, 1.34), (350.0, 3.0))
SHUNT = {120.0: 59880.0, 350.0: 174650.0}
FIRST = ("A-B", "A-C", "B-C", "insulation", "bridge", "shunt step")
# How often each is left out: nobody reads everything.
LEFT_OUT = dict(zip(FIRST, (0.05, 0.1, 0.1, 0.25, 0.4, 0.6), strict=True))


def finders(book):
    return {
        size: Finder(
            Setup(size[0], size[1], size[0], SHUNT[size[0]], size[0]),
            book.causes_for(Setup(size[0], size[1], size[0])),
            book.allowances,
            book.signs,
        )
        for size in SIZES
    }


def as_reading(one):
    hand = one.hand
    error = ReadingError(hand.share, hand.fixed, hand.digit, hand.digit / 3, hand.highest)
    return Reading(one.what, one.value, error, one.bound)


@dataclass
class Case:
    kind: str  # healthy, the fault's name, two at once, unlisted
    size: tuple
    truth: dict
    was: dict
    ohmmeter: benches.Hand
    readings: tuple
    classes: list
    bench: benches.Bench
    earlier: tuple

    @property
    def seen(self):
        """Beyond the doubt of the meters."""
        return benches.exceeds(self.bench, (self.was, self.truth), self.readings)

    @property
    def clear(self):
        """Beyond the doubt of meters and records."""
        before = bool(self.earlier)
        return benches.exceeds(
            self.bench, (self.was, self.truth), self.readings, records=True, known_before=before
        )


def drawn(rng):
    """One gauge: a quarter healthy, a tenth with two faults, a twentieth with an unlisted one."""
    size = SIZES[rng.integers(len(SIZES))]
    bench = benches.sound(rng, *size)
    was = bench.truth(SHUNT[size[0]])
    earlier = ()
    if rng.uniform() < 0.5:
        earlier = benches.shown(was, benches.PAIRS, benches.OHMMETER, rng)
    lot, classes, alone = rng.uniform(), [], []
    if lot < 0.25:
        kind = "healthy"
        classes = [{HEALTHY}]
    elif lot < 0.35:
        pair = benches.TWO[rng.integers(len(benches.TWO))]
        kind = "two at once"
        for name in pair:
            alone.append(copy.deepcopy(bench).truth(SHUNT[size[0]]))
            benches.FAULTS[name][0](bench, rng)
            classes.append(benches.FAULTS[name][1])
    elif lot < 0.40:
        kind = "unlisted"
        benches.UNLISTED[sorted(benches.UNLISTED)[rng.integers(3)]](bench, rng)
        classes = [{NONE_OF_THESE}]
    else:
        kind = sorted(benches.FAULTS)[rng.integers(len(benches.FAULTS))]
        make, alike = benches.FAULTS[kind]
        make(bench, rng)
        classes = [alike]
    truth = bench.truth(SHUNT[size[0]])
    ohmmeter = benches.COARSE if rng.uniform() < 0.15 else benches.OHMMETER
    whats = [w for w in FIRST if rng.uniform() > LEFT_OUT[w]] or ["A-B"]
    if abs(truth["bridge"]) >= benches.BRIDGE.highest and "shunt step" in whats:
        whats.remove("shunt step")
    readings = benches.shown(truth, whats, ohmmeter, rng)
    if kind == "two at once":
        hidden = _hidden(bench, (*alone, truth), readings, known_before=bool(earlier))
        if any(hidden):
            kind = "two at once, one hidden"
            classes = [one for one, is_hidden in zip(classes, hidden, strict=True) if not is_hidden]
            classes = classes or [{HEALTHY}]
    return Case(kind, size, truth, was, ohmmeter, readings, classes, bench, earlier)


def _hidden(bench, truths, readings, *, known_before):
    """Of two faults, whether each changed no reading that was taken beyond what is in doubt."""
    was, first, both = truths
    rng = np.random.default_rng(3)  # digits only
    ohmmeter = next((o.hand for o in readings if o.what in benches.PAIRS), benches.OHMMETER)
    between = benches.shown(first, [one.what for one in readings], ohmmeter, rng)
    return tuple(
        not benches.exceeds(bench, pair, taken, records=True, known_before=known_before)
        for pair, taken in (((was, first), between), ((first, both), readings))
    )


def is_right(cause, classes):
    """Whether a cause names what is there: all of it, and nothing else."""
    parts = cause.parts or (cause.label,)
    if len(classes) == 2 and len(parts) == 2:
        one, two = parts
        return (one in classes[0] and two in classes[1]) or (
            two in classes[0] and one in classes[1]
        )
    return len(parts) == len(classes) == 1 and parts[0] in classes[0]


@dataclass
class Judged:
    case: Case
    first: bool
    by_group: bool
    third: bool
    repair: bool
    settled: bool
    called_healthy: bool
    weight: float
    rule: bool
    rule_repair: bool
    named: int
    told: str


def judged(case, finder):
    earlier = [[as_reading(one) for one in case.earlier]] if case.earlier else []
    told = finder.diagnosis([as_reading(one) for one in case.readings], earlier=earlier)
    rule = benches.rule_table(*case.size, case.readings)
    labels = [is_right(group.causes[0].cause, case.classes) for group in told.groups[:3]]
    inside = any(is_right(one.cause, case.classes) for one in told.first.named)
    three = any(
        is_right(one.cause, case.classes) for group in told.groups[:3] for one in group.named
    )
    return Judged(
        case,
        labels[0],
        inside,
        three,
        told.repair,
        told.settled,
        told.first.causes[0].cause.label == HEALTHY,
        told.first.weight,
        len(case.classes) == 1 and rule in case.classes[0],
        rule not in (HEALTHY, NONE_OF_THESE),
        len(told.first.named),
        told.first.label,
    )


def run(book, seed, count):
    made = finders(book)
    rng = np.random.default_rng(seed)
    cases = [drawn(rng) for _ in range(count)]
    return [judged(case, made[case.size]) for case in cases]


def share(judgements, name):
    return float(np.mean([getattr(one, name) for one in judgements])) if judgements else np.nan


def by_kind(judgements):
    found = defaultdict(list)
    for one in judgements:
        found[one.case.kind].append(one)
    return dict(sorted(found.items()))


def reliability(judgements, edges=(0.0, 0.9, 0.97, 0.99, 1.0001)):
    """Of first groups shown with a percentage: how often right, by the percentage shown."""
    shown = [one for one in judgements if one.settled]
    rows = []
    for low, high in itertools.pairwise(edges):
        inside = [one for one in shown if low <= one.weight < high]
        if inside:
            rows.append(
                (low, high, len(inside), share(inside, "weight"), share(inside, "by_group"))
            )
    return rows


def singles(judgements):
    """One fault of the list, no more."""
    aside = ("healthy", "unlisted", "two at once", "two at once, one hidden")
    return [one for one in judgements if one.case.kind not in aside]
