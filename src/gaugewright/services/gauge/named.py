"""Which gauges and pairs have a record of strain under load, and which one a label means."""

from gaugewright.errors import InputError
from gaugewright.services.bars.together import opposite_pairs, quarter_circuits
from gaugewright.services.strain.strains import Desk
from gaugewright.services.under_load.record import BETWEEN, GaugeRecord, pair_record, single_record

__all__ = ["labels", "record_labelled"]


def labels(desk: Desk) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Gauges and opposite pairs that have a record: by label, each in the order entered."""
    singles = tuple(gauge.record.label for _, gauge in quarter_circuits(desk))
    pairs = tuple(
        BETWEEN.join(gauge.record.label for gauge in gauges) for _, gauges in opposite_pairs(desk)
    )
    return singles, pairs


def record_labelled(desk: Desk, label: str) -> GaugeRecord:
    """Record of a gauge, or of a pair written ``ONE with OTHER``.

    Raises
    ------
    InputError
        If there is no such gauge or pair, or nothing to count it from.
    """
    for circuit, gauge in quarter_circuits(desk):
        if gauge.record.label == label:
            return single_record(desk, circuit, gauge)
    wanted = set(label.split(BETWEEN))
    for pair in opposite_pairs(desk):
        if {gauge.record.label for gauge in pair[1]} == wanted:
            return pair_record(desk, *pair)
    singles, pairs = labels(desk)
    if not singles:
        raise InputError("gauge", label, "reduced: none is yet", "gaugewright reduce CAMPAIGN")
    allowed = "one of " + ", ".join((*singles, *pairs))
    raise InputError("gauge", label, allowed, "a pair is written ONE with OTHER, both usable")
