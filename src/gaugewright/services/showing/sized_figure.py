"""A drawing for a wide and a narrow sheet, with its words and the numbers behind it."""

from dataclasses import dataclass

__all__ = ["SizedFigure", "Sizes"]

# Width and height of the wide drawing, then of the narrow one.
Sizes = tuple[tuple[float, float], tuple[float, float]]


@dataclass(frozen=True, slots=True)
class SizedFigure:
    """SVG of both drawings; ``numbers`` are rows in SI under ``heads``."""

    title: str
    caption: str
    wide: str
    narrow: str
    heads: tuple[str, ...]
    numbers: tuple[tuple[float, ...], ...]
