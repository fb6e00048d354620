"""One bar along its length at a moment: strain, force, bond stress, slip, predicted beside."""

import math
from dataclasses import dataclass
from urllib.parse import quote, urlencode

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from gaugewright.calc.bond import BondLaw
from gaugewright.errors import Faults, InputError
from gaugewright.present.captions import stands_on
from gaugewright.present.cells import csv_text
from gaugewright.present.numbers import Shown
from gaugewright.present.plots import Plot, drawn
from gaugewright.records.specimen import Bar
from gaugewright.services.along_bars import plots as bar_plots
from gaugewright.services.along_bars import profiles as bar_profiles
from gaugewright.services.along_bars import recent as bar_recent
from gaugewright.services.along_bars import slip as bar_slip
from gaugewright.services.along_bars import words as bar_words
from gaugewright.services.along_bars.profiles import Along, BarProfile
from gaugewright.services.along_bars.slip import KnownSlip, LawPoint, PredictedAt
from gaugewright.services.campaign.coverage import COVERAGE
from gaugewright.services.loading.moments import moment_or_highest, moments
from gaugewright.services.showing.page import Page
from gaugewright.services.strain.strains import Desk
from gaugewright.services.telling.chains import corrected
from gaugewright.web import bar_tables, frame, rooms
from gaugewright.web.bar_form import Asked, MeanOver, asked_fields
from gaugewright.web.forms import Field
from gaugewright.web.gauge_tables import NumberTable
from gaugewright.web.moment_links import (
    MomentLinks,
    ZeroLink,
    moment_links,
    zero_links,
    zero_named,
)
from gaugewright.web.not_there import NotThere

__all__ = ["BarPlot", "BarsPage", "ResultsBarPage", "bar_results_url", "router"]

router = APIRouter()

WIDE, NARROW = (800.0, 360.0), (360.0, 320.0)


@dataclass(frozen=True, slots=True)
class BarPlot:
    """A plot along the bar; both drawings are our own SVG, ``table`` where its numbers stand."""

    title: str
    caption: str
    wide: str
    narrow: str
    table: str


@dataclass(frozen=True, slots=True)
class ResultsBarPage:
    """A bar at one moment."""

    sheet: frame.Sheet
    title: str
    lead: str
    told: tuple[str, ...]
    zeros: tuple[ZeroLink, ...]
    here: str
    moments: MomentLinks
    page_url: str
    kept: tuple[tuple[str, str], ...]
    plots: tuple[BarPlot, ...]
    terms: str
    fields: tuple[Field, ...]
    wrong: str
    mean: str
    mean_facts: tuple[tuple[str, Shown], ...]
    tables: tuple[NumberTable, ...]
    csv_url: str
    list_url: str


@dataclass(frozen=True, slots=True)
class BarsPage:
    """Every bar with gauges at several places."""

    sheet: frame.Sheet
    bars: tuple[tuple[str, str], ...]
    results_url: str


@router.get("/c/{name}/results/bars")
def listed(request: Request) -> Response:
    """List of bars with a row of gauges."""
    room = rooms.room(request)
    found = bar_profiles.bars_with_rows(Desk(room.store, room.book))
    context = BarsPage(
        frame.Sheet("Bars", "Along bars", frame.room_block(room, "Along bars"), "results"),
        tuple((bar.record.label, bar_results_url(room, bar.record.label)) for bar in found),
        room.url("results"),
    )
    return frame.page(request, "results_bars.html", context)


@router.get("/c/{name}/results/bars/{bar:path}")
def show(request: Request, bar: str, at: str = "", zero: str = "", numbers: str = "") -> Response:
    """One bar at a moment; ``numbers`` asks for what is drawn between stations as CSV."""
    room = rooms.room(request)
    page = Page.of(Desk(room.store, room.book))
    entry = next((one for one in room.book.of(Bar) if one.record.label == bar), None)
    if entry is None:
        raise NotThere("bar", bar, "one of this campaign", "look at the list of bars")
    kind = zero_named(zero)
    asked = Asked.of(page, dict(request.query_params), entry)
    profile = bar_recent.profile_kept(
        page.desk,
        entry,
        moment_or_highest(page.desk, at),
        kind,
        half_width=asked.half_width,
    )
    if numbers:
        return _csv(profile, asked)
    return frame.page(request, "results_bar.html", _page(room, page, profile, asked))


def bar_results_url(room: rooms.Room, label: str) -> str:
    """Address of a bar's page."""
    return room.url(f"results/bars/{quote(label, safe='')}")


def _page(room: rooms.Room, page: Page, profile: BarProfile, asked: Asked) -> ResultsBarPage:
    label, moment = profile.bar.record.label, profile.moment
    url = bar_results_url(room, label)
    kept = {"zero": profile.zero.value, **asked.typed}
    predicted = bar_recent.predicted_kept(page.desk, profile)
    slip, beside, why_not = _slip(profile, asked)
    told = (*profile.told, *profile.missing, *why_not, bar_words.why_unpredicted(predicted))
    mean, mean_facts = _mean(page, profile, asked.mean)
    circuits = tuple(uid for station in profile.stations for uid in station.circuits)
    terms = stands_on(profile.zero.value, *corrected(page, circuits))
    every = moments(page.desk)
    return ResultsBarPage(
        sheet=_sheet(room, profile),
        title=f"Along bar {label}",
        lead=_lead(page, profile),
        told=tuple(words for words in told if words),
        zeros=zero_links(
            bar_profiles.zeros_of_bar(page.desk, profile.bar), profile.zero, url, moment.key
        ),
        here=moment.key,
        moments=moment_links(every, moment, url, kept),
        page_url=url,
        kept=tuple(kept.items()),
        plots=_plots(page, profile, predicted, (slip, beside, asked.law)),
        terms=terms,
        fields=asked_fields(page, asked),
        wrong="; ".join(asked.wrong),
        mean=mean,
        mean_facts=mean_facts,
        tables=bar_tables.tables(page, profile, predicted, slip, beside),
        csv_url=f"{url}?{urlencode({'numbers': 'field', 'at': moment.key, **kept})}",
        list_url=room.url("results/bars"),
    )


