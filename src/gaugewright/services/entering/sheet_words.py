"""What headings of a list of stations say, in the words laboratories use, and what they don't."""

import enum
import re
from dataclasses import dataclass

from gaugewright.quantities import Unit, parse_unit

__all__ = ["FACES", "Asked", "Heading", "Role", "heading_of", "is_units", "letter"]


class Role(enum.Enum):
    """What a column holds."""

    LABEL = "label of the station"
    BAR = "bar"
    DISTANCE = "distance along the bar"
    ANGLE = "place round the bar"
    DATUM = "where the distance counts from"
    LEFT_OUT = "leave it out"


@dataclass(frozen=True, slots=True)
class Asked:
    """A question about a spreadsheet, to stand beside what it is about.

    ``column`` and ``row`` count from 1, 0 for the whole sheet; without ``choices`` the answer is
    typed. ``answer`` is what was answered and couldn't be used, with what is ``wrong`` with it.
    """

    key: str
    words: str
    choices: tuple[tuple[str, str], ...] = ()
    column: int = 0
    row: int = 0
    answer: str = ""
    wrong: str = ""


@dataclass(frozen=True, slots=True)
class Heading:
    """What a heading says: a role where it is plain, a unit, and where distances count from."""

    role: Role | None
    unit: Unit | None
    odd_unit: str = ""
    datum: str = ""


# Headings that mean one thing only. "Position", "location", "no." may mean two, and are asked.
_WORDS: dict[Role, tuple[str, ...]] = {
    Role.LABEL: (
        *("station", "stations", "station label", "station no", "label", "mark", "tag", "id"),
        *("gauge", "gauge label", "gauge no", "gauge id", "gauge name", "strain gauge"),
        *("gage", "gage label", "gage no", "gage id", "strain gage", "sg", "sg no"),
    ),
    Role.BAR: (
        *("bar", "rebar", "bar no", "bar mark", "bar label", "bar id", "on bar"),
        *("reinforcing bar", "rod", "tube"),
    ),
    Role.DISTANCE: (
        *("distance", "dist", "distance along", "distance along bar", "distance along the bar"),
        *("x", "distance planned", "planned distance"),
    ),
    Role.ANGLE: (
        *("angle", "clock angle", "angle planned", "face", "side", "side of bar"),
        *("clock", "o clock", "o'clock", "clock position", "place round the bar"),
    ),
    Role.DATUM: (
        *("datum", "counted from", "measured from", "from", "distance counts from"),
        *("reference", "origin"),
    ),
    Role.LEFT_OUT: ("note", "notes", "remark", "remarks", "comment", "comments"),
}
# Faces that the clock of a bar names without knowing from where one looks.
FACES = {"top": 0.0, "upper": 0.0, "above": 0.0, "bottom": 180.0, "under": 180.0, "lower": 180.0}
_FROM = re.compile(
    r"^(?:distance|dist\.?|x)\s+(?:measured\s+)?from\s+(?:the\s+)?(?P<datum>.+)$", re.IGNORECASE
)
_IN_BRACKETS = re.compile(r"[\[(]\s*(?P<unit>[^\])]{1,12}?)\s*[\])]")
_AFTER_COMMA = re.compile(r"[,/]\s*(?P<unit>[^\s,/]{1,8})\s*$")


def letter(column: int) -> str:
    """What a spreadsheet calls a column counted from 1.

    Examples
    --------
    >>> letter(1), letter(28)
    ('A', 'AB')
    """
    name = ""
    while column > 0:
        column, rest = divmod(column - 1, 26)
        name = chr(65 + rest) + name
    return name


def heading_of(text: str) -> Heading:
    """What a heading says, with its unit in brackets or after a comma.

    Examples
    --------
    >>> found = heading_of("Distance from west end (mm)")
    >>> found.role.value, found.unit.name, found.datum
    ('distance along the bar', 'mm', 'west end')
    >>> heading_of("Position").role is None
    True
    """
    plain = " ".join(text.split())
    unit, odd = None, ""
    for pattern in (_IN_BRACKETS, _AFTER_COMMA):
        found = pattern.search(plain)
        if found is None:
            continue
        unit = _unit(found["unit"])
        if unit is not None or pattern is _IN_BRACKETS:
            odd = "" if unit is not None else found["unit"]
            plain = (plain[: found.start()] + plain[found.end() :]).strip(" ,/")
            break
    tidy = re.sub(r"[.:#_]+", " ", plain.casefold())
    tidy = " ".join(tidy.split())
    origin = _FROM.match(plain)
    if origin is not None:
        return Heading(Role.DISTANCE, unit, odd, origin["datum"])
    role = next((role for role, words in _WORDS.items() if tidy in words), None)
    return Heading(role, unit, odd)


def is_units(row: tuple[str, ...]) -> bool:
    """Whether every filled cell of a row is a unit: a line of units below the headings."""
    filled = [cell for cell in row if cell and cell != "-"]
    return bool(filled) and all(_unit(cell.strip("()[]")) is not None for cell in filled)


def _unit(text: str) -> Unit | None:
    tidy = text.strip().rstrip(".").replace("″", '"')
    found = parse_unit(tidy)
    return found if found is not None and found.coherent in ("m", "rad") else None
