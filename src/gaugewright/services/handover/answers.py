"""What the campaign was asked, what came out, and what would make the answer surer."""

import re
from dataclasses import replace

from gaugewright.present.captions import listed
from gaugewright.present.numbers import significant_text
from gaugewright.present.units_shown import in_shown, unit_shown
from gaugewright.records import Entry
from gaugewright.records.gauges import Gauge
from gaugewright.records.identity import Uid
from gaugewright.records.readings import Decision, Finding
from gaugewright.records.results import Chain, Result
from gaugewright.records.specimen import Question
from gaugewright.records.stated import State
from gaugewright.report.document import Answer, Beside, YieldRow
from gaugewright.services.campaign.questions import MARKS, question_line
from gaugewright.services.showing.page import UNUSABLE, Page
from gaugewright.services.tracing.evidence import short_id

__all__ = ["answers", "heading_results", "in_an_answer", "lead", "name_of_result", "yield_rows"]

YIELD = "yield load"
FORCE = "force"
STRAIN = "strain"
PLATE = ("principal stress", "angle")
LISTED = 6  # parts of an answer that its sentence can hold
# What a laboratory can do about the main cause of an uncertainty: general advice of the trade, by
# the beginning of the cause's name.
_REMEDIES = (
    ("installation", "pulling each gauged bar against a known load before the test"),
    ("gauge factor", "pulling each gauged bar against a known load before the test"),
    ("angle between", "measuring the angle of each grid, or a pull of the bar before casting"),
    ("resistance of a lead", "measuring each lead at the gauge's end, or three wires"),
    ("drift", "a second zero after the test, and a dummy beside the specimen"),
    ("wires unequally warm", "three wires in one sheath, kept out of the sun"),
    ("zero carried over", "not unplugging between zero and test"),
    ("reading of the zero", "a longer zero with the specimen at rest"),
    ("leak to the bar", "a channel isolated from earth, or a better seal"),
    ("thermal output", "a dummy gauge on the same metal at the same temperature"),
    ("thermal expansion", "a dummy gauge on the same metal at the same temperature"),
    ("temperature", "a thermometer nearer to the gauge"),
    ("yield strength", "more coupons of the same heat"),
    ("modulus", "strain measured on the coupons up to yield"),
    ("gain of the load cell", "a calibration of the load cell over the range used"),
    ("zero of the load cell", "zeros of the load cell before and after the test"),
    ("clocks of two", "load and strain on one recorder, or a shared trigger"),
    ("area of", "weighing a measured length of each bar"),
    ("width of the flat", "measuring each flat with a calliper at three places"),
    ("bending of the bar", "an opposite gauge at the same section"),
    ("distance", "measuring as-built places more closely"),
)


def answers(page: Page) -> tuple[Answer, ...]:
    """Every question in the words of who asked, with what the results say to it."""
    return tuple(
        _answer(page, question, _results_for(page, question)) for question in page.book.of(Question)
    )


def _results_for(page: Page, question: Entry[Question]) -> list[Result]:
    """What was made for a question; a plate's direction goes with its principal stresses.

    Two questions that ask for the same have the same answer: a number is made once.
    """
    every = [entry.record for entry in page.book.of(Result)]
    alike = {e.uid for e in page.book.of(Question) if _asks(e.record) == _asks(question.record)}
    found = [r for r in every if r.question in alike]
    plates = {(r.subjects, r.criterion) for r in found if r.quantity in PLATE}
    directions = [r for r in every if r.quantity == "angle" and r.question is None]
    return found + [r for r in directions if (r.subjects, r.criterion) in plates]


def _asks(question: Question) -> tuple[str, float | None, frozenset[Uid]]:
    return question.quantity, question.load, frozenset(question.stations)


def in_an_answer(page: Page, result: Result) -> bool:
    """Whether a number stands in the answer to a question, or beside it."""
    if result.value is None or page.worst(result.subjects) in UNUSABLE:
        return False
    return any(result in _results_for(page, question) for question in page.book.of(Question))


def heading_results(page: Page) -> tuple[Entry[Result], ...]:
    """The one number that heads each answer, in the order of the questions."""
    heads = []
    for question in page.book.of(Question):
        found = _results_for(page, question)
        usable = [r for r in found if page.worst(r.subjects) not in UNUSABLE]
        with_value = [r for r in usable if r.value is not None]
        if with_value:
            heads.append(_governing(with_value))
    return tuple(e for head in heads for e in page.book.of(Result) if e.record is head)


