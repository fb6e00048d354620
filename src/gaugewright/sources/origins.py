"""Which lines ahead of the readings tell a date and a time, perhaps when the readings began?

What such a line means is never assumed: it is shown to a person with the question.
"""

import re
from collections.abc import Collection, Sequence
from datetime import UTC, datetime, timedelta

from gaugewright.sources import stamps
from gaugewright.sources.stamp_patterns import patterns_of
from gaugewright.sources.understanding import OriginSeen

__all__ = ["origins_seen"]

_DATE = re.compile(
    r"(?<![\d.,:])\d{1,4}(?P<mark>[-/. ])(\d{1,2}|[^\W\d_]{3,9}\.?)(?P=mark)\d{1,4}(?![\d:])"
)
_TIME = re.compile(
    r"(?<![\d:])\d{1,2}:\d{2}(:\d{2}([.,]\d+)?)?(\s?[AaPp]\.?[Mm]\b\.?)?(\s?[+-]\d{2}:?\d{2}\b|Z\b)?"
)
_MOST = 4
_SHOWN = 80


def origins_seen(head: Sequence[str], names: Collection[int]) -> tuple[OriginSeen, ...]:
    """Lines of a file's ``head`` that tell a date and a time; those of ``names`` are left out.

    A line with a date alone goes with a line beside it that tells a time alone.

    Examples
    --------
    >>> [(one.line, one.instants) for one in origins_seen(["Start 13.01.2027 09:15:00"], ())]
    [(1, (('dd.mm.yyyy hh:mm:ss', '2027-01-13 09:15:00'),))]
    """
    texts = {n: text for n, text in enumerate(head, start=1) if n not in names}
    found = []
    for number, text in texts.items():
        date = _DATE.search(text)
        if date is None:
            continue
        time, words = _time_with(texts, number, date)
        instants = _instants(f"{date[0]} {time}") if time else ()
        if instants:
            found.append(OriginSeen(number, " ".join(words.split())[:_SHOWN], instants))
    return tuple(found[:_MOST])


def _time_with(texts: dict[int, str], number: int, date: re.Match[str]) -> tuple[str, str]:
    """Time of day that belongs to a date, and the words that tell both."""
    text = texts[number]
    time = _TIME.search(text, date.end()) or _TIME.search(text[: date.start()])
    if time is not None:
        return time[0], text
    for beside in (number + 1, number - 1):
        other = texts.get(beside, "")
        time = None if _DATE.search(other) else _TIME.search(other)
        if time is not None:
            return time[0], f"{text}, {other}" if beside > number else f"{other}, {text}"
    return "", text


def _instants(text: str) -> tuple[tuple[str, str], ...]:
    """What a date and a time say by every pattern that they follow."""
    said = []
    for pattern in patterns_of([text]):
        if pattern.startswith("yyyy-dd"):
            continue  # year-month-day with hyphens is the standard's own order
        ns = int(stamps.local_ns([text], stamps.compile_pattern(pattern))[0][0])
        if ns != stamps.NO_TIME:
            moment = datetime(1970, 1, 1, tzinfo=UTC) + timedelta(microseconds=ns // 1000)
            fraction = f".{moment.microsecond:06d}".rstrip("0") if moment.microsecond else ""
            seconds = f"{moment:%H:%M:%S}{fraction}" if "ss" in pattern else f"{moment:%H:%M}"
            said.append((pattern, f"{moment:%Y-%m-%d} {seconds}"))
    return tuple(said)
