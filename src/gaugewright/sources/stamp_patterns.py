"""Which patterns the time stamps of a sample follow; more than one means a person must say."""

import re
from collections.abc import Sequence

from gaugewright.sources import stamps
from gaugewright.sources.understanding import StampSeen

__all__ = ["patterns_of", "stamps_seen"]

_DATE = re.compile(r"(\d{1,4})([-/. ])(\d{1,2}|[^\W\d_]{3,9}\.?)\2(\d{1,4})")
_TIME = re.compile(
    r"(?P<hour>\d{1,2}):(?P<minute>\d{2})(:(?P<second>\d{2})((?P<mark>[.,])\d+)?)?"
    r"(?P<gap>\s*)(?P<half>[AaPp]\.?[Mm]\.?)?(?P<gap2>\s*)(?P<offset>Z|[+-]\d{2}(:?\d{2})?)?"
)
# Stamps that a handful of damaged cells may contradict.
_FITTING = 0.95


def stamps_seen(texts: Sequence[Sequence[str]], is_stamp: Sequence[bool]) -> tuple[StampSeen, ...]:
    """Stamps of every column; a column of dates followed by one of times is one stamp."""
    found: list[StampSeen] = []
    position = 0
    while position < len(texts):
        if not is_stamp[position]:
            position += 1
            continue
        patterns = patterns_of(texts[position])
        columns: tuple[int, ...] = (position,)
        after = position + 1
        if patterns and "hh" not in patterns[0] and after < len(texts) and is_stamp[after]:
            pairs = [" ".join(pair) for pair in zip(texts[position], texts[after], strict=True)]
            if joined := patterns_of(pairs):
                patterns, columns = joined, (position, after)
        if patterns:
            found.append(StampSeen(columns, patterns))
        position = columns[-1] + 1
    return tuple(found)


def patterns_of(texts: Sequence[str]) -> tuple[str, ...]:
    """Patterns that (nearly) every text follows; empty when none does.

    Examples
    --------
    >>> patterns_of(["03.04.2024 10:00:00,5", "03.04.2024 10:00:01"])
    ('dd.mm.yyyy hh:mm:ss,f', 'mm.dd.yyyy hh:mm:ss,f')
    >>> patterns_of(["25.04.2024 10:00"])
    ('dd.mm.yyyy hh:mm',)
    """
    filled = [text for text in texts if text.strip()]
    if not filled:
        return ()
    model = max(filled[:200], key=len)  # the longest has every part that others may leave out
    fits: dict[str, float] = {}
    for candidate in _candidates(model):
        pattern = stamps.compile_pattern(candidate)
        if "mmm" in pattern.tokens:
            good = sum(pattern.regex.fullmatch(text.strip()) is not None for text in filled)
        else:
            ns, _ = stamps.local_ns(filled, pattern)
            good = int((ns != stamps.NO_TIME).sum())
        fits[candidate] = good / len(filled)
    best = max(fits.values(), default=0.0)
    if best < _FITTING:
        return ()
    # A day above 12 in a single good stamp decides against the other order.
    return tuple(candidate for candidate, fit in fits.items() if fit == best)


def _candidates(text: str) -> list[str]:
    date = _DATE.match(text)
    if date is None:
        time = _time_pattern(text)
        return [time] if time else []
    dates = _date_patterns(date, iso=text[date.end() : date.end() + 1] == "T")
    rest = text[date.end() :]
    if not rest:
        return dates
    gap = re.match(r"T|[ ,]+", rest)
    time = _time_pattern(rest[gap.end() :]) if gap else ""
    return [f"{day}{gap[0]}{time}" for day in dates] if gap and time else []


def _date_patterns(date: re.Match[str], *, iso: bool) -> list[str]:
    first, mark, middle, last = date.groups()
    if not middle.isdecimal():
        year = "yyyy" if len(last) == 4 else "yy"
        return [f"dd{mark}mmm{mark}{year}"] if len(first) <= 2 and len(last) in (2, 4) else []
    if len(first) == 4:
        orders = ["yyyy mm dd"] if iso else ["yyyy mm dd", "yyyy dd mm"]
    elif len(last) == 4:
        orders = ["dd mm yyyy", "mm dd yyyy"]
    else:
        orders = ["dd mm yy", "mm dd yy", "yy mm dd"]
    return [order.replace(" ", mark) for order in orders]


def _time_pattern(text: str) -> str:
    match = _TIME.fullmatch(text.strip())
    if match is None:
        return ""
    pattern = "hh:mm"
    if match["second"]:
        pattern += ":ss" + (f"{match['mark']}f" if match["mark"] else "")
    if match["half"]:
        pattern += f"{match['gap']}am"
    return pattern + (f"{match['gap2']}z" if match["offset"] else "")
