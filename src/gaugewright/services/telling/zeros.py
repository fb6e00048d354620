"""Which zero stands in a chain: its name, when and on which connection it was taken, its worth."""

from gaugewright.calc.evaluation import coverage_factor, stated_standard_uncertainty
from gaugewright.errors import InputError
from gaugewright.present.captions import listed
from gaugewright.present.units_shown import quantity_shown
from gaugewright.records import Entry
from gaugewright.records.electrical import Channel, Connection
from gaugewright.records.identity import Uid
from gaugewright.records.proof import Zero, ZeroKind
from gaugewright.records.results import Chain
from gaugewright.services.campaign.coverage import COVERAGE
from gaugewright.services.showing.page import Page

__all__ = ["zeros_told"]

REFERENCE = "arm_change_zero"


def zeros_told(page: Page, chains: tuple[Entry[Chain], ...]) -> tuple[str, ...]:
    """One line for the zero in a chain, and one for others from which results may be counted.

    Chains that are told together have their zeros told together where they differ in no more
    than channel and moment.
    """
    found: dict[str, list[tuple[Entry[Chain], Entry[Zero]]]] = {}
    for chain in chains:
        for zero, role in _zeros(page, chain):
            found.setdefault(role + _worth(page, chain, zero), []).append((chain, zero))
    return tuple(_line(page, words, pairs, len(chains)) for words, pairs in found.items())


def _zeros(page: Page, chain: Entry[Chain]) -> list[tuple[Entry[Zero], str]]:
    """Zero that the chain names, then the zeros of other kinds that hold for its connection."""
    own = {s.source.uid for s in chain.record.sources if s.parameter == REFERENCE and s.source}
    used = [page.book.entry(uid, Zero) for uid in sorted(own)]
    told = [(zero, f"Zero in this chain: {zero.record.kind.value}") for zero in used]
    connection = page.book.entry(chain.record.connection, Connection)
    for kind in ZeroKind:
        try:
            zero = page.book.zero_for(connection, kind)
        except InputError:
            continue  # none of this kind holds here
        if zero.uid not in own:
            told.append((zero, f"Where a result says zero {kind.value}"))
    return told


def _worth(page: Page, chain: Entry[Chain], zero: Entry[Zero]) -> str:
    """How a zero reaches the chain's connection: as its own, or carried over at a cost."""
    if zero.record.connection == chain.record.connection:
        return ", taken on this connection"
    transfer = zero.record.transfer
    if transfer is None or not transfer.plus_minus:
        return ", carried over from an earlier connection; nobody said with which uncertainty"
    spread = stated_standard_uncertainty(transfer.plus_minus, transfer.meaning.value)
    doubt = float(coverage_factor(float("inf"), COVERAGE)) * spread
    number = quantity_shown("bridge_ratio", 0.0, doubt, page.system)
    return (
        f", carried over from an earlier connection with ± {number.plus_minus} {number.unit} "
        f"({transfer.basis.value}: {transfer.source})"
    )


def _line(page: Page, words: str, pairs: list[tuple[Entry[Chain], Entry[Zero]]], count: int) -> str:
    zeros = list({zero.uid: zero for _, zero in pairs}.values())
    moments = sorted(zero.record.measured for zero in zeros)
    first, last = page.moment(moments[0]), page.moment(moments[-1])
    when = first if first == last else f"{first} to {last}"
    if len(zeros) > 1 and len(pairs) == count:
        return f"{words}, {when}, each on its own channel."
    if len(zeros) > 1:
        circuits = dict.fromkeys(page.book.label(chain.record.circuit) for chain, _ in pairs)
        return f"{words}, {when}: {listed(list(circuits), most=40)}."
    return f"{words}, {when}, on {_place(page, zeros[0].record.connection)}."


def _place(page: Page, connection: Uid) -> str:
    """Channel of the connection a zero was taken on, and since when it was plugged there."""
    record = page.book.entry(connection, Connection).record
    channel = page.book.entry(record.channel, Channel).record
    instrument = page.book.label(channel.instrument)
    return f"{channel.label} of {instrument}, plugged in {page.moment(record.begins)}"
