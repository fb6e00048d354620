"""The command that prints stress and bar force at one gauge by the law of its metal."""

from typing import TYPE_CHECKING, Annotated, Any

import typer

from gaugewright.cli.options import AsJson, CampaignFolder, settings_of
from gaugewright.cli.speech import result, table
from gaugewright.cli.teaching import teaching

if TYPE_CHECKING:
    from gaugewright.calc.uncertainty import Uncertain
    from gaugewright.present.units_shown import System
    from gaugewright.services.specimen.steel_series import SteelSeries

__all__ = ["add_to"]

STEEL = teaching(
    does="""Show stress and bar force at one gauge by the law of its metal, at every load step and
    over the test, with the strain of the full bar beside that of its ground flat. The whole record
    is replayed, so unloading and cycles count; past yield the coupon and both rates are named, and
    a hold is widened by what the campaign's limits allow for. Nothing is written.""",
    when="after reduce, whenever a gauge may have passed yield.",
    example="gaugewright results steel beams-2026 G07",
    after="gaugewright results gauge beams-2026 G07, for its events and loops",
)


def add_to(app: typer.Typer) -> None:
    """Give the command of this module its name."""
    app.command("steel", help=STEEL)(steel)


def steel(
    context: typer.Context,
    folder: CampaignFolder,
    label: Annotated[
        str, typer.Argument(metavar="GAUGE", help="Label of a gauge.", show_default=False)
    ],
    samples: Annotated[
        int, typer.Option(min=2, max=5000, help="Rows over the test, evenly spread.")
    ] = 20,
    as_json: AsJson = False,
) -> None:
    """Show stress and bar force at one gauge."""
    from gaugewright.services.campaign import campaigns
    from gaugewright.services.campaign.book import Book
    from gaugewright.services.specimen import steel_series
    from gaugewright.services.strain.strains import Desk

    with campaigns.opened(folder, settings_of(context), read_only=True) as store:
        found = steel_series.steel_of_gauge(Desk(store, Book.read(store)), label, samples=samples)
        system = campaigns.system_of(store)
        plain = {"campaign": str(folder), **_plain(found)}
        lines = _lines(found, system)
    result(as_json, plain, lines)


def _plain(found: "SteelSeries") -> dict[str, Any]:
    """Everything in SI; null where there is no number."""
    from gaugewright.services.campaign.coverage import COVERAGE

    stress, force = found.stress, found.force
    return {
        "gauge": found.label,
        "zero": found.zero.value,
        "coverage": COVERAGE,
        "note": found.note,
        "steps": [
            {
                "step": step.label,
                "load_n": step.load,
                "strain": float(step.strain.value),
                "bar_strain": _number(float(step.bar_strain.value)),
                "bar_strain_expanded": _number(float(step.bar_strain.expanded(COVERAGE))),
                "stress_pa": _number(float(step.stress.value)),
                "stress_expanded_pa": _number(float(step.stress.expanded(COVERAGE))),
                "force_n": _number(float(step.force.value)),
                "force_expanded_n": _number(float(step.force.expanded(COVERAGE))),
                "note": step.note,
            }
            for step in found.steps
        ],
        "series": {
            "time_s": found.time.tolist(),
            "load_n": [_number(value) for value in found.load.tolist()],
            "strain": found.strain.value.tolist(),
            "bar_strain": [_number(value) for value in found.bar_strain.tolist()],
            "stress_pa": [_number(value) for value in stress.value.tolist()],
            "stress_expanded_pa": [_number(v) for v in stress.expanded(COVERAGE).tolist()],
            "force_n": [_number(value) for value in force.value.tolist()],
            "force_expanded_n": [_number(v) for v in force.expanded(COVERAGE).tolist()],
            "past_yield": found.yielded.tolist(),
        },
    }


def _number(value: float) -> float | None:
    return value if value == value else None


def _lines(found: "SteelSeries", system: "System") -> list[str]:
    heads = ("load", "strain at the gauge", "strain of the bar", "stress", "bar force")
    steps = [
        (
            step.label,
            _value("load", step.load, system),
            _uncertain("strain", step.strain, system),
            _uncertain("strain", step.bar_strain, system),
            _uncertain("stress", step.stress, system),
            _uncertain("force", step.force, system),
        )
        for step in found.steps
    ]
    rows = [
        (
            _value("load", float(found.load[n]), system),
            _uncertain("strain", found.strain[n], system),
            _value("strain", float(found.bar_strain[n]), system),
            _uncertain("stress", found.stress[n], system),
            _uncertain("force", found.force[n], system),
            "past yield" if found.yielded[n] else "",
        )
        for n in range(found.time.size)
    ]
    noted: dict[str, list[str]] = {}
    for step in found.steps:
        noted.setdefault(step.note, []).append(step.label)
    notes = [f"{', '.join(labels)}: {note}" for note, labels in noted.items()]
    lines = [f"{found.label}, zero {found.zero.value}"]
    if steps:
        lines += ["", *table(("step", *heads), steps), "", *notes]
    return [*lines, "", f"Over the test ({found.note}):", *table((*heads, ""), rows)]


def _value(quantity: str, value: float, system: "System") -> str:
    from gaugewright.present.units_shown import quantity_shown

    return quantity_shown(quantity, value, None, system).text if value == value else "-"


def _uncertain(quantity: str, value: "Uncertain", system: "System") -> str:
    from gaugewright.present.units_shown import quantity_shown
    from gaugewright.services.campaign.coverage import COVERAGE

    number = float(value.value)
    if number != number:
        return "-"
    return quantity_shown(quantity, number, float(value.expanded(COVERAGE)), system).text
