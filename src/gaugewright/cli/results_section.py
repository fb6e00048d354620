"""Command that shows a gauged section: results section."""

import math
from typing import TYPE_CHECKING, Annotated, Any

import typer

from gaugewright.cli.options import AsJson, CampaignFolder, settings_of
from gaugewright.cli.speech import result, table
from gaugewright.cli.teaching import teaching

if TYPE_CHECKING:
    from collections.abc import Sequence
    from zoneinfo import ZoneInfo

    from gaugewright.calc.uncertainty import Uncertain
    from gaugewright.present.units_shown import System
    from gaugewright.services.planes.look import Compared, SectionLook
    from gaugewright.services.planes.sections import SectionInstant

__all__ = ["add_to"]

SECTION = teaching(
    does="""Lay the strain plane through the gauges of one section and show, at an instant and hold
    by hold: curvature, neutral axis, forces of steel and concrete, their moment beside that of
    load and statics, how well the gauges lie in one plane, and each gauge beside its prediction.
    Nothing is written.""",
    when="after reduce, in a campaign that describes its member.",
    example='gaugewright results section beams-2026 "B1 at 1.50 m" --at "160 kN"',
    after="gaugewright serve beams-2026, whose Results draw the same numbers",
)
UNSEEN = "-"


def add_to(app: typer.Typer) -> None:
    """Give the command of this module its name."""
    app.command("section", help=SECTION)(section)


def section(
    context: typer.Context,
    folder: CampaignFolder,
    label: Annotated[
        str | None,
        typer.Argument(
            metavar="[SECTION]",
            help="Label of a section; that of the most gauges when left out.",
            show_default=False,
        ),
    ] = None,
    at: Annotated[
        str | None,
        typer.Option(
            "--at",
            metavar="LOAD|TIME",
            help='A load with its unit, as "160 kN", or a time of the hall, as 09:31:05; the '
            "highest load when left out.",
            show_default=False,
        ),
    ] = None,
    biaxial: Annotated[
        bool, typer.Option("--biaxial", help="Let the plane turn about the other axis too.")
    ] = False,
    as_json: AsJson = False,
) -> None:
    """Show one section."""
    from gaugewright.services.campaign import campaigns
    from gaugewright.services.campaign.book import Book
    from gaugewright.services.planes import look as section_look
    from gaugewright.services.showing.page import Page
    from gaugewright.services.strain.strains import Desk

    with campaigns.opened(folder, settings_of(context), read_only=True) as store:
        desk = Desk(store, Book.read(store))
        page = Page.of(desk)
        look = section_look.look_at_section(desk, label, biaxial=biaxial)
        instant = look.instant(_row(look, at, page))
        found, why = section_look.compared(desk, look)
        plain = {"campaign": str(folder), **_plain(look, instant, found, why)}
        lines = _lines(look, instant, found, why, page=(page.system, page.zone))
    result(as_json, plain, lines)


def _row(look: "SectionLook", at: str | None, page: Any) -> int:
    """Row of the load or time that was asked for."""
    from gaugewright.present.typed import quantity_typed
    from gaugewright.services.planes import look as section_look
    from gaugewright.services.planes.words import time_of_day

    if at is None:
        return section_look.row_at(look)
    if ":" in at:
        return section_look.row_at(look, time=time_of_day(look, at, page.zone))
    return section_look.row_at(look, load=quantity_typed("--at", at, "force", page.system))


