"""The pages that look closely at one kind of result, as the results page names them."""

from collections.abc import Callable
from dataclasses import dataclass

from gaugewright.services.book import Book
from gaugewright.web.rooms import Room

__all__ = ["PARTS", "Part", "PartLink", "part_links"]


@dataclass(frozen=True, slots=True)
class Part:
    """A page or a group of pages: its name, what it shows, where it begins, and for whom.

    ``applies`` tells whether a campaign has what the page needs; a page that doesn't apply isn't
    named, so nobody is sent to an empty sheet.
    """

    name: str
    sentence: str
    url: Callable[[Room], str]
    applies: Callable[[Book], bool]


@dataclass(frozen=True, slots=True)
class PartLink:
    """A part as the results page names it."""

    name: str
    sentence: str
    url: str


# One line a page, in the order in which a person asks: the gauge, then what several give together.
PARTS: tuple[Part, ...] = ()


def part_links(room: Room) -> tuple[PartLink, ...]:
    """Parts that apply to a campaign."""
    return tuple(
        PartLink(part.name, part.sentence, part.url(room))
        for part in PARTS
        if part.applies(room.book)
    )
