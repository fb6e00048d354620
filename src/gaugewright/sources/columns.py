"""What the columns of a delimited file are: names, units, roles, clock; and what must be asked."""

import re
from collections import Counter
from collections.abc import Sequence

import numpy as np

from gaugewright.quantities import FloatArray, parse_unit
from gaugewright.sources import stamps
from gaugewright.sources.layout import Clock, Role
from gaugewright.sources.lines import Cells, split_fields
from gaugewright.sources.sniff import Sample, Structure, is_number, is_stamp, is_word
from gaugewright.sources.stamp_patterns import stamps_seen
from gaugewright.sources.understanding import (
    ColumnSeen,
    Evidence,
    MarkerSeen,
    Question,
    StampSeen,
    known_unit,
)

__all__ = ["ColumnsFound", "find_columns", "find_names"]

_BRACKETED = re.compile(r"(.*?)\s*(?:\[([^\[\]]*)\]|\(([^()]*)\))\s*$", re.DOTALL)
_TIME_WORDS = frozenset({
    "time", "t", "zeit", "temps", "tempo", "tiempo", "tid", "tijd", "seconds", "sec",
    "elapsed", "elapsedtime", "timestamp",
})  # fmt: skip
# Numbers that recorders write for "no reading"; whether they do here is asked, never assumed.
_NINES = (999.0, 9999.0, 99999.0, 999999.0, 9.9e37, 9.91e37, 1e30)
_FULL_SCALES = tuple(float(2**bits - less) for bits in (15, 16, 23, 31) for less in (0, 1))
_SUSPECTS = frozenset((*_NINES, *_FULL_SCALES))


def find_names(lines: Sample, found: Structure, stated_names: tuple[int, ...] | None,
               stated_units: int | None) -> None:  # fmt: skip
    """Fill in the rows of names and units of ``found``."""
    above = [row for row in _rows_above(lines, found) if row[0] not in (stated_names or ())]
    alone = len(above) == 1 and not stated_names
    if stated_units is None and above and _looks_like_units(above[0][1], alone=alone):
        found.units_row = above[0][0]
    elif stated_units is not None:
        found.units_row = stated_units
    above = [row for row in above if row[0] != found.units_row]
    if stated_names is not None:
        found.names_rows = stated_names
    elif above:
        _propose_names(above, found)
    else:
        _names_from_comment(lines, found)
    width = found.width
    for line in found.names_rows:
        fields = _head_fields(lines, line, found)
        words = f"line {line}"
        if len(fields) > width:
            words = f"line {line} has {len(fields)} fields, the data {width}: state name_N instead"
            found.evidence.append(Evidence("names not used", words))
            continue
        fields += [""] * (width - len(fields))
        before = found.names or [""] * width
        found.names = [" ".join(filter(None, p)) for p in zip(before, fields, strict=True)]
        found.evidence.append(Evidence("names", words))
    if found.units_row:
        fields = _head_fields(lines, found.units_row, found)[:width]
        found.units = fields + [""] * (width - len(fields))
        found.evidence.append(Evidence("units", f"line {found.units_row}"))


def _head_fields(lines: Sample, line: int, found: Structure) -> list[str]:
    text = lines.head[line - 1]
    fields = split_fields(text.removeprefix(found.comment), found.delimiter) or []
    if found.comment and text.startswith(found.comment) and len(fields) != found.width:
        other = text.removeprefix(found.comment).split("|")
        fields = [part.strip() for part in other]
    while len(fields) > found.width and not fields[-1]:
        fields.pop()
    return fields


def _rows_above(lines: Sample, found: Structure) -> list[tuple[int, list[str]]]:
    """Head rows directly above the data, lowest first, up to a blank or comment line."""
    above: list[tuple[int, list[str]]] = []
    for line in range(found.first_data_row - 1, 0, -1):
        text = lines.head[line - 1]
        fields = split_fields(text, found.delimiter) or []
        is_comment = bool(found.comment) and text.startswith(found.comment)
        if line in found.tare_lines:
            continue
        if is_comment or not any(fields):
            if found.tare_lines and line > min(found.tare_lines):
                continue
            break
        above.append((line, fields))
    return above