def _lines(
    look: "SectionLook",
    instant: "SectionInstant",
    found: "Sequence[Compared]",
    why: str,
    *,
    page: "tuple[System, ZoneInfo]",
) -> list[str]:
    from gaugewright.services.planes import words

    system, zone = page
    lines = [
        f"{look.section.label}: strain since zero {look.section.zero.value}; "
        f"gauges {', '.join(gauge.label for gauge in look.section.used)}",
        "",
        *table(("at this instant", "value"), words.instant_rows(instant, system, zone)),
        "",
        *table(
            ("gauge", "depth", "across", "total strain", "plane", "residual/u"),
            words.gauge_rows(instant, system),
        ),
        "",
        *table(words.HOLD_HEADS, words.hold_rows(look, system)),
        "",
        *table(
            ("gauge", "hold", "measured", "predicted", "difference", "in u"),
            words.compared_rows(found, system),
        ),
    ]
    if why:
        lines += ["", f"Nothing predicted where it's missing: {why}"]
    if instant.untested:
        lines += ["", instant.untested]
    return [*lines, "", "Assumed: " + "; ".join(look.series.assumed) + "."]


def _plain(
    look: "SectionLook", instant: "SectionInstant", found: "Sequence[Compared]", why: str
) -> dict[str, Any]:
    series = look.series
    return {
        "section": look.section.label,
        "zero": look.section.zero.value,
        "gauges": [
            {"label": gauge.label, "state": gauge.state.value, "used": gauge.used}
            for gauge in look.section.gauges
        ],
        "instant": _instant_plain(instant),
        "holds": [
            {
                "hold": hold.label,
                "load": _number(series.load[row]),
                "curvature": _number(series.planes.curvature[row]),
                "neutral_axis_depth": _number(series.axes.neutral_axis_depth[row]),
                "moment_from_strains": _number(series.inside[row]),
                "moment_applied": _number(series.applied[row]),
                "difference": _number(series.difference[row]),
            }
            for hold, row in _hold_places(look)
        ],
        "compared": [
            {
                "gauge": one.gauge.label,
                "hold": one.held.label,
                "measured": _number(one.measured),
                "predicted": _number(one.predicted),
                "difference_in_standard_uncertainties": one.in_uncertainties,
            }
            for one in found
        ],
        "no_prediction": why,
        "assumed": list(series.assumed),
    }


def _hold_places(look: "SectionLook") -> list[tuple[Any, int]]:
    from gaugewright.services.planes import look as section_look

    return [(hold, section_look.row_of_hold(look, hold)) for hold in look.held]


def _instant_plain(instant: "SectionInstant") -> dict[str, Any]:
    series, row, plane = instant.series, instant.row, instant.plane
    made: dict[str, Any] = {
        "time_s": float(series.time[row]),
        "load": _number(series.load[row]),
        "steel_force": _number(series.steel_force[row]),
        "concrete_force": _number(series.concrete.force[row]),
        "moment_from_strains": _number(series.inside[row]),
        "moment_applied": _number(series.applied[row]),
        "difference": _number(series.difference[row]),
        "untested": instant.untested,
        "plane": None,
    }
    if series.moment_across is not None:
        made["moment_across"] = _number(series.moment_across[row])
    if plane is None:
        return made
    made["plane"] = {
        "top_strain": _number(plane.top_strain),
        "curvature": _number(plane.curvature),
        "curvature_across": _number(plane.curvature_across),
        "spare": plane.spare,
        "chi_squared": _finite(plane.chi_squared),
        "probability": _finite(plane.probability),
        "gauges": [
            {"label": name, "residual": _finite(value), "normalised": _finite(share)}
            for name, value, share in zip(
                plane.names, plane.residuals, plane.normalised, strict=True
            )
        ],
        "outlier": None if plane.outlier is None else list(plane.outlier.names),
    }
    if instant.axis is not None:
        made["neutral_axis"] = {
            "depth": _number(instant.axis.depth),
            "low": _finite(instant.axis.low),
            "high": _finite(instant.axis.high),
        }
    return made


def _finite(value: float) -> float | None:
    number = float(value)
    return number if math.isfinite(number) else None


def _number(value: "Uncertain | None") -> dict[str, float | None] | None:
    if value is None or _finite(float(value.value)) is None:
        return None
    return {
        "value": float(value.value),
        "expanded_uncertainty": _finite(float(value.expanded(0.95))),
    }
