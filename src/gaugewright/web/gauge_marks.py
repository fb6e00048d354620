"""A mark on drawn plots that a hand can move: where it stands first, and numbers for the script."""

from dataclasses import dataclass
from typing import Any

from gaugewright.present.axes import Frame
from gaugewright.present.plots import Plot, drawn, frame_of

__all__ = ["MarkedPlot", "marked", "place_told"]


@dataclass(frozen=True, slots=True)
class MarkedPlot:
    """A plot for a wide and for a narrow sheet, both with the mark, and its words."""

    name: str
    wide: str
    narrow: str
    title: str
    caption: str


def marked(
    name: str,
    plots: tuple[Plot, Plot],
    words: tuple[str, str],
    sizes: tuple[tuple[float, float], tuple[float, float]],
    at: tuple[float | None, float | None],
) -> tuple[MarkedPlot, dict[str, Any]]:
    """A plot drawn wide and narrow with a mark, and the frames by which a script moves it."""
    made, frames = [], {}
    for kind, plot, (width, height) in zip(("wide", "narrow"), plots, sizes, strict=True):
        frame = frame_of(plot, width, height)
        frames[kind] = place_told(frame)
        made.append(_with_mark(drawn(plot, width, height), frame, at))
    return MarkedPlot(name, made[0], made[1], *words), frames


def place_told(frame: Frame) -> dict[str, tuple[float, float]]:
    """Pixels and numbers at the edges of a frame."""
    return {
        "across": (frame.left, frame.right),
        "down": (frame.bottom, frame.top),
        "x": frame.x_edges,
        "y": frame.y_edges,
    }


def _with_mark(svg: str, frame: Frame, at: tuple[float | None, float | None]) -> str:
    """The mark goes last, so that it lies over everything; it waits outside where it has none."""
    x = y = -100.0
    if at[0] is not None and at[1] is not None:
        x, y = frame.at(at[0], at[1])
        if not (frame.left <= x <= frame.right and frame.top <= y <= frame.bottom):
            x = y = -100.0
    mark = (
        f'<g class="at" data-at><line class="ln-next" x1="{x:.1f}" x2="{x:.1f}" '
        f'y1="{frame.top:.1f}" y2="{frame.bottom:.1f}"/>'
        f'<circle class="fill-next" cx="{x:.1f}" cy="{y:.1f}" r="6"/></g></svg>'
    )
    return svg.removesuffix("</svg>") + mark