def _sheet(room: rooms.Room, profile: BarProfile) -> frame.Sheet:
    name = f"Along bar {profile.bar.record.label}"
    block = frame.room_block(room, name, zero=profile.zero.value, chain="under the drawings")
    return frame.Sheet(name, name, block, "results")


def _lead(page: Page, profile: BarProfile) -> str:
    lost = [gauge.record.label for station in profile.lost for gauge in station.gauges]
    words = f"At {profile.moment.label}: {profile.moment.words}."
    if not profile.steps:
        return words
    steepest = max(profile.steps, key=lambda step: abs(step.stress.value.item()))
    number = bar_words.number_shown(page, "bond_stress", steepest.stress)
    words += f" Bond stress is largest between {' and '.join(steepest.between)}: "
    words += f"{number.text if number else ''}."
    return words + (f" Lost: {', '.join(lost)}; the bands are wider there." if lost else "")


def _slip(
    profile: BarProfile, asked: Asked
) -> tuple[Along | None, tuple[LawPoint, ...], tuple[str, ...]]:
    """Slip, measured bond beside the law asked for, and what kept either from being had."""
    if profile.strain is None:
        return None, (), ()
    known: KnownSlip | None = asked.known
    why: list[str] = []
    slip = None
    beside: tuple[LawPoint, ...] = ()
    try:
        slip = bar_slip.slip_along(profile, known)
        if asked.law is not None:
            beside = bar_slip.beside_law(profile, known, asked.law)
    except InputError as problem:
        why.append(f"{problem}.")
    if slip is not None and known is None:
        why.append(
            "Nobody stated where slip is known: it is drawn against the first station, and has "
            "no place on a local law."
        )
    return slip, beside, tuple(why)


def _mean(
    page: Page, profile: BarProfile, over: MeanOver
) -> tuple[str, tuple[tuple[str, Shown], ...]]:
    try:
        found = bar_recent.averages_kept(
            page.desk,
            profile.bar,
            profile.moment,
            first=over.first,
            last=over.last,
            crack_spacing=over.crack_spacing,
            is_tie=over.is_tie,
        )
    except (InputError, Faults) as problem:
        return f"No mean strain: {problem}.", ()
    return (
        f"The mean is {found.initial}. Compare it only over two crack spacings or more.",
        bar_words.mean_facts(page, found),
    )


def _plots(
    page: Page,
    profile: BarProfile,
    predicted: tuple[PredictedAt, ...],
    slip: tuple[Along | None, tuple[LawPoint, ...], BondLaw | None],
) -> tuple[BarPlot, ...]:
    along, beside, law = slip
    whiskers = "Whiskers: ± for 95 %, of value and of place; a cross marks a lost station."
    band = "Band: ± for 95 %, with what no station measured; it widens over a lost one."
    made: list[tuple[str, str, Plot | None, str]] = [
        ("Strain", whiskers, bar_plots.strain_plot(page, profile, predicted), "stations"),
        ("Force", f"{whiskers} {band}", bar_plots.force_plot(page, profile), "stations"),
        (
            "Bond stress",
            f"{profile.estimate} {band} Steps: equilibrium between two stations, nothing assumed "
            "between.",
            bar_plots.bond_plot(page, profile),
            "bond",
        ),
    ]
    if along is not None:
        words = f"{band} From total strain; concrete taken as not strained, which overstates it."
        made.append(("Slip", words, bar_plots.slip_plot(page, profile, along), "slip"))
    if beside and law is not None:
        words = "Midway between stations; the law is for pull-out of ribbed bars not yielding."
        made.append(
            ("Bond stress against slip", words, bar_plots.law_plot(page, beside, law), "law")
        )
    return tuple(
        BarPlot(title, words, drawn(plot, *WIDE), drawn(plot, *NARROW), table)
        for title, words, plot, table in made
        if plot is not None
    )


def _csv(profile: BarProfile, asked: Asked) -> Response:
    """Force, bond stress and slip between stations, in SI units."""
    rows: list[tuple[str, float, float, float]] = []
    slip = None if profile.strain is None else bar_slip.slip_along(profile, asked.known)
    for name, along in (
        ("bar force in N", profile.force),
        ("bond stress in Pa", profile.bond),
        ("slip in m", slip),
    ):
        if along is None:
            continue
        doubts = along.value.expanded(COVERAGE).tolist()
        rows += [
            (name, place, value, doubt if math.isfinite(doubt) else math.nan)
            for place, value, doubt in zip(
                along.places.tolist(), along.value.value.tolist(), doubts, strict=True
            )
        ]
    heads = ("what", "distance in m", "value", "expanded uncertainty, 95 %")
    return Response(
        csv_text(heads, rows),
        media_type="text/csv; charset=utf-8",
        headers={"content-disposition": 'attachment; filename="bar.csv"'},
    )
