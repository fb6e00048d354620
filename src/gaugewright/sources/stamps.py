"""Which instant a time stamp means, once its pattern and zone have been stated.

A pattern is written with the letters of the stamp itself: ``dd.mm.yyyy hh:mm:ss.fff``. Tokens are
``yyyy yy mmm mm dd hh ss f am z``; ``mm`` is the minute directly after the hour and the month
elsewhere, ``mmm`` a month's name, ``f`` (any number of them) the fraction of a second, ``am``
the half of the day, ``z`` an offset from UTC or ``Z``. Everything else stands for itself.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, timezone, tzinfo
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import numpy as np
import numpy.typing as npt

from gaugewright.errors import InputError

__all__ = [
    "ENGLISH_MONTHS",
    "NO_TIME",
    "Pattern",
    "compile_pattern",
    "epoch_ns",
    "local_ns",
    "utc_ns",
    "zone_named",
]

IntArray = npt.NDArray[np.int64]

# What an unreadable stamp becomes in an array of integers (numpy's own "not a time").
NO_TIME = int(np.iinfo(np.int64).min)

ENGLISH_MONTHS = tuple("Jan Feb Mar Apr May Jun Jul Aug Sep Oct Nov Dec".split())  # noqa: SIM905

_TOKEN = re.compile(r"yyyy|yy|mmm|mm|dd|hh|ss|f+|am|z|.", re.DOTALL)
_DAY_NS, _HOUR_NS, _MINUTE_NS, _SECOND_NS = (
    86_400_000_000_000,
    3_600_000_000_000,
    60_000_000_000,
    10**9,
)
# 64 bits of nanoseconds reach from 1677 to 2262; a stamp outside is damage.
_YEARS = (1678, 2261)
_GROUPS = {
    "yyyy": r"(?P<year>\d{4})",
    "yy": r"(?P<year2>\d{2})",
    "dd": r"(?P<day>\d{1,2})",
    "month": r"(?P<month>\d{1,2})",
    "mmm": r"(?P<name>[^\W\d_]+\.?)",
    "hh": r"(?P<hour>\d{1,2})",
    "minute": r"(?P<minute>\d{2})",
    "ss": r"(?P<second>\d{2})",
    "am": r"(?P<half>[AaPp]\.?[Mm]\.?)",
    "z": r"(?P<offset>Z|z|[+-]\d{2}(?::?\d{2})?)",
}


@dataclass(frozen=True, slots=True)
class Pattern:
    """A stamp's pattern, ready to be applied."""

    text: str
    regex: re.Pattern[str]
    tokens: frozenset[str]
    century: int
    months: tuple[str, ...]

    @property
    def has_date(self) -> bool:
        """Whether the stamp says which day it is."""
        return "dd" in self.tokens

    @property
    def has_offset(self) -> bool:
        """Whether every stamp carries its own offset from UTC."""
        return "z" in self.tokens


def compile_pattern(
    pattern: str, *, century: int = 2000, months: Sequence[str] = ENGLISH_MONTHS
) -> Pattern:
    """Pattern ready to be applied.

    Parameters
    ----------
    pattern : str
        Such as ``yyyy-mm-dd hh:mm:ss.fff``.
    century : int
        Added to a two-digit year.
    months : sequence of 12 names
        As the file writes them, compared without regard to case.

    Raises
    ------
    InputError
        If a token is doubled, or there is neither a whole date nor an hour.
    """
    if len(months) != 12:
        raise InputError("months", ", ".join(months), "twelve names, January first")
    names: list[str] = []
    parts: list[str] = []
    pending = ""  # a separator waiting to know whether an optional fraction follows
    for token in _TOKEN.findall(pattern):
        if token == "mm":
            token = "minute" if "hh" in names and "minute" not in names else "month"
        if token[0] == "f" and set(token) == {"f"}:
            parts.append(f"(?:{pending}(?P<fraction>\\d+))?")
            names.append("f")
            pending = ""
            continue
        parts.append(pending)
        pending = ""
        if token in _GROUPS:
            parts.append(_GROUPS[token])
            names.append(token)
        else:
            pending = r"\s+" if token.isspace() else re.escape(token)
    parts.append(pending)
    _refuse_incomplete(pattern, names)
    regex = re.compile("".join(parts), re.ASCII if "mmm" not in names else 0)
    return Pattern(pattern, regex, frozenset(names), century, tuple(m.casefold() for m in months))


def _refuse_incomplete(pattern: str, names: list[str]) -> None:
    twice = sorted({name for name in names if names.count(name) > 1})
    year = {"yyyy", "yy"} & set(names)
    month = {"month", "mmm"} & set(names)
    date = (len(year) == 1, len(month) == 1, "dd" in names)
    time_of_day = "hh" in names
    if twice or not (all(date) or (time_of_day and not any(date))):
        raise InputError(
            "pattern",
            pattern,
            "made of yyyy or yy, mm or mmm, dd, hh, mm, ss, f, am, z, each once",
            "write it like the stamp: dd.mm.yyyy hh:mm:ss.fff",
        )


