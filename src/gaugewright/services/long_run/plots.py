"""A long record drawn: segments with what each border leaves open, gaps as gaps, fits beside."""

from datetime import timedelta

import numpy as np
import numpy.typing as npt

from gaugewright.calc.seasons import DAY
from gaugewright.present.plots import Axis, Curve, Plot, Point, drawn
from gaugewright.present.series import kept_rows
from gaugewright.present.units_shown import in_shown, series_shown, unit_shown
from gaugewright.quantities import FloatArray
from gaugewright.services.campaign.coverage import COVERAGE
from gaugewright.services.long_run.term import Fit, LongTerm
from gaugewright.services.reading.series import EPOCH
from gaugewright.services.showing.page import Page
from gaugewright.services.showing.sized_figure import SizedFigure, Sizes

__all__ = ["figures"]

SAMPLES = 700
Rows = npt.NDArray[np.int64]
HEADS = (
    "time, s since 1970 UTC",
    "segment",
    "strain",
    "expanded uncertainty of strain",
)
FIT_HEADS = ("time, s since 1970 UTC", "mean strain", "fit with level", "strain less the fit")


def figures(page: Page, look: LongTerm, sizes: Sizes) -> tuple[SizedFigure, ...]:
    """The record with its segments; then, named for what it is, strain less each fit."""
    return (
        _record(page, look, sizes),
        *(_less(page, look, fit, sizes) for fit in look.fits if fit.found is not None),
    )


def _record(page: Page, look: LongTerm, sizes: Sizes) -> SizedFigure:
    begins = look.segments[0].begins
    unit, size = _unit(look)
    curves, points, numbers = [], [], []
    for number, segment in enumerate(look.segments, start=1):
        rows = _kept(look, segment.first, segment.last)
        time, strain, doubt = _with_doubt(look, rows)
        numbers += _rows(number, time, strain, doubt)
        curves.append(
            Curve(
                f"segment {number}" if len(look.segments) > 1 else look.gauge.record.label,
                (time - begins) / size,
                series_shown(strain, "strain", page.system),
                "a",
                series_shown(doubt, "strain", page.system),
            )
        )
        points += _border_point(page, look, number - 1, (begins, size))
    curves += _season_line(page, look, begins, size)
    plot = Plot(
        Axis(f"time since {page.moment(EPOCH + _seconds(begins))}", unit),
        Axis("strain at the gauge", unit_shown("strain", page.system).text),
        f"Strain of {look.gauge.record.label} over its whole record, segment by segment",
        tuple(curves),
        tuple(points),
    )
    return SizedFigure(
        "The record",
        _record_words(look, is_joined=bool(points)),
        drawn(plot, *sizes[0]),
        drawn(plot, *sizes[1]),
        HEADS,
        tuple(numbers),
    )


def _record_words(look: LongTerm, *, is_joined: bool) -> str:
    words = ["Band: ± for 95 %. A gap is a place without readings."]
    if is_joined:
        words.append(
            "Ring and whisker: where a connection was remade, and what the zero leaves open there."
        )
    if look.fits[0].found is not None:
        words.append("The seasonal fit is drawn beside; the record isn't changed by it.")
    return " ".join(words)


def _less(page: Page, look: LongTerm, fit: Fit, sizes: Sizes) -> SizedFigure:
    """Strain less the seasonal part, which nobody measured: a second curve with its own name."""
    begins = look.segments[0].begins
    unit, size = _unit(look)
    name = "seasonal fit" if fit.name == "season" else "fit against temperature"
    x, y = _broken(fit.time, fit.less)
    rows = kept_rows(x, y, SAMPLES)
    plot = Plot(
        Axis(f"time since {page.moment(EPOCH + _seconds(begins))}", unit),
        Axis(f"strain less the {name}", unit_shown("strain", page.system).text),
        f"Strain of {look.gauge.record.label} less the {name}, which is no measurement",
        (
            Curve(
                f"less the {name}",
                (x[rows] - begins) / size,
                series_shown(y[rows], "strain", page.system),
                "c",
            ),
        ),
    )
    mean = fit.less + (fit.found.seasonal if fit.found is not None else 0.0)
    columns = (_unix(fit.time), mean, fit.fitted, fit.less)
    return SizedFigure(
        f"Strain less the {name}",
        "Not a measurement: what is left of the means when the fit is believed. Steps from "
        "segment to segment stay in it.",
        drawn(plot, *sizes[0]),
        drawn(plot, *sizes[1]),
        FIT_HEADS,
        tuple(zip(*(column.tolist() for column in columns), strict=True)),
    )


