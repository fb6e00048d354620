"""Which gates the gauges of a campaign pass: those of a cage and a pour only where one is cast."""

from gaugewright.records.gauges import Gauge
from gaugewright.records.proof import Gate, GateCheck
from gaugewright.records.specimen import Specimen, SpecimenKind
from gaugewright.services.campaign.book import Book

__all__ = ["gate_number", "gates_of"]

_OF_A_POUR = (Gate.CAGED, Gate.BEFORE_POUR, Gate.AFTER_POUR)
# A strand may be cast in, which its kind doesn't tell.
_MAY_BE_CAST = (SpecimenKind.CAST_MEMBER, SpecimenKind.STRAND)


def gates_of(book: Book) -> tuple[Gate, ...]:
    """Gates in order of time; one that was held counts, whatever the specimen is."""
    held = {check.record.gate for check in book.of(GateCheck)}
    carrying = {book.bar_of(gauge).record.specimen for gauge in book.of(Gauge)}
    kinds = [one.record.kind for one in book.of(Specimen) if one.uid in carrying]
    is_cast = not kinds or any(kind in _MAY_BE_CAST for kind in kinds)
    return tuple(gate for gate in Gate if is_cast or gate in held or gate not in _OF_A_POUR)


def gate_number(book: Book, gate: Gate) -> int:
    """Number of a gate among those of the campaign, from 1; in all of them where it has none."""
    gates = gates_of(book)
    return (gates if gate in gates else tuple(Gate)).index(gate) + 1