def local_ns(texts: Sequence[str | None], pattern: Pattern) -> tuple[IntArray, IntArray]:
    """Nanoseconds from 1970-01-01 00:00 on the stamp's own clock, and the stamp's own offset.

    Stamps without a date count from their midnight. Both arrays hold ``NO_TIME`` where the text
    doesn't follow the pattern or names no real day or time; ``24:00:00`` is the end of its day,
    a 60th second is refused. The offset is 0 where the pattern has none.
    """
    count = len(texts)
    ns = np.full(count, NO_TIME, dtype=np.int64)
    offset = np.zeros(count, dtype=np.int64)
    if not count:
        return ns, offset
    left = _same_shape(texts, pattern, ns, offset)
    for row in left:
        text = texts[row]
        match = None if text is None else pattern.regex.fullmatch(text.strip())
        if match is not None:
            ns[row], offset[row] = _one(match, pattern)
    offset[ns == NO_TIME] = NO_TIME
    return ns, offset


def _one(match: re.Match[str], pattern: Pattern) -> tuple[int, int]:
    """One stamp in plain Python: the referee of the array form below."""
    part = {"hour": "0", "minute": "0", "second": "0"}
    part |= {k: v for k, v in match.groupdict().items() if v is not None}
    hour, minute, second = int(part["hour"]), int(part["minute"]), int(part["second"])
    if "half" in part:
        if not 1 <= hour <= 12:
            return NO_TIME, NO_TIME
        hour = hour % 12 + (12 if part["half"][0] in "Pp" else 0)
    fraction = int(part.get("fraction", "0")[:9].ljust(9, "0"))
    day_end = hour == 24 and minute == second == fraction == 0 and "half" not in part
    if not (hour < 24 or day_end) or minute > 59 or second > 59:
        return NO_TIME, NO_TIME
    days = 0
    if pattern.has_date:
        year = int(part["year"]) if "year" in part else pattern.century + int(part["year2"])
        month = int(part["month"]) if "month" in part else _month(part["name"], pattern)
        try:
            days = datetime(year, month, int(part["day"]), tzinfo=UTC).toordinal() - 719_163
        except ValueError:
            return NO_TIME, NO_TIME
        if not _YEARS[0] <= year <= _YEARS[1]:
            return NO_TIME, NO_TIME
    ns = days * _DAY_NS + hour * _HOUR_NS + minute * _MINUTE_NS + second * _SECOND_NS + fraction
    return ns, _offset_ns(part["offset"]) if "offset" in part else 0


def _month(name: str, pattern: Pattern) -> int:
    folded = name.casefold().rstrip(".")
    matches = [i + 1 for i, month in enumerate(pattern.months) if month.rstrip(".") == folded]
    return matches[0] if matches else 0  # no month 0: refused as a date


def _offset_ns(text: str) -> int:
    if text in "Zz":
        return 0
    digits = text[1:].replace(":", "")
    minutes = int(digits[:2]) * 60 + int(digits[2:] or 0)
    return (-1 if text[0] == "-" else 1) * minutes * _MINUTE_NS


def _same_shape(
    texts: Sequence[str | None], pattern: Pattern, ns: IntArray, offset: IntArray
) -> Sequence[int]:
    """Fill rows whose digits stand where the first row's do; return the rows left over."""
    everything = range(len(texts))
    first = texts[0]
    match = None if first is None or not first.isascii() else pattern.regex.fullmatch(first)
    if match is None or first is None or pattern.tokens & {"mmm", "am"}:
        return everything
    width = len(first)
    same = np.fromiter(
        (text is not None and len(text) == width and text.isascii() for text in texts),
        dtype=np.bool_,
        count=len(texts),
    )
    chosen = np.flatnonzero(same)
    joined = "".join(text for text, ok in zip(texts, same.tolist(), strict=True) if ok and text)
    cells = np.frombuffer(joined.encode("ascii"), dtype=np.uint8).reshape(-1, width)
    spans = {k: match.span(k) for k, v in match.groupdict().items() if v is not None}
    literal = np.ones(width, dtype=np.bool_)
    for name, (begin, end) in spans.items():
        if name != "offset":
            literal[begin:end] = False
    digits = cells.astype(np.int64) - ord("0")
    good = (cells[:, literal] == cells[0, literal]).all(axis=1)
    good &= ((digits[:, ~literal] >= 0) & (digits[:, ~literal] <= 9)).all(axis=1)
    local = _from_digits(digits, spans, pattern)
    good &= local != NO_TIME  # the referee says what is wrong with the others
    ns[chosen[good]] = local[good]
    if "offset" in spans:
        offset[chosen[good]] = _offset_ns(match["offset"])
    done = np.zeros(len(texts), dtype=np.bool_)
    done[chosen[good]] = True
    rest: list[int] = np.flatnonzero(~done).tolist()
    return rest


