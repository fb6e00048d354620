"""A tag laid out true to size: what fits stands there, what doesn't is refused with what would."""

import math
import tomllib
from dataclasses import dataclass
from importlib import resources
from pathlib import Path

from gaugewright.errors import FileError, InputError
from gaugewright.present.tag_drawing import TagCode, TagDrawing, TagLine, TagText
from gaugewright.records.plain import from_plain
from gaugewright.records.tagging import FlagSize, TagRules, WrapSize
from gaugewright.report.advance import CAPITAL, text_width
from gaugewright.services.supplying.tag_codes import code_matrix
from gaugewright.settings import Settings

__all__ = ["FILE", "TagWords", "flag_tag", "rules_of", "wrap_tag"]

FILE = "tags.toml"
_LEADING = 1.5  # from line to line over the height of a capital


@dataclass(frozen=True, slots=True)
class TagWords:
    """What one tag says: the name in large letters, its place, code, and whose it is."""

    name: str
    place: str
    code: str
    campaign: str


def rules_of(settings: Settings | None) -> TagRules:
    """Sizes and limits of tags: the laboratory's own file, or what is shipped.

    Raises
    ------
    FileError
        If the file can't be used.
    """
    shown, text = Path(FILE), ""
    if settings is not None and settings["laboratory"]:
        own = Path(settings["laboratory"]) / FILE
        if own.is_file():
            shown, text = own, own.read_text(encoding="utf-8")
    if not text:
        source = resources.files("gaugewright").joinpath("defaults").joinpath(FILE)
        text = source.read_text(encoding="utf-8")
    try:
        found: TagRules = from_plain(TagRules, tomllib.loads(text))
    except (tomllib.TOMLDecodeError, InputError) as error:
        raise FileError(shown, f"can't be used: {error}", do="mend it") from error
    return found


def flag_tag(rules: TagRules, size: FlagSize, words: TagWords, diameter: float) -> TagDrawing:
    """A flag: two faces with the same words, and the part between them round the lead.

    Raises
    ------
    InputError
        If the code or a line doesn't fit at the least sizes; it names the size that would do.
    """
    face = _face(rules, size, words)
    wide, tall = 1e3 * size.width, 1e3 * size.height
    middle = math.pi * 1e3 * diameter
    texts = [*face.texts, *(_moved(one, wide + middle) for one in face.texts)]
    (code,) = face.codes
    moved = TagCode(code.x + wide + middle, code.y, code.module, code.rows)
    lines = [TagLine("fold", x, 0.0, x, tall) for x in (wide, wide + middle / 2, wide + middle)]
    says = f"Flag for {words.name}, {words.place}, code {words.code}"
    whole = 2 * wide + middle
    return TagDrawing(whole, tall, tuple(texts), (code, moved), tuple(lines), says)


def _moved(text: TagText, by: float) -> TagText:
    return TagText(text.x + by, text.y, text.size, text.width, text.words, text.is_bold)


def _face(rules: TagRules, size: FlagSize, words: TagWords) -> TagDrawing:
    """One face: the code at its left, lines at its right, the name as large as there is room."""
    wide, tall, rim = 1e3 * size.width, 1e3 * size.height, 1e3 * rules.rim
    rows = code_matrix(words.code, rules.correction)
    squares = len(rows) + 2 * rules.quiet
    module = min(1e3 * rules.module, tall / squares)
    if module < 1e3 * rules.least_module - 1e-9:
        raise _too_small(
            rules,
            size,
            words,
            f"a code of {squares} squares needs "
            f"{1e3 * rules.least_module * squares:.1f} mm of height",
        )
    side = squares * module
    quiet = rules.quiet * module
    code = TagCode(quiet, (tall - side) / 2 + quiet, module, rows)
    left, room = side, wide - side - rim
    small = 1e3 * rules.small
    lines = [
        _line(rules, size, words, each, room) for each in (words.place, words.code, words.campaign)
    ]
    below = sum(_LEADING * cap for _, cap in lines)
    high = min(1e3 * rules.largest_name, tall - 2 * rim - below)
    high = min(high, room * CAPITAL / text_width(words.name, is_bold=True))
    if high < 1e3 * rules.least_name:
        raise _too_small(
            rules,
            size,
            words,
            f"its name would be {max(high, 0):.1f} mm high, at least "
            f"{1e3 * rules.least_name:g} mm can be read",
        )
    texts = [_text(left, rim + high, high, words.name, is_bold=True)]
    y = tall - rim
    for each, cap in reversed(lines):
        texts.append(_text(left, y, cap, each))
        y -= _LEADING * min(cap, small)
    return TagDrawing(wide, tall, tuple(texts), (code,), (), "")


