"""The command that prints what gauges on strand, tubes, plates and load cells say."""

from typing import TYPE_CHECKING, Annotated, Any

import typer

from gaugewright.cli.options import AsJson, CampaignFolder, settings_of
from gaugewright.cli.speech import result, table
from gaugewright.cli.teaching import teaching

if TYPE_CHECKING:
    from gaugewright.present.units_shown import System
    from gaugewright.services.specimen.specimens import SpecimenValue

__all__ = ["add_to"]

SPECIMEN = teaching(
    does="""Show what gauges on strand, torsion tubes, plates and bar-type load cells say. By the
    kind of each specimen: force per strain and apparent modulus from the calibration pull of a
    strand; shear strain and torque of a tube; plane stress of a plate; force of a load cell and
    its sensitivity at capacity. Each with its uncertainty and main cause. Nothing is written.""",
    when="""after reduce; a strand needs its pull recorded beside the load cell, the others need
    load steps.""",
    example="gaugewright results specimen strands-2026 S1",
    after="gaugewright report strands-2026",
)


def add_to(app: typer.Typer) -> None:
    """Give the command of this module its name."""
    app.command("specimen", help=SPECIMEN)(specimen)


def specimen(
    context: typer.Context,
    folder: CampaignFolder,
    label: Annotated[
        str | None,
        typer.Argument(
            metavar="[LABEL]",
            help="Label of one specimen; every strand, tube, plate and load cell when left out.",
            show_default=False,
        ),
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Show what gauges on other specimens say."""
    from gaugewright.services.campaign import campaigns
    from gaugewright.services.campaign.book import Book
    from gaugewright.services.specimen import specimens
    from gaugewright.services.strain.strains import Desk

    with campaigns.opened(folder, settings_of(context), read_only=True) as store:
        found = specimens.specimen_values(Desk(store, Book.read(store)), label)
        system = campaigns.system_of(store)
        plain = {"campaign": str(folder), "values": [_plain(one) for one in found]}
        lines = _lines(found, system)
    result(as_json, plain, lines)


def _plain(one: "SpecimenValue") -> dict[str, Any]:
    """One value in SI."""
    from gaugewright.services.campaign.coverage import COVERAGE

    return {
        "specimen": one.specimen,
        "gauges": one.subject,
        "quantity": one.quantity,
        "what": one.words,
        "at": one.step,
        "value": float(one.value.value),
        "expanded_uncertainty": float(one.value.expanded(COVERAGE)),
        "coverage": COVERAGE,
        "main_cause": _cause(one),
        "note": one.note,
    }


def _lines(found: "tuple[SpecimenValue, ...]", system: "System") -> list[str]:
    from gaugewright.present.units_shown import quantity_shown
    from gaugewright.services.campaign.coverage import COVERAGE

    rows = [
        (
            one.specimen,
            one.subject,
            one.words,
            one.step,
            quantity_shown(
                one.quantity, float(one.value.value), float(one.value.expanded(COVERAGE)), system
            ).text,
            _cause(one),
        )
        for one in found
    ]
    notes = {f"{one.words}: {one.note}": None for one in found if one.note}
    lines = table(("specimen", "gauges", "what", "at", "value", "main cause of doubt"), rows)
    return [*lines, "", *notes, f"± holds with a probability of {COVERAGE:.0%}."]


def _cause(one: "SpecimenValue") -> str:
    lines = one.value.budget().lines
    return lines[0].meaning if lines else "nothing was doubted"
