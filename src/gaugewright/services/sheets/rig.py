"""For who runs the loading rig: planned steps, where something is to be expected, when to stop."""

import numpy as np

from gaugewright.errors import Faults, InputError
from gaugewright.present.captions import listed
from gaugewright.records import Entry
from gaugewright.records.gauges import Gauge
from gaugewright.records.planning import Protocol
from gaugewright.records.readings import LoadStep
from gaugewright.report.parts import Part, PartTable
from gaugewright.services.section.predictions import Prediction, predicted_strain
from gaugewright.services.showing.page import UNUSABLE, Page
from gaugewright.services.showing.sheet_parts import Said, people_lines

__all__ = ["said"]

_RULES = (
    "Stop when anybody calls stop. Nobody has to say why.",
    "Stop when the load falls although the rig goes on, when something slips, or when a noise "
    "can't be explained.",
    "Stop when a support, the frame or the specimen moves where it shouldn't.",
    "Hold when the technician asks: a gauge that jumps alone is looked at before the next step.",
    "Go near the specimen only at an agreed hold, at a load that was agreed before.",
    "Say each step's end aloud when the load stands: the readings are marked by it.",
)
_CAUTION = (
    "Strain readings are advisory. They never replace the rig's own limit switches and emergency "
    "stop, which don't depend on a gauge. Stay out of the marked zone and behind the shields while "
    "load is on: stored energy is released in an instant. Local rules and the person licensed for "
    "the rig come first; loads on this sheet are predictions."
)


def said(page: Page) -> Said:
    """What stands on the sheet of the rig."""
    found, missing = _predictions(page)
    parts = [
        Part("Steps", table=_steps(page)),
        Part(
            "What to expect",
            "First load at which any gauge should show it; 95 %.",
            words=missing,
            table=_expected(page, found) if found else None,
        ),
        Part("Stop and hold", lines=_RULES, blanks=("Largest load agreed", "Agreed by")),
        Part("Safety", words=_CAUTION, is_caution=True),
    ]
    unusable = [g.record.label for g in page.book.of(Gauge) if page.state(g) in UNUSABLE]
    if unusable:
        words = f"Doubtful or lost, don't act on them: {listed(unusable)}."
        parts.append(Part("Gauges not to trust", words=words))
    people = people_lines(page)
    if people:
        parts.append(Part("People", lines=people))
    lead = (
        "Predicted loads are what the plan expects, not limits. The largest load is agreed by "
        "hand, below."
    )
    return Said(lead, tuple(parts))


def _steps(page: Page) -> PartTable:
    """Steps as planned; as they were held where no plan was written down."""
    rows = [
        (step.label, page.number(step.load, None, "N").text, step.note or "–")
        for protocol in page.book.of(Protocol)
        for step in protocol.record.steps
    ]
    if not rows:
        rows = [
            (e.record.label, page.number(e.record.load, None, "N").text, "as it was held")
            for e in page.book.of(LoadStep)
        ]
    return PartTable(
        ("Step", "Load", "How"), tuple(rows), "No steps are planned.", wide=(2,), right=(1,)
    )


def _predictions(page: Page) -> tuple[list[Prediction], str]:
    """Predictions of every gauge that has one, and why the first other has none."""
    found, missing = [], ""
    for gauge in page.book.of(Gauge):
        try:
            found.append(predicted_strain(page.book, gauge, np.array([0.0])))
        except (InputError, Faults) as error:
            missing = missing or f"No prediction for {gauge.record.label}: {error}"
    return found, "" if found else missing or "No gauge is placed."


def _expected(page: Page, found: list[Prediction]) -> PartTable:
    rows = []
    for what, loads in (
        ("First crack at a gauge", [(p.cracking_load, p.gauge) for p in found]),
        ("First yield under a gauge", [(p.yield_load, p.gauge) for p in found]),
    ):
        known = [(load, gauge) for load, gauge in loads if load is not None]
        if not known:
            rows.append((what, "not reached before the concrete crushes", "–"))
            continue
        load, gauge = min(known, key=lambda pair: float(pair[0].value))
        number = page.number(float(load.value), float(load.expanded(0.95)), "N").text
        rows.append((what, number, _where(gauge)))
    crushing = min(found, key=lambda p: p.crushing_load)
    number = page.number(crushing.crushing_load, None, "N").text
    rows.append(("Concrete crushes", f"about {number}", crushing.member.entry.record.label))
    return PartTable(("What", "Load", "Where"), tuple(rows), wide=(2,))


def _where(gauge: Entry[Gauge]) -> str:
    return gauge.record.label
