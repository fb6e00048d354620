"""How is a text written into a cell of a table file, so that no program takes it for a formula?"""

__all__ = ["cell_text"]

# What spreadsheet programs take as the beginning of a formula, also after white space.
_BEGINS = frozenset("=+-@\N{FULLWIDTH EQUALS SIGN}\N{FULLWIDTH PLUS SIGN}")
_BEGINS |= frozenset("\N{FULLWIDTH HYPHEN-MINUS}\N{FULLWIDTH COMMERCIAL AT}")


def cell_text(text: str) -> str:
    """A text that a person wrote, safe as a cell of CSV or XLSX; numbers are written as numbers.

    What would begin a formula gets an apostrophe before it, which such programs don't show; line
    ends and other control characters become spaces, so that a cell stays a cell.

    Examples
    --------
    >>> cell_text("=1+2"), cell_text("L1-M-T"), cell_text("− 5 at rest")
    ("'=1+2", 'L1-M-T', '− 5 at rest')
    """
    tidy = "".join(sign if sign.isprintable() else " " for sign in text)
    return "'" + tidy if tidy.lstrip()[:1] in _BEGINS else tidy