def _line(
    rules: TagRules, size: FlagSize, words: TagWords, text: str, room: float
) -> tuple[str, float]:
    """A small line and the height of its capitals, as large as there is room."""
    fits = min(1e3 * rules.small, room * CAPITAL / text_width(text))
    if fits < 1e3 * rules.least_small:
        raise _too_small(
            rules,
            size,
            words,
            f"“{text}” would be {fits:.2f} mm high, at least "
            f"{1e3 * rules.least_small:g} mm can be read",
        )
    return text, fits


def _text(x: float, y: float, cap: float, words: str, *, is_bold: bool = False) -> TagText:
    """A line by the height of its capitals."""
    size = cap / CAPITAL
    return TagText(x, y, size, size * text_width(words, is_bold=is_bold), words, is_bold)


def _too_small(rules: TagRules, size: FlagSize, words: TagWords, why: str) -> InputError:
    """Refusal with the next size that would do."""
    larger = [one for one in rules.flags if one.width * one.height > size.width * size.height]
    for one in sorted(larger, key=lambda each: each.width * each.height):
        try:
            _face(rules, one, words)
        except InputError:
            continue
        return InputError(
            "size", size.label, f"larger for {words.name}: {why}", f"take {one.label}"
        )
    do = "shorten the label, or add a larger size to tags.toml"
    return InputError("size", size.label, f"larger than any there is: {why}", do)


def wrap_tag(rules: TagRules, size: WrapSize, words: TagWords, diameter: float) -> TagDrawing:
    """A tag wound round the lead: its words repeated so that some face whoever looks.

    The printed part goes once round; the clear tail goes round once more, over it. A code isn't
    printed: bent round a lead it can't be read.

    Raises
    ------
    InputError
        If the lead is too thin or too thick, or the words are too long; it names what would do.
    """
    round_mm, wide, rim = math.pi * 1e3 * diameter, 1e3 * size.width, 1e3 * rules.rim
    pitch = round_mm / rules.rows_round
    high = min(1e3 * rules.largest_name, pitch / _LEADING)
    if high < 1e3 * rules.least_name:
        thinnest = 1e3 * rules.least_name * _LEADING * rules.rows_round / math.pi
        raise InputError(
            "diameter",
            f"{1e3 * diameter:g} mm",
            f"{thinnest:.1f} mm or more for a wrap: letters of {high:.1f} mm can't be read",
            "take a flag for so thin a lead",
        )
    whole = 2 * round_mm + 1e3 * rules.tail_overlap
    if whole > 1e3 * size.longest:
        longer = [one.label for one in rules.wraps if 1e3 * one.longest >= whole]
        do = f"take {longer[0]}" if longer else "take a flag for so thick a lead"
        raise InputError("size", size.label, f"{whole:.0f} mm long or longer", do)
    room = wide - 2 * rim
    high = _fitted(rules, size, words, high, room)
    count = max(rules.rows_round, int(round_mm // (high * _LEADING)))
    step = round_mm / count
    small = min(1e3 * rules.small, high)
    texts: list[TagText] = []
    for n in range(count):
        base = n * step + (step + high) / 2
        name = _text(rim, base, high, words.name, is_bold=True)
        texts += [name, _text(rim + name.width + 1.5, base, small, words.code)]
    line = TagLine("clear", 0.0, round_mm, wide, round_mm)
    says = f"Wrap for {words.name}, code {words.code}, its upper part printed, the rest clear"
    return TagDrawing(wide, whole, tuple(texts), (), (line,), says)


def _fitted(rules: TagRules, size: WrapSize, words: TagWords, high: float, room: float) -> float:
    """Height of the name's capitals so that name and code fit along the lead."""
    small = 1e3 * rules.small / CAPITAL * text_width(words.code)
    left = room - small - 1.5
    fits = left * CAPITAL / text_width(words.name, is_bold=True)
    if fits >= 1e3 * rules.least_name:
        return min(high, fits)
    name = 1e3 * rules.least_name / CAPITAL * text_width(words.name, is_bold=True)
    needs = name + small + 1.5 + 2e3 * rules.rim
    longer = [one.label for one in rules.wraps if 1e3 * one.width >= needs]
    do = f"take {longer[0]}" if longer else "take a flag, or shorten the label"
    raise InputError(
        "size", size.label, f"{needs:.0f} mm wide or wider for {words.name} and its code", do
    )
