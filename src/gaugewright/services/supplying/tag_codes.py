"""What a tag says to a machine: campaign, label and check character, never an address."""

import re
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass

import segno

from gaugewright.calc.check_character import ALPHABET, check_character, code_holds
from gaugewright.errors import InputError
from gaugewright.records.electrical import BridgeCircuit
from gaugewright.records.gauges import Gauge
from gaugewright.records.identity import Uid
from gaugewright.services.campaign.book import Book

__all__ = ["Meaning", "campaign_mark", "code_matrix", "coded", "tag_code", "tag_meaning"]

MARK = 6  # characters of the campaign's uid, from its random end: one in 10^9 is the same
_FORM = re.compile(r"(\S{6})\s+(\S.*\S|\S)\s+(\S)")
_TIGHT = re.compile(r"(\S{6})(\S+)(\S)")
_READ_AS = str.maketrans("OIL", "011")  # letters that a uid never has


@dataclass(frozen=True, slots=True)
class Meaning:
    """What a code that was typed or scanned means: a label, or in words why none.

    ``near`` are labels whose code differs by one character, or by two exchanged.
    """

    label: str
    words: str
    near: tuple[str, ...] = ()


def campaign_mark(campaign: Uid) -> str:
    """The short sign of a campaign that its tags carry."""
    return str(campaign)[-MARK:].upper()


def coded(label: str) -> str:
    """A label as a code has it: letters and digits alone, capitals.

    Raises
    ------
    InputError
        If it has none, or letters beyond A to Z.

    Examples
    --------
    >>> coded("L3-R1-S"), coded("g 07")
    ('L3R1S', 'G07')
    """
    kept = "".join(
        character
        for character in label.upper()
        if not character.isspace() and unicodedata.category(character)[0] not in "PS"
    )
    strange = sorted(set(kept) - set(ALPHABET))
    if strange or not kept:
        raise InputError(
            "label of a tag",
            label,
            "with letters A to Z and digits",
            f"give it a label without {''.join(strange)}" if strange else "give it a letter",
        )
    return kept


def tag_code(campaign: Uid, label: str) -> str:
    """Code of a tag: mark of the campaign, label, check character, with spaces between.

    Raises
    ------
    InputError
        If the label can't be coded.
    """
    mark, name = campaign_mark(campaign), coded(label)
    return f"{mark} {name} {check_character(mark + name)}"


def code_matrix(code: str, correction: str) -> tuple[tuple[bool, ...], ...]:
    """Dark squares of a code's picture (ISO/IEC 18004), without the free rim."""
    made = segno.make(code, error=correction, micro=False, boost_error=False)
    return tuple(tuple(bool(square) for square in row) for row in made.matrix)


def tag_meaning(book: Book, campaign: Uid, typed: str) -> Meaning | None:
    """What a tag's code means in a campaign; None where what was typed is no code of a tag."""
    found = _FORM.fullmatch(typed.strip().upper())
    if found is None:
        found = _TIGHT.fullmatch(typed.strip().upper())  # its blanks left out: only one of ours
        if found is not None and found[1].translate(_READ_AS) != campaign_mark(campaign):
            return None
    if found is None:
        return None
    mark = found[1].translate(_READ_AS)
    try:
        name, check = coded(found[2]), found[3]
        holds = code_holds(mark + name + check)
    except InputError:
        return None
    labels = _labels(book)
    own = campaign_mark(campaign)
    if holds and mark == own:
        label = labels.get(name, "")
        if label:
            return Meaning(label, f"The tag is that of {label}.")
        return Meaning(
            "", f"The tag is sound, but nothing here is called {name}: renamed since, or taken out?"
        )
    if holds:
        return Meaning(
            "", f"This tag is of another campaign: its mark is {mark}, here it would be {own}."
        )
    near = tuple(
        label
        for other, label in labels.items()
        if _is_near(mark + name + check, own + other + check_character(own + other))
    )
    told = "; one character away is " + ", ".join(near) if near else ""
    wanted = check_character(mark + name)
    return Meaning(
        "",
        f"This code isn't as any tag was printed: {mark} {name} would end in {wanted}, not "
        f"{check}. A character is misread{told}. Read it again.",
        near,
    )


def _labels(book: Book) -> Mapping[str, str]:
    """Labels that tags carry, by their coded form; a gauge goes before a circuit."""
    found: dict[str, str] = {}
    labels = [entry.record.label for entry in book.of(Gauge)]
    labels += [entry.record.label for entry in book.of(BridgeCircuit)]
    for label in labels:
        try:
            found.setdefault(coded(label), label)
        except InputError:
            continue  # it never had a tag with a code
    return found


def _is_near(one: str, other: str) -> bool:
    """Whether two codes differ by one character: changed, left out, added; or two exchanged."""
    if abs(len(one) - len(other)) > 1:
        return False
    if len(one) != len(other):
        short, long = sorted((one, other), key=len)
        return any(long[:n] + long[n + 1 :] == short for n in range(len(long)))
    apart = [n for n, (a, b) in enumerate(zip(one, other, strict=True)) if a != b]
    if len(apart) == 1:
        return True
    if len(apart) != 2 or apart[1] != apart[0] + 1:
        return False
    first, second = apart
    return one[first] == other[second] and one[second] == other[first]
