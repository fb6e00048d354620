"""What does a person mean by a number typed into a field, with or without its unit?

Rules, each with a row in the tests:

1. A point is always the decimal sign. A comma is it too, but for one case: "1,234" (one to three
   digits not beginning with 0, one comma, just three digits) may as well mean thousands, and is
   refused with both ways to write it.
2. Where both signs stand, the last is the decimal sign and the other parts whole groups of three
   digits. The same sign twice or more can only part thousands. Spaces and apostrophes part
   thousands; groups that aren't of three digits are refused.
3. A fraction is read as drawings have it: "3/8 in", "1 3/8 in".
4. A unit after the number says what it is in; without one the unit shown beside the field holds.
   A unit of another kind is refused, never guessed.
"""

import math
import re
from fractions import Fraction

from gaugewright.errors import InputError
from gaugewright.present.units_shown import System, in_shown, unit_shown
from gaugewright.quantities import QUANTITIES, parse_unit, to_si

__all__ = ["number_typed", "quantity_typed", "text_to_type"]

_SPACES = " \N{NO-BREAK SPACE}\N{NARROW NO-BREAK SPACE}\N{THIN SPACE}"
_MINUS = re.compile("[\N{MINUS SIGN}\N{EN DASH}\N{HYPHEN}]")
_NUMBER = re.compile(
    rf"(?P<sign>[+-]?)(?P<digits>[0-9.,{_SPACES}'’]*[0-9][.,]?)"
    r"(?P<power>(?:[eE]|\s?[×x·]\s?10\^?)[+-]?[0-9]{1,3})?(?P<unit>.*)",
    re.DOTALL,
)
_FRACTION = re.compile(
    r"(?P<sign>[+-]?)(?:(?P<whole>\d+)[ -])?(?P<top>\d+)\s?/\s?(?P<bottom>\d+)(?P<unit>[^\d/].*|)",
    re.ASCII,
)
_WRITE = "a number such as 12.5"


def number_typed(name: str, text: str) -> float:
    """Number that a person typed, without a unit.

    Raises
    ------
    InputError
        If it isn't one number, or may mean two.

    Examples
    --------
    >>> number_typed("length", "12,5"), number_typed("length", "1 234.5")
    (12.5, 1234.5)
    """
    number, unit = _parted(name, text)
    if unit:
        raise InputError(name, text, "a number without a unit", f"leave {unit!r} out")
    return number


def quantity_typed(name: str, text: str, quantity: str, system: System = "si") -> float:
    """Quantity that a person typed, in the unit inside the package.

    ``name`` is what the field is called to the person; ``quantity`` is one of ``QUANTITIES``,
    whose shown unit in ``system`` holds when none was typed.

    Raises
    ------
    InputError
        If it isn't one number, may mean two, or has a unit of another kind.

    Examples
    --------
    >>> quantity_typed("Width of flat", "12,5", "flat_width")
    0.0125
    >>> quantity_typed("Width of flat", "0.5 in", "flat_width")
    0.0127
    """
    number, typed = _parted(name, text)
    inside = QUANTITIES[quantity].unit
    shown = unit_shown(quantity, system)
    if not typed:
        return _tidy((number + shown.offset) * shown.factor)
    unit = parse_unit(typed)
    if unit is None or unit.coherent != inside:
        allowed = f"a number in {shown.text or 'no unit'}" + _others(quantity, shown.text)
        raise InputError(name, text, allowed)
    return _tidy(to_si(number, unit).item())


def text_to_type(value: float, quantity: str, system: System = "si") -> str:
    """What a field shows of a value that was kept, so that typing it again keeps it.

    Raises
    ------
    InputError
        As ``units_shown.unit_shown``.

    Examples
    --------
    >>> text_to_type(0.0127, "flat_width", "us")
    '0.5'
    """
    shown = in_shown(value, quantity, system)
    text = f"{shown:.12g}"
    return text.replace("e+", "e")


def _others(quantity: str, shown: str) -> str:
    units = [unit_shown(quantity, system).text for system in ("si", "us")]
    further = [unit for unit in units if unit and unit != shown]
    return f", or with another unit of its kind, such as {further[0]}" if further else ""


def _parted(name: str, text: str) -> tuple[float, str]:
    """Number and the unit written after it."""
    tidy = _MINUS.sub("-", text.strip())
    if not tidy:
        raise InputError(name, text, _WRITE, "fill it in")
    fraction = _FRACTION.fullmatch(tidy)
    if fraction is not None and int(fraction["bottom"]):
        value = Fraction(int(fraction["whole"] or 0)) + Fraction(
            int(fraction["top"]), int(fraction["bottom"])
        )
        return (-1 if fraction["sign"] == "-" else 1) * float(value), fraction["unit"].strip()
    match = _NUMBER.fullmatch(tidy)
    if match is None:
        raise InputError(name, text, _WRITE)
    digits = _decimal(name, text, match["digits"])
    power = re.sub(r"^(?:[eE]|\s?[×x·]\s?10\^?)", "", match["power"] or "")
    number = float(f"{match['sign']}{digits}" + (f"e{power}" if power else ""))
    if not math.isfinite(number):
        raise InputError(name, text, _WRITE)
    return number, match["unit"].strip()


def _decimal(name: str, text: str, digits: str) -> str:
    """Digits with a point where the decimal sign was, or the refusal of what may mean two."""
    commas, points = digits.count(","), digits.count(".")
    sign = "." if points and (not commas or digits.rfind(".") > digits.rfind(",")) else ","
    if digits.count(sign) > 1:  # the same sign again can't be the decimal sign
        if commas and points:
            raise InputError(name, text, _WRITE, "write one decimal sign")
        whole, rest = digits, ""
    else:
        whole, found, rest = digits.partition(sign)
        is_group = re.fullmatch(r"[1-9]\d{0,2}", whole) and re.fullmatch(r"\d{3}", rest)
        if found == "," and is_group:
            raise InputError(
                name,
                text,
                "one that can't be read in two ways",
                f"write {whole}.{rest} or {whole}{rest}",
            )
    return f"{_joined(name, text, whole)}.{_fraction(name, text, rest)}"


def _joined(name: str, text: str, whole: str) -> str:
    """Whole part without what parts its thousands."""
    groups = re.split(r"[^0-9]", whole)
    signs = set(re.findall(r"[^0-9]", whole))
    if len(groups) == 1:
        return whole or "0"
    is_tidy = 1 <= len(groups[0]) <= 3 and all(len(group) == 3 for group in groups[1:])
    if len(signs) > 1 or not is_tidy:
        raise InputError(name, text, _WRITE, "thousands stand in groups of three digits")
    return "".join(groups)


def _fraction(name: str, text: str, rest: str) -> str:
    if rest and not rest.isdecimal():
        raise InputError(name, text, _WRITE, "write the digits after the decimal sign together")
    return rest or "0"


def _tidy(value: float) -> float:
    # 0.5 * 0.0254 and its like differ from the typed number in the last bit only: keep 15 digits.
    return float(f"{value:.15g}")
