"""For who asked: the questions, the answers, what was thrown away and who checked."""

from gaugewright.present.captions import coverage_text
from gaugewright.report.document import Answer
from gaugewright.report.parts import Part, PartTable
from gaugewright.services.campaign.coverage import COVERAGE
from gaugewright.services.handover import answers as handover_answers
from gaugewright.services.handover import origin as handover_origin
from gaugewright.services.showing.page import Page
from gaugewright.services.showing.sheet_parts import Said
from gaugewright.services.telling import gauges as handover_gauges

__all__ = ["said"]


def said(page: Page) -> Said:
    """What stands on the sheet of who asked."""
    answers = handover_answers.answers(page)
    register = handover_gauges.register_rows(page)
    signed = handover_origin.signature_rows(page)
    return Said(
        handover_answers.lead(page, answers),
        (
            *(_asked(number, answer) for number, answer in enumerate(answers, 1)),
            Part(
                "Gauges no answer rests on",
                "Nothing was thrown away silently.",
                table=PartTable(
                    ("Gauge", "State", "Since", "Why"),
                    tuple((r.gauge, r.state, r.since, r.reason) for r in register),
                    "No gauge is doubtful or lost.",
                    wide=(3,),
                ),
            ),
            Part(
                "Read before use",
                f"Numbers after ± hold for {coverage_text(COVERAGE)}.",
                lines=(*handover_gauges.cautions(page), *handover_origin.open_points(page)),
            ),
            Part(
                "Who checked",
                table=PartTable(
                    ("Name", "Statement", "Signed", "Stands"),
                    tuple((s.name, s.statement, s.signed, s.stands) for s in signed),
                    "Nobody has signed these results.",
                    wide=(1,),
                ),
            ),
        ),
    )


def _asked(number: int, answer: Answer) -> Part:
    """A question with its answer."""
    lines = (
        answer.sentence,
        "" if answer.number is None else f"Number: {answer.number.text} (id {answer.id})",
        f"Largest cause of the doubt: {answer.main_cause}" if answer.main_cause else "",
        f"What would reduce it: {answer.would_reduce}" if answer.would_reduce else "",
        answer.wanted,
    )
    return Part(
        f"Question {number}",
        answer.standing or answer.state,
        words=answer.question,
        lines=tuple(line for line in lines if line),
    )
