"""Do two opposite gauges stay together over months: their mean, their bending, and what it did?"""

from dataclasses import dataclass
from datetime import timedelta

import numpy as np
import numpy.typing as npt

from gaugewright.calc.seasons import YEAR
from gaugewright.calc.uncertainty import Uncertain
from gaugewright.errors import Faults, InputError
from gaugewright.present.units_shown import quantity_shown
from gaugewright.quantities import FloatArray
from gaugewright.records import Entry
from gaugewright.records.electrical import BridgeCircuit
from gaugewright.records.gauges import Gauge
from gaugewright.services.campaign.coverage import COVERAGE
from gaugewright.services.long_run.term import LongTerm, gauges
from gaugewright.services.long_run.words import WordTable
from gaugewright.services.reading.series import EPOCH
from gaugewright.services.showing.page import Page
from gaugewright.services.strain.strains import CircuitStrain, Desk

__all__ = ["LongPair", "Stretch", "pair_of", "pair_sentence", "pair_table"]

Rows = npt.NDArray[np.int64]

MONTH = YEAR / 12
FEWEST_STRETCHES = 3
STRETCHES = 10  # of a record shorter than three months
FEWEST = 8  # readings of a stretch
TAKEN = 200  # readings of a stretch whose uncertainty is worked out, evenly spread
NEAR = 1.5  # usual steps within which a reading of the other is of the same time


@dataclass(frozen=True, slots=True)
class Stretch:
    """Mean and bending of a pair over a month, or a tenth of a shorter record [1]."""

    begins: float
    ends: float
    readings: int
    mean: Uncertain
    bending: Uncertain


@dataclass(frozen=True, slots=True)
class LongPair:
    """A gauge with its opposite; ``change`` is bending in the last stretch less in the first.

    Bending is half of this gauge less its opposite. It may follow the seasons, so ``widest`` tells
    the largest change from the first stretch, wherever it was.
    """

    other: Entry[Gauge]
    stretches: tuple[Stretch, ...]
    change: Uncertain
    widest: Uncertain
    widest_at: float

    @property
    def falls_apart(self) -> bool:
        """Whether bending changed by more than its expanded uncertainty and stayed changed."""
        return abs(float(self.change.value)) > float(self.change.expanded(COVERAGE))


def pair_of(desk: Desk, look: LongTerm) -> LongPair | None:
    """The pair that a gauge makes with its opposite; None without one that has strain.

    Everything both gauges owe alike (gauge factor of the pack, temperature, the recorder) takes
    no part in bending beyond its own size; zeros carried over and drift allowed for do.
    """
    found = _opposite(desk, look)
    if found is None:
        return None
    circuit, other = found
    try:
        beside = desk.strain(circuit, look.zero)
    except (InputError, Faults):
        return None  # no strain of the other: reducing tells what is missing
    own, theirs = _together(look.strain, beside)
    stretches = tuple(_stretches(look.strain, beside, own, theirs))
    if len(stretches) < FEWEST_STRETCHES:
        return None
    changes = [each.bending - stretches[0].bending for each in stretches[1:]]
    widest = max(range(len(changes)), key=lambda place: abs(float(changes[place].value)))
    at = stretches[widest + 1]
    return LongPair(other, stretches, changes[-1], changes[widest], (at.begins + at.ends) / 2)


def _opposite(desk: Desk, look: LongTerm) -> tuple[Entry[BridgeCircuit], Entry[Gauge]] | None:
    own = look.gauge
    for circuit, gauge in gauges(desk).values():
        if own.record.opposite == gauge.uid or gauge.record.opposite == own.uid:
            return circuit, gauge
    return None


def _together(one: CircuitStrain, other: CircuitStrain) -> tuple[Rows, Rows]:
    """Rows of both that were read at the same time, in order."""
    good = np.flatnonzero(np.isfinite(one.strain) & np.isfinite(one.time))
    there = np.flatnonzero(np.isfinite(other.strain) & np.isfinite(other.time))
    if good.size < 2 or there.size < 2:
        return good[:0], there[:0]
    there = there[np.argsort(other.time[there], kind="stable")]
    time, wanted = other.time[there], one.time[good]
    place = np.clip(np.searchsorted(time, wanted), 1, time.size - 1)
    before = wanted - time[place - 1] < time[place] - wanted
    nearest = np.where(before, place - 1, place)
    step = float(np.median(np.diff(time)))
    near = np.abs(time[nearest] - wanted) <= NEAR * step
    return good[near], there[nearest[near]]


def _stretches(one: CircuitStrain, other: CircuitStrain, own: Rows, theirs: Rows) -> list[Stretch]:
    if not own.size:
        return []
    time = one.time[own]
    begins, ends = float(time.min()), float(time.max())
    width = MONTH if ends - begins >= FEWEST_STRETCHES * MONTH else (ends - begins) / STRETCHES
    found = []
    for begin in np.arange(begins, ends, width).tolist():
        inside = np.flatnonzero((time >= begin) & (time < begin + width))
        if inside.size < FEWEST:
            continue
        taken = inside[np.linspace(0, inside.size - 1, min(TAKEN, inside.size)).astype(np.int64)]
        first, second = _mean(one, own[taken]), _mean(other, theirs[taken])
        half = (first + second) / 2, (first - second) / 2
        last = float(time[inside[-1]])
        found.append(Stretch(float(time[inside[0]]), last, int(inside.size), *half))
    return found


def _mean(strain: CircuitStrain, rows: FloatArray | Rows) -> Uncertain:
    return strain.uncertain(np.unique(rows)).mean()


def pair_sentence(page: Page, pair: LongPair) -> str:
    """Whether the pair fell apart, with its number."""
    name = pair.other.record.label
    change = _shown(page, pair.change)
    if pair.falls_apart:
        return (
            f"It fell apart from its opposite {name}: bending changed by {change} from the first "
            "stretch to the last. The bar bent, or one of the two moved by itself: bond, contact, "
            "leak; the mean of the two owes half of that."
        )
    return f"It stays together with its opposite {name}: bending changed by {change}."


def pair_table(page: Page, pair: LongPair) -> WordTable:
    """Mean and bending of a pair, stretch by stretch."""
    rows = tuple(
        (
            _moment(page, each.begins),
            _moment(page, each.ends),
            str(each.readings),
            _shown(page, each.mean),
            _shown(page, each.bending),
        )
        for each in pair.stretches
    )
    at = _moment(page, pair.widest_at)
    return WordTable(
        "pair",
        f"With {pair.other.record.label}",
        f"Bending is half of this gauge less its opposite. {pair_sentence(page, pair)} The "
        f"largest change was {_shown(page, pair.widest)}, about {at}.",
        ("From", "To", "Readings", "Mean of both", "Bending"),
        rows,
        "The two were never read together for long enough.",
    )


def _shown(page: Page, value: Uncertain) -> str:
    number, doubt = float(value.value), float(value.expanded(COVERAGE))
    return quantity_shown("strain", number, doubt or None, page.system, sign=True).text


def _moment(page: Page, seconds: float) -> str:
    return page.moment(EPOCH + timedelta(seconds=seconds))
