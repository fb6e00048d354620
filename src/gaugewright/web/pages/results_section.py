"""A gauged section: its plane at one instant, curvature and neutral axis over load, closure."""

from collections.abc import Sequence
from dataclasses import dataclass
from urllib.parse import quote, urlencode

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from gaugewright.present.section_drawing import section_drawing
from gaugewright.present.units_shown import System
from gaugewright.services.planes import gauges as section_gauges
from gaugewright.services.planes import look as section_look
from gaugewright.services.planes import plots as section_plots
from gaugewright.services.planes import words as section_words
from gaugewright.services.planes.look import SectionLook
from gaugewright.services.showing.page import Page
from gaugewright.services.strain.strains import Desk
from gaugewright.web import frame, rooms
from gaugewright.web.figures import NamedFigure, in_two_widths
from gaugewright.web.not_there import NotThere

__all__ = ["ResultsSectionPage", "SectionsPage", "router", "section_url"]

router = APIRouter()

_WIDE, _NARROW = (720.0, 400.0), (360.0, 360.0)
_PLANE = (560.0, 420.0)
GAUGE_HEADS = ("depth", "across", "total strain", "plane there", "residual over u")
COMPARED_HEADS = ("hold", "measured", "predicted", "difference", "over u")


@dataclass(frozen=True, slots=True)
class Step:
    """A hold that a person can go to."""

    words: str
    url: str
    is_here: bool


@dataclass(frozen=True, slots=True)
class WordTable:
    """A table of words and numbers already written."""

    first: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, tuple[str, ...]], ...]


@dataclass(frozen=True, slots=True)
class SectionLine:
    """A gauged section in the list: the farther apart its depths, the better it is told."""

    label: str
    url: str
    gauges: str
    apart: str


@dataclass(frozen=True, slots=True)
class SectionsPage:
    """Every gauged section, or what is missing for one."""

    sheet: frame.Sheet
    sections: tuple[SectionLine, ...]
    results_url: str


@dataclass(frozen=True, slots=True)
class ResultsSectionPage:
    """A section at one instant and through the test."""

    sheet: frame.Sheet
    title: str
    lead: str
    section_svg: str
    plane: NamedFigure | None
    facts: tuple[tuple[str, str], ...]
    untested: str
    gauges: WordTable
    number: int
    last: int
    steps: tuple[Step, ...]
    before_url: str
    after_url: str
    page_url: str
    is_biaxial: bool
    other_way_url: str
    figures: tuple[NamedFigure, ...]
    holds: WordTable
    compared: tuple[tuple[str, WordTable], ...]
    no_prediction: str
    assumed: tuple[str, ...]
    list_url: str


@router.get("/c/{name}/results/sections")
def sections(request: Request) -> Response:
    """List of sections."""
    room = rooms.room(request)
    page = Page.of(Desk(room.store, room.book))
    found = section_gauges.sections_of(page.desk)
    context = SectionsPage(
        frame.Sheet("Sections", "Sections", _block(room, "Sections"), "results"),
        tuple(
            SectionLine(
                one.label,
                section_url(room, one.label),
                f"{len(one.used)} of {len(one.gauges)}",
                section_words.apart_text(one, page.system),
            )
            for one in sorted(found, key=section_words.depths_apart, reverse=True)
        ),
        room.url("results"),
    )
    return frame.page(request, "results_sections.html", context)


@router.get("/c/{name}/results/sections/{label}")
def show(request: Request, label: str, at: int | None = None, biaxial: bool = False) -> Response:
    """One section; ``at`` names an instant by its place in the series."""
    room = rooms.room(request)
    page = Page.of(Desk(room.store, room.book))
    known = [one.label for one in section_gauges.sections_of(page.desk)]
    if label not in known:
        raise NotThere("section", label, "one of: " + (", ".join(known) or "none yet"))
    look = section_look.look_at_section(page.desk, label, biaxial=biaxial)
    row = section_look.row_at(look) if at is None else at
    context = _page(room, page, look, row, biaxial=biaxial)
    return frame.page(request, "results_section.html", context, part="_section_instant.html")


def section_url(room: rooms.Room, label: str) -> str:
    """Address of a section."""
    return room.url(f"results/sections/{quote(label, safe='')}")


