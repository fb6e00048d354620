"""Figures that may take seconds: shown at once when they are kept, else fetched by the page."""

from dataclasses import dataclass
from typing import TYPE_CHECKING
from urllib.parse import quote

from gaugewright.services.work.kept_drawings import KeptDrawing, kept

if TYPE_CHECKING:
    from gaugewright.web.rooms import Room

__all__ = ["FigureShown", "Figures", "drawing_url", "figures", "figures_of"]


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
class Figures:
    """Figures of a bar or gauge; ``is_to_come`` while they must still be drawn, at ``url``."""

    name: str
    url: str
    is_to_come: bool
    shown: tuple[FigureShown, ...] = ()


def figures(room: "Room", kind: str, label: str) -> Figures:
    """Figures of "bar" or "gauge" and a label, as far as they are kept."""
    found = kept(room.store, room.head, f"{kind} {label}")
    if found is None:
        return Figures(f"{kind} {label}", drawing_url(room, kind, label), is_to_come=True)
    return figures_of(room, kind, label, found)


def figures_of(room: "Room", kind: str, label: str, found: tuple[KeptDrawing, ...]) -> Figures:
    """Drawn figures of a bar or gauge."""
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
        for number, one in enumerate(found)
    )
    return Figures(f"{kind} {label}", url, is_to_come=False, shown=shown)


def drawing_url(room: "Room", kind: str, label: str) -> str:
    """Address of the figures alone."""
    return room.url(f"drawings/{kind}/{quote(label, safe='')}")
