"""A gauge under load as plots, and the samples that a hand runs along them."""

import math
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from gaugewright.errors import InputError
from gaugewright.present.axes import Axis
from gaugewright.present.numbers import fixed_text
from gaugewright.present.plots import Curve, Ink, Plot, Point
from gaugewright.present.series import kept_rows
from gaugewright.present.units_shown import System, in_shown, series_shown, unit_shown
from gaugewright.quantities import FloatArray
from gaugewright.records.specimen import SteelLaw
from gaugewright.services.campaign.coverage import COVERAGE
from gaugewright.services.gauge.look import GaugeLook
from gaugewright.services.loading.events import CRACKING
from gaugewright.services.loading.paths import LoopRow
from gaugewright.services.under_load.loads import load_uncertain
from gaugewright.services.under_load.record import GaugeRecord, Rows
from gaugewright.services.under_load.stress import steel_words, stress_at

__all__ = [
    "Drawn",
    "Samples",
    "loop_plot",
    "samples_of",
    "time_plot",
    "time_unit_of",
    "under_load",
]

SAMPLES = 700
LOOP_SAMPLES = 300
_INKS: tuple[Ink, ...] = ("a", "b", "c", "d")
_PAUSE = 600.0  # [s] without a reading: another recording begins
_ONE_NAME = 0.03  # of the axis: closer events share a name


@dataclass(frozen=True, slots=True)
class Samples:
    """Samples kept for drawing, extremes and gaps among them, in order of time (SI).

    ``load_doubt`` and ``doubt`` are the expanded uncertainties of load and strain; ``stress``
    follows the bar's law along the record and is NaN where the law knows none; ``steel`` says what
    the steel does.
    """

    rows: npt.NDArray[np.int64]
    time: FloatArray
    load: FloatArray
    load_doubt: FloatArray
    strain: FloatArray
    doubt: FloatArray
    stress: FloatArray
    stress_doubt: FloatArray
    steel: tuple[str, ...]
    predicted: FloatArray
    predicted_doubt: FloatArray

    @property
    def begins(self) -> float:
        """Time that plots count from [s]."""
        return float(self.time[0])


@dataclass(frozen=True, slots=True)
class Drawn:
    """A plot with its words; on a narrow sheet fewer of its points have room for a name."""

    plot: Plot
    narrow: Plot
    title: str
    caption: str


def samples_of(look: GaugeLook) -> Samples:
    """Samples of the test: from its first hold on; without one, from where its recording begins.

    Nothing is predicted yet: ``predicted.with_prediction`` fills that in.
    """
    record = look.record
    known = np.flatnonzero(np.isfinite(record.load))
    if not known.size:
        raise InputError(f"load at {record.label}", "never recorded", "recorded beside the gauge")
    begins = look.holds[0].held.begins if look.holds else _test_begins(record, known)
    part = np.flatnonzero(record.time >= begins)
    part = part[part <= known[-1]]
    rows = part[kept_rows(record.strain[part], record.load[part], SAMPLES)]
    good = np.isfinite(record.strain[rows]) & np.isfinite(record.load[rows])
    doubt = np.full(rows.size, math.nan)
    if good.any():
        doubt[good] = record.uncertain(rows[good]).expanded(COVERAGE)
    times = record.time[rows]
    held = np.zeros(rows.size, dtype=np.bool_)
    for hold in look.holds:
        held |= (times >= hold.held.begins) & (times <= hold.held.ends)
    stress, stress_doubt, steel = _steel(record, rows, held)
    nothing = np.full(rows.size, math.nan)
    return Samples(
        rows,
        record.time[rows],
        record.load[rows],
        np.asarray(load_uncertain(record.desk, record.load[rows]).expanded(COVERAGE)),
        record.strain[rows],
        doubt,
        stress,
        stress_doubt,
        steel,
        nothing,
        nothing,
    )


def _test_begins(record: GaugeRecord, known: Rows) -> float:
    """Time from which readings followed each other until the load first rose."""
    load = np.abs(record.load[known])
    loaded = int(known[np.flatnonzero(load > 0.05 * float(load.max()))[0]]) if load.max() else 0
    pauses = np.flatnonzero(np.diff(record.time[: loaded + 1]) > _PAUSE)
    return float(record.time[pauses[-1] + 1 if pauses.size else known[0]])