def _kept(look: LongTerm, first: int, last: int) -> Rows:
    rows = np.arange(first, last + 1)
    time, strain = look.strain.time[rows], look.strain.strain[rows]
    order = np.argsort(time, kind="stable")
    rows = rows[order]
    return np.asarray(rows[kept_rows(time[order], strain[order], SAMPLES)], dtype=np.int64)


def _with_doubt(look: LongTerm, rows: Rows) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Time, strain and ± at some rows, with an empty place in every gap between them."""
    time, strain = look.strain.time[rows], look.strain.strain[rows]
    doubt = np.full(rows.size, np.nan)
    good = np.flatnonzero(np.isfinite(strain))
    if good.size:
        order = good[np.argsort(rows[good])]
        doubt[order] = look.strain.uncertain(rows[order]).expanded(COVERAGE)
    holes = np.array([(gap.begins + gap.ends) / 2 for gap in look.gaps])
    holes = holes[(holes > time[0]) & (holes < time[-1])]
    place = np.searchsorted(time, holes)
    return (
        np.insert(time, place, holes),
        np.insert(strain, place, np.nan),
        np.insert(doubt, place, np.nan),
    )


def _rows(
    number: int, time: FloatArray, strain: FloatArray, doubt: FloatArray
) -> list[tuple[float, ...]]:
    there = np.isfinite(strain)
    return [
        (moment, float(number), value, spread)
        for moment, value, spread in zip(
            _unix(time[there]).tolist(), strain[there].tolist(), doubt[there].tolist(), strict=True
        )
    ]


def _border_point(
    page: Page, look: LongTerm, place: int, scale: tuple[float, float]
) -> list[Point]:
    segment = look.segments[place]
    border = segment.border
    if border is None or border.transfer is None:
        return []
    inside = look.strain.strain[segment.first : segment.last + 1]
    value = float(inside[np.flatnonzero(np.isfinite(inside))[0]])
    return [
        Point(
            (border.begins - scale[0]) / scale[1],
            in_shown(value, "strain", page.system),
            f"± at border {place}",
            y_plus_minus=in_shown(border.transfer, "strain", page.system),
            hollow=True,
        )
    ]


def _season_line(page: Page, look: LongTerm, begins: float, size: float) -> list[Curve]:
    fit = look.fits[0]
    if fit.found is None:
        return []
    x, y = _broken(fit.time, fit.fitted)
    rows = kept_rows(x, y, SAMPLES)
    shown = series_shown(y[rows], "strain", page.system)
    return [Curve("seasonal fit", (x[rows] - begins) / size, shown, "b")]


def _broken(time: FloatArray, values: FloatArray) -> tuple[FloatArray, FloatArray]:
    """The same with an empty place wherever the usual step is ten times exceeded."""
    if time.size < 2:
        return time, values
    steps = np.diff(time)
    place = np.flatnonzero(steps > 10 * float(np.median(steps))) + 1
    middle = (time[place - 1] + time[place]) / 2
    return np.insert(time, place, middle), np.insert(values, place, np.nan)


def _unit(look: LongTerm) -> tuple[str, float]:
    length = look.segments[-1].ends - look.segments[0].begins
    for unit, size in (("d", DAY), ("h", 3600.0), ("min", 60.0)):
        if length >= 3 * size:
            return unit, size
    return "s", 1.0


def _unix(time: FloatArray) -> FloatArray:
    return np.asarray(time + EPOCH.timestamp())


def _seconds(seconds: float) -> timedelta:
    return timedelta(seconds=seconds)
