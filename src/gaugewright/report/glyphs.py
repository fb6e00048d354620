"""Can every character of a text be printed with the faces shipped, and if not, what is shown?

A character without a glyph stops an archival PDF from being made, and a silent gap would be
worse. Such characters are printed as □ and listed on the sheet by number and name.
"""

import re
import struct
import unicodedata
from functools import cache
from pathlib import Path
from typing import Any

from gaugewright.errors import FileError

__all__ = ["FAMILIES", "FONT_FOLDER", "covered", "described", "printable", "printable_plain"]

FONT_FOLDER = Path(__file__).parent / "fonts"
FAMILIES = ("Source Sans 3", "STIX Two Text")
_STAND_IN = "\N{WHITE SQUARE}"
# Every piece of text falls back to these; the slanted face lacks nothing they have.
_LAST_RESORTS = ("SourceSans3-Regular.ttf", "SourceSans3-It.ttf", "SourceSans3-Semibold.ttf")


@cache
def covered() -> frozenset[int]:
    """Code points every last-resort face has a glyph for.

    Raises
    ------
    FileError
        If a shipped font isn't readable.
    """
    sets = [_code_points(FONT_FOLDER / name) for name in _LAST_RESORTS]
    return frozenset(set.intersection(*sets))


def printable(text: str) -> tuple[str, frozenset[str]]:
    """Text with □ for characters that can't be printed, and those characters.

    Line breaks and tabs become spaces; text is composed first, so that a letter with its accent
    apart is found as one.
    """
    composed = unicodedata.normalize("NFC", text)
    flat = re.sub(r"[\t\n\r\v\f\u2028\u2029\x85]+", " ", composed)
    missing = frozenset(c for c in flat if ord(c) not in covered())
    return "".join(_STAND_IN if c in missing else c for c in flat), missing


def printable_plain(plain: Any) -> tuple[Any, frozenset[str]]:
    """The same for every text in a JSON value."""
    if isinstance(plain, str):
        return printable(plain)
    if isinstance(plain, list):
        pairs = [printable_plain(item) for item in plain]
        return [item for item, _ in pairs], frozenset().union(*(lost for _, lost in pairs))
    if isinstance(plain, dict):
        named = {name: printable_plain(item) for name, item in plain.items()}
        lost = frozenset().union(*(missing for _, missing in named.values()))
        return {name: item for name, (item, _) in named.items()}, lost
    return plain, frozenset()


def described(missing: frozenset[str]) -> tuple[str, ...]:
    """Number and name of each character, in order.

    Examples
    --------
    >>> described(frozenset("鋼"))
    ('U+92FC CJK UNIFIED IDEOGRAPH-92FC',)
    """
    return tuple(f"U+{ord(c):04X} {unicodedata.name(c, 'without a name')}" for c in sorted(missing))


def _code_points(path: Path) -> set[int]:
    """Code points in a TrueType file's character map, tables of format 4 and 12."""
    data = path.read_bytes()
    tables = struct.unpack_from(">H", data, 4)[0]
    for n in range(tables):
        tag, _, start, _ = struct.unpack_from(">4sIII", data, 12 + 16 * n)
        if tag == b"cmap":
            return _character_map(data, start, path)
    raise FileError(path, "has no character map", do="install the package again")


def _character_map(data: bytes, start: int, path: Path) -> set[int]:
    found: set[int] = set()
    for n in range(struct.unpack_from(">H", data, start + 2)[0]):
        offset = start + struct.unpack_from(">I", data, start + 4 + 8 * n + 4)[0]
        form = struct.unpack_from(">H", data, offset)[0]
        if form == 12:
            groups = struct.unpack_from(">I", data, offset + 12)[0]
            for g in range(groups):
                first, last, _ = struct.unpack_from(">III", data, offset + 16 + 12 * g)
                found.update(range(first, last + 1))
        elif form == 4:
            found |= _format_4(data, offset)
    if not found:
        raise FileError(path, "has no readable character map", do="install the package again")
    return found


def _format_4(data: bytes, offset: int) -> set[int]:
    segments = struct.unpack_from(">H", data, offset + 6)[0] // 2
    ends, starts = offset + 14, offset + 16 + 2 * segments
    found: set[int] = set()
    for s in range(segments):
        last = struct.unpack_from(">H", data, ends + 2 * s)[0]
        first = struct.unpack_from(">H", data, starts + 2 * s)[0]
        delta = struct.unpack_from(">h", data, starts + 2 * segments + 2 * s)[0]
        at = starts + 4 * segments + 2 * s
        shift = struct.unpack_from(">H", data, at)[0]
        for code in range(first, min(last, 0xFFFE) + 1):
            glyph = code + delta
            if shift:
                glyph = struct.unpack_from(">H", data, at + shift + 2 * (code - first))[0]
            if glyph & 0xFFFF:
                found.add(code)
    return found