def _steel(
    record: GaugeRecord, rows: Rows, held: npt.NDArray[np.bool_]
) -> tuple[FloatArray, FloatArray, tuple[str, ...]]:
    """Stress along the kept samples with its doubt, and words for it."""
    stress, doubt = np.full(rows.size, math.nan), np.full(rows.size, math.nan)
    good = np.flatnonzero(np.isfinite(record.strain[rows]))
    if not good.size:
        return stress, doubt, ("no reading",) * rows.size
    try:
        found = stress_at(record, rows[good], held=held[good])
        stress[good] = found.value
        doubt[good] = found.expanded(COVERAGE)
        return stress, doubt, steel_words(record, rows, stress)
    except InputError:
        return stress, doubt, ("",) * rows.size


def under_load(look: GaugeLook, samples: Samples, system: System) -> Drawn:
    """Load against strain with its band, the prediction beside it, and every event marked."""
    strain, force = unit_shown("strain", system).text, unit_shown("force", system).text
    x = series_shown(samples.strain, "strain", system)
    y = series_shown(samples.load, "force", system)
    band = series_shown(samples.doubt, "strain", system)
    curves = [Curve(look.record.label, x, y, "a", band, "x")]
    curves += _predicted_curve(samples, system)
    cut = _cut(look.record, samples, system)
    plot = Plot(
        Axis("strain at the gauge", strain, highest=cut),
        Axis("load", force),
        f"Load against strain at {look.record.label}, with events marked",
        tuple(curves),
        _event_points(look, system, cut),
    )
    largest = fixed_text(float(np.nanmax(x)), -1) if np.isfinite(x).any() else ""
    words = [
        f"{samples.rows.size} of {look.record.time.size} readings, extremes among them; band: ± "
        "for 95 %.",
        "Rings: events by the criteria below, whiskers ± of their load." if plot.points else "",
        f"Cut on the right: the largest is {largest} {strain}." if cut else "",
    ]
    if len(curves) > 1:
        words.append(
            "Predicted: first loading only, from the member as it is described; its band leaves "
            "out that the crack may come at another load. It isn't drawn where its ± is more than "
            "0.3 of the largest strain read."
        )
    title = f"{look.record.label} under load"
    narrow = replace(plot, points=_fewer_names(plot.points))
    return Drawn(plot, narrow, title, " ".join(word for word in words if word))


def _fewer_names(points: tuple[Point, ...]) -> tuple[Point, ...]:
    """The same points; of each kind of event only the first has a name, and a short one."""
    named: set[str] = set()
    made = []
    for point in points:
        word = point.label.partition(" ")[0]
        made.append(replace(point, label="" if word in named else word))
        named.add(word)
    return tuple(made)


def _predicted_curve(samples: Samples, system: System) -> list[Curve]:
    there = np.isfinite(samples.predicted) & np.isfinite(samples.load)
    # On a plateau the doubt of strain grows without end and would press all else together.
    seen = float(np.nanmax(np.abs(samples.strain))) if np.isfinite(samples.strain).any() else 0.0
    there &= samples.predicted_doubt <= 0.3 * seen
    if not there.any():
        return []
    order = np.flatnonzero(there)[np.argsort(samples.load[there], kind="stable")]
    return [
        Curve(
            "predicted",
            series_shown(samples.predicted[order], "strain", system),
            series_shown(samples.load[order], "force", system),
            "b",
            series_shown(samples.predicted_doubt[order], "strain", system),
            "x",
        )
    ]


def _cut(record: GaugeRecord, samples: Samples, system: System) -> float | None:
    """Where the strain axis ends, when yield makes the rest of the plot too narrow to read."""
    material = record.material.record
    if material.law is SteelLaw.ELASTIC or material.yield_strength is None:
        return None
    limit = material.yield_strength.value / material.elastic_modulus.value
    seen = samples.strain[np.isfinite(samples.strain)]
    if not seen.size or float(seen.max()) < 4 * limit:
        return None
    return in_shown(2.5 * limit, "strain", system)