def _from_digits(digits: IntArray, spans: dict[str, tuple[int, int]], pattern: Pattern) -> IntArray:
    def number(name: str) -> IntArray:
        total = np.zeros(len(digits), dtype=np.int64)
        for position in range(*spans.get(name, (0, 0))):
            total = total * 10 + digits[:, position]
        return total

    hour, minute, second = number("hour"), number("minute"), number("second")
    bad = (hour > 23) | (minute > 59) | (second > 59)
    begin, end = spans.get("fraction", (0, 0))
    spans = {**spans, "fraction": (begin, min(end, begin + 9))}
    fraction = number("fraction") * 10 ** (9 - (spans["fraction"][1] - begin))
    ns = hour * _HOUR_NS + minute * _MINUTE_NS + second * _SECOND_NS + fraction
    if pattern.has_date:
        year = number("year") if "year" in spans else pattern.century + number("year2")
        month, day = number("month"), number("day")
        bad |= (year < _YEARS[0]) | (year > _YEARS[1]) | (month < 1) | (month > 12) | (day < 1)
        month_begin = (np.where(bad, 1970, year) - 1970) * 12 + np.where(bad, 1, month) - 1
        begin_day = month_begin.astype("datetime64[M]").astype("datetime64[D]").astype(np.int64)
        next_day = (
            (month_begin + 1).astype("datetime64[M]").astype("datetime64[D]").astype(np.int64)
        )
        bad |= day > next_day - begin_day
        ns = ns + np.where(bad, 0, begin_day + day - 1) * _DAY_NS
    return np.where(bad, NO_TIME, ns)


def zone_named(name: str) -> tzinfo | None:
    """Zone a person named; None when the name is empty.

    Raises
    ------
    InputError
        If it is neither an IANA name nor an offset.
    """
    if not name:
        return None
    if re.fullmatch(r"[+-]\d{2}:\d{2}", name):
        return timezone(timedelta(microseconds=_offset_ns(name) // 1000))
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        allowed = "an IANA name such as Europe/Rome, UTC, or an offset such as +02:00"
        raise InputError("zone", name, allowed) from None


def utc_ns(local: IntArray, zone: tzinfo) -> tuple[IntArray, dict[str, npt.NDArray[np.bool_]]]:
    """Instants of local times, and where there is none or there are two.

    Returns
    -------
    tuple
        Nanoseconds UTC with ``NO_TIME`` where it can't be known, and masks by mark code
        (``hour_twice``, ``hour_missing``).
    """
    known = local != NO_TIME
    minutes, index = np.unique(local[known] // _MINUTE_NS, return_inverse=True)
    first = np.zeros(len(minutes), dtype=np.int64)
    second = np.zeros(len(minutes), dtype=np.int64)
    for position, minute in enumerate(minutes.tolist()):
        wall = datetime(1970, 1, 1) + timedelta(minutes=minute)  # noqa: DTZ001 - zone added below
        for fold, offsets in enumerate((first, second)):
            offset = wall.replace(tzinfo=zone, fold=fold).utcoffset() or timedelta()
            offsets[position] = round(offset.total_seconds()) * _SECOND_NS
    utc = np.full(len(local), NO_TIME, dtype=np.int64)
    utc[known] = local[known] - first[index]
    twice = np.zeros(len(local), dtype=np.bool_)
    missing = np.zeros(len(local), dtype=np.bool_)
    # The clock going back makes the earlier offset the larger one (Python's fold 0).
    twice[known] = (first > second)[index]
    missing[known] = (first < second)[index]
    utc[twice | missing] = NO_TIME
    return utc, {"hour_twice": twice, "hour_missing": missing}


def epoch_ns(text: str) -> int:
    """Nanoseconds from 1970 to a stated date, or date and time, on a clock without a zone.

    Raises
    ------
    InputError
        If it is neither, or says a zone, which is stated apart.

    Examples
    --------
    >>> epoch_ns("1970-01-02 00:00:01")
    86401000000000
    """
    allowed = "a date such as 1904-01-01, or date and time such as 2027-01-12 09:15:00"
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        do = "write year, month and day in this order"
        raise InputError("epoch", text, allowed, do) from None
    if moment.tzinfo is not None:
        raise InputError("epoch", text, f"{allowed}, without a zone", "state the zone apart")
    days = moment.toordinal() - 719_163
    since = moment - datetime(moment.year, moment.month, moment.day)  # noqa: DTZ001 - no zone in it
    return days * _DAY_NS + since // timedelta(microseconds=1) * 1000
