"""In which pass through an hour that came twice was a row written, when the clock went back?

Stamps alone can't tell; the order of the rows often can, because a recorder writes them one after
the other. Where it proves nothing the rows keep their stamps and have no time.
"""

from collections import deque
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta, tzinfo
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt

from gaugewright.sources import stamps, stream
from gaugewright.sources.layout import Layout
from gaugewright.sources.lines import Cells, split_fields
from gaugewright.sources.regular import column_key, pieces

__all__ = ["Turn", "between", "decided", "looked_for"]

IntArray = npt.NDArray[np.int64]

NEIGHBOURS = 64  # rows on either side that show what is usual
FEWEST = 4  # steps from which rows are called even
LONGEST = 1.5  # times the longest usual step: more is a pause, not the next row
EVEN = 0.01  # share of a step by which even ones may differ
_TAIL = 1 << 16
_DAY = 86_400
_SECOND = 10**9


@dataclass(frozen=True, slots=True)
class Turn:
    """Local times from ``begins`` up to ``ends`` that came twice, ``shift`` apart [ns].

    Rows from ``later`` on were written in the second pass; None where the order of the rows
    proves nothing. ``why`` says it in words.
    """

    begins: int
    ends: int
    offset: int
    shift: int
    later: int | None = None
    why: str = ""

    def instants(self, local: IntArray, rows: IntArray) -> IntArray:
        """Nanoseconds UTC of rows inside the hour, once it is known which pass they are of."""
        if self.later is None:
            return np.full(len(local), stamps.NO_TIME, dtype=np.int64)
        return local - self.offset + np.where(rows >= self.later, self.shift, 0)


def between(zone: tzinfo, first: int, last: int) -> tuple[Turn, ...]:
    """Hours that came twice between two local times [ns], undecided."""
    found = []
    day = first // _SECOND - 2 * _DAY
    while day * _SECOND < last + 2 * _DAY * _SECOND:
        before, after = _offset(zone, day), _offset(zone, day + _DAY)
        if after < before:
            low, high = day, day + _DAY
            while high - low > 1:
                middle = (low + high) // 2
                low, high = (middle, high) if _offset(zone, middle) == before else (low, middle)
            begins, ends = (high + after) * _SECOND, (high + before) * _SECOND
            if begins <= last and ends > first:
                found.append(Turn(begins, ends, before * _SECOND, (before - after) * _SECOND))
        day += _DAY
    return tuple(found)


def _offset(zone: tzinfo, seconds: int) -> int:
    moment = datetime(1970, 1, 1, tzinfo=UTC) + timedelta(seconds=seconds)
    return round((moment.astimezone(zone).utcoffset() or timedelta()).total_seconds())


def decided(local: IntArray, begins: int, ends: int, shift: int) -> tuple[int | None, str]:
    """First row of the second pass among rows in file order, and the proof; None without one.

    The rows hold some before the hour and some after it. If the clock steps back once inside the
    hour and nowhere else, and putting the hour back leaves no more than an ordinary step there,
    the rows before that step are of the first pass and those after it of the second. If it
    doesn't step back, rows that come evenly on both sides may leave one division only in which
    all steps are even. Anything else proves nothing.

    Parameters
    ----------
    local : array, shape (n_rows,)
        Local times in nanoseconds, in file order, none of them missing.
    begins, ends, shift : int
        The hour, and how far the clock went back [ns].
    """
    inside = np.flatnonzero((local >= begins) & (local < ends))
    if not inside.size:
        return None, "no row stands in it"
    first, last = int(inside[0]), int(inside[-1])
    if inside.size != last - first + 1:
        return None, "rows of other hours stand between its rows"
    steps = np.diff(local)
    back = np.flatnonzero(steps < 0)
    ordinary = np.delete(steps, [place for place in (first - 1, last) if 0 <= place < steps.size])
    if back.size > 1:
        return None, f"the clock steps back {back.size} times hereabouts"
    if back.size == 1:
        return _by_step_back(int(back[0]), steps, ordinary, (first, last), shift)
    return _by_even_steps(steps, ordinary, (first, last), shift)


def _by_step_back(
    place: int, steps: IntArray, ordinary: IntArray, run: tuple[int, int], shift: int
) -> tuple[int | None, str]:
    first, last = run
    shown = f"steps back by {_shown(-int(steps[place]))}"
    if not first <= place < last:
        return None, f"the clock {shown} outside of it"
    left = int(steps[place]) + shift
    usual = ordinary[ordinary >= 0]
    longest = int(usual.max()) if usual.size else 0
    if left < 0 or not usual.size or left > LONGEST * longest:
        return None, f"the clock {shown}, which isn't {_shown(shift)} less an ordinary step"
    return place + 1, (
        f"the clock {shown} once, which with {_shown(shift)} put back is a step of {_shown(left)}"
    )


def _by_even_steps(
    steps: IntArray, ordinary: IntArray, run: tuple[int, int], shift: int
) -> tuple[int | None, str]:
    first, last = run
    outer = np.concatenate([steps[: max(first - 1, 0)], steps[last + 1 :]])
    if outer.size < FEWEST:
        return None, "the clock doesn't step back, and too few rows show their usual step"
    usual = float(np.median(outer))
    if usual <= 0 or np.any(np.abs(outer - usual) > EVEN * usual):
        return None, "the clock doesn't step back, and rows don't come evenly"
    fitting = []
    for later in range(first, last + 2):
        # The step into row ``later`` is longer by the hour that was put back.
        tried = steps[max(first - 1, 0) : last + 1].astype(np.float64)
        at = later - 1 - max(first - 1, 0)
        if 0 <= at < tried.size:
            tried[at] += shift
        if np.all(np.abs(tried - usual) <= EVEN * usual):
            fitting.append(later)
    if len(fitting) != 1:
        return None, "the clock doesn't step back, and no division of its rows alone is even"
    return fitting[0], f"only so do rows come every {_shown(round(usual))} as before and after"