def _event_points(look: GaugeLook, system: System, cut: float | None) -> tuple[Point, ...]:
    """A ring for every event with a load; of those that all but coincide one has the name."""
    points: list[Point] = []
    for event in look.events:
        if event.load is None or event.strain is None:
            continue
        x = in_shown(event.strain.value.item(), "strain", system)
        if cut is not None and x > cut:
            continue
        y = in_shown(event.load.value.item(), "force", system)
        reach = cut or in_shown(float(np.nanmax(np.abs(look.record.strain))), "strain", system)
        named = any(
            abs(point.x - x) < _ONE_NAME * reach and point.label.startswith(event.kind[:5])
            for point in points
        )
        word = "cracking" if event.kind == CRACKING else "yield"
        points.append(
            Point(
                x,
                y,
                "" if named else f"{word} by {event.name}",
                y_plus_minus=in_shown(float(event.load.expanded(COVERAGE)), "force", system),
                hollow=True,
            )
        )
    return tuple(points)


def loop_plot(look: GaugeLook, system: System) -> Drawn | None:
    """The largest loops of load against strain, at most as many as there are inks."""
    if not look.loops:
        return None
    order = sorted(look.loops, key=lambda loop: -_reach(look.record, loop))
    chosen = sorted(order[: len(_INKS)], key=lambda loop: loop.first)
    # A loop much smaller than the largest would be a dot.
    chosen = [
        one for one in chosen if _reach(look.record, one) > 0.25 * _reach(look.record, order[0])
    ]
    curves = []
    for ink, loop in zip(_INKS, chosen, strict=False):
        rows = np.arange(loop.first, loop.last + 1)
        rows = rows[kept_rows(look.record.strain[rows], look.record.load[rows], LOOP_SAMPLES)]
        number = look.loops.index(loop) + 1
        curves.append(
            Curve(
                f"loop {number}",
                series_shown(look.record.strain[rows], "strain", system),
                series_shown(look.record.load[rows], "force", system),
                ink,
            )
        )
    plot = Plot(
        Axis("strain at the gauge", unit_shown("strain", system).text),
        Axis("load", unit_shown("force", system).text),
        f"Loops of load against strain at {look.record.label}",
        tuple(curves),
    )
    left = len(look.loops) - len(chosen)
    some = f" {left} smaller ones are in the table only." if left else ""
    return Drawn(
        plot,
        plot,
        "Loops",
        "Down from a peak and up again to the same load; the area between is work that didn't "
        f"come back.{some}",
    )


def _reach(record: GaugeRecord, loop: LoopRow) -> float:
    return float(np.nanmax(record.load[loop.first : loop.last + 1]) - record.load[loop.turn])


def time_plot(look: GaugeLook, samples: Samples, system: System) -> Drawn:
    """Strain over time with its band, and the mean of every hold where it was taken."""
    unit, seconds = _time_unit(float(samples.time[-1] - samples.time[0]))
    strain = unit_shown("strain", system).text
    curve = Curve(
        look.record.label,
        (samples.time - samples.begins) / seconds,
        series_shown(samples.strain, "strain", system),
        "a",
        series_shown(samples.doubt, "strain", system),
    )
    points = tuple(
        Point(
            (hold.held.ends - samples.begins) / seconds,
            in_shown(hold.strain.value.item(), "strain", system),
        )
        for hold in look.holds
        if hold.strain is not None and hold.held.ends <= samples.time[-1]
    )
    plot = Plot(
        Axis("time since the first hold began", unit),
        Axis("strain at the gauge", strain),
        f"Strain at {look.record.label} over time",
        (curve,),
        points,
    )
    words = f"Dots: means of the settled part of holds, {len(points)} of them, where each ended."
    return Drawn(plot, plot, "Over time", words if points else "No hold was found in the load.")


def time_unit_of(samples: Samples) -> float:
    """Seconds in the unit of the time axis."""
    return _time_unit(float(samples.time[-1] - samples.time[0]))[1]


def _time_unit(length: float) -> tuple[str, float]:
    if length <= 600:
        return "s", 1.0
    return ("min", 60.0) if length <= 36_000 else ("h", 3600.0)
