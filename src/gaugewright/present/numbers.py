"""How is a number written, so that its digits claim no more than its uncertainty allows?

Rules, each with a row in the tests:

1. An expanded uncertainty is stated with two significant digits (JCGM 100:2008, 7.2.6: "at most
   two significant digits"), rounded to the nearest; a half goes up. At two digits this never
   lowers it by more than 5 %.
2. The value is rounded to the same decimal place (JCGM 100:2008, 7.2.6), to the nearest; a half
   goes to the even digit (ISO 80000-1:2009, annex B, rule A). Rounding is done in one step.
3. Thousands are parted by a narrow space, on the left of the decimal sign only; the decimal sign
   is a point. The space doesn't break across lines.
4. Minus is U+2212. A plus sign is written only where the sign matters. Zero has no sign.
"""

import math
from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, ROUND_HALF_UP, Decimal

from gaugewright.errors import InputError

__all__ = [
    "MINUS",
    "THIN",
    "Shown",
    "decimal_place",
    "fixed_text",
    "quantity_text",
    "shown",
    "significant_text",
]

MINUS = "\N{MINUS SIGN}"
THIN = "\N{NARROW NO-BREAK SPACE}"
_RAISED = str.maketrans("0123456789", "⁰¹²³⁴⁵⁶⁷⁸⁹")
_NO_BREAK = "\N{NO-BREAK SPACE}"


@dataclass(frozen=True, slots=True)
class Shown:
    """A number as it stands on a page; ``plus_minus`` is empty when no uncertainty is stated."""

    value: str
    plus_minus: str = ""
    unit: str = ""

    @property
    def text(self) -> str:
        """Number, uncertainty and unit in one piece that a line can't break.

        Examples
        --------
        >>> Shown("163.90", "0.80", "kN").text.replace("\N{NO-BREAK SPACE}", " ")
        '163.90 ± 0.80 kN'
        """
        parts = [self.value]
        if self.plus_minus:
            parts += ["±", self.plus_minus]
        if self.unit:
            parts.append(self.unit)
        return _NO_BREAK.join(parts)


def decimal_place(plus_minus: float, digits: int = 2) -> int:
    """Decimal places that leave an uncertainty with that many significant digits.

    Negative places round to tens, hundreds and so on. A carry is followed: 0.0996 has two places
    at two digits because it becomes 0.10.

    Raises
    ------
    InputError
        If ``plus_minus`` isn't a positive number or ``digits`` isn't 1 or 2.

    Examples
    --------
    >>> decimal_place(0.8), decimal_place(25.0), decimal_place(1234.0), decimal_place(0.0996)
    (2, 0, -2, 2)
    """
    if not (math.isfinite(plus_minus) and plus_minus > 0):
        raise InputError(
            "plus_minus", plus_minus, "a positive number", "leave it out when nothing is known"
        )
    if digits not in (1, 2):
        raise InputError("digits", digits, "1 or 2")
    exact = Decimal(repr(float(plus_minus)))
    places = digits - 1 - exact.adjusted()
    rounded = _rounded(exact, places, ROUND_HALF_UP)
    return digits - 1 - rounded.adjusted()


def shown(
    value: float, plus_minus: float | None, unit: str = "", *, sign: bool = False, digits: int = 2
) -> Shown:
    """Value and expanded uncertainty rounded by the rules of this module.

    Without an uncertainty the value is given at four significant digits at most: enough for a
    card value or a typed setting, and nothing is claimed about it.

    Raises
    ------
    InputError
        If the value isn't finite or the uncertainty isn't positive.

    Examples
    --------
    >>> shown(-12345.6, 78.9).value, shown(-12345.6, 78.9).plus_minus
    ('−12\u202f346', '79')
    """
    if not math.isfinite(value):
        raise InputError("value", value, "a finite number", "show why it is missing instead")
    if plus_minus is None:
        return Shown(significant_text(value, sign=sign), "", unit)
    places = decimal_place(plus_minus, digits)
    uncertainty = _rounded(Decimal(repr(float(plus_minus))), places, ROUND_HALF_UP)
    return Shown(fixed_text(value, places, sign=sign), _grouped(uncertainty, places), unit)


def quantity_text(
    value: float, plus_minus: float | None, unit: str = "", *, sign: bool = False
) -> str:
    """One line of text for a value with its uncertainty and unit.

    Raises
    ------
    InputError
        As ``shown``.

    Examples
    --------
    >>> quantity_text(2676.4, 25.2, "µε").replace("\N{NO-BREAK SPACE}", " ")
    '2\u202f676 ± 25 µε'
    """
    return shown(value, plus_minus, unit, sign=sign).text


def fixed_text(value: float, places: int, *, sign: bool = False) -> str:
    """A number rounded to a decimal place; ``places`` below zero rounds to tens and so on.

    Raises
    ------
    InputError
        If the value isn't finite.

    Examples
    --------
    >>> fixed_text(-0.04, 1), fixed_text(1650.0, -2), fixed_text(3.0, 1, sign=True)
    ('0.0', '1\u202f600', '+3.0')
    """
    if not math.isfinite(value):
        raise InputError("value", value, "a finite number", "show why it is missing instead")
    rounded = _rounded(Decimal(repr(float(value))), places, ROUND_HALF_EVEN)
    text = _grouped(abs(rounded), places)
    if rounded == 0:
        return text
    if rounded < 0:
        return MINUS + text
    return "+" + text if sign else text


def significant_text(value: float, digits: int = 4, *, sign: bool = False) -> str:
    """A number at so many significant digits, zeros after the last one taken off.

    Below a ten-thousandth it is written with a power of ten.

    Raises
    ------
    InputError
        If the value isn't finite.

    Examples
    --------
    >>> significant_text(120.0), significant_text(2.0750), significant_text(18000.0)
    ('120', '2.075', '18\u202f000')
    >>> significant_text(-1.25e-7)
    '−1.25×10⁻⁷'
    """
    if not math.isfinite(value):
        raise InputError("value", value, "a finite number", "show why it is missing instead")
    if value == 0:
        return "0"
    exact = Decimal(repr(float(value)))
    power = exact.adjusted() if exact.adjusted() < -4 else 0
    places = max(digits - 1 - exact.adjusted() + power, 0)
    text = fixed_text(float(exact.scaleb(-power)), places, sign=sign)
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return f"{text}×10⁻{str(-power).translate(_RAISED)}" if power else text


def _rounded(exact: Decimal, places: int, rounding: str) -> Decimal:
    return exact.quantize(Decimal(1).scaleb(-places), rounding=rounding)


def _grouped(number: Decimal, places: int) -> str:
    return f"{number:,.{max(places, 0)}f}".replace(",", THIN)
