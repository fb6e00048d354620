"""What the campaign was asked, what came out, and what would make the answer surer."""

from gaugewright.present.captions import listed
from gaugewright.present.numbers import Shown
from gaugewright.records import Entry
from gaugewright.records.gauges import Gauge
from gaugewright.records.results import Result
from gaugewright.records.specimen import Question
from gaugewright.records.stated import State
from gaugewright.report.document import Answer, YieldRow
from gaugewright.services.handover_page import UNUSABLE, Page

__all__ = ["answers", "lead", "yield_rows"]

YIELD = "yield load"
# What a laboratory can do about the main cause of a doubt: general advice of the trade, by the
# beginning of the cause's name.
_REMEDIES = (
    ("installation", "pulling each gauged bar against a known load before it is cast in"),
    ("gauge factor", "pulling each gauged bar against a known load before it is cast in"),
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
    results = page.book.of(Result)
    return tuple(
        _answer(page, question, [r.record for r in results if r.record.question == question.uid])
        for question in page.book.of(Question)
    )


def _answer(page: Page, question: Entry[Question], results: list[Result]) -> Answer:
    usable = [r for r in results if page.worst(r.subjects) not in UNUSABLE]
    with_value = [r for r in usable if r.value is not None]
    if not with_value:
        return _no_answer(page, question.record, results)
    chosen = _governing(with_value)
    number = page.result(chosen)
    wanted = question.record.wanted
    enough = wanted is None or (chosen.expanded_uncertainty or 0.0) <= wanted
    return Answer(
        question.record.text,
        _sentence(page, chosen, with_value, number),
        (State.SOUND if enough else State.WATCH).value,
        number,
        chosen.main_cause,
        _remedy(chosen.main_cause),
        _rests_on(page, with_value, chosen, wanted, enough),
    )


def _governing(results: list[Result]) -> Result:
    """The one that decides: the first to yield, else the largest; pairs before single gauges."""
    pairs = [r for r in results if len(r.subjects) > 1] or results
    if pairs[0].quantity == YIELD:
        return min(pairs, key=lambda r: r.value or 0.0)
    same = [r for r in pairs if r.unit == pairs[0].unit]
    return max(same, key=lambda r: abs(r.value or 0.0))


def _sentence(page: Page, chosen: Result, others: list[Result], number: Shown | None) -> str:
    subject = listed(page.labels(chosen.subjects))
    text = number.text if number else ""
    if chosen.quantity == YIELD:
        start = "The first to yield is" if len(others) > 1 else "Yield is reached at"
        return f"{start} {subject}, at {text}."
    largest = "The largest is" if len(others) > 1 else "It is"
    return f"{largest} {text}: {chosen.label}."


def _rests_on(
    page: Page, results: list[Result], chosen: Result, wanted: float | None, enough: bool
) -> str:
    words = []
    if not enough and wanted is not None:
        asked = page.number(wanted, None, chosen.unit)
        words.append(f"wanted within ± {asked.text}, which isn't reached")
    values = [
        f"{r.label} {number.text}"
        for r in results
        if r is not chosen and (number := page.result(r)) is not None
    ]
    if values:
        words.append("beside it: " + listed(values, most=6))
    return "; ".join([f"{chosen.criterion}, {chosen.zero}", *words])


def _no_answer(page: Page, question: Question, results: list[Result]) -> Answer:
    stations = set(question.stations)
    gauges = tuple(g.uid for g in page.book.of(Gauge) if g.record.station in stations)
    notes = list(dict.fromkeys(r.note for r in results if r.value is None and r.note))
    if notes:
        why = "No number is given: " + "; ".join(notes[:3]) + "."
    elif results:
        why = "No number is given: every gauge it needs is doubtful or lost."
    else:
        why = "No number is given: nothing was reduced to what is asked."
    state = page.worst(gauges) if results and not notes else State.NOT_YET
    return Answer(question.text, why, state.value)


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
                " with ".join(page.labels(result.subjects)),
                page.worst(result.subjects).value,
                f"{result.criterion}; {result.zero}",
                load,
                None,
                result.main_cause,
                result.note if load is None else "",
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
        f"Of {len(gauges)} gauges: {listed(told) or 'none proved yet'}."
    )