def _shown(nanoseconds: int) -> str:
    seconds = nanoseconds / _SECOND
    return f"{seconds / 60:g} min" if seconds >= 60 and seconds % 60 == 0 else f"{seconds:.6g} s"


@dataclass(slots=True)
class _Seen:
    """Rows in and round one doubled hour, as they come."""

    turn: Turn
    first_row: int | None = None
    rows: list[IntArray] = field(default_factory=list)
    after: int = 0
    is_open: bool = True
    is_again: bool = False


def looked_for(path: Path, layout: Layout) -> tuple[Turn, ...]:
    """Hours that came twice while a file was written, each decided as far as rows can.

    The file is read once for its clock alone, and only if its first and last stamps have such an
    hour between them.
    """
    clock = layout.clock
    zone = stamps.zone_named(clock.zone) if clock.kind == "stamp" else None
    pattern = clock.stamp_pattern() if clock.kind == "stamp" else None
    if not isinstance(zone, ZoneInfo) or pattern is None or pattern.has_offset:
        return ()
    if not pattern.has_date:
        return ()
    ends = _ends(path, layout, pattern)
    turns = between(zone, min(ends), max(ends)) if ends else ()
    if not turns:
        return ()
    seen = [_Seen(turn) for turn in turns]
    recent: deque[int] = deque(maxlen=NEIGHBOURS)
    row = 0
    for local in _clock_of(path, layout, pattern):
        for one in seen:
            _take(one, local, row, recent)
        recent.extend(local[-NEIGHBOURS:].tolist())
        row += len(local)
    return tuple(_judged(one) for one in seen)


def _take(one: _Seen, local: IntArray, row: int, recent: Sequence[int]) -> None:
    """Keep a piece's rows if they are in the hour, or its neighbours."""
    inside = np.flatnonzero((local >= one.turn.begins) & (local < one.turn.ends))
    if not one.is_open:
        one.is_again = one.is_again or bool(inside.size)
        return
    begin = 0
    if one.first_row is None:
        if not inside.size:
            return
        begin = max(int(inside[0]) - NEIGHBOURS, 0)
        before = np.array(recent, dtype=np.int64)[len(recent) - (NEIGHBOURS - int(inside[0])) :]
        before = before if int(inside[0]) < NEIGHBOURS else before[:0]
        one.first_row = row + begin - len(before)
        one.rows.append(before)
    end = len(local)
    if inside.size:
        one.after = 0
    past = end - (int(inside[-1]) + 1 if inside.size else 0)
    room = NEIGHBOURS - one.after
    if past >= room:
        end -= past - room
        one.is_open = False
    one.after += min(past, room)
    one.rows.append(local[begin:end])


def _judged(one: _Seen) -> Turn:
    turn = one.turn
    if one.first_row is None:
        return turn
    local = np.concatenate(one.rows)
    known = np.flatnonzero(local != stamps.NO_TIME)
    later, why = decided(local[known], turn.begins, turn.ends, turn.shift)
    if one.is_again:
        later, why = None, "rows of it stand in several places"
    day = datetime(1970, 1, 1, tzinfo=UTC) + timedelta(microseconds=turn.begins // 1000)
    count = int(((local >= turn.begins) & (local < turn.ends)).sum())
    words = f"{count} row(s) of {day:%Y-%m-%d} are in an hour that came twice"
    if later is None:
        return Turn(turn.begins, turn.ends, turn.offset, turn.shift, None, f"{words}: {why}")
    place = int(known[later]) if later < known.size else len(local)
    words += f"; their order tells them apart: {why}"
    return Turn(turn.begins, turn.ends, turn.offset, turn.shift, one.first_row + place, words)


def _clock_of(path: Path, layout: Layout, pattern: stamps.Pattern) -> Iterator[IntArray]:
    """Local times of the rows that are kept, piece by piece."""
    cells = Cells(layout)
    keys = [column_key(position) for position in layout.clock.columns]
    for lines in stream.line_pieces(path, layout.encoding, line_end=layout.line_end):
        first, data = lines.first, lines.data
        skipped = min(max(layout.first_data_row - first, 0), lines.count)
        for _ in range(skipped):
            data = data[data.index(b"\n") + 1 :]
        for piece in pieces(data, first + skipped, layout, cells, open_end=lines.open_end):
            texts: list[str] = piece.frame[keys[0]].to_list()
            if len(keys) > 1:
                texts = [" ".join(parts) for parts in piece.frame.select(keys).iter_rows()]
            yield stamps.local_ns(texts, pattern)[0]


def _ends(path: Path, layout: Layout, pattern: stamps.Pattern) -> tuple[int, ...]:
    """Local times near the beginning and near the end of a file."""
    with path.open("rb") as file:
        head = file.read(_TAIL)
        file.seek(0, 2)
        file.seek(max(file.tell() - _TAIL, 0) // 4 * 4)  # whole characters of any encoding
        tail = file.read()
    texts: list[str | None] = []
    for part in (head, tail):
        for line in part.decode(layout.encoding, errors="replace").splitlines():
            fields = split_fields(line, layout.delimiter) or []
            if len(fields) > max(layout.clock.columns):
                texts.append(" ".join(fields[column] for column in layout.clock.columns))
    local, _ = stamps.local_ns(texts, pattern)
    return tuple(local[local != stamps.NO_TIME].tolist())
