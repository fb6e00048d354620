"""The figures of a report: where gauges sit, strain against load, strain along a bar."""

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from gaugewright.errors import InputError
from gaugewright.present.captions import stands_on
from gaugewright.present.drawings import BarDrawn, GaugeDrawn, gauge_map
from gaugewright.present.numbers import fixed_text
from gaugewright.present.plots import Axis, Curve, Ink, Plot, Point, Void, drawn
from gaugewright.present.units_shown import in_shown, series_shown, unit_shown
from gaugewright.records import Entry
from gaugewright.records.electrical import BridgeCircuit
from gaugewright.records.gauges import Gauge
from gaugewright.records.proof import ZeroKind
from gaugewright.records.readings import LoadStep
from gaugewright.records.results import Result
from gaugewright.records.specimen import Bar, Material, SteelLaw
from gaugewright.records.stated import State
from gaugewright.report.parts import Figure
from gaugewright.services.bars.forces import strain_at_step
from gaugewright.services.bars.together import quarter_circuits
from gaugewright.services.campaign.coverage import COVERAGE
from gaugewright.services.handover.answers import YIELD
from gaugewright.services.loading.yields import stress_free_zero
from gaugewright.services.reducing.reduction import gauge_series
from gaugewright.services.showing.page import UNUSABLE, Page
from gaugewright.services.telling.chains import corrected

__all__ = [
    "Drawing",
    "bar_drawings",
    "circuits_on",
    "figures",
    "gauge_drawings",
    "map_of_bars",
    "service_step",
]

WIDTH = 640.0
SAMPLES = 600
_INKS: tuple[Ink, ...] = ("a", "b", "c", "d")
# Zero of the strain along a bar: what the load did. Under load a curve counts from the zero of
# its own yield load, so that the ring of that load lies on it.
_ZERO = ZeroKind.BEFORE_TEST


@dataclass(frozen=True, slots=True)
class Drawing:
    """A plot not yet drawn, with its words; ``height`` is what suits the paper's width."""

    plot: Plot
    title: str
    caption: str
    stands_on: str
    height: float


def figures(page: Page) -> tuple[Figure, ...]:
    """Gauge map first, then bar by bar: strain under load, and along the bar where it has a row."""
    found = [*_map(page)]
    if not page.book.of(Result):
        return tuple(found)
    step = service_step(page)
    for bar in page.book.of(Bar):
        found += [_figure(drawing) for drawing in bar_drawings(page, bar, step)]
    return tuple(found)


def _figure(drawing: Drawing) -> Figure:
    return Figure(
        drawn(drawing.plot, WIDTH, drawing.height, "paper"),
        drawing.title,
        drawing.caption,
        drawing.plot.alt,
        drawing.stands_on,
    )


def bar_drawings(page: Page, bar: Entry[Bar], step: Entry[LoadStep] | None) -> tuple[Drawing, ...]:
    """Strain of a bar's gauges under load, and along the bar at a load step where it has a row."""
    circuits = circuits_on(page, bar)
    found = [*_under_load(page, bar, circuits)]
    if step is not None:
        found += _along(page, bar, circuits, step)
    return tuple(found)


def circuits_on(page: Page, bar: Entry[Bar]) -> list[tuple[Entry[BridgeCircuit], Entry[Gauge]]]:
    """Circuits of one gauge with a chain, on one bar."""
    return [pair for pair in quarter_circuits(page.desk) if _on(page, pair[1], bar)]


def gauge_drawings(page: Page, gauge: Entry[Gauge]) -> tuple[Drawing, ...]:
    """Strain of one gauge under load, whatever its state; none without chain or load."""
    bar = page.book.bar_of(gauge)
    part = [pair for pair in circuits_on(page, bar) if pair[1].uid == gauge.uid]
    curves = [curve for circuit, g in part if (curve := _curve(page, circuit, g, "a"))]
    if not curves:
        return ()
    state = page.state(gauge)
    doubt = f" The gauge is {state.value}." if state in UNUSABLE else ""
    made = _load_drawing(page, bar, part, tuple(curves), f"{gauge.record.label}.{doubt}")
    return (replace(made, title=f"{gauge.record.label} under load"),)


def service_step(page: Page) -> Entry[LoadStep] | None:
    """Highest load step below every yield load that an answer may rest on; None without steps."""
    loads = [
        result.record.value
        for result in page.book.of(Result)
        if result.record.quantity == YIELD
        and result.record.value is not None
        and page.worst(result.record.subjects) not in UNUSABLE
    ]
    first = min(loads, default=math.inf)
    steps = [step for step in page.book.of(LoadStep) if 0 < step.record.load < first]
    return max(steps, key=lambda step: step.record.load, default=None)


