"""The command that prints what a rosette says at one moment: results rosette."""

import math
from typing import TYPE_CHECKING, Annotated, Any

import typer

from gaugewright.cli.options import AsJson, CampaignFolder, settings_of
from gaugewright.cli.speech import result, table
from gaugewright.cli.teaching import teaching
from gaugewright.errors import InputError

if TYPE_CHECKING:
    from gaugewright.records.proof import ZeroKind
    from gaugewright.services.showing.page import Page
    from gaugewright.services.specimen.rosettes import Group, RosetteSeries, RosetteState

__all__ = ["add_to"]

ROSETTE = teaching(
    does="""List the rosettes of a campaign, or show one: state of strain, principal strains and
    stresses with their uncertainty, and the direction of the axes with its interval; no direction
    where Mohr's circle is no larger than its doubt. --series adds the whole test to --json.
    Nothing is written.""",
    when="after reduce.",
    example='gaugewright results rosette beams-2026 P --at "160 kN"',
    after="gaugewright serve beams-2026, whose Results draw the circle",
)


def add_to(app: typer.Typer) -> None:
    """Give the command of this module its name."""
    app.command("rosette", help=ROSETTE)(rosette)


def rosette(
    context: typer.Context,
    folder: CampaignFolder,
    group: Annotated[
        str, typer.Argument(metavar="GROUP", help="Name of the rosette; all when left out.")
    ] = "",
    at: Annotated[
        str, typer.Option(help="Load step, or date and time; the greatest load when left out.")
    ] = "",
    zero: Annotated[
        str, typer.Option(help="Zero that strain counts from, such as 'before pour'.")
    ] = "before test",
    series: Annotated[
        bool, typer.Option("--series", help="With --json: principal strains over the test.")
    ] = False,
    as_json: AsJson = False,
) -> None:
    """Show the rosettes of a campaign, or one of them."""
    from gaugewright.services.campaign import campaigns
    from gaugewright.services.campaign.book import Book
    from gaugewright.services.loading.moments import moment_or_highest
    from gaugewright.services.showing.page import Page
    from gaugewright.services.specimen import rosettes
    from gaugewright.services.strain.strains import Desk

    if series and not (as_json and group):
        raise InputError("--series", "typed", "used with --json and the name of a rosette")
    with campaigns.opened(folder, settings_of(context), read_only=True) as store:
        desk = Desk(store, Book.read(store))
        page = Page.of(desk)
        every = rosettes.groups(desk)
        if not group:
            _list(as_json, every)
            return
        found = _named(every, group)
        kind = _zero(rosettes.zeros_of_rosette(desk, found), zero)
        state = rosettes.rosette_state_at(desk, found, moment_or_highest(desk, at), kind)
        plain = _plain(page, state)
        if series:
            plain["series"] = _series(rosettes.rosette_series(desk, found, kind))
        lines = _lines(page, state)
    result(as_json, plain, lines)


def _zero(known: "tuple[ZeroKind, ...]", text: str) -> "ZeroKind":
    for kind in known:
        if kind.value == text:
            return kind
    raise InputError(
        "--zero", text, "one that every arm has: " + (", ".join(k.value for k in known) or "none")
    )


def _named(every: "tuple[Group, ...]", name: str) -> "Group":
    for group in every:
        if group.name == name:
            return group
    known = ", ".join(group.name for group in every) or "none yet"
    raise InputError("rosette", name, f"one of: {known}")


def _list(as_json: bool, every: "tuple[Group, ...]") -> None:
    plain = {
        "rosettes": [
            {
                "name": group.name,
                "layout": group.layout,
                "arms": [gauge.record.label for _, gauge in group.arms],
                "why_not": group.why_not,
            }
            for group in every
        ]
    }
    rows = [
        (
            group.name,
            group.layout,
            ", ".join(gauge.record.label for _, gauge in group.arms),
            group.why_not,
        )
        for group in every
    ]
    lines = table(("rosette", "layout", "arms", "why it can't be used"), rows)
    result(as_json, plain, lines if rows else ["No gauge is entered as an arm of a rosette."])


def _lines(page: "Page", state: "RosetteState") -> list[str]:
    from gaugewright.services.specimen import rosette_page

    rows = [(row.name, row.shown.text, row.cause) for row in rosette_page.number_rows(page, state)]
    head = f"Rosette {state.group.name} at {state.moment.label}: {state.moment.words}."
    return [
        head,
        f"Zero: {state.zero.value}. Layout: {state.group.layout}.",
        "",
        *table(("what", "value (95 %)", "main cause of ±"), rows),
        "",
        rosette_page.angle_words(state),
    ]


def _plain(page: "Page", state: "RosetteState") -> dict[str, Any]:
    """A state as JSON values in SI units, nothing rounded."""
    from gaugewright.services.specimen import rosette_page

    return {
        "rosette": state.group.name,
        "layout": state.group.layout,
        "at": state.moment.key,
        "zero": state.zero.value,
        "coverage": 0.95,
        "direction_determined": state.is_determined,
        "direction_interval_rad": [-state.lower, state.upper] if state.is_determined else None,
        "numbers": {
            row.key: {
                "value": row.value,
                "expanded_uncertainty": row.plus_minus,
                "unit": row.unit,
                "main_cause": row.cause,
            }
            for row in rosette_page.number_rows(page, state)
        },
        "arms": [
            {"label": gauge.record.label, "angle_rad": gauge.record.angle_to_axis, "strain": strain}
            for (_, gauge), strain in zip(
                state.group.arms, (arm.value.item() for arm in state.arms), strict=True
            )
        ],
    }


def _finite(value: float) -> float | None:
    return value if math.isfinite(value) else None


def _series(series: "RosetteSeries") -> list[dict[str, float | None]]:
    state = series.principal
    columns = (series.time, series.load, state.first.value, state.second.value)
    told = state.is_determined.tolist()
    angles = state.angle.value.tolist()
    names = ("time_s", "load_n", "first", "second")
    return [
        {
            **{name: _finite(value) for name, value in zip(names, row, strict=True)},
            "angle_rad": _finite(angles[place]) if told[place] else None,
        }
        for place, row in enumerate(zip(*(c.tolist() for c in columns), strict=True))
    ]