def _answer(page: Page, question: Entry[Question], results: list[Result]) -> Answer:
    line = question_line(page.book, question)
    made = _said(page, question, results)
    return replace(
        made, state=MARKS[line.standing].value, standing=line.standing, gauges=line.sentence
    )


def _said(page: Page, question: Entry[Question], results: list[Result]) -> Answer:
    usable = [r for r in results if page.worst(r.subjects) not in UNUSABLE]
    with_value = [r for r in usable if r.value is not None]
    if not with_value:
        return _no_answer(page, question.record, results)
    chosen = _governing(with_value)
    number = page.result(chosen)
    return Answer(
        question.record.text,
        _sentence(page, chosen, with_value, _placed(page, question.record)),
        State.SOUND.value,  # the mark of its standing is set where that is known
        number,
        chosen.main_cause,
        _remedy(chosen.main_cause),
        f"{chosen.criterion}; {chosen.zero}",
        _wanted(page, question.record.wanted, chosen, with_value),
        () if _is_listed(with_value) else _beside(page, [r for r in with_value if r is not chosen]),
        id=next(short_id(e.uid) for e in page.book.of(Result) if e.record is chosen),
    )


def _wanted(page: Page, wanted: float | None, chosen: Result, results: list[Result]) -> str:
    """How well it was asked for, and by how many of the parts told that is reached."""
    if wanted is None:
        return ""
    parts = [r for r in results if r.unit == chosen.unit] if _is_listed(results) else [chosen]
    reached = sum((r.expanded_uncertainty or 0.0) <= wanted for r in parts)
    words = "reached" if reached == len(parts) else "not reached"
    if 0 < reached < len(parts):
        words = f"reached by {reached} of {len(parts)}"
    return f"wanted: ± {page.number(wanted, None, chosen.unit).text}, {words}"


def _beside(page: Page, results: list[Result]) -> tuple[Beside, ...]:
    """The other numbers that answer the question, those of pairs first."""
    ordered = sorted(results, key=lambda r: -len(r.subjects))
    ids = {id(e.record): short_id(e.uid) for e in page.book.of(Result)}
    shown = [(f"{name_of_result(r)} (id {ids[id(r)]})", page.result(r)) for r in ordered]
    return tuple(Beside(name, number) for name, number in shown if number is not None)


def name_of_result(result: Result) -> str:
    """What a result belongs to: its label without the quantity in front."""
    for start in (result.quantity, f"bar {result.quantity}"):
        if result.label.startswith((f"{start} ", f"{start}, ")):
            name = result.label.removeprefix(start).lstrip(", ")
            # A mean made for a question carries the question's label behind it.
            return re.sub(r" \([^()]*\)$", "", name)
    return result.label


def _governing(results: list[Result]) -> Result:
    """The one that stands for all: a mean over pairs, then pairs; else the largest in size.

    Loads at yield and bar forces are surer from opposite pairs, which take bending out.
    """
    if results[0].quantity in (YIELD, FORCE, STRAIN):
        most = max(len(r.subjects) for r in results)
        results = [r for r in results if len(r.subjects) == most]
    if results[0].quantity == YIELD:
        return min(results, key=lambda r: r.value or 0.0)
    same = [r for r in results if r.unit == results[0].unit]
    return max(same, key=lambda r: abs(r.value or 0.0))


def _sentence(page: Page, chosen: Result, results: list[Result], placed: int) -> str:
    number = page.result(chosen)
    text = number.text if number else ""
    rest = [r for r in results if r is not chosen]
    if chosen.quantity == YIELD and len(chosen.subjects) > 2:
        used = f"{len(set(chosen.subjects))} of {placed} gauges"
        return f"Yield at {text}, {name_of_result(chosen)} ({used}){_range(page, rest)}."
    if chosen.quantity == YIELD:
        start = "Yield is reached by" if not rest else "The first to yield is"
        start = "The first pair to yield is" if rest and len(chosen.subjects) == 2 else start
        return f"{start} {name_of_result(chosen)}, at {text}."
    if _is_listed(results):
        told = "; ".join(_part(page, result) for result in results)
        return f"{told[0].upper()}{told[1:]}."
    what = chosen.quantity
    start = f"The largest {what} in size is" if rest else f"The {what} is"
    pair = len(chosen.subjects) == 2 and chosen.quantity in (FORCE, STRAIN)
    start = f"From opposite pairs the largest {what} is" if rest and pair else start
    if pair and all(len(r.subjects) == 1 for r in rest):
        start = f"From the opposite pair the {what} is"
    return f"{start} {text}: {name_of_result(chosen)}."