def _on(page: Page, gauge: Entry[Gauge], bar: Entry[Bar]) -> bool:
    return page.book.bar_of(gauge).uid == bar.uid


def _distance(page: Page, gauge: Entry[Gauge]) -> float:
    station = page.book.station_of(gauge).record
    built = station.distance_built
    return built.value if built else station.distance_planned


def _map(page: Page) -> Iterator[Figure]:
    """All bars, where there is a gauge to be drawn."""
    figure = map_of_bars(page, page.book.of(Bar))
    if figure is not None:
        yield figure


def map_of_bars(page: Page, on: Sequence[Entry[Bar]]) -> Figure | None:
    """Bars whose stations are counted from the same datum, one under another; None without any."""
    drawable = {bar.uid for bar in on}
    gauges = [g for g in page.book.of(Gauge) if page.book.station_of(g).record.bar in drawable]
    if not gauges:
        return None
    data = {gauge.uid: page.book.station_of(gauge).record.datum for gauge in gauges}
    datum = Counter(data.values()).most_common(1)[0][0]
    bars = []
    for bar in on:
        mine = tuple(
            GaugeDrawn(
                gauge.record.label,
                _distance(page, gauge),
                page.state(gauge).value,
                below=_below(page, gauge),
            )
            for gauge in gauges
            if _on(page, gauge, bar) and data[gauge.uid] == datum
        )
        bars += [BarDrawn(bar.record.label, mine)] if mine else []
    left_out = [gauge.record.label for gauge in gauges if data[gauge.uid] != datum]
    also = f" Counted from elsewhere and not drawn: {', '.join(left_out)}." if left_out else ""
    return Figure(
        gauge_map(
            tuple(bars), "Gauges along their bars", width=WIDTH, system=page.system, where="paper"
        ),
        "Where the gauges sit",
        f"True to scale along the bars; distances from the {datum}.{also}",
        "Bars one under another with their gauges; the table below has the same in words",
        "Disc sound, triangle watch, dotted diamond doubtful, cross lost, ring not yet proved.",
        "gauges",
    )


def _below(page: Page, gauge: Entry[Gauge]) -> bool:
    station = page.book.station_of(gauge).record
    angle = station.angle_built.value if station.angle_built else station.angle_planned
    return math.cos(angle) < -1e-9


def _under_load(
    page: Page, bar: Entry[Bar], circuits: list[tuple[Entry[BridgeCircuit], Entry[Gauge]]]
) -> Iterator[Drawing]:
    """Load against strain, so many gauges a figure as there are inks."""
    shown: list[tuple[Entry[BridgeCircuit], Entry[Gauge]]] = []
    curves: list[Curve] = []
    missing: list[str] = []
    for circuit, gauge in circuits:
        state = page.state(gauge)
        curve = None if state in UNUSABLE else _curve(page, circuit, gauge, _INKS[0])
        if curve is None:
            why = state.value if state in UNUSABLE else "no strain beside a load"
            missing.append(f"{gauge.record.label} ({why})")
        else:
            shown.append((circuit, gauge))
            curves.append(replace(curve, ink=_INKS[len(curves) % len(_INKS)]))
    for start in range(0, len(shown), len(_INKS)):
        one_figure = slice(start, start + len(_INKS))
        part = shown[one_figure]
        names = ", ".join(gauge.record.label for _, gauge in part)
        absent = f" Not drawn: {', '.join(missing)}." if missing and not start else ""
        yield _load_drawing(page, bar, part, tuple(curves[one_figure]), f"{names}.{absent}")


def _load_drawing(
    page: Page,
    bar: Entry[Bar],
    part: list[tuple[Entry[BridgeCircuit], Entry[Gauge]]],
    curves: tuple[Curve, ...],
    caption: str,
) -> Drawing:
    threshold = _yield_strain(page, bar)
    largest = max(float(np.nanmax(curve.x)) for curve in curves)
    cut = None if threshold is None or largest < 2.2 * threshold else 1.6 * threshold
    strain, force = unit_shown("strain", page.system).text, unit_shown("force", page.system).text
    points = _yield_points(page, part, threshold)
    plot = Plot(
        Axis("strain at the gauge", strain, highest=cut),
        Axis("load", force),
        f"Load against strain of bar {bar.record.label}",
        curves,
        points,
    )
    words = [caption, f"{SAMPLES} scans spread evenly; band: ± for 95 %."]
    if points:
        words.append("Rings: onset of yield, counted from the same zero as its curve; ± for 95 %.")
    words += (
        [f"Cut on the right: the largest is {fixed_text(largest, -1)} {strain}."] if cut else []
    )
    title = f"Bar {bar.record.label} under load"
    return Drawing(plot, title, " ".join(words), _stands_on(page, part, _zeros(page, part)), 360)


