"""How wide is a line of text in a shipped face, before anything is set?"""

import struct
from functools import cache

from gaugewright.errors import FileError
from gaugewright.report.glyphs import FONT_FOLDER

__all__ = ["CAPITAL", "text_width"]

# Height of a capital over the size of the type, in the shipped upright faces (their OS/2 tables).
CAPITAL = 0.66
_FACES = {False: "SourceSans3-Regular.ttf", True: "SourceSans3-Semibold.ttf"}


def text_width(text: str, *, is_bold: bool = False) -> float:
    """Width of a line over its size of type; a character without a glyph counts as one em.

    Kerning is left out: it makes lines a little narrower, never wider than a hundredth.
    """
    widths = _widths(_FACES[is_bold])
    return sum(widths.get(ord(character), 1.0) for character in text)


@cache
def _widths(name: str) -> dict[int, float]:
    """Advance of every character over the em: tables head, hhea, hmtx and cmap (format 4)."""
    path = FONT_FOLDER / name
    data = path.read_bytes()
    tables = {
        tag: start
        for tag, _, start, _ in (
            struct.unpack_from(">4sIII", data, 12 + 16 * n)
            for n in range(struct.unpack_from(">H", data, 4)[0])
        )
    }
    em = struct.unpack_from(">H", data, tables[b"head"] + 18)[0]
    metrics = struct.unpack_from(">H", data, tables[b"hhea"] + 34)[0]
    found: dict[int, float] = {}
    for code, glyph in _glyphs(data, tables[b"cmap"]).items():
        at = tables[b"hmtx"] + 4 * min(glyph, metrics - 1)
        found[code] = struct.unpack_from(">H", data, at)[0] / em
    if not found:
        raise FileError(path, "has no readable character map", do="install the package again")
    return found


def _glyphs(data: bytes, start: int) -> dict[int, int]:
    for n in range(struct.unpack_from(">H", data, start + 2)[0]):
        table = start + struct.unpack_from(">I", data, start + 4 + 8 * n + 4)[0]
        if struct.unpack_from(">H", data, table)[0] == 4:
            return _segments(data, table)
    return {}


def _segments(data: bytes, table: int) -> dict[int, int]:
    count = struct.unpack_from(">H", data, table + 6)[0] // 2
    ends = struct.unpack_from(f">{count}H", data, table + 14)
    starts = struct.unpack_from(f">{count}H", data, table + 16 + 2 * count)
    deltas = struct.unpack_from(f">{count}h", data, table + 16 + 4 * count)
    found: dict[int, int] = {}
    for n, (first, last, delta) in enumerate(zip(starts, ends, deltas, strict=True)):
        at = table + 16 + 6 * count + 2 * n
        shift = struct.unpack_from(">H", data, at)[0]
        for code in range(first, min(last, 0xFFFE) + 1):
            glyph = code
            if shift:
                glyph = struct.unpack_from(">H", data, at + shift + 2 * (code - first))[0]
            if glyph:
                found[code] = (glyph + delta) & 0xFFFF
    return found
