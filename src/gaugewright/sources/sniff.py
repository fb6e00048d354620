"""How a delimited file is built: encoding, delimiter, decimal mark, head, first row of data.

Only a bounded sample is read: the beginning, a stretch in the middle and the end.
"""

import codecs
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

from gaugewright.errors import FileError, InputError
from gaugewright.sources.layout import BLANKS, TEXT_MARKERS
from gaugewright.sources.lines import split_fields
from gaugewright.sources.tare import find_tare
from gaugewright.sources.understanding import Evidence, Question, Stated

__all__ = ["Sample", "Structure", "is_number", "is_stamp", "is_word", "sample", "structure"]

HEAD_BYTES = 1 << 19
WHOLE_BYTES = 1 << 20
PATCH_BYTES = 1 << 16
_MOST_LINES = 1500
_FIT_LINES = 100

DELIMITERS = (";", "\t", "|", ",", BLANKS)
COMMENTS = ("#", "%", "//", "!")

_NUMBER = re.compile(r"[+-]?(\d+([.,]\d*)?|[.,]\d+)([eE][+-]?\d+)?", re.ASCII)
# No number with groups begins with a zero: 0,004 is a small number, whatever its comma means.
_GROUPED = re.compile(r"[+-]?[1-9]\d{0,2}([.,'’ \u00a0\u202f\u2009]\d{3})+([.,]\d*)?", re.ASCII)
_CLOCK = r"\d{1,2}:\d{2}(:\d{2}([.,]\d+)?)?\s*([AaPp]\.?[Mm]\.?)?\s*([Zz]|[+-]\d{2}(:?\d{2})?)?"
_STAMP = re.compile(
    rf"(\d{{1,4}}[-/. ](\d{{1,2}}|[^\W\d_]{{3,9}}\.?)[-/. ]\d{{1,4}}([T ,]+{_CLOCK})?|{_CLOCK})"
)
_GROUP_MARK = re.compile(r"\d(['’ \u00a0\u202f\u2009])\d{3}")
_TWICE = re.compile(r"\d([.,])\d{3}\1\d{3}")
_WORDS = {marker.text.casefold() for marker in TEXT_MARKERS}
_SIGNS = re.compile(r"[+-]?(\*+|#{2,})")


def is_number(text: str) -> bool:
    """Whether a field is a number in some notation."""
    return bool(_NUMBER.fullmatch(text) or _GROUPED.fullmatch(text))


def is_stamp(text: str) -> bool:
    """Whether a field looks like a date, a time of day or both."""
    return bool(_STAMP.fullmatch(text)) and not is_number(text)


def is_word(text: str) -> bool:
    """Whether a field is a known word for "no reading"."""
    return text.casefold() in _WORDS or bool(_SIGNS.fullmatch(text))


@dataclass(frozen=True, slots=True)
class Sample:
    """Lines of the beginning, numbered from 1, and lines from further on."""

    size_bytes: int
    sampled_bytes: int
    encoding: str
    line_end: str
    head: tuple[str, ...]
    later: tuple[str, ...]
    evidence: tuple[Evidence, ...]


@dataclass(slots=True)
class Structure:
    """Where the parts of the file are. Lines count from 1; 0 means there is none."""

    comment: str
    delimiter: str = ";"
    decimal: str = "."
    thousands: str = ""
    width: int = 1
    first_data_row: int = 0
    rows: list[list[str]] = field(default_factory=list)
    names_rows: tuple[int, ...] = ()
    units_row: int = 0
    tare_lines: tuple[int, ...] = ()
    names: list[str] = field(default_factory=list)
    units: list[str] = field(default_factory=list)
    evidence: list[Evidence] = field(default_factory=list)
    questions: list[Question] = field(default_factory=list)


