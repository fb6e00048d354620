"""How well each question of a campaign can still be answered."""

from dataclasses import dataclass

from gaugewright.records import Entry
from gaugewright.records.gauges import Gauge
from gaugewright.records.identity import Uid
from gaugewright.records.specimen import Question
from gaugewright.records.stated import State
from gaugewright.services.campaign.book import Book
from gaugewright.services.campaign.states import standing_of_gauge

__all__ = ["AT_RISK", "FEWER", "MARKS", "SAFE", "UNUSABLE", "QuestionLine", "question_line"]

UNUSABLE = (State.DOUBTFUL, State.LOST, State.REPAIR)


SAFE, FEWER, AT_RISK = "safe", "fewer gauges", "at risk"


# The mark that stands beside a question's standing, wherever it is shown.
MARKS = {SAFE: State.SOUND, FEWER: State.WATCH, AT_RISK: State.DOUBTFUL}


@dataclass(frozen=True, slots=True)
class QuestionLine:
    """A question and how well it can still be answered: safe, fewer gauges, or at risk."""

    uid: Uid
    label: str
    text: str
    standing: str
    usable: int
    placed: int
    sentence: str


def question_line(book: Book, entry: Entry[Question]) -> QuestionLine:
    """How well a question can be answered, from its gauges alone: the one scale for it."""
    stations = set(entry.record.stations)
    mine = [gauge for gauge in book.of(Gauge) if gauge.record.station in stations]
    bad = [g for g in mine if standing_of_gauge(book, g).state in UNUSABLE]
    usable = len(mine) - len(bad)
    standing = AT_RISK if usable <= 1 else FEWER if bad else SAFE
    sentence = f"{usable} of {len(mine)} gauges can be used"
    if bad:
        sentence += "; not " + ", ".join(gauge.record.label for gauge in bad)
    if not mine:
        sentence = "no gauge is placed for it"
    return QuestionLine(
        entry.uid, entry.record.label, entry.record.text, standing, usable, len(mine), sentence
    )
