"""How many gauges come through: gate by gate, what the lost have in common, and by exact times."""

from collections import Counter
from dataclasses import dataclass
from datetime import datetime

from gaugewright.calc.survival import proportion_interval, survival_curve
from gaugewright.records import Entry
from gaugewright.records.electrical import BridgeCircuit, Lead
from gaugewright.records.gauges import BenchStep, Gauge, Supply
from gaugewright.records.identity import Uid
from gaugewright.records.proof import Gate, GateCheck, Verdict
from gaugewright.records.readings import Decision, Finding, LoadStep, Severity
from gaugewright.services.campaign.book import Book
from gaugewright.services.showing.page import Page
from gaugewright.services.telling.gauges import began

__all__ = [
    "AtGate",
    "Common",
    "Curve",
    "Fate",
    "InTest",
    "at_gates",
    "common_losses",
    "curve",
    "fates",
    "groups_of",
    "in_test",
    "lost_gauges",
]


@dataclass(frozen=True, slots=True)
class Fate:
    """Last verdict on a gauge at a gate; ``repaired`` where it failed first and passed later."""

    verdict: Verdict
    repaired: bool


@dataclass(frozen=True, slots=True)
class AtGate:
    """Gauges that came to a gate sound, by their last verdict there.

    ``repaired`` failed it first and passed it later; ``share`` is passed over those decided, with
    its interval for 95 %, and ``since_first`` the product of the shares so far.
    """

    gate: Gate
    exposed: int
    passed: int
    lost: tuple[str, ...]
    undecided: int
    repaired: int
    share: float
    low: float
    high: float
    since_first: float


@dataclass(frozen=True, slots=True)
class Common:
    """Gauges that share a bundle, bar, pack or batch, and how many of them were lost."""

    kind: str
    name: str
    gauges: int
    lost: tuple[str, ...]
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class InTest:
    """Gauges exposed to the test, when each lost one went [s], or ``why`` nobody can say.

    ``later`` were lost only after its end: they came through it.
    """

    begins: datetime | None
    lasted: float
    exposed: tuple[Uid, ...]
    lost: dict[Uid, float]
    left_out: tuple[str, ...]
    why: str
    later: frozenset[Uid] = frozenset()


@dataclass(frozen=True, slots=True)
class Curve:
    """Survival of the test by exact times [s], or ``why`` there is none."""

    begins: datetime | None
    lost: tuple[tuple[str, float], ...]
    exposed: int
    times: tuple[float, ...]
    survival: tuple[float, ...]
    low: tuple[float, ...]
    high: tuple[float, ...]
    left_out: tuple[str, ...]
    why: str


def fates(book: Book) -> tuple[tuple[Gate, dict[Uid, Fate]], ...]:
    """What became of every gauge that came sound to a gate, gate by gate.

    A gauge counts where it was checked; one that failed an earlier gate and never passed it
    since isn't exposed again.
    """
    found: list[tuple[Gate, dict[Uid, Fate]]] = []
    dead: set[Uid] = set()
    for gate in Gate:
        verdicts = _verdicts(book, gate)
        at_it = {
            uid: Fate(told[-1], told[-1] is Verdict.PASS and Verdict.FAIL in told)
            for uid, told in verdicts.items()
            if uid not in dead
        }
        dead |= {uid for uid, fate in at_it.items() if fate.verdict is Verdict.FAIL}
        if at_it:
            found.append((gate, at_it))
    return tuple(found)


def at_gates(book: Book) -> tuple[AtGate, ...]:
    """Life table of the gauges: every gate that any was checked at, in order.

    A meter that could not tell decides nothing; neither does a gate where no meter could.
    """
    found: list[AtGate] = []
    since_first = 1.0
    for gate, at_it in fates(book):
        counts = Counter(fate.verdict for fate in at_it.values())
        decided = counts[Verdict.PASS] + counts[Verdict.FAIL]
        if not decided:
            continue
        share = counts[Verdict.PASS] / decided
        since_first *= share
        low, high = proportion_interval(counts[Verdict.PASS], decided)
        found.append(
            AtGate(
                gate,
                len(at_it),
                counts[Verdict.PASS],
                tuple(book.label(u) for u, fate in at_it.items() if fate.verdict is Verdict.FAIL),
                counts[Verdict.CANNOT_TELL],
                sum(fate.repaired for fate in at_it.values()),
                share,
                low,
                high,
                since_first,
            )
        )
    return tuple(found)


def _verdicts(book: Book, gate: Gate) -> dict[Uid, list[Verdict]]:
    """Verdicts of every gauge at one gate, in order of time."""
    checks = [check for check in book.of(GateCheck) if check.record.gate is gate]
    checks.sort(key=lambda check: max(one.measured for one in check.record.readings))
    found: dict[Uid, list[Verdict]] = {}
    for check in checks:
        found.setdefault(check.record.gauge, []).append(check.record.verdict)
    return found


def lost_gauges(book: Book) -> tuple[Entry[Gauge], ...]:
    """Gauges lost at a gate, or by a finding that nobody rejected."""
    at_gate = {label for gate in at_gates(book) for label in gate.lost}
    found = {finding.record.subject for finding in book.of(Finding) if _is_loss(finding.record)}
    return tuple(g for g in book.of(Gauge) if g.record.label in at_gate or g.uid in found)


def _is_loss(finding: Finding) -> bool:
    return finding.severity is Severity.LOST and finding.decision is not Decision.REJECTED


