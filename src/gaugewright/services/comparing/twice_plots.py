"""A quantity recorded twice, drawn: both readings over time, and what the line leaves."""

from dataclasses import dataclass
from datetime import timedelta

import numpy as np

from gaugewright.present.plots import Axis, Curve, Plot, drawn
from gaugewright.present.series import kept_rows
from gaugewright.quantities import FloatArray
from gaugewright.services.comparing.twice_recorded import Column, Twice, laid_over
from gaugewright.services.reading.series import EPOCH
from gaugewright.services.showing.page import Page
from gaugewright.services.showing.sized_figure import SizedFigure, Sizes

__all__ = ["twice_figures"]

SAMPLES = 700


def twice_figures(page: Page, found: Twice, sizes: Sizes) -> tuple[SizedFigure, ...]:
    """The second against the first, and what is left of it beside the line over time."""
    time, first, second = laid_over(found)
    good = np.isfinite(first) & np.isfinite(second)
    read = _Read(time[good], first[good], second[good])
    rows = kept_rows(read.time, read.left(found), SAMPLES)
    units = tuple(column.unit for column in _both(found))
    heads = ("time, s since 1970 UTC", f"first, {units[0]}", f"second, {units[1]}", "left")
    columns = (read.time + EPOCH.timestamp(), read.first, read.second, read.left(found))
    numbers = tuple(zip(*(column[rows].tolist() for column in columns), strict=True))
    against, over_time = _against(found, read), _over_time(page, found, read)
    return (
        SizedFigure(
            "Second against first",
            "Readings as joined for this comparison, in order of the first; none is smoothed.",
            drawn(against, *sizes[0]),
            drawn(against, *sizes[1]),
            heads,
            numbers,
        ),
        SizedFigure(
            "What is left",
            "The second's readings less the line. A slope here is a drift of one of the two, "
            "a ripple where the quantity moves is a clock that isn't right.",
            drawn(over_time, *sizes[0]),
            drawn(over_time, *sizes[1]),
            heads,
            numbers,
        ),
    )


@dataclass(frozen=True, slots=True)
class _Read:
    """Both readings where both are there."""

    time: FloatArray
    first: FloatArray
    second: FloatArray

    def left(self, found: Twice) -> FloatArray:
        """What the line leaves of the second."""
        return self.second - (found.found.gain * self.first + found.found.zero)


def _against(found: Twice, read: _Read) -> Plot:
    names = tuple(f"{c.column.name} of {c.recording.record.label}" for c in _both(found))
    order = np.argsort(read.first, kind="stable")
    kept = order[kept_rows(read.first[order], read.second[order], SAMPLES)]
    line = read.second - read.left(found)
    return Plot(
        Axis(names[0], found.first.unit),
        Axis(names[1], found.second.unit),
        f"{names[1]} against {names[0]}, with the line that was found",
        (
            Curve("readings", read.first[kept], read.second[kept], "a"),
            Curve("line", read.first[kept], line[kept], "b"),
        ),
    )


def _over_time(page: Page, found: Twice, read: _Read) -> Plot:
    begins, left = float(read.time[0]), read.left(found)
    rows = kept_rows(read.time, left, SAMPLES)
    return Plot(
        Axis(f"time since {page.moment(EPOCH + timedelta(seconds=begins))}", "s"),
        Axis("second less the line", found.second.unit),
        f"What the line leaves of {found.second.column.name} over time",
        (Curve("", read.time[rows] - begins, left[rows], "a"),),
    )


def _both(found: Twice) -> tuple[Column, Column]:
    return (found.first, found.second)
