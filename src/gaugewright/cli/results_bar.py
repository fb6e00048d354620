"""The command that prints what happens along one bar at one moment: results bar."""

import math
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Annotated, Any

import typer

from gaugewright.cli.options import AsJson, CampaignFolder, settings_of
from gaugewright.cli.speech import result, table
from gaugewright.cli.teaching import teaching
from gaugewright.errors import Faults, InputError

if TYPE_CHECKING:
    from gaugewright.calc.bond import BondLaw
    from gaugewright.calc.uncertainty import Uncertain
    from gaugewright.services.along_bars.profiles import BarProfile
    from gaugewright.services.along_bars.slip import Averages, KnownSlip, LawPoint, PredictedAt
    from gaugewright.services.showing.page import Page
    from gaugewright.services.strain.strains import Desk

__all__ = ["add_to"]

BAR = teaching(
    does="""Show one bar along its length at one moment: strain, force and place of every
    station, lost ones as lost, what was predicted there, bond stress between neighbours and from
    the whole row (or by a local polynomial: --window), slip, bond stress beside the local law of
    fib Model Code 2010 (--law), and a mean over cracks with what it leaves the concrete of a tie
    (--tie). Strain counts from before the test unless --zero names another; the result says what
    that hides. Nothing is written.""",
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
    window: Annotated[
        float | None, typer.Option(help="Half the window of a local polynomial [m].")
    ] = None,
    slip_at: Annotated[
        float | None, typer.Option(help="Distance from the datum where slip is known [m].")
    ] = None,
    slip: Annotated[float, typer.Option(help="Slip there [m].")] = 0.0,
    slip_doubt: Annotated[float, typer.Option(help="Its expanded uncertainty, 95 % [m].")] = 0.0,
    law: Annotated[
        str, typer.Option(metavar="CONDITIONS", help="Local law for good or other conditions.")
    ] = "",
    concrete_strength: Annotated[
        float | None, typer.Option(help="Mean strength for the law [MPa].")
    ] = None,
    rib_spacing: Annotated[
        float | None, typer.Option(help="Clear distance between ribs for the law [m].")
    ] = None,
    mean_from: Annotated[float | None, typer.Option(help="Where a mean begins [m].")] = None,
    mean_to: Annotated[float | None, typer.Option(help="Where it ends [m].")] = None,
    crack_spacing: Annotated[
        float | None, typer.Option(help="Of the cracks; a mean needs two of it [m].")
    ] = None,
    tie: Annotated[
        bool, typer.Option("--tie", help="All the load is in this bar: what concrete carries.")
    ] = False,
    as_json: AsJson = False,
) -> None:
    """Show one bar along its length."""
    from gaugewright.services.along_bars import slip as bar_slip

    kind = _zero(zero)
    known = None if slip_at is None else bar_slip.KnownSlip(slip_at, slip, slip_doubt)
    wanted = _Wanted(
        window,
        known,
        _law(law, concrete_strength, rib_spacing),
        {"first": mean_from, "last": mean_to, "crack_spacing": crack_spacing, "is_tie": tie},
    )
    plain, lines = _shown(context, folder, (label, at, kind), wanted)
    result(as_json, plain, lines)


@dataclass(frozen=True, slots=True)
class _Wanted:
    """What a person stated beside the bar."""

    window: float | None
    known: "KnownSlip | None"
    law: "BondLaw | None"
    mean: dict[str, Any]


def _shown(
    context: typer.Context, folder: Any, which: tuple[str, str, Any], wanted: _Wanted
) -> tuple[dict[str, Any], list[str]]:
    from gaugewright.records.specimen import Bar
    from gaugewright.services.along_bars import profiles as bar_profiles
    from gaugewright.services.along_bars import slip as bar_slip
    from gaugewright.services.campaign import campaigns
    from gaugewright.services.campaign.book import Book
    from gaugewright.services.loading.moments import moment_or_highest
    from gaugewright.services.showing.page import Page
    from gaugewright.services.strain.strains import Desk

    label, at, kind = which
    with campaigns.opened(folder, settings_of(context), read_only=True) as store:
        desk = Desk(store, Book.read(store))
        page = Page.of(desk)
        found = bar_profiles.bar_profile(
            desk,
            desk.book.labelled(Bar, label),
            moment_or_highest(desk, at),
            kind,
            half_width=wanted.window,
        )
        predicted = bar_slip.predicted_along(desk, found)
        beside = () if wanted.law is None else bar_slip.beside_law(found, wanted.known, wanted.law)
        mean, why_no_mean = _mean(desk, found, wanted.mean)
        plain = _plain(found, predicted, wanted.known) | {
            "local_law": [asdict(one) for one in beside],
            "mean": None if mean is None else _mean_plain(mean),
            "no_mean": why_no_mean or None,
        }
        lines = [
            *_lines(page, found, predicted, wanted.known),
            *_law_lines(page, beside),
            *_mean_lines(page, mean, why_no_mean),
        ]
    return plain, lines