def _stands_on(page: Page, part: list[tuple[Entry[BridgeCircuit], Entry[Gauge]]], zero: str) -> str:
    on, off = corrected(page, tuple(circuit.uid for circuit, _ in part))
    return stands_on(zero, on, off)


def _zeros(page: Page, part: list[tuple[Entry[BridgeCircuit], Entry[Gauge]]]) -> str:
    """Zero the curves count from; where they differ, whose is which."""
    named: dict[str, list[str]] = {}
    for circuit, gauge in part:
        kind = stress_free_zero(page.desk, circuit).value
        named.setdefault(kind, []).append(gauge.record.label)
    if len(named) == 1:
        return next(iter(named))
    return "; ".join(f"{kind} ({', '.join(labels)})" for kind, labels in named.items())


def _curve(
    page: Page, circuit: Entry[BridgeCircuit], gauge: Entry[Gauge], ink: Ink
) -> Curve | None:
    """Curve of one gauge; None where it has no strain while a load was recorded."""
    try:
        zero = stress_free_zero(page.desk, circuit)
        series = gauge_series(page.desk, circuit, zero=zero, samples=SAMPLES)
    except InputError:
        return None
    x = series_shown(series.strain.value, "strain", page.system)
    if not np.isfinite(x).any():
        return None
    doubt = series_shown(series.strain.expanded(COVERAGE), "strain", page.system)
    y = series_shown(series.load, "force", page.system)
    label = gauge.record.label + (" (watch)" if series.state is State.WATCH else "")
    return Curve(label, x, y, ink, doubt, "x")


def _yield_strain(page: Page, bar: Entry[Bar]) -> float | None:
    """Strain at which yield begins, as shown; None for metal whose law knows none."""
    material = page.book.entry(bar.record.material, Material).record
    if material.law is SteelLaw.ELASTIC or material.yield_strength is None:
        return None
    strain = material.yield_strength.value / material.elastic_modulus.value
    return in_shown(strain, "strain", page.system)


def _yield_points(
    page: Page,
    part: list[tuple[Entry[BridgeCircuit], Entry[Gauge]]],
    threshold: float | None,
) -> tuple[Point, ...]:
    if threshold is None:
        return ()
    gauges = {gauge.uid for _, gauge in part}
    return tuple(
        Point(
            threshold,
            in_shown(result.value, "force", page.system),
            y_plus_minus=in_shown(result.expanded_uncertainty or 0.0, "force", page.system),
            hollow=True,
        )
        for entry in page.book.of(Result)
        if (result := entry.record).quantity == YIELD
        and result.value is not None
        and len(result.subjects) == 1
        and result.subjects[0] in gauges
    )


def _along(
    page: Page,
    bar: Entry[Bar],
    circuits: list[tuple[Entry[BridgeCircuit], Entry[Gauge]]],
    step: Entry[LoadStep],
) -> Iterator[Drawing]:
    """Strain along a bar at a load step, where the bar has gauges at four places or more."""
    points: list[Point] = []
    voids: list[Void] = []
    for circuit, gauge in circuits:
        x = in_shown(_distance(page, gauge), "distance", page.system)
        state, label = page.state(gauge), gauge.record.label
        strain = None if state in UNUSABLE else strain_at_step(page.desk, circuit, _ZERO, step)
        if strain is None:
            voids.append(Void(x, f"{label} {state.value}" if state in UNUSABLE else label))
            continue
        points.append(
            Point(
                x,
                in_shown(strain.value.item(), "strain", page.system),
                label,
                y_plus_minus=in_shown(float(strain.expanded(COVERAGE)), "strain", page.system),
            )
        )
    if len({point.x for point in points}) < 4:
        return
    line = _joined(points, voids)
    length, unit = (unit_shown(name, page.system).text for name in ("distance", "strain"))
    plot = Plot(
        Axis("x from the datum", length),
        Axis("strain at the gauge", unit),
        f"Strain along bar {bar.record.label} at {step.record.label}",
        line,
        tuple(points),
        tuple(voids),
    )
    yield Drawing(
        plot,
        f"Along bar {bar.record.label} at {step.record.label}",
        "Mean of the settled part of the step; whiskers: ± for 95 %."
        + (" The line only joins neighbours; it breaks where a gauge is lost." if line else ""),
        _stands_on(page, circuits, _ZERO.value),
        330,
    )


def _joined(points: list[Point], voids: list[Void]) -> tuple[Curve, ...]:
    """The line from place to place, broken at a lost gauge; none where two share a place."""
    if len({point.x for point in points}) < len(points):
        return ()
    places = [(p.x, p.y) for p in points] + [(v.x, math.nan) for v in voids]
    x, y = np.array(sorted(places, key=lambda place: place[0])).T
    return (Curve("", x, y),)
