"""Yield loads of gauges and pairs, and their mean over the pairs a question names, as results."""

from collections.abc import Callable
from dataclasses import replace

from gaugewright.records import Entry
from gaugewright.records.gauges import Gauge
from gaugewright.records.results import Result
from gaugewright.records.specimen import Question
from gaugewright.services.bars.together import opposite_pairs, quarter_circuits, usable
from gaugewright.services.campaign.states import state_of_gauge
from gaugewright.services.loading import yields
from gaugewright.services.results import results as reduction_results
from gaugewright.services.strain.strains import Desk
from gaugewright.services.work.side_by_side import side_by_side

__all__ = ["yield_results"]

Progress = Callable[[int, int, str], None]


def yield_results(
    desk: Desk, *, progress: Progress | None = None
) -> tuple[list[yields.Onset], list[Result]]:
    """Onsets of every gauge and usable pair on metal that can yield, and their results.

    Gauges are worked on side by side, each by itself; ``progress`` is told after each.
    """
    onsets: list[yields.Onset] = []
    asked = tuple(quarter_circuits(desk))
    alone = side_by_side(lambda one: yields.yield_of_gauge(desk, *one), asked, at_once=desk.at_once)
    for number, ((_, gauge), onset) in enumerate(zip(asked, alone, strict=True)):
        if progress is not None:
            progress(number + 1, len(asked), f"yield load of {gauge.record.label} looked for")
        if onset is not None:
            onsets.append(onset if usable(desk, gauge) else _without_value(desk, gauge, onset))
    for circuits, gauges in opposite_pairs(desk):
        onset = yields.yield_of_pair(desk, circuits, gauges)
        onsets += [onset] if onset is not None else []
    results = [_yield_result(desk, onset) for onset in onsets]
    return onsets, results + _mean_yields(desk, onsets)


def _without_value(desk: Desk, gauge: Entry[Gauge], onset: yields.Onset) -> yields.Onset:
    """Onset of a gauge that can't be believed: what is wrong with it isn't in any uncertainty."""
    state = state_of_gauge(desk.book, gauge).value
    return replace(onset, load=None, time=None, note=f"{state}: no value is given")


def _mean_yields(desk: Desk, onsets: list[yields.Onset]) -> list[Result]:
    """Mean load of the pairs each question names: what they share does not average out."""
    made: list[Result] = []
    for question in desk.book.of(Question):
        if question.record.quantity != "yield load":
            continue
        stations = set(question.record.stations)
        pairs = [
            onset
            for onset in onsets
            if len(onset.gauges) == 2
            and onset.load is not None
            and all(desk.book.entry(uid, Gauge).record.station in stations for uid in onset.gauges)
        ]
        loads = [onset.load for onset in pairs if onset.load is not None]
        if len(loads) < 2:
            continue
        total = loads[0]
        for load in loads[1:]:
            total = total + load
        made.append(
            reduction_results.result_of(
                desk.book,
                total / len(loads),
                label=f"yield load, mean of {len(loads)} pairs ({question.record.label})",
                quantity="yield load",
                unit="N",
                criterion="mean over opposite pairs; each: "
                + "; or ".join(
                    dict.fromkeys(yields.criterion(desk, onset.gauges) for onset in pairs)
                ),
                subjects=tuple(uid for onset in pairs for uid in onset.gauges),
                circuits=tuple(uid for onset in pairs for uid in onset.circuits),
                zero="zero " + " or ".join(dict.fromkeys(onset.zero.value for onset in pairs)),
                note="pairs: " + "; ".join(onset.label for onset in pairs),
            )
        )
    return made


def _yield_result(desk: Desk, onset: yields.Onset) -> Result:
    return reduction_results.result_of(
        desk.book,
        onset.load,
        label=f"yield load {onset.label}",
        quantity="yield load",
        unit="N",
        criterion=yields.criterion(desk, onset.gauges),
        subjects=onset.gauges,
        circuits=onset.circuits,
        zero=f"zero {onset.zero.value}",
        note=onset.note if onset.load is None else "",
    )
