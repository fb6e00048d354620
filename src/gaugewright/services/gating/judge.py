"""Does a gauge pass a gate, by its readings, its limits, and what its meters may be off?

Each limit is guarded by the expanded uncertainty of the number held against it (JCGM 106:2012,
8.3). Errors of one meter are shared by its readings, so they leave a difference of two.
"""

import math
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from gaugewright.calc import conformity
from gaugewright.calc.diagnosis_templates import wire_shown
from gaugewright.calc.uncertainty import InputQuantity, Uncertain
from gaugewright.present.numbers import significant_text
from gaugewright.present.units_shown import quantity_shown, unit_shown
from gaugewright.records import Entry
from gaugewright.records.identity import Ref
from gaugewright.records.proof import Censor, Gate, GateReading, Limit, Meter, Verdict
from gaugewright.services.campaign.book import Book
from gaugewright.services.gating.fields import INSULATION, READING, TABS, Setup
from gaugewright.services.gating.typed import digit_of, quantity_of, with_unit
from gaugewright.units import unit_named

__all__ = ["Judgement", "Line", "judged", "uncertain_reading"]

_INSULATION_LIMITS = {
    Gate.BONDED: "insulation bonded",
    Gate.WIRED: "insulation wired",
    Gate.AFTER_POUR: "insulation that condemns",
    Gate.BEFORE_TEST: "insulation that condemns",
}
_WATCHED = "insulation after pour"
_POURED = (Gate.AFTER_POUR, Gate.BEFORE_TEST)
_NOMINAL, _WIRES = "gauge resistance from nominal", "lead difference"


@dataclass(frozen=True, slots=True)
class Line:
    """One thing that was judged: by which limit, how it came out, and a sentence about it."""

    what: str
    outcome: str
    sentence: str
    limit: Entry[Limit] | None = None
    better_meter: str = ""


@dataclass(frozen=True, slots=True)
class Judgement:
    """Verdict of a gate with everything it stands on; ``missing`` are fields still to be read."""

    verdict: Verdict
    reason: str
    lines: tuple[Line, ...]
    flags: tuple[str, ...]
    missing: tuple[str, ...]
    limits: tuple[Ref, ...]

    @property
    def looks_odd(self) -> bool:
        """Whether the full set of readings is wanted."""
        return self.verdict is not Verdict.PASS or bool(self.flags)


def uncertain_reading(reading: GateReading, meter: Entry[Meter]) -> Uncertain:
    """An exact reading with the limits of error of its meter and its last digit, in SI.

    Limits are taken as rectangular (JCGM 100:2008, 4.3.7); share and fixed part belong to the
    meter and are common to all its readings, the digit is each reading's own.
    """
    value = reading.value or 0.0
    unit = unit_named(meter.record.unit).factor
    found = Uncertain.exact(value)
    share, fixed = meter.record.error_share, meter.record.error_fixed * unit
    if share:
        gain = InputQuantity(f"share@{meter.uid}", share / math.sqrt(3), meaning="meter, its share")
        found = found + Uncertain.from_input(0.0, gain) * value
    if fixed:
        zero = InputQuantity(f"fixed@{meter.uid}", fixed / math.sqrt(3), meaning="meter, its zero")
        found = found + Uncertain.from_input(0.0, zero)
    digit = digit_of(reading, meter.record) / math.sqrt(12)
    if digit:
        name = f"digit@{reading.what}@{reading.measured.isoformat()}@{reading.typed}"
        found = found + Uncertain.from_input(0.0, InputQuantity(name, digit, meaning="last digit"))
    return found


def judged(book: Book, setup: Setup, readings: Sequence[GateReading]) -> Judgement:
    """Verdict on the readings of one gauge at one gate."""
    desk = _Desk(book, setup, readings)
    lines = (*desk.opened(), *desk.grid(), *desk.wires(), *desk.insulation(), *desk.bridge())
    # What follows from circuit and plug: the reading comes last, and may come later.
    missing = tuple(
        field.what
        for field in setup.fewest
        if field.what != READING and field.what not in desk.read
    )
    outcomes = [line.outcome for line in lines]
    verdict = Verdict.PASS
    if conformity.OUTSIDE in outcomes:
        verdict = Verdict.FAIL
    elif conformity.UNDECIDED in outcomes or missing:
        verdict = Verdict.CANNOT_TELL
    flags = tuple(line.sentence for line in lines if line.outcome == _ODD)
    limits = {line.limit.uid: line.limit.ref for line in lines if line.limit is not None}
    reason = _reason(verdict, lines, missing)
    return Judgement(verdict, reason, lines, flags, missing, tuple(limits.values()))


