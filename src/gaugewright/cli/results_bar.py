"""The command that prints what happens along one bar at one moment: results bar."""

import math
from typing import TYPE_CHECKING, Annotated, Any

import typer

from gaugewright.cli.options import AsJson, CampaignFolder, settings_of
from gaugewright.cli.speech import result, table
from gaugewright.cli.teaching import teaching
from gaugewright.errors import InputError

if TYPE_CHECKING:
    from gaugewright.calc.uncertainty import Uncertain
    from gaugewright.services.bar_profiles import BarProfile
    from gaugewright.services.bar_slip import KnownSlip, PredictedAt
    from gaugewright.services.handover_page import Page

__all__ = ["add_to"]

BAR = teaching(
    does="""Show one bar along its length at one moment: strain, force and place of every
    station, lost ones as lost, what was predicted there, bond stress between neighbours and from
    the whole row, slip. Strain counts from before the test unless --zero names another; the
    result says what that hides. Nothing is written.""",
    when="after reduce.",
    example='gaugewright results bar beams-2026 L3 --at "160 kN"',
    after="gaugewright serve beams-2026, whose Results draw the same numbers",
)


def add_to(app: typer.Typer) -> None:
    """Give the command of this module its name."""
    app.command("bar", help=BAR)(bar)


def bar(
    context: typer.Context,
    folder: CampaignFolder,
    label: Annotated[str, typer.Argument(metavar="BAR", help="Label of the bar.")],
    at: Annotated[
        str, typer.Option(help="Load step, or date and time; the greatest load when left out.")
    ] = "",
    zero: Annotated[
        str, typer.Option(help="Zero that strain counts from, such as 'before pour'.")
    ] = "before test",
    slip_at: Annotated[
        float | None, typer.Option(help="Distance from the datum where slip is known [m].")
    ] = None,
    slip: Annotated[float, typer.Option(help="Slip there [m].")] = 0.0,
    slip_doubt: Annotated[float, typer.Option(help="Its expanded uncertainty, 95 % [m].")] = 0.0,
    as_json: AsJson = False,
) -> None:
    """Show one bar along its length."""
    from gaugewright.records.specimen import Bar
    from gaugewright.services import bar_profiles, bar_slip, campaigns
    from gaugewright.services.book import Book
    from gaugewright.services.handover_page import Page
    from gaugewright.services.moments import moment_or_highest
    from gaugewright.services.strains import Desk

    kind = _zero(zero)
    with campaigns.opened(folder, settings_of(context), read_only=True) as store:
        desk = Desk(store, Book.read(store))
        page = Page.of(desk)
        found = bar_profiles.bar_profile(
            desk, desk.book.labelled(Bar, label), moment_or_highest(desk, at), kind
        )
        predicted = bar_slip.predicted_along(desk, found)
        known = None if slip_at is None else bar_slip.KnownSlip(slip_at, slip, slip_doubt)
        plain = _plain(found, predicted, known)
        lines = _lines(page, found, predicted, known)
    result(as_json, plain, lines)


def _zero(text: str) -> Any:
    from gaugewright.records.proof import ZeroKind

    for kind in ZeroKind:
        if kind.value == text:
            return kind
    raise InputError("--zero", text, "one of " + ", ".join(kind.value for kind in ZeroKind))


def _lines(
    page: "Page",
    profile: "BarProfile",
    predicted: "tuple[PredictedAt, ...]",
    known: "KnownSlip | None",
) -> list[str]:
    from gaugewright.services.bar_words import station_cells, step_cells, why_unpredicted

    moment = profile.moment
    heads = ("station", "x", "strain", "predicted, cracked", "force", "note")
    rows = [
        station_cells(page, station, one)
        for station, one in zip(profile.stations, predicted, strict=True)
    ]
    lines = [f"Bar {profile.bar.record.label} at {moment.label}: {moment.words}.", ""]
    lines += table(heads, rows)
    if profile.steps:
        lines += [
            "",
            *table(
                ("bond stress between", "mean", "over the lost"),
                [step_cells(page, step) for step in profile.steps],
            ),
        ]
    unpredicted = why_unpredicted(predicted)
    lines += ["", *_slip_lines(page, profile, known), *profile.missing, *profile.told]
    lines += [unpredicted] if unpredicted else []
    return lines


def _slip_lines(page: "Page", profile: "BarProfile", known: "KnownSlip | None") -> list[str]:
    from gaugewright.present.units_shown import quantity_shown
    from gaugewright.services import bar_slip

    try:
        found = bar_slip.slip_along(profile, known)
    except InputError as problem:
        return [str(problem)]
    ends = (0, found.places.size - 1)
    words = []
    for end in ends:
        value = float(found.value.value[end])
        doubt = float(found.value.expanded()[end])
        place = quantity_shown("distance", float(found.places[end]), None, page.system).text
        words.append(f"{quantity_shown('slip', value, doubt or None, page.system).text} at {place}")
    start = "by the slip stated" if known else "against the first station, as nobody stated slip"
    return [f"Slip {start}: {' and '.join(words)}; concrete taken as not strained."]


def _number(value: "Uncertain | None") -> dict[str, float] | None:
    if value is None:
        return None
    return {"value": value.value.item(), "expanded_uncertainty": value.expanded().item()}


def _plain(
    profile: "BarProfile", predicted: "tuple[PredictedAt, ...]", known: "KnownSlip | None"
) -> dict[str, Any]:
    """A profile as JSON values in SI units, nothing rounded."""
    load = profile.moment.load
    return {
        "bar": profile.bar.record.label,
        "at": profile.moment.key,
        "load_n": None if math.isnan(load) else load,
        "zero": profile.zero.value,
        "coverage": 0.95,
        "stations": [
            {
                "label": station.label,
                "state": station.state.value,
                "distance_m": _number(station.distance),
                "strain": _number(station.strain),
                "total_strain": _number(station.total),
                "stress_pa": _number(station.stress),
                "force_n": _number(station.force),
                "predicted_cracked": _number(one.cracked),
                "predicted_uncracked": _number(one.uncracked),
                "notes": [*station.notes, *([one.note] if one.note else [])],
            }
            for station, one in zip(profile.stations, predicted, strict=True)
        ],
        "bond_between": [
            {
                "between": list(step.between),
                "over_lost": list(step.over),
                "first_m": step.first,
                "last_m": step.last,
                "bond_stress_pa": _number(step.stress),
            }
            for step in profile.steps
        ],
        "bond": _along(profile.bond, "bond_stress_pa"),
        "slip": _slip_plain(profile, known),
        "missing": list(profile.missing),
        "told": list(profile.told),
    }


def _slip_plain(profile: "BarProfile", known: "KnownSlip | None") -> list[dict[str, float]]:
    from gaugewright.services import bar_slip

    if profile.strain is None:
        return []
    return _along(bar_slip.slip_along(profile, known), "slip_m")


def _along(along: Any, name: str) -> list[dict[str, float]]:
    if along is None:
        return []
    return [
        {"distance_m": place, name: value, "expanded_uncertainty": doubt}
        for place, value, doubt in zip(
            along.places.tolist(),
            along.value.value.tolist(),
            along.value.expanded().tolist(),
            strict=True,
        )
    ]