def _page(
    room: rooms.Room, page: Page, look: SectionLook, row: int, *, biaxial: bool
) -> ResultsSectionPage:
    instant, system = look.instant(row), page.system
    url, label = section_url(room, look.section.label), look.section.label
    last = look.series.time.size - 1
    # What doesn't depend on the instant is drawn once: moving the handle mustn't wait for it.
    figures, compared, why = room.book.once(
        f"page of section {label} {biaxial}", lambda _: _through_test(page, look)
    )
    plane = section_plots.plane_plot(instant, system)
    return ResultsSectionPage(
        sheet=frame.Sheet(label, f"Section {label}", _block(room, label, look), "results"),
        title=f"Section {label}",
        lead=_lead(look, biaxial=biaxial),
        section_svg=section_drawing(
            section_plots.section_drawn(instant, system), f"Section {label} with its gauges"
        ),
        plane=None if plane is None else in_two_widths(plane, _PLANE, _NARROW),
        facts=tuple(section_words.instant_rows(instant, system, page.zone)),
        untested=instant.untested,
        gauges=_table("gauge", GAUGE_HEADS, section_words.gauge_rows(instant, system)),
        number=row,
        last=last,
        steps=_steps(look, (url, row), system, biaxial=biaxial),
        before_url=_at(url, max(row - 1, 0), biaxial=biaxial),
        after_url=_at(url, min(row + 1, last), biaxial=biaxial),
        page_url=url,
        is_biaxial=biaxial,
        other_way_url=_at(url, row, biaxial=not biaxial),
        figures=figures,
        holds=_table(
            section_words.HOLD_HEADS[0],
            section_words.HOLD_HEADS[1:],
            section_words.hold_rows(look, system),
        ),
        compared=compared,
        no_prediction=why,
        assumed=look.series.assumed,
        list_url=room.url("results/sections"),
    )


def _through_test(
    page: Page, look: SectionLook
) -> tuple[tuple[NamedFigure, ...], tuple[tuple[str, WordTable], ...], str]:
    """Figures over load, predictions beside measurements, and why there are none."""
    found, why = section_look.compared(page.desk, look)
    plots = (
        section_plots.curvature_plot(look, page.system),
        section_plots.axis_plot(look, page.system),
        section_plots.closure_plot(look, page.system),
        section_plots.compared_plot(look, found, page.system),
    )
    figures = tuple(in_two_widths(one, _WIDE, _NARROW) for one in plots if one is not None)
    return figures, _compared(found, page), why


def _lead(look: SectionLook, *, biaxial: bool) -> str:
    used, every = len(look.section.used), len(look.section.gauges)
    way = "about both axes" if biaxial else "about the level axis"
    return (
        f"A plane through the total strains of {used} of {every} gauges, bending {way}, counted "
        f"from the zero {look.section.zero.value}."
    )


def _steps(
    look: SectionLook, here: tuple[str, int], system: System, *, biaxial: bool
) -> tuple[Step, ...]:
    (url, row), made = here, []
    for hold in look.held:
        there = section_look.row_of_hold(look, hold)
        words = hold.label or section_words.load_text(hold.level, system)
        made.append(Step(words, _at(url, there, biaxial=biaxial), there == row))
    return tuple(made)


def _at(url: str, row: int, *, biaxial: bool) -> str:
    asked = {"at": row} | ({"biaxial": "true"} if biaxial else {})
    return f"{url}?{urlencode(asked)}#instant"


def _table(first: str, heads: tuple[str, ...], rows: Sequence[tuple[str, ...]]) -> WordTable:
    return WordTable(first, heads, tuple((row[0], tuple(row[1:])) for row in rows))


def _compared(
    found: tuple[section_look.Compared, ...], page: Page
) -> tuple[tuple[str, WordTable], ...]:
    by_gauge: dict[str, list[tuple[str, ...]]] = {}
    for row in section_words.compared_rows(found, page.system):
        by_gauge.setdefault(row[0], []).append(tuple(row[1:]))
    return tuple(
        (label, _table(COMPARED_HEADS[0], COMPARED_HEADS[1:], rows))
        for label, rows in by_gauge.items()
    )


def _block(
    room: rooms.Room, sheet: str, look: SectionLook | None = None
) -> tuple[tuple[str, str], ...]:
    if look is None:
        return frame.room_block(room, sheet, zero="each section's own, see its page")
    return frame.room_block(
        room,
        f"section {sheet}",
        zero=look.section.zero.value,
        chain="as on the gauges' own pages",
        coverage="95 %, noise and causes of strains, places, materials and load",
    )