_ODD = "odd"


def _reason(verdict: Verdict, lines: tuple[Line, ...], missing: tuple[str, ...]) -> str:
    wanted = {
        Verdict.FAIL: (conformity.OUTSIDE,),
        Verdict.CANNOT_TELL: (conformity.UNDECIDED,),
        Verdict.PASS: (conformity.INSIDE, _ODD),
    }[verdict]
    told = [line.sentence for line in lines if line.outcome in wanted]
    told += [line.better_meter for line in lines if line.better_meter and line.outcome in wanted]
    if missing and verdict is not Verdict.FAIL:
        told.append("not read: " + ", ".join(missing))
    return "; ".join(told) or "nothing that a limit speaks of was read"


class _Desk:
    """Readings of one gauge laid out to be judged."""

    def __init__(self, book: Book, setup: Setup, readings: Sequence[GateReading]) -> None:
        self.book, self.setup = book, setup
        self.read: dict[str, GateReading] = {}
        for reading in sorted(readings, key=lambda reading: reading.entered):
            self.read[reading.what] = reading  # the last one holds; the others stay in the record
        self.temperature = next(
            (r.temperature_degc for r in self.read.values() if r.temperature_degc is not None), None
        )

    def meter(self, reading: GateReading) -> Entry[Meter]:
        return self.book.entry(reading.meter, Meter)

    def exact(self, what: str) -> Uncertain | None:
        reading = self.read.get(what)
        if reading is None or reading.censor is not Censor.EXACT:
            return None
        return uncertain_reading(reading, self.meter(reading))

    def opened(self) -> Iterator[Line]:
        """Pairs that are open, or beyond the meter, and what they have in common."""
        pairs = [f.what for f in self.setup.fields if f.quantity == "resistance"]
        beyond = (Censor.OPEN, Censor.ABOVE)
        gone = [p for p in pairs if p in self.read and self.read[p].censor in beyond]
        if gone:
            whole = [p for p in pairs if p in self.read and p not in gone]
            yield Line("open", conformity.OUTSIDE, _open_words(self.setup, gone, whole))

    def grid(self) -> Iterator[Line]:
        """Grid against its card, wires taken off as they were read, else as their record says."""
        loops = [self.exact(f.what) for f in self.setup.fields if f.grids == 0 and f.wires]
        known = [loop for loop in loops if loop is not None]
        if len(known) > 1 and self._apart(known):
            known = []  # one loop has a bad wire, and nobody knows which: the record holds
        for field in self.setup.fields:
            found = self.exact(field.what)
            if found is None or not field.grids or (not field.fewest and field.grids == 1):
                continue
            own = self.setup.wires(field.wires, self.temperature)
            wires = sum(known[1:], known[0]) / len(known) if known and field.wires else own
            nominal = self.setup.pack.gauge_resistance.value * field.grids
            share = (found - wires) / nominal - 1.0
            name = "grid" if field.grids == 1 else f"{field.label} without its wires"
            yield self._shares(f"{name} stands {{}} % from its card", share, field.what)

    def _apart(self, loops: Sequence[Uncertain]) -> bool:
        bound = self.book.limit(_WIRES).record.value
        off = max(loops, key=lambda one: float(one.value)) - min(
            loops, key=lambda one: float(one.value)
        )
        apart = conformity.guarded(float(off.value), float(off.expanded()), -bound, bound)
        return apart == conformity.OUTSIDE

    def _shares(self, words: str, share: Uncertain, what: str) -> Line:
        limit = self.book.limit(_NOMINAL)
        value, doubt = float(share.value), float(share.expanded())
        outcome = conformity.guarded(value, doubt, -limit.record.value, limit.record.value)
        bound = significant_text(100 * limit.record.value)
        told = words.format(significant_text(100 * value, 2, sign=True))
        sentence = f"{told}, limit {bound} %"
        better = ""
        if outcome == conformity.UNDECIDED:
            sentence += f", known to ±{significant_text(100 * doubt, 2)} %"
            room = conformity.room_needed(value, -limit.record.value, limit.record.value)
            ohms = room * self.setup.pack.gauge_resistance.value
            better = _better("resistance", ohms)
        return Line(what, outcome, sentence, limit, better)

    def wires(self) -> Iterator[Line]:
        """Wires of one tab against each other; a loop of wires against the lead's record."""
        compared = False
        for first, second, names in _ALIKE:
            one, other = self.exact(first), self.exact(second)
            if one is None or other is None or not self._have(first, second):
                continue
            compared = True
            yield self._difference(one - other, names, first)
        for field in self.setup.fields:
            loop = self.exact(field.what) if field.grids == 0 and field.wires else None
            if loop is None:
                continue
            own = self.setup.wires(field.wires, self.temperature)
            yield from self._loop(field.label, loop - own, field.what, settled=compared)

    def _have(self, first: str, second: str) -> bool:
        fields = {field.what: field.grids for field in self.setup.fields}
        return first in fields and second in fields and fields[first] == fields[second]

    def _difference(self, off: Uncertain, names: tuple[str, str], what: str) -> Line:
        limit = self.book.limit(_WIRES)
        value, doubt = float(off.value), float(off.expanded())
        bound = limit.record.value
        outcome = conformity.guarded(value, doubt, -bound, bound)
        more, less = names if value >= 0 else names[::-1]
        sentence = f"{more} has {abs(value):.2f} Ω more than {less}, limit {_ohm(bound)}"
        if abs(value) < doubt:
            sentence = f"{names[0]} and {names[1]} are alike, limit {_ohm(bound)}"
        better = ""
        if outcome == conformity.UNDECIDED:
            sentence += f", known to ±{_ohm(doubt)}"
            better = _better("resistance", conformity.room_needed(value, -bound, bound))
        return Line(what, outcome, sentence, limit, better)

    def _loop(self, label: str, off: Uncertain, what: str, *, settled: bool) -> Iterator[Line]:
        """A loop that doesn't fit its record is odd; which wire it is, the full set tells."""
        limit = self.book.limit(_WIRES)
        value, doubt = float(off.value), float(off.expanded())
        bound = limit.record.value
        if conformity.guarded(value, doubt, -bound, bound) != conformity.OUTSIDE:
            return
        words = f"{label} stands {abs(value):.2f} Ω {'above' if value > 0 else 'below'} what the "
        words += "lead’s record gives"
        if settled:
            yield Line(what, _ODD, words, limit)
        else:
            rest = [f.label for f in self.setup.fields if not f.fewest and f.is_unplugged]
            tail = f": read {', '.join(rest)} too, to tell which wire" if rest else ""
            yield Line(what, conformity.UNDECIDED, words + tail, limit)

    def insulation(self) -> Iterator[Line]:
        """Insulation against the gate's limit; after the pour also against what is watched."""
        reading = self.read.get(INSULATION)
        if reading is None:
            return
        gate = self.setup.gate
        limit = self.book.limit(_INSULATION_LIMITS.get(gate, "insulation before pour"))
        outcome = self._leak(reading, limit)
        sentence = f"insulation {self._typed(reading)}, limit {_leak(limit)}"
        better = ""
        if outcome == conformity.UNDECIDED:
            wanted = significant_text(limit.record.value / 1e6)
            better = f"a meter that reads beyond {wanted} MΩ would tell"
            if reading.censor is Censor.EXACT:
                room = abs((reading.value or 0.0) - limit.record.value)
                better = _better("insulation_resistance", room)
        yield Line(INSULATION, outcome, sentence, limit, better)
        if gate in _POURED and outcome == conformity.INSIDE:
            watched = self.book.limit(_WATCHED)
            if self._leak(reading, watched) != conformity.INSIDE:
                words = f"insulation {self._typed(reading)} is to be watched: "
                words += f"good above {_leak(watched)}"
                yield Line(INSULATION, _ODD, words, watched)

    def _typed(self, reading: GateReading) -> str:
        return with_unit(reading, self.meter(reading).record)

    def _leak(self, reading: GateReading, limit: Entry[Limit]) -> str:
        meter = self.meter(reading).record
        wanted = limit.record.value
        if reading.censor is Censor.EXACT:
            found = uncertain_reading(reading, self.meter(reading))
            return conformity.guarded(float(found.value), float(found.expanded()), wanted, math.inf)
        unit = unit_named(meter.unit).factor
        bound = reading.value
        if reading.censor is Censor.OPEN:
            bound = None if meter.highest is None else meter.highest * unit
        if bound is None:
            return conformity.UNDECIDED
        off = meter.error_share * bound + meter.error_fixed * unit
        if reading.censor is Censor.BELOW:
            return conformity.OUTSIDE if bound + off < wanted else conformity.UNDECIDED
        return conformity.INSIDE if bound - off >= wanted else conformity.UNDECIDED

    def bridge(self) -> Iterator[Line]:
        """The channel's reading against what grids off their card may give: R share / 4 each."""
        reading = self.read.get(READING)
        if reading is None:
            return
        if reading.censor is not Censor.EXACT:
            words = f"the channel reads {reading.typed}: beyond its range"
            yield Line(READING, conformity.OUTSIDE, words)
            return
        limit = self.book.limit(_NOMINAL)
        found = uncertain_reading(reading, self.meter(reading))
        if quantity_of(self.meter(reading).record) == "strain":
            found = found * (self.setup.pack.gauge_factor.value / 4)
        bound = limit.record.value * self.setup.active_grids / 4
        outcome = conformity.guarded(float(found.value), float(found.expanded()), -bound, bound)
        shown = quantity_shown("bridge_ratio", bound).text
        typed = re.sub(r"^-", "\N{MINUS SIGN}", self._typed(reading))
        sentence = f"reading {typed}, limit ±{shown}"
        yield Line(READING, outcome, sentence, limit)