def _propose_names(above: list[tuple[int, list[str]]], found: Structure) -> None:
    found.names_rows = (above[0][0],)
    if len(above) > 1:
        line, fields = above[1]
        text_only = not any(is_number(text) for text in fields)
        if len(fields) == found.width > 1 and text_only and len(list(filter(None, fields))) > 1:
            lower = above[0][0]
            what = (
                f"does line {line} belong to the names in line {lower}? ({', '.join(fields)[:80]})"
            )
            found.questions.append(
                Question("names_rows", what, (f"({lower},)", f"({line}, {lower})"))
            )


def _looks_like_units(fields: list[str], *, alone: bool) -> bool:
    filled = [text for text in fields if text]
    bracketed = [text for text in filled if text[0] in "[(" and text[-1] in "])"]
    if alone or not filled:
        return bool(filled) and len(bracketed) == len(filled)
    known = [text for text in filled if text in bracketed or parse_unit(text) or text in ("-", "1")]
    return len(known) >= 0.5 * len(filled)


def _names_from_comment(lines: Sample, found: Structure) -> None:
    line = found.first_data_row - 1
    while line >= 1 and not lines.head[line - 1].strip():
        line -= 1
    if line < 1 or not found.comment or not lines.head[line - 1].startswith(found.comment):
        return
    fields = _head_fields(lines, line, found)
    if len(fields) == found.width > 1 and not any(is_number(text) for text in fields):
        found.names_rows = (line,)
        words = f"the comment in line {line} has as many parts as the data have columns"
        found.evidence.append(Evidence("names from a comment", words))


class ColumnsFound:
    """Columns, stamps, clock and markers of a sample, with questions and evidence."""

    def __init__(self, found: Structure) -> None:
        self._found = found
        self.texts = [[row[c] for row in found.rows] for c in range(found.width)]
        self.evidence: list[Evidence] = []
        self.questions: list[Question] = []
        self.stamps: tuple[StampSeen, ...] = ()
        self.columns: tuple[ColumnSeen, ...] = ()
        self.clock: Clock | None = None
        self.markers: tuple[MarkerSeen, ...] = ()
        self.zone_needed = False
        self._numbers: dict[int, FloatArray] = {}

    def numbers(self, column: ColumnSeen, cells: Cells) -> FloatArray:
        """Sampled numbers of a column, NaN where there is none."""
        known = self._numbers.get(column.number)
        if known is None:
            read = (cells.number(text) for text in self.texts[column.number - 1])
            known = np.array([np.nan if number is None else number for number in read])
            self._numbers[column.number] = known
        return known


def find_columns(found: Structure, cells: Cells) -> ColumnsFound:
    """Names, units, roles, clock and markers of every column, and what must be asked."""
    seen = ColumnsFound(found)
    roles = [_role(texts) for texts in seen.texts]
    seen.stamps = stamps_seen(seen.texts, [role == "time" for role in roles])
    seen.columns = _columns(found, seen, roles)
    numeric_times = [c for c in seen.columns if c.role == "time" and roles[c.number - 1] == "value"]
    _choose_clock(seen, numeric_times, cells)
    _ask_about_stamps(seen)
    _ask_units(seen)
    _count_markers(seen, cells)
    _look_at_numbers(seen, cells)
    return seen


def _role(texts: Sequence[str]) -> Role:
    filled = [text for text in texts if text]
    readings = [text for text in filled if not is_word(text)]
    if not filled:
        return "empty"
    numbers = sum(map(is_number, readings))
    if not readings or numbers >= 0.5 * len(readings):
        return "value"
    return "time" if sum(map(is_stamp, readings)) >= 0.5 * len(readings) else "text"


def _columns(found: Structure, seen: ColumnsFound, roles: list[Role]) -> tuple[ColumnSeen, ...]:
    columns: list[ColumnSeen] = []
    taken: set[str] = set()
    for position, role in enumerate(roles):
        in_file = found.names[position] if found.names else ""
        unit_text = found.units[position] if found.units else ""
        name = in_file
        if not found.units and (match := _BRACKETED.fullmatch(in_file)):
            name, unit_text = match[1], in_file[len(match[1]) :].strip()
        name = _unique(" ".join(name.split()) or f"column {position + 1}", taken, seen.evidence)
        unit = known_unit(unit_text)
        if role == "value" and _is_time(name, unit_text):
            role = "time"
        if role == "empty" and unit is not None:
            role = "value"  # a sensor that isn't connected yet
        if role == "empty":
            words = "no sampled row holds anything there; text met later becomes a mark"
            seen.evidence.append(Evidence(f"column {position + 1} is empty", words))
        columns.append(ColumnSeen(position + 1, name, in_file, unit_text, unit, role))
    return tuple(columns)


