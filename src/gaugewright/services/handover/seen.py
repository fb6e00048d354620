"""What the specimen did, in a report: cracking, yield, loops, sections, bond."""

from collections.abc import Callable, Iterable, Iterator

from gaugewright.calc.uncertainty import Uncertain
from gaugewright.errors import Faults, InputError
from gaugewright.present.captions import stands_on
from gaugewright.present.plots import Plot, drawn
from gaugewright.records.identity import Uid
from gaugewright.records.proof import ZeroKind
from gaugewright.records.results import Result
from gaugewright.report.parts import Figure, Part, PartTable
from gaugewright.services.along_bars import plots as bar_plots
from gaugewright.services.along_bars.profiles import bar_profile, bars_with_rows
from gaugewright.services.campaign.coverage import COVERAGE
from gaugewright.services.gauge import look as gauge_look
from gaugewright.services.gauge import plots as gauge_plots
from gaugewright.services.gauge.look import Companion
from gaugewright.services.handover.figures import service_step
from gaugewright.services.loading.events import CRACKING, Event
from gaugewright.services.loading.holds import held_loads
from gaugewright.services.loading.moments import Moment, moment_named
from gaugewright.services.planes import look as section_look
from gaugewright.services.planes import plots as section_plots
from gaugewright.services.planes.gauges import sections_of
from gaugewright.services.planes.words import depths_apart
from gaugewright.services.showing.page import UNUSABLE, Page
from gaugewright.services.telling.chains import corrected

__all__ = ["seen_parts"]

_WIDE = (640.0, 330.0)
_TALL = (640.0, 380.0)
_APART = 0.3  # of the height, between the outermost gauges of a section that is drawn


def seen_parts(page: Page) -> tuple[Part, ...]:
    """Events, loops, sections and bond; nothing before results are there."""
    if not page.book.of(Result):
        return ()
    made: tuple[tuple[str, Callable[[Page], Iterator[Part]]], ...] = (
        ("First and last signs", _events),
        ("Hysteresis", _loops),
        ("Sections", _sections),
        ("Bond", _bond),
    )
    return tuple(part for title, make in made for part in _made(page, title, make))


def _made(page: Page, title: str, make: Callable[[Page], Iterator[Part]]) -> list[Part]:
    """Parts of one kind, or why there are none: without a load cell it is a report all the same."""
    try:
        return list(make(page))
    except (InputError, Faults) as problem:
        return [Part(title, words=f"Not worked out: {problem}.")]


def _companions(page: Page) -> tuple[Companion, ...]:
    """Every gauge and pair with its events, looked at once for a report."""
    return page.book.once("events for a report", lambda _: gauge_look.every_event(page.desk))


def _events(page: Page) -> Iterator[Part]:
    found = _companions(page)
    rows = [
        (
            f"{one.kind}, {one.name}",
            _load(page, one.first_load),
            one.first.label,
            _load(page, one.last_load),
            one.last.label,
            str(one.gauges),
        )
        for one in gauge_look.of_specimen(found)
    ]
    yield Part(
        "First and last signs",
        "Usable gauges; each criterion is told under its name in the documentation.",
        table=PartTable(
            ("Sign, criterion", "First at", "Gauge", "Last at", "Gauge", "Seen by"),
            tuple(rows),
            "No gauge showed cracking or yield by any criterion.",
            wide=(0,),
        ),
    )
    cracks = [
        (one.label, event.name, _load(page, event.load), event.note)
        for one in found
        for event in one.events
        if event.kind == CRACKING and _is_seen(one, event)
    ]
    if cracks:
        yield Part(
            "First cracking",
            "What else could look like it stands beside it.",
            table=PartTable(("Gauge", "Criterion", "Load", "Told"), tuple(cracks), wide=(3,)),
        )


def _is_seen(one: Companion, event: Event) -> bool:
    return event.load is not None and one.state not in UNUSABLE and " with " not in one.label


