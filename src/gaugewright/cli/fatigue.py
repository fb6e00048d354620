"""The command that keeps a line of fatigue of the laboratory's own: fatigue-curve."""

from typing import TYPE_CHECKING, Annotated, Any

import typer

from gaugewright.cli.options import AsJson, CampaignFolder, settings_of
from gaugewright.cli.speech import result, table
from gaugewright.cli.teaching import teaching

if TYPE_CHECKING:
    from gaugewright.calc.fatigue import FatigueLine
    from gaugewright.present.units_shown import System

__all__ = ["add_to"]

CURVE = teaching(
    does="""Keep a line of fatigue with the campaign: cycles to failure against stress range as two
    straight lines on double logarithmic paper, and who says so. Without a label, list the lines
    that can be used; the shipped ones are characteristic values of EN 1992-1-1, Table 6.3N,
    written from memory: compare them with your copy and your national annex.""",
    when="the bars' own tests, or another standard's table, are to be used for damage.",
    example="""gaugewright fatigue-curve beams-2026 "heat 7, own tests" --range 170 --cycles 1e6
    --above 5 --below 9 --source "fatigue tests of 12 bars, report 31" """,
    after="gaugewright results cycles beams-2026 G07 --curve LABEL",
)


def add_to(app: typer.Typer) -> None:
    """Give the command of this module its name."""
    app.command("fatigue-curve", help=CURVE)(fatigue_curve)


def fatigue_curve(
    context: typer.Context,
    folder: CampaignFolder,
    label: Annotated[
        str, typer.Argument(metavar="[LABEL]", help="Name of the line; lists them if left out.")
    ] = "",
    stress_range: Annotated[
        str, typer.Option("--range", metavar="STRESS", help="Range at the bend; MPa.")
    ] = "",
    cycles: Annotated[float, typer.Option(help="Cycles at the bend.")] = 1e6,
    above: Annotated[float, typer.Option(help="Exponent for ranges from the bend up.")] = 5.0,
    below: Annotated[float, typer.Option(help="Exponent for smaller ranges.")] = 9.0,
    limit: Annotated[
        str, typer.Option(metavar="STRESS", help="Smaller ranges do no damage; none if left out.")
    ] = "",
    source: Annotated[str, typer.Option(help="Who says so: a standard's table, own tests.")] = "",
    as_json: AsJson = False,
) -> None:
    """Keep a line of fatigue, or list those that can be used."""
    from gaugewright.present.typed import quantity_typed
    from gaugewright.records.coupons import FatigueCurve
    from gaugewright.services.campaign import campaigns
    from gaugewright.services.campaign.book import Book
    from gaugewright.services.cycling import damage as fatigue_damage

    with campaigns.opened(folder, settings_of(context), read_only=not label) as store:
        system = campaigns.system_of(store)
        if label:
            made = FatigueCurve(
                label,
                quantity_typed("--range", stress_range, "stress", system),
                cycles,
                above,
                below,
                source,
                quantity_typed("--limit", limit, "stress", system) if limit else 0.0,
            )
            fatigue_damage.kept_curve(store, made)
        known = fatigue_damage.curves(Book.read(store))
    heads = ("line", "range at bend", "cycles", "above", "below", "source")
    result(as_json, _plain(known), table(heads, _rows(known, system)))


def _rows(known: "dict[str, FatigueLine]", system: "System") -> list[tuple[str, ...]]:
    from gaugewright.services.answering.parts import brief

    return [
        (
            name,
            brief("stress", line.reference_range, system, 4),
            f"{line.reference_cycles:g}",
            f"{line.slope_above:g}",
            f"{line.slope_below:g}",
            line.source,
        )
        for name, line in known.items()
    ]


def _plain(known: "dict[str, FatigueLine]") -> dict[str, Any]:
    return {
        "curves": [
            {
                "label": name,
                "range_pa": line.reference_range,
                "cycles": line.reference_cycles,
                "above": line.slope_above,
                "below": line.slope_below,
                "limit_pa": line.limit_range,
                "source": line.source,
            }
            for name, line in known.items()
        ]
    }