def _law(conditions: str, strength: float | None, rib: float | None) -> "BondLaw | None":
    from gaugewright.services.along_bars import slip as bar_slip

    if not conditions and strength is None and rib is None:
        return None
    for name, value in (
        ("--law", conditions or None),
        ("--concrete-strength", strength),
        ("--rib-spacing", rib),
    ):
        if value is None:
            raise InputError(name, None, "given", "the local law needs all three")
    return bar_slip.law_named(conditions, float(strength or 0.0) * 1e6, float(rib or 0.0))


def _mean(
    desk: "Desk", profile: "BarProfile", wanted: dict[str, Any]
) -> "tuple[Averages | None, str]":
    """Mean over cracks; refused outright where a person asked for it, else the reason alone."""
    from gaugewright.services.along_bars import slip as bar_slip

    try:
        return bar_slip.averages(desk, profile.bar, profile.moment, **wanted), ""
    except (InputError, Faults) as problem:
        if any(wanted.values()):
            raise
        return None, str(problem)


def _mean_plain(mean: "Averages") -> dict[str, Any]:
    return {
        "first_m": mean.first,
        "last_m": mean.last,
        "strain": _number(mean.strain),
        "initial": mean.initial,
        "highest_strain": _number(mean.highest),
        "highest_at": mean.highest_at,
        "concrete_n": _number(mean.concrete),
    }


def _mean_lines(page: "Page", mean: "Averages | None", why_not: str) -> list[str]:
    from gaugewright.services.along_bars.words import mean_words

    return ["", *([f"No mean strain: {why_not}."] if mean is None else mean_words(page, mean))]


def _law_lines(page: "Page", beside: "tuple[LawPoint, ...]") -> list[str]:
    from gaugewright.services.along_bars.words import law_cells

    if not beside:
        return []
    heads = ("at x", "slip", "bond stress measured", "local law", "law over the doubt of slip")
    return [
        "",
        *table(heads, [law_cells(page, one) for one in beside]),
        "Law: fib Model Code 2010, table 6.1-1; exponent and rest from memory.",
    ]


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
    from gaugewright.services.along_bars.words import station_cells, step_cells, why_unpredicted

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
    lines += _row_lines(page, profile)
    unpredicted = why_unpredicted(predicted)
    lines += ["", *_slip_lines(page, profile, known), *profile.missing, *profile.told]
    lines += [unpredicted] if unpredicted else []
    return lines


def _row_lines(page: "Page", profile: "BarProfile") -> list[str]:
    """How bond stress of the row was had, and its largest."""
    from gaugewright.services.along_bars.words import number_shown

    if profile.bond is None:
        return []
    at = int(abs(profile.bond.value.value).argmax())
    number = number_shown(page, "bond_stress", profile.bond.value[at])
    place = float(profile.bond.places[at])
    return ["", f"{profile.estimate} Largest: {number.text if number else ''} at {place:.3f} m."]


def _slip_lines(page: "Page", profile: "BarProfile", known: "KnownSlip | None") -> list[str]:
    from gaugewright.present.units_shown import quantity_shown
    from gaugewright.services.along_bars import slip as bar_slip

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
        "bond_estimate": profile.estimate,
        "slip": _slip_plain(profile, known),
        "missing": list(profile.missing),
        "told": list(profile.told),
    }


def _slip_plain(profile: "BarProfile", known: "KnownSlip | None") -> list[dict[str, float]]:
    from gaugewright.services.along_bars import slip as bar_slip

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