def _is_time(name: str, unit_text: str) -> bool:
    unit = known_unit(unit_text)
    if unit is not None:
        return unit.dimension == "time"
    return re.sub(r"[\W_]", "", name).casefold() in _TIME_WORDS


def _unique(name: str, taken: set[str], evidence: list[Evidence]) -> str:
    chosen, number = name, 2
    while chosen in taken:
        chosen = f"{name} ({number})"
        number += 1
    if chosen != name:
        evidence.append(
            Evidence(f"column named {chosen}", f"the name {name} occurs more than once")
        )
    taken.add(chosen)
    return chosen


def _choose_clock(seen: ColumnsFound, numeric: list[ColumnSeen], cells: Cells) -> None:
    choices = [_spoken(stamp.columns) for stamp in seen.stamps]
    choices += [f"column {column.number}" for column in numeric]
    if len(choices) == 1 and seen.stamps:
        stamp = seen.stamps[0]
        seen.clock = Clock("stamp", stamp.columns, pattern=stamp.patterns[0])
    elif len(choices) == 1:
        column = numeric[0]
        known = column.unit is not None and column.unit.dimension == "time"
        seen.clock = Clock(
            "elapsed", (column.number - 1,), unit=column.unit.name if known and column.unit else "s"
        )
        words = f"column {column.number}, {column.name_in_file}: the only one that tells a time"
        seen.evidence.append(Evidence("time in numbers", words))
        if not known:
            what = f"what unit is the time in column {column.number} ({column.name_in_file}) in?"
            seen.questions.append(Question("time_unit", what, ("s", "ms", "min", "h", "d")))
    else:
        if not choices:
            choices = [f"column {n}" for n in _rising(seen, cells)]
        what = "which column tells the time? (rate: evenly, with rate_hz; none: no time is known)"
        seen.questions.append(Question("clock", what, (*choices, "rate", "none")))


def _spoken(columns: tuple[int, ...]) -> str:
    plural = "columns " if len(columns) > 1 else "column "
    return plural + "+".join(str(column + 1) for column in columns)


def _rising(seen: ColumnsFound, cells: Cells) -> list[int]:
    rising: list[int] = []
    for column in seen.columns:
        values = seen.numbers(column, cells)
        known = values[np.isfinite(values)]
        if column.role == "value" and len(known) > 2 and (np.diff(known) > 0).all():
            rising.append(column.number)
    return rising


def _ask_about_stamps(seen: ColumnsFound) -> None:
    for stamp in seen.stamps:
        first = " ".join(seen.texts[column][0] for column in stamp.columns)
        place = _spoken(stamp.columns)
        if len(stamp.patterns) > 1:
            what = f"in what order is the date in {place} ({first})? Every sampled stamp fits each"
            seen.questions.append(Question("date_order", what, stamp.patterns))
        else:
            words = f"{place}, such as {first}; no other order of day and month fits"
            seen.evidence.append(Evidence(f"stamps {stamp.patterns[0]}", words))
        compiled = stamps.compile_pattern(stamp.patterns[0])
        if "yy" in compiled.tokens:
            what = f"which century is the two-digit year in {place} in?"
            seen.questions.append(Question("century", what, ("1900", "2000")))
        if "mmm" in compiled.tokens and stamps.local_ns([first], compiled)[0][0] == stamps.NO_TIME:
            what = f"what are the twelve month names, as in {first}?"
            seen.questions.append(Question("months", what))
        if compiled.has_date and not compiled.has_offset:
            seen.zone_needed = True
            what = f"which zone did the clock of {place} show?"
            choices = ("UTC", "Europe/Rome", "+02:00", "none (nobody knows: elapsed time only)")
            seen.questions.append(Question("zone", what, choices))
        _count_steps_back(seen, stamp, compiled)
    # Two stamps in one file share the questions; each is asked once.
    seen.questions[:] = list({q.field: q for q in reversed(seen.questions)}.values())[::-1]


