"""Does a code hold as it was read or typed, by one check character of an open standard?"""

from gaugewright.errors import InputError

__all__ = ["ALPHABET", "check_character", "code_holds"]

ALPHABET = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"
_BASE = len(ALPHABET)


def check_character(code: str) -> str:
    """Check character of digits and capital letters: MOD 37,36 of ISO/IEC 7064.

    The hybrid system of ISO/IEC 7064:2003, clauses 9 and 10 (from memory): from left to right
    P = 2 ((P + a) mod 36, 36 in the place of 0) mod 37, beginning with P = 36; the check character
    c makes P + c one more than a multiple of 36. It finds every single character that was changed
    and nearly every pair of neighbours exchanged.

    Parameters
    ----------
    code : str
        Digits and capital letters A to Z alone.

    Returns
    -------
    character : str
        One of the same 36 characters.

    Raises
    ------
    InputError
        If the code is empty or has another character in it.

    Examples
    --------
    >>> check_character("A12425GABC1234002")
    'M'
    """
    return ALPHABET[(1 - _carried(code)) % _BASE]


def code_holds(code: str) -> bool:
    """Whether the last character is the check character of those before it.

    Parameters
    ----------
    code : str
        Digits and capital letters A to Z alone, two or more.

    Returns
    -------
    holds : bool
        False where at least one character isn't as it was made.

    Raises
    ------
    InputError
        If the code is too short or has another character in it.

    Examples
    --------
    >>> code_holds("A12425GABC1234002M"), code_holds("A12425GABC1234020M")
    (True, False)
    """
    if len(code) < 2:
        raise InputError("code", code, "two characters or more")
    return (_carried(code[:-1]) + _value(code[-1])) % _BASE == 1


def _carried(code: str) -> int:
    if not code:
        raise InputError("code", code, "one character or more")
    carried = _BASE
    for character in code:
        summed = (carried + _value(character)) % _BASE or _BASE
        carried = summed * 2 % (_BASE + 1)
    return carried


def _value(character: str) -> int:
    found = ALPHABET.find(character)
    if found < 0:
        raise InputError("character of a code", character, "a digit or a capital letter A to Z")
    return found
