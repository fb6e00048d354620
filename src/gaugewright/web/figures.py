"""Figures that may take seconds: shown at once when they are kept, else fetched by the page."""

from dataclasses import dataclass
from typing import TYPE_CHECKING
from urllib.parse import quote

from gaugewright.present.plots import drawn
from gaugewright.services.handover.kept_drawings import KeptDrawing, kept
from gaugewright.services.planes.plots import Drawn

if TYPE_CHECKING:
    from gaugewright.web.rooms import Room

__all__ = [
    "FigureShown",
    "Figures",
    "NamedFigure",
    "drawing_url",
    "figures",
    "figures_of",
    "in_two_widths",
]

AT_ONCE = 4  # a figure is 0.2 MB; a bar with 200 gauges has fifty


@dataclass(frozen=True, slots=True)
class FigureShown:
    """A figure as ``_figures.html`` draws it; both drawings are our own SVG."""

    wide: str
    narrow: str
    title: str
    caption: str
    stands_on: str
    csv_url: str


@dataclass(frozen=True, slots=True)
class NamedFigure:
    """A plot for a wide and a narrow sheet, with its words and a name to find it by."""

    name: str
    wide: str
    narrow: str
    title: str
    caption: str


@dataclass(frozen=True, slots=True)
class Figures:
    """Figures of a bar or gauge; ``is_to_come`` while they must still be drawn, at ``url``.

    ``more`` says how many are left and ``more_url`` where they are; both "" after the last.
    """

    name: str
    url: str
    is_to_come: bool
    shown: tuple[FigureShown, ...] = ()
    more: str = ""
    more_url: str = ""


def figures(room: "Room", kind: str, label: str) -> Figures:
    """Figures of "bar" or "gauge" and a label, as far as they are kept."""
    found = kept(room.store, room.head, f"{kind} {label}")
    if found is None:
        return Figures(f"{kind} {label}", drawing_url(room, kind, label), is_to_come=True)
    return figures_of(room, kind, label, found)


def figures_of(
    room: "Room", kind: str, label: str, found: tuple[KeptDrawing, ...], *, first: int = 0
) -> Figures:
    """Drawn figures of a bar or gauge, so many as a page carries, from the ``first`` on."""
    url = drawing_url(room, kind, label)
    shown = tuple(
        FigureShown(
            one.wide,
            one.narrow,
            one.title,
            one.caption,
            one.stands_on,
            f"{url}?numbers={number}" if one.samples else "",
        )
        for number, one in enumerate(found[first : first + AT_ONCE], start=first)
    )
    left = len(found) - first - len(shown)
    more = f"Show the next {min(left, AT_ONCE)} of {left} more" if left else ""
    more_url = f"{url}?first={first + AT_ONCE}" if left else ""
    return Figures(f"{kind} {label}", url, False, shown, more, more_url)


def drawing_url(room: "Room", kind: str, label: str) -> str:
    """Address of the figures alone."""
    return room.url(f"drawings/{kind}/{quote(label, safe='')}")


def in_two_widths(
    one: Drawn, wide: tuple[float, float], narrow: tuple[float, float]
) -> NamedFigure:
    """A plot with its words, drawn for both."""
    return NamedFigure(
        one.name, drawn(one.plot, *wide), drawn(one.plot, *narrow), one.title, one.caption
    )