# Two pairs that differ by two wires of one tab, and the wires that are then compared.
_ALIKE = (
    ("A-B", "A-C", ("lead B", "lead C")),
    ("D-B", "D-C", ("lead B", "lead C")),
    ("A-B", "D-B", ("lead A", "lead D")),
    ("P-SP", "P-SN", ("signal wire S+", "signal wire S−")),
    ("P-SP", "N-SP", ("excitation wire P", "excitation wire N")),
)


def _open_words(setup: Setup, gone: Sequence[str], whole: Sequence[str]) -> str:
    """Which wire the open pairs share and no good pair has; a grid where it may be one too."""
    labels = {field.what: field.label for field in setup.fields}
    words = " and ".join(labels[what] for what in gone)
    words += " is open" if len(gone) == 1 else " are open"
    if gone == [TABS]:
        return "the grid is open"
    shared = set.intersection(*({*pair.split("-")} for pair in gone))
    shared -= {wire for pair in whole for wire in pair.split("-")}
    if shared:
        names = " or ".join(wire_shown(wire) for wire in sorted(shared))
        grid = " or the grid" if _may_be_grid(setup, gone, whole) else ""
        return f"{words}: lead {names}{grid}"
    return f"{words}: more than one wire, or the plug"


def _may_be_grid(setup: Setup, gone: Sequence[str], whole: Sequence[str]) -> bool:
    """Whether an open grid would open just these pairs; in a full bridge the others go round it."""
    grids = {field.what: field.grids for field in setup.fields}
    is_full = any(share % 1 for share in grids.values())
    through = all(grids[what] for what in gone) and not is_full
    has_others = setup.active_grids > 1
    return through and (has_others or not any(grids[what] for what in whole))


def _ohm(value: float) -> str:
    return quantity_shown("resistance", value).text if value == 0 or value >= 1e-3 else "0 Ω"


def _leak(limit: Entry[Limit]) -> str:
    return quantity_shown("insulation_resistance", limit.record.value).text


def _better(quantity: str, room: float) -> str:
    if room <= 0:
        return "it lies on the limit itself, where no meter can tell"
    unit = unit_shown(quantity)
    return f"a meter known to ±{significant_text(room / unit.factor, 1)} {unit.text} would tell"
