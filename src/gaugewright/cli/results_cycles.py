"""The command that prints the cycles a gauge has seen and what they used up: results cycles."""

import math
from typing import TYPE_CHECKING, Annotated, Any

import typer

from gaugewright.cli.options import AsJson, CampaignFolder, settings_of
from gaugewright.cli.speech import result, table
from gaugewright.cli.teaching import teaching

if TYPE_CHECKING:
    from gaugewright.present.units_shown import System
    from gaugewright.services.cycling.damage import GaugeCycles

__all__ = ["add_to"]

CYCLES = teaching(
    does="""Count the cycles that a gauge has seen by the rainflow rule, in classes of range and
    mean, and add up what they used of the bar's fatigue life, with the interval that the doubt of
    strain and modulus leaves. Moves smaller than a gate are noise. A recording of any length is
    gone through block by block.""",
    when="a bar is loaded again and again, and its life or the spectrum of its loads is asked for.",
    example='gaugewright results cycles beams-2026 G07 --curve "straight bars"',
    after="gaugewright fatigue-curve, when another line than the shipped ones is meant",
)


def add_to(app: typer.Typer) -> None:
    """Give the command of this module its name."""
    app.command("cycles", help=CYCLES)(cycles)


def cycles(
    context: typer.Context,
    folder: CampaignFolder,
    gauge: Annotated[
        str, typer.Argument(metavar="GAUGE", help="Label of the gauge.", show_default=False)
    ],
    gate: Annotated[
        float | None,
        typer.Option(
            metavar="MICROSTRAIN",
            help="Smallest move that is a turn; six deviations of its noise if unsaid.",
        ),
    ] = None,
    repeating: Annotated[
        bool,
        typer.Option("--repeating/--once", help="The record happens again and again, or once."),
    ] = False,
    curve: Annotated[
        str, typer.Option(help="Line of fatigue: a shipped one, or one of the campaign's own.")
    ] = "straight bars",
    partial_factor: Annotated[
        float, typer.Option(help="Divides the line's ranges, where a design is checked.")
    ] = 1.0,
    as_json: AsJson = False,
) -> None:
    """Count the cycles of a gauge and add up its damage."""
    from gaugewright.records.gauges import Gauge
    from gaugewright.services.campaign import campaigns
    from gaugewright.services.campaign.book import Book
    from gaugewright.services.cycling import damage as fatigue_damage
    from gaugewright.services.cycling.counted import History
    from gaugewright.services.strain.strains import Desk

    with campaigns.opened(folder, settings_of(context), read_only=True) as store:
        desk = Desk(store, Book.read(store))
        found = fatigue_damage.cycles_of_gauge(
            desk,
            desk.book.labelled(Gauge, gauge),
            gate=None if gate is None else gate * 1e-6,
            history=History.REPEATING if repeating else History.ONCE,
            curve=curve,
            partial_factor=partial_factor,
        )
        system = campaigns.system_of(store)
    result(as_json, _plain(found), _lines(found, system))


def _lines(found: "GaugeCycles", system: "System") -> list[str]:
    from gaugewright.services.cycling import words as cycle_words

    rows = [
        (row.lower, row.upper, row.cycles, f"{row.mean_from} to {row.mean_to}")
        for row in cycle_words.range_rows(found.counted, system)
    ]
    return [
        f"Gauge {found.gauge.record.label}, strain since zero {found.zero.value}",
        cycle_words.counted_sentence(found.counted, system),
        "",
        *table(("range from", "to", "cycles", "means"), rows),
        "",
        *cycle_words.damage_sentences(found, system),
    ]


def _plain(found: "GaugeCycles") -> dict[str, Any]:
    counted, damage = found.counted, found.damage
    return {
        "gauge": found.gauge.record.label,
        "zero": found.zero.value,
        "samples": counted.extent.samples,
        "missing": counted.extent.missing,
        "history": counted.history.value,
        "gate": counted.gate,
        "noise": counted.extent.noise,
        "cycles": counted.cycles,
        "range_edges": counted.range_edges.tolist(),
        "mean_edges": counted.mean_edges.tolist(),
        "matrix": counted.matrix.tolist(),
        "largest_ranges": counted.largest.ranges.tolist(),
        "damage": None
        if damage is None
        else {
            "curve": damage.curve,
            "source": damage.line.source,
            "total": damage.total,
            "low": damage.low,
            "high": None if math.isinf(damage.high) else damage.high,
            "relative_uncertainty_of_ranges": damage.scale_doubt,
            "main_cause": damage.cause,
            "coverage": 0.95,
        },
        "why_no_damage": found.why,
    }
