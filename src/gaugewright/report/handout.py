"""What a sheet for one receiver holds: presented words, tables and drawings, nothing computed."""

from dataclasses import dataclass

from gaugewright.errors import InputError
from gaugewright.report.document import Figure, TitleBlock

__all__ = ["Handout", "Part", "PartTable"]


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


@dataclass(frozen=True, slots=True)
class Handout:
    """A sheet as a whole; ``is_large`` is for whoever reads it standing, on one page."""

    title: str
    campaign: str
    laboratory: str
    invented: bool
    prepared: str
    prepared_epoch: int
    lead: str
    parts: tuple[Part, ...]
    title_block: TitleBlock
    is_large: bool = False
    journal_head: str = ""

    def __post_init__(self) -> None:
        if not self.title.strip():
            raise InputError("title", self.title, "a title")
        if not self.parts:
            raise InputError("parts of a sheet", 0, "one or more")
        if self.prepared_epoch < 0:
            raise InputError("prepared_epoch", self.prepared_epoch, "seconds since 1970, 0 or more")