def common_losses(book: Book) -> tuple[Common, ...]:
    """Bundles, bars, packs and batches in which gauges were lost, the most first.

    What every gauge shares is left out: it can't be compared.
    """
    lost = {gauge.uid for gauge in lost_gauges(book)}
    groups: dict[tuple[str, str], set[Uid]] = {}
    for gauge in book.of(Gauge):
        for key in groups_of(book, gauge):
            groups.setdefault(key, set()).add(gauge.uid)
    found = []
    for (kind, name), members in groups.items():
        mine = tuple(book.label(uid) for uid in members & lost)
        if mine and len(members) < len(book.of(Gauge)):  # what all share tells nothing
            low, high = proportion_interval(len(mine), len(members))
            found.append(Common(kind, name, len(members), tuple(sorted(mine)), low, high))
    return tuple(sorted(found, key=lambda one: (-len(one.lost), one.gauges, one.kind, one.name)))


def groups_of(book: Book, gauge: Entry[Gauge]) -> list[tuple[str, str]]:
    """Kind and name of what a gauge shares with others: bar, pack, bundle, batches used."""
    pack = book.pack_of(gauge).record
    found = [("bar", book.bar_of(gauge).record.label), ("pack", f"{pack.label}, lot {pack.lot}")]
    for circuit in book.of(BridgeCircuit):
        if any(arm.gauge == gauge.uid for arm in circuit.record.arms):
            bundle = book.entry(circuit.record.lead, Lead).record.bundle
            found += [("bundle", bundle)] if bundle else []
    used = {
        uid
        for step in book.of(BenchStep)
        if step.record.gauge == gauge.uid
        for uid in step.record.supplies
    }
    for uid in used:
        supply = book.entry(uid, Supply).record
        found.append(("batch", f"{supply.what}, {supply.batch}"))
    return found


def curve(page: Page) -> Curve:
    """Survival of the test by the moments at which gauges were lost in a recording.

    Counted from the first load step; gauges still sound at the end of the last one are seen
    sound till then. A loss known only between two gates has no exact time and is left out.
    """
    found = in_test(page)
    if found.begins is None:
        return _none(found.why)
    curve = survival_curve(
        [found.lost.get(uid, found.lasted) for uid in found.exposed],
        [uid in found.lost for uid in found.exposed],
    )
    lost = ((page.book.label(uid), at) for uid, at in found.lost.items())
    return Curve(
        found.begins,
        tuple(sorted(lost, key=lambda one: one[1])),
        len(found.exposed),
        tuple(curve.exit_times.tolist()),
        tuple(curve.survival.tolist()),
        tuple(curve.low.tolist()),
        tuple(curve.high.tolist()),
        found.left_out,
        "",
    )


def in_test(page: Page) -> InTest:
    """Gauges that were sound and plugged in when the test began, and those lost in it."""
    steps = page.book.of(LoadStep)
    if not steps:
        return InTest(None, 0.0, (), {}, (), "no load step says when the test began")
    begins = min(step.record.begins for step in steps)
    ends = max(step.record.ends for step in steps)
    dead, left_out = _before(page.book)
    lost: dict[Uid, float] = {}
    later: set[Uid] = set()
    for uid, moments in _losses(page).items():
        if uid in dead:
            continue
        first = min((at for at in moments if at is not None), default=None)
        if first is not None and begins <= first <= ends:
            lost[uid] = (first - begins).total_seconds()
        elif first is not None and first > ends and None not in moments:
            later.add(uid)
        else:
            why = "before the test" if first is not None and first < begins else "no time"
            left_out.append(f"{page.book.label(uid)}: {why}")
            dead.add(uid)
    exposed = tuple(uid for uid in _read(page.book, begins) if uid not in dead)
    lasted = (ends - begins).total_seconds()
    if not exposed:
        why = "no gauge was sound and plugged in when the test began"
        return InTest(None, 0.0, (), {}, (), why)
    left = tuple(dict.fromkeys(left_out))
    return InTest(begins, lasted, exposed, lost, left, "", frozenset(later))


def _losses(page: Page) -> dict[Uid, list[datetime | None]]:
    """When each gauge was found lost, by every finding that nobody rejected; None: no time."""
    found: dict[Uid, list[datetime | None]] = {}
    for finding in page.book.of(Finding):
        if _is_loss(finding.record):
            found.setdefault(finding.record.subject, []).append(_exact(page, finding))
    return found


def _none(why: str) -> Curve:
    return Curve(None, (), 0, (), (), (), (), (), why)


def _before(book: Book) -> tuple[set[Uid], list[str]]:
    """Gauges that were lost at a gate: when, between two checks, nobody knows."""
    labels = [label for gate in at_gates(book) for label in gate.lost]
    dead = {gauge.uid for gauge in book.of(Gauge) if gauge.record.label in labels}
    return dead, [f"{label}: lost between two gates" for label in labels]


def _exact(page: Page, finding: Entry[Finding]) -> datetime | None:
    if finding.record.recording is None or finding.record.first_row is None:
        return None
    return began(page, finding)


def _read(book: Book, at: datetime) -> list[Uid]:
    """Gauges whose circuit was on a channel at an instant."""
    return [
        arm.gauge
        for circuit in book.of(BridgeCircuit)
        if any(c.record.covers(at) for c in book.connections_of(circuit.uid))
        for arm in circuit.record.arms
        if arm.gauge is not None
    ]
