"""What a sheet for one receiver holds: presented words, tables and drawings, nothing computed."""

from dataclasses import dataclass

from gaugewright.errors import InputError
from gaugewright.report.document import TitleBlock
from gaugewright.report.parts import Part

__all__ = ["Handout"]


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
