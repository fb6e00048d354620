"""Once a gauge is cast in: do the leads on a channel read as those of its gauge did before?"""

from collections.abc import Mapping
from dataclasses import dataclass

from gaugewright.calc.uncertainty import Uncertain
from gaugewright.errors import InputError
from gaugewright.present.numbers import significant_text
from gaugewright.records import Entry
from gaugewright.records.gauges import Gauge
from gaugewright.records.identifying import IdentityProof, Stimulus
from gaugewright.records.proof import Censor, Gate, GateCheck, GateReading, Meter
from gaugewright.services.campaign.book import Book
from gaugewright.services.gating.fields import INSULATION, READING, Setup, setup
from gaugewright.services.gating.judge import uncertain_reading
from gaugewright.services.wiring.identifying import prove, reads_gauge
from gaugewright.store.campaign import CampaignStore

__all__ = ["LeadsTold", "by_leads", "compared"]

# How far concrete and hands may have strained a bar since: choice of this project, no source.
_STRAINED = 100e-6


@dataclass(frozen=True, slots=True)
class LeadsTold:
    """Pairs read last of a gauge against the gate before: who it is by them.

    ``fits`` are all gauges whose earlier pairs agree; ``off`` the largest difference of its own
    pairs over what is allowed for it.
    """

    gauge: Entry[Gauge]
    gate: Gate
    before: Gate
    pairs: tuple[str, ...]
    off: float
    fits: tuple[str, ...]

    @property
    def is_proof(self) -> bool:
        """Whether its own earlier pairs agree, and nobody else's do."""
        return self.fits == (self.gauge.record.label,)

    @property
    def sentence(self) -> str:
        """What the pairs say, in words."""
        label = self.gauge.record.label
        start = f"{', '.join(self.pairs)} at the gate {self.gate.value} against {self.before.value}"
        others = [name for name in self.fits if name != label]
        if self.is_proof:
            return f"{start}: as {label} read, and no other gauge did"
        if label in self.fits:
            return f"{start}: as {label} read, but {', '.join(others)} can’t be told from it"
        told = (
            f"{start}: not as {label} read, {significant_text(self.off, 2)} times what is allowed"
        )
        return told + (f"; as {', '.join(others)} did" if others else "; as no other gauge did")


def compared(book: Book, gauge: Entry[Gauge]) -> LeadsTold:
    """Hold the pairs of a gauge's last gate against those of every gauge at the gate before.

    Wires are brought to one temperature; grids may have been strained by a tenth of a
    millimetre a metre since.

    Raises
    ------
    InputError
        If pairs were read at fewer than two gates.
    """
    mine = _pairs_by_gate(book, gauge)
    if len(mine) < 2:
        raise InputError(
            f"gates of {gauge.record.label} with pairs",
            ", ".join(gate.value for gate in mine) or "none",
            "two or more",
            "read its leads again, unplugged",
        )
    order = list(Gate)
    gate, before = sorted(mine, key=order.index, reverse=True)[:2]
    pairs = tuple(what for what in mine[gate] if what in mine[before])
    own = setup(book, gauge, gate)
    now = mine[gate]
    fits = []
    off = float("inf")
    for other in book.of(Gauge):
        if own.circuit is not None and _shares(book, own, other) and other.uid != gauge.uid:
            continue
        then = _pairs_by_gate(book, other).get(before, {})
        if not set(pairs) <= set(then):
            continue
        far = max(_far(book, own, what, (then[what], now[what])) for what in pairs)
        if other.uid == gauge.uid:
            off = far
        if far <= 1:
            fits.append(other.record.label)
    return LeadsTold(gauge, gate, before, pairs, off, tuple(fits))


def by_leads(store: CampaignStore, label: str) -> tuple[Entry[IdentityProof], LeadsTold]:
    """Write down that a gauge is known by its leads.

    Raises
    ------
    InputError
        If it isn't on a channel, or its leads don't tell it from every other gauge.
    """
    book = Book.read(store)
    gauge = book.labelled(Gauge, label)
    told = compared(book, gauge)
    if not told.is_proof:
        allowed = "readings that fit this gauge and no other"
        raise InputError(f"leads of {label}", "no proof", allowed, told.sentence)
    at = store.context.now()
    connection = reads_gauge(book, gauge.uid, at)
    if connection is None:
        raise InputError(f"channel of {label}", None, "one it is plugged into now")
    proof = IdentityProof(
        gauge.uid, Stimulus.LEADS, (connection.record.channel,), at, note=told.sentence
    )
    return prove(store, proof), told


def _shares(book: Book, own: Setup, other: Entry[Gauge]) -> bool:
    return other.uid in {partner.uid for partner in own.partners}


def _pairs_by_gate(book: Book, gauge: Entry[Gauge]) -> dict[Gate, dict[str, GateReading]]:
    found: dict[Gate, dict[str, GateReading]] = {}
    checks = [c for c in book.of(GateCheck) if c.record.gauge == gauge.uid]
    for check in sorted(checks, key=lambda c: max(r.measured for r in c.record.readings)):
        if check.record.gate is Gate.BONDED:
            continue
        pairs = {
            reading.what: reading
            for reading in check.record.readings
            if reading.what not in (INSULATION, READING) and reading.censor is Censor.EXACT
        }
        if pairs:
            found.setdefault(check.record.gate, {}).update(pairs)
    return found


def _far(book: Book, own: Setup, what: str, both: tuple[GateReading, GateReading]) -> float:
    """Difference of a pair between two gates over what may be without a mix-up."""
    then, now = both
    values: Mapping[int, Uncertain] = {
        place: uncertain_reading(reading, book.entry(reading.meter, Meter))
        for place, reading in enumerate(both)
    }
    field = own.field(what)
    warmed = own.wires(field.wires, now.temperature_degc) - own.wires(
        field.wires, then.temperature_degc
    )
    left = values[1] - values[0] - float(warmed.value)
    grid = field.grids * own.pack.gauge_resistance.value
    allowed = float(left.expanded()) + grid * own.pack.gauge_factor.value * _STRAINED
    return abs(float(left.value)) / allowed
