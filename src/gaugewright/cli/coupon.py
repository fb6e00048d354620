"""The command that states a coupon's test and evaluates it: coupon."""

from typing import Annotated

import typer

from gaugewright.cli.options import AsJson, CampaignFolder, settings_of
from gaugewright.cli.results_coupon import coupon_lines, coupon_plain
from gaugewright.cli.speech import result
from gaugewright.cli.teaching import teaching

__all__ = ["add_to"]

COUPON = teaching(
    does="""Evaluate the tensile test of a coupon: modulus with the quality of its fit, proof
    strength, upper and lower yield, tensile strength, extensions and elongation, each with its
    uncertainty or the reason why it can't be had. A modulus is refused where the elastic line is
    kinked, bends, or is written too coarsely, and with it everything that hangs on it. What was
    typed is kept as a record of the campaign; --material makes a metal of it. Values are typed
    with their doubt, "10.02 ± 0.02 mm".""",
    when="""a piece of the bars was pulled in the machine; FILE is its recording, by the label it
    was imported under, or a text file that leaves no question open.""",
    example="""gaugewright coupon beams-2026 coupon3.csv --diameter "10.02 ± 0.02 mm"
    --force-class 1 --extensometer-class 0.5 --elastic-from 60 --elastic-to 180""",
    after="""gaugewright results coupon beams-2026, and with --material: gaugewright reduce
    beams-2026""",
)


def add_to(app: typer.Typer) -> None:
    """Give the command of this module its name."""
    app.command("coupon", help=COUPON)(coupon)


def _value(words: str) -> "typer.models.OptionInfo":
    option: typer.models.OptionInfo = typer.Option(metavar="VALUE", help=words)
    return option


def coupon(
    context: typer.Context,
    folder: CampaignFolder,
    file: Annotated[
        str,
        typer.Argument(
            metavar="FILE", help="Recording by its label, or a text file.", show_default=False
        ),
    ],
    label: Annotated[
        str, typer.Option(help="Name of the coupon; the recording's when left out.")
    ] = "",
    diameter: Annotated[str, _value('Of a round coupon: "10.02 ± 0.02 mm (limit)".')] = "",
    width: Annotated[str, _value("Of a flat coupon, with --thickness.")] = "",
    thickness: Annotated[str, _value("Of a flat coupon.")] = "",
    area: Annotated[str, _value("Original area, where measured otherwise: by weighing.")] = "",
    gauge_length: Annotated[
        str, _value("Of the extensometer, where it writes an extension in a length.")
    ] = "",
    force_column: Annotated[
        str, typer.Option(metavar="COLUMN", help="Column of force, or of stress.")
    ] = "",
    strain_column: Annotated[
        str, typer.Option(metavar="COLUMN", help="Column of the extensometer or gauge.")
    ] = "",
    force_class: Annotated[
        str, typer.Option(metavar="CLASS", help="Of the machine by ISO 7500-1: 0.5, 1, 2.")
    ] = "",
    extensometer_class: Annotated[
        str, typer.Option(metavar="CLASS", help="Of the extensometer by ISO 9513: 0.5, 1.")
    ] = "",
    elastic_from: Annotated[
        str, typer.Option(metavar="STRESS", help="Where the elastic line begins; MPa.")
    ] = "",
    elastic_to: Annotated[
        str, typer.Option(metavar="STRESS", help="Where it ends; MPa, below any bend.")
    ] = "",
    modulus: Annotated[str, _value("From another test, where this one gives none; GPa.")] = "",
    marked_length: Annotated[str, _value("Between marks before the test, for A.")] = "",
    final_length: Annotated[str, _value("Between them after fracture, pieces together.")] = "",
    material: Annotated[
        str, typer.Option(metavar="LABEL", help="Metal to make, or make a new version, of this.")
    ] = "",
    yield_by: Annotated[
        str, typer.Option("--yield", help="Its yield strength: proof, upper or lower.")
    ] = "proof",
    law: Annotated[
        str, typer.Option(help="How it follows strain: curve or elastic; as it was if unsaid.")
    ] = "",
    thermal_expansion: Annotated[str, _value("Of a new metal; ×10⁻⁶/K.")] = "",
    poisson_ratio: Annotated[str, _value("Of a new metal.")] = "",
    note: Annotated[str, typer.Option(help="Anything to be kept with the test.")] = "",
    as_json: AsJson = False,
) -> None:
    """State a coupon's test and evaluate it."""
    from gaugewright.services.campaign import campaigns
    from gaugewright.services.coupon import entry as coupon_entry
    from gaugewright.services.coupon import of_recordings as coupon_tests

    typed = {
        "diameter": diameter,
        "width": width,
        "thickness": thickness,
        "area": area,
        "gauge_length": gauge_length,
        "force_class": force_class,
        "extensometer_class": extensometer_class,
        "elastic_from": elastic_from,
        "elastic_to": elastic_to,
        "modulus": modulus,
        "marked_length": marked_length,
        "final_length": final_length,
        "note": note,
    }
    metal = {"thermal_expansion": thermal_expansion, "poisson_ratio": poisson_ratio}
    with campaigns.opened(folder, settings_of(context)) as store:
        system = campaigns.system_of(store)
        recording = coupon_tests.recording_of(store, file)
        found = coupon_entry.stated_and_kept(
            store, recording, typed, system, label=label, columns=(force_column, strain_column)
        )
        lines, plain = coupon_lines(found, system), coupon_plain(found)
        if material:
            made = coupon_entry.metal_made(
                store, found, material, metal, system, by=yield_by, law=law
            )
            plain["material"] = {"uid": made.uid, "version": made.version, "label": material}
            lines += ["", f"Metal {material} is version {made.version}, from this coupon."]
    result(as_json, plain, [*lines, "", f"Next: gaugewright results coupon {folder}"])