def _load(page: Page, load: Uncertain | None) -> str:
    if load is None:
        return "–"
    return page.number(float(load.value), float(load.expanded(COVERAGE)) or None, "N").text


def _figure(
    plot: Plot, title: str, caption: str, stands_on: str, size: tuple[float, float]
) -> Figure:
    return Figure(drawn(plot, *size, "paper"), title, caption, plot.alt, stands_on)


def _loops(page: Page) -> Iterator[Part]:
    """Loops of the usable gauge that has most of them; the first of several that have as many."""
    held = held_loads(page.desk)
    looks = [
        gauge_look.look_at(page.desk, one.label, held)
        for one in _companions(page)
        if one.state not in UNUSABLE and " with " not in one.label
    ]
    best = max(looks, key=lambda look: len(look.loops), default=None)
    found = None if best is None else gauge_plots.loop_plot(best, page.system)
    if best is None or found is None:
        return
    words = _stands_on(page, best.record.zero, (circuit.uid for circuit in best.record.circuits))
    yield Part(
        "Hysteresis",
        f"At {best.record.label}, the usable gauge with most loops.",
        figure=_figure(found.plot, found.title, found.caption, words, _WIDE),
    )


def _sections(page: Page) -> Iterator[Part]:
    """Each gauged section at the load step of the other profiles, and through the test."""
    step = service_step(page)
    for section in sections_of(page.desk):
        height = float(section.member.values["height"].value)
        if depths_apart(section) < _APART * height:
            continue  # the plane would swing about them: its page shows how far
        try:
            look = section_look.look_at_section(page.desk, section.label)
            # Beyond yield bars leave the plane one by one: the largest load shows least.
            row = section_look.row_at(look, load=None if step is None else step.record.load)
        except (InputError, Faults) as problem:
            yield Part(f"Section {section.label}", words=f"Not worked out: {problem}")
            continue
        instant = look.instant(row)
        words = _stands_on(page, look.section.zero, (one.circuit.uid for one in section.used))
        zero = f"{words} Strain is total strain."
        plane = section_plots.plane_plot(instant, page.system)
        if plane is not None:
            figure = _figure(plane.plot, plane.title, plane.caption, zero, _TALL)
            load = page.number(float(look.series.load.value[row]), None, "N").text
            note = f"Plane through the gauges at {load}."
            yield Part(f"Section {section.label}", note, figure=figure)
        closure = section_plots.closure_plot(look, page.system)
        curvature = section_plots.curvature_plot(look, page.system)
        for one in (curvature, closure):
            if one is not None:
                figure = _figure(one.plot, one.title, one.caption, zero, _WIDE)
                yield Part(f"{one.title}, {section.label}", figure=figure)


def _stands_on(page: Page, zero: ZeroKind, circuits: Iterable[Uid]) -> str:
    return stands_on(zero.value, *corrected(page, tuple(circuits)))


def _bond(page: Page) -> Iterator[Part]:
    moment = _service(page)
    if moment is None:
        return
    for bar in bars_with_rows(page.desk):
        try:
            profile = bar_profile(page.desk, bar, moment, ZeroKind.BEFORE_TEST)
        except (InputError, Faults) as problem:
            yield Part(f"Bond along {bar.record.label}", words=f"Not worked out: {problem}")
            continue
        plot = bar_plots.bond_plot(page, profile)
        if plot is not None:
            circuits = (uid for station in profile.stations for uid in station.circuits)
            words = _stands_on(page, ZeroKind.BEFORE_TEST, circuits)
            title = f"Bond along {bar.record.label}"
            note = f"At {moment.label}: {moment.words}."
            yield Part(title, note, figure=_figure(plot, title, plot.alt, words, _WIDE))


def _service(page: Page) -> Moment | None:
    """The load step whose profiles the report draws; None where no step was written down."""
    step = service_step(page)
    return None if step is None else moment_named(page.desk, step.record.label)
