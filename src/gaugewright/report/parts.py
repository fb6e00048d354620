"""Pieces that reports and sheets are made of: drawings, tables, entries of words."""

from dataclasses import dataclass

from gaugewright.errors import InputError

__all__ = ["Figure", "Part", "PartTable"]


@dataclass(frozen=True, slots=True)
class Figure:
    """A drawing with its words; ``stands_on`` names zero, sign and corrections."""

    svg: str
    title: str
    caption: str
    alt: str
    stands_on: str
    section: str = "results"

    def __post_init__(self) -> None:
        if not self.svg.startswith("<svg"):
            raise InputError("figure", self.svg[:40], "the text of an SVG drawing")
        if self.section not in ("results", "gauges"):
            raise InputError("section", self.section, "results or gauges")
        if not self.alt.strip() or not self.stands_on.strip():
            raise InputError("figure", self.title, "given words for what it shows and stands on")


@dataclass(frozen=True, slots=True)
class PartTable:
    """A table of presented cells; ``wide`` are the columns that take the room that is left."""

    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    empty: str = ""
    wide: tuple[int, ...] = (0,)
    right: tuple[int, ...] = ()

    def __post_init__(self) -> None:
        for row in self.rows:
            if len(row) != len(self.heads):
                raise InputError("cells of a row", len(row), f"{len(self.heads)}, one a head")


@dataclass(frozen=True, slots=True)
class Part:
    """An entry of the sheet: what it is, what stands beside it, and its matter in order.

    ``lines`` are short sentences, one a line; ``blanks`` are lines to be filled in by hand.
    """

    title: str
    note: str = ""
    words: str = ""
    lines: tuple[str, ...] = ()
    table: PartTable | None = None
    figure: Figure | None = None
    blanks: tuple[str, ...] = ()
    is_caution: bool = False