def sample(path: Path, stated: Stated) -> Sample:
    """Bounded sample of a file's lines, decoded.

    Raises
    ------
    FileError
        If the file can't be read, is empty or holds no text.
    """
    try:
        size = path.stat().st_size
        with path.open("rb") as file:
            whole = size <= WHOLE_BYTES
            head = file.read(WHOLE_BYTES if whole else HEAD_BYTES)
            later: list[bytes] = []
            for place in () if whole else (size // 2 // 4 * 4, (size - PATCH_BYTES) // 4 * 4):
                file.seek(place)
                later.append(file.read(PATCH_BYTES))
    except OSError as error:
        problem = f"can't be read ({error.strerror or error})"
        raise FileError(path, problem, do="check the path and the permission") from error
    if not head.strip(b"\x00 \r\n\t\x1a"):
        raise FileError(path, "holds no text", expected="lines of readings")
    encoding, words = (stated.encoding, "stated") if stated.encoding else _encoding(head, later)
    try:
        texts = [_decoded(part, encoding) for part in (head, *later)]
    except LookupError:
        raise InputError("encoding", encoding, "a text encoding such as utf-8 or cp1252") from None
    line_end = "\r" if "\r" in texts[0] and "\n" not in texts[0] else "\n"
    lines = [text.replace("\r", "\n") if line_end == "\r" else text for text in texts]
    parts = [[line.removesuffix("\r") for line in text.split("\n")] for text in lines]
    if parts[0][-1] == "" or not whole:
        parts[0].pop()  # nothing after the last line end, or a line cut by the sample's edge
    further = [line for part in parts[1:] for line in part[1:-1]]
    evidence = (Evidence(f"encoding {encoding}", words),)
    done = size if whole else len(head) + sum(map(len, later))
    return Sample(size, done, encoding, line_end, tuple(parts[0]), tuple(further), evidence)


def _decoded(data: bytes, encoding: str) -> str:
    return data.decode(encoding, errors="backslashreplace").removeprefix("\ufeff")


def _encoding(head: bytes, later: list[bytes]) -> tuple[str, str]:
    if head.startswith(codecs.BOM_UTF8):
        return "utf-8-sig", "it begins with the UTF-8 byte-order mark"
    if head.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        order = "le" if head.startswith(codecs.BOM_UTF16_LE) else "be"
        return f"utf-16-{order}", "it begins with a UTF-16 byte-order mark"
    begin = head[:4096]
    odd, even = begin[1::2].count(0), begin[0::2].count(0)
    for order, zeros, others in (("le", odd, even), ("be", even, odd)):
        if zeros > 0.4 * len(begin) / 2 and others < 0.05 * len(begin) / 2:
            return f"utf-16-{order}", "every other byte of its beginning is zero"
    everything = b"".join([head, *later])
    if everything.isascii():
        return "utf-8", "every sampled byte is plain ASCII"
    decoder = codecs.getincrementaldecoder("utf-8")()
    try:
        decoder.decode(head)
    except UnicodeDecodeError as error:
        place = f"byte {head[error.start]:02X} at {error.start} isn't UTF-8"
        if any(0x80 <= byte <= 0x9F for byte in everything):
            return "cp1252", f"{place}; taken as Windows Western, state another if names look wrong"
        return "latin-1", f"{place}; taken as Western European, state another if names look wrong"
    return "utf-8", "the sampled bytes are valid UTF-8"


def structure(lines: Sample, stated: Stated, path: Path) -> Structure:
    """Delimiter, decimal mark, head rows and first row of data.

    Raises
    ------
    FileError
        If no row of readings is found.
    """
    comment = _comment(lines.head) if stated.comment is None else stated.comment
    head = lines.head[(stated.first_data_row or 1) - 1 :]
    bottom = [*head[-_MOST_LINES:], *lines.later[:_MOST_LINES]]
    body = [line for line in bottom if _is_content(line, comment)]
    if not body:
        raise FileError(path, "has only blank or comment lines", expected="rows of readings")
    # Where the lines ahead of the readings outnumber them, the end of the sample shows readings.
    for share in (1, 2, 4, 8):
        part = body[len(body) - max(len(body) // share, 1) :]
        found = Structure(comment=comment)
        _divide(part, lines.head, stated, found)
        rows = [split_fields(line, found.delimiter) or [] for line in _some(part)]
        typed = _typed_columns([row for row in rows if len(row) == found.width], found.width)
        if typed:
            break
    if not typed:
        problem = "has no column of numbers that can be told from text"
        raise FileError(path, problem, got=body[-1], do="state its delimiter and decimal mark")
    first = stated.first_data_row or _first_data_row(lines.head, found, typed)
    first = find_tare(lines.head, first, typed, stated, found)
    data = [
        split_fields(line, found.delimiter) or []
        for line in (*lines.head[max(first - 1, 0) :], *lines.later)
        if _is_content(line, comment)
    ]
    found.rows = [row for row in data if len(row) == found.width and _is_data(row, typed)]
    if not first or not found.rows:
        raise FileError(path, "has no row of readings", got=body[-1], do="state first_data_row")
    found.first_data_row = first
    _marks(typed, stated, found)
    found.evidence.append(Evidence(f"data begin in line {first}", _why_first(lines.head, first)))
    if comment:
        words = "lines at the top do" if stated.comment is None else "stated"
        found.evidence.append(Evidence(f"comment lines begin with {comment}", words))
    return found


def _is_content(line: str, comment: str) -> bool:
    return bool(line.strip(" \t\x1a")) and "\x00" not in line and not _is_comment(line, comment)


def _is_comment(line: str, comment: str) -> bool:
    return bool(comment) and line.startswith(comment)


def _why_first(head: Sequence[str], first: int) -> str:
    if first == 1:
        return "the first line already holds readings; there is no row of names"
    return f"line {first - 1} ({head[first - 2][:60]!r}) isn't a row of readings, the next ones are"


def _comment(head: Sequence[str]) -> str:
    for line in head[:200]:
        for prefix in COMMENTS:
            if line.startswith(prefix) and not is_word(line.split()[0] if line.split() else ""):
                return prefix
    return ""


def _some(body: list[str]) -> list[str]:
    """Lines from everywhere in the sample, enough to judge by."""
    return body[:: max(len(body) // _FIT_LINES, 1)]


def _divide(body: list[str], head: Sequence[str], stated: Stated, found: Structure) -> None:
    """Find what divides the fields, and into how many."""
    if stated.delimiter:
        divided = [line for line in body if len(split_fields(line, stated.delimiter) or []) > 1]
        found.delimiter = stated.delimiter
        found.width = _fit(divided or body, stated.delimiter)[1]
        return
    tried = {mark: _fit(body, mark) for mark in DELIMITERS}
    several = {mark: fit for mark, fit in tried.items() if fit[1] > 1}
    best = max(several, key=lambda mark: several[mark][0], default="")
    alone = max((fit[0] for fit in tried.values() if fit[1] == 1), default=0.0)
    if not best or several[best][0] < 0.3 or (alone > 0.9 and several[best][0] < 0.6):
        words = "no delimiter divides the lines evenly"
        found.evidence.append(Evidence("one column", words))
        return
    score, found.width = several[best]
    found.delimiter = best
    words = f"it divides the sampled lines evenly into readings (fit {score:.2f} of 1)"
    found.evidence.append(Evidence(f"delimiter {_name(best)}, {found.width} columns", words))
    names = [line for line in head[:50] if not any(map(is_number, line.split(best)))]
    two_names = any(line.count(",") == 1 for line in names)
    if best == "," and found.width == 2 and alone > 0.9 and not two_names:
        what = "is 1,5 one number with a decimal comma, or two whole numbers in two columns?"
        choices = (", (two columns)", "; (one column)")
        found.questions.append(Question("delimiter", what, choices))


def _name(delimiter: str) -> str:
    return {"\t": "tab", BLANKS: "blanks"}.get(delimiter, delimiter)


def _fit(body: list[str], delimiter: str) -> tuple[float, int]:
    """How evenly a delimiter divides lines into readings, from 0 to 1, and into how many."""
    rows = [split_fields(line, delimiter) or [] for line in _some(body)]
    counts = Counter(len(row) for row in rows)
    width = max(counts, key=lambda count: (counts[count], count))
    good = cells = 0
    for row in rows:
        if len(row) == width:
            filled = [text for text in row if text]
            cells += len(filled)
            good += sum(1 for t in filled if is_number(t) or is_stamp(t) or is_word(t))
    return (counts[width] / len(rows)) * (good / cells if cells else 0.0), width


def _typed_columns(rows: list[list[str]], width: int) -> list[int]:
    """Columns that are numbers or stamps in most of their filled cells."""
    typed: list[int] = []
    for column in range(width):
        filled = [row[column] for row in rows if row[column] and not is_word(row[column])]
        good = sum(1 for text in filled if is_number(text) or is_stamp(text))
        if filled and good >= 0.5 * len(filled):
            typed.append(column)
    return typed


def _is_data(row: list[str], typed: list[int]) -> bool:
    texts = [row[column] for column in typed if row[column]]
    readings = [is_number(text) or is_stamp(text) for text in texts]
    fits = all(ok or is_word(text) for ok, text in zip(readings, texts, strict=True))
    return fits and any(readings)


def _first_data_row(head: Sequence[str], found: Structure, typed: list[int]) -> int:
    """Line of the first row of readings that others follow; 0 when there is none."""
    run: list[int] = []
    for number, line in enumerate(head, start=1):
        if not _is_content(line, found.comment):
            continue
        fields = split_fields(line, found.delimiter)
        if fields is not None and len(fields) == found.width and _is_data(fields, typed):
            run.append(number)
            if len(run) == 3:
                return run[0]
        else:
            if run and number == len(head):
                return run[0]  # only the last line is odd: it was cut
            run = []
    return run[0] if run else 0


def _marks(typed: list[int], stated: Stated, found: Structure) -> None:
    """Decimal and thousands marks, asked for where the numbers leave both readings open."""
    numbers = [row[c] for row in found.rows for c in typed if is_number(row[c])]
    seen = _thousands(numbers) if stated.thousands is None else stated.thousands
    if stated.decimal and stated.thousands is None:
        other = "." if stated.decimal == "," else ","
        grouped = any(other in text and _GROUPED.fullmatch(text) for text in numbers)
        seen = other if grouped else seen.replace(stated.decimal, "")
    found.thousands = seen
    if seen:
        found.evidence.append(Evidence(f"thousands mark {seen!r}", "between groups of three"))
    if stated.decimal:
        found.decimal = stated.decimal
        return
    points = [text for text in numbers if "." in text]
    commas = [text for text in numbers if "," in text]
    both = [text for text in points if "," in text]
    if both:
        decimal = both[0][max(both[0].rfind("."), both[0].rfind(","))]
        words = f"numbers such as {both[0]} hold both marks; the last one is the decimal mark"
    elif points and commas:
        # A comma that groups digits can't also stand where three digits don't follow.
        decimal = "," if any(not _GROUPED.fullmatch(text) for text in commas) else "."
        words = f"numbers such as {points[0]} and {commas[0]}"
    elif commas:
        decimal, words = ",", f"numbers such as {commas[0]}"
    else:
        decimal = "."
        words = (
            f"numbers such as {points[0]}" if points else "every number is whole: it doesn't matter"
        )
    used = commas if decimal == "," else points
    alone = bool(used) and not both and not (points and commas) and found.delimiter != ","
    if alone and all(_could_group(text, decimal) for text in used):
        what = f"is {used[0]} a number with three decimals, or is {decimal} a thousands mark?"
        found.questions.append(Question("decimal", what, (",", ".")))
    found.decimal = decimal
    found.evidence.append(Evidence(f"decimal mark {decimal}", words))


def _could_group(text: str, mark: str) -> bool:
    """Whether a mark might divide thousands: no leading zero, exactly three digits after it."""
    return bool(re.fullmatch(rf"[+-]?[1-9]\d{{0,2}}({re.escape(mark)}\d{{3}})+", text))


def _thousands(numbers: list[str]) -> str:
    joined = "\n".join(numbers)  # looked through as one text: samples can be large
    for found in _GROUP_MARK.finditer(joined):
        text = joined[joined.rfind("\n", 0, found.start()) + 1 :].split("\n", 1)[0]
        if _GROUPED.fullmatch(text):
            return " " if found[1].isspace() else found[1]
    if "." in joined and "," in joined:
        for text in numbers:
            if "." in text and "," in text:
                return "." if text.rfind(",") > text.rfind(".") else ","
    found_twice = _TWICE.search(joined)
    return found_twice[1] if found_twice else ""