def _range(page: Page, results: list[Result]) -> str:
    """Loads of the single gauges, first to last, to stand beside their mean."""
    loads = [r.value for r in results if len(r.subjects) == 1 and r.value is not None]
    if len(loads) < 2:
        return ""
    unit = unit_shown("force", page.system).text
    first, last = (
        significant_text(in_shown(load, "force", page.system), 3)
        for load in (min(loads), max(loads))
    )
    return f"; single gauges from {first} to {last} {unit}"


def _is_listed(results: list[Result]) -> bool:
    """Whether the answer has parts of equal rank, few enough to be told in its sentence."""
    return 1 < len(results) <= LISTED and results[0].quantity in (FORCE, *PLATE)


def _part(page: Page, result: Result) -> str:
    number = page.result(result)
    text = number.text if number else ""
    bar = page.book.bar_of(page.book.entry(result.subjects[0], Gauge)).record.label
    if result.quantity == FORCE:
        return f"bar {bar}: {text} ({name_of_result(result)})"
    if result.unit == "rad":
        return f"{name_of_result(result)}: {text} from the axis of {bar}"
    return f"{name_of_result(result)}: {text}"


def _placed(page: Page, question: Question) -> int:
    """How many gauges were placed for a question."""
    return sum(g.record.station in question.stations for g in page.book.of(Gauge))


def _no_answer(page: Page, question: Question, results: list[Result]) -> Answer:
    notes = list(dict.fromkeys(r.note for r in results if r.value is None and r.note))
    if notes:
        why = "No number is given: " + "; ".join(notes[:3]) + "."
    elif results:
        why = "No number is given: every gauge it needs is doubtful or lost."
    else:
        why = f"No number is given: {_not_reduced(page, question)}."
    return Answer(question.text, why, State.NOT_YET.value)


def _not_reduced(page: Page, question: Question) -> str:
    """Why nothing was reduced to what is asked, and what to do about it."""
    if not question.stations:
        return "the question names no stations. Choose them with the question in the plan"
    if question.quantity == STRAIN and not question.load:
        return "the question names no load. Give it one in the plan, then reduce again"
    if question.quantity in (FORCE, "bond stress", *PLATE):
        return (
            "no load step at the load it asks was reduced. Mark when the load was held, under "
            "Results or on test day, then reduce again"
        )
    if page.book.of(Chain):
        return (
            f"gauges are reduced, but not to {question.quantity}. What they tell, with the stress "
            "at each load held, stands under Results, close up; curvature, moment and the like "
            "want a member around the bar in the plan"
        )
    return (
        "no gauge at its stations was reduced to it. See that they are plugged in while something "
        "was recorded and have a zero, then reduce again"
    )


def _remedy(cause: str) -> str:
    return next((words for start, words in _REMEDIES if cause.startswith(start)), "")


def yield_rows(page: Page) -> tuple[YieldRow, ...]:
    """Yield load of every gauge and pair, or why there is none."""
    rows = []
    for entry in page.book.of(Result):
        result = entry.record
        if result.quantity != YIELD:
            continue
        load = page.result(result)
        rows.append(
            YieldRow(
                name_of_result(result),
                page.worst(result.subjects).value,
                f"{result.criterion}; {result.zero}",
                load,
                None,
                result.main_cause,
                result.note if load is None else "",
                short_id(entry.uid),
            )
        )
    return tuple(rows)


def lead(page: Page, given: tuple[Answer, ...]) -> str:
    """First sentence of the report: what came out, and how many gauges can be believed."""
    gauges = page.book.of(Gauge)
    counts = {
        state: sum(page.state(g) is state for g in gauges)
        for state in (State.SOUND, State.WATCH, State.REPAIR, State.DOUBTFUL, State.LOST)
    }
    told = [f"{n} {state.value}" for state, n in counts.items() if n]
    first = next((a.sentence for a in given if a.number is not None), "No question has an answer.")
    number = sum(a.number is not None for a in given)
    return (
        f"{first} {number} of {len(given)} questions have an answer. "
        f"Of {len(gauges)} gauges: {listed(told) or 'none proved yet'}.{_open_findings(page)}"
    )


def _open_findings(page: Page) -> str:
    findings = page.book.of(Finding)
    number = sum(entry.record.decision is Decision.OPEN for entry in findings)
    if not number:
        return ""
    are = "finding is" if number == 1 else "findings are"
    return f" {number} of {len(findings)} {are} open: nobody has decided them yet."