def _count_steps_back(seen: ColumnsFound, stamp: StampSeen, pattern: stamps.Pattern) -> None:
    parts = zip(*(seen.texts[column] for column in stamp.columns), strict=True)
    ns, _ = stamps.local_ns([" ".join(part) for part in parts], pattern)
    ns = ns[ns != stamps.NO_TIME]
    back = int((np.diff(ns) < 0).sum())
    if back:
        words = f"{back} of {len(ns) - 1} steps between sampled stamps; rows stay in file order"
        seen.evidence.append(
            Evidence(f"the clock of {_spoken(stamp.columns)} steps backwards", words)
        )


def _ask_units(seen: ColumnsFound) -> None:
    for column in seen.columns:
        if column.role == "value" and column.unit is None:
            said = f"; the file says {column.unit_in_file}" if column.unit_in_file else ""
            what = f"what unit is column {column.number} ({column.name}) in{said}?"
            choices = ("um/m", "kN", "mm", "degC", "mV/V", "none (a plain number)", "text")
            seen.questions.append(Question(f"unit_{column.number}", what, choices))


def _count_markers(seen: ColumnsFound, cells: Cells) -> None:
    counts: Counter[tuple[str, str]] = Counter()
    places: dict[tuple[str, str], list[tuple[str, int]]] = {}
    suspects: dict[str, int] = {}
    for column in seen.columns:
        if column.role != "value":
            continue
        values = seen.numbers(column, cells)
        counter = len(values) > 2 and bool((np.diff(values) > 0).all())  # may pass 999 on its way
        for text, count in Counter(seen.texts[column.number - 1]).items():
            number, code = cells.value(text)
            if code:
                counts[text, code] += count
                places.setdefault((text, code), []).append((column.name, count))
            elif number is not None and not counter and abs(number) in _SUSPECTS:
                suspects[text] = suspects.get(text, 0) + count
    ordered = sorted(counts.items(), key=lambda item: -item[1])
    seen.markers = tuple(
        MarkerSeen(text, n, code, tuple(places[text, code])) for (text, code), n in ordered
    )
    if suspects:
        listed = ", ".join(f"{text} ({count} times)" for text, count in suspects.items())
        what = f"do these numbers stand for no reading: {listed}? List those that do, or none"
        seen.questions.append(Question("numeric_markers", what, (*suspects, "none")))


def _look_at_numbers(seen: ColumnsFound, cells: Cells) -> None:
    """Columns that never change, and pairs that mirror each other."""
    moving: list[tuple[ColumnSeen, FloatArray]] = []
    for column in seen.columns:
        if column.role != "value":
            continue
        values = seen.numbers(column, cells)
        known = values[np.isfinite(values)]
        if len(known) >= 20 and (known == known[0]).all():
            words = f"{known[0]:g} in all {len(known)} sampled rows: perhaps nothing is connected"
            seen.evidence.append(Evidence(f"column {column.number} never changes", words))
        elif len(known) >= 20 and len(moving) < 60:
            moving.append((column, values))
    mirrored: dict[int, str] = {}
    for index, (column, values) in enumerate(moving):
        for other, others in moving[index + 1 :]:
            if _mirror(values, others):
                mirrored[column.number], mirrored[other.number] = other.name, column.name
    for column, _ in moving:
        if column.number in mirrored:
            what = (
                f"column {column.number} ({column.name}) mirrors {mirrored[column.number]}: "
                "is its positive direction tension or compression?"
            )
            choices = ("tension", "compression", "none (neither applies)")
            seen.questions.append(Question(f"sign_{column.number}", what, choices))


def _mirror(
    one: FloatArray,
    two: FloatArray,
) -> bool:
    both = np.isfinite(one) & np.isfinite(two)
    if both.sum() < 20:
        return False
    a, b = one[both] - one[both].mean(), two[both] - two[both].mean()
    spread_a, spread_b = float(np.sqrt((a * a).mean())), float(np.sqrt((b * b).mean()))
    if not (spread_a > 0 and spread_b > 0 and 0.8 < spread_a / spread_b < 1.25):
        return False
    return float((a * b).mean()) / (spread_a * spread_b) < -0.99
