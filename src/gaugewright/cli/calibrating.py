"""The commands for what a laboratory measures of its own gauges: calibrate, scatter."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from gaugewright.cli.options import AsJson, CampaignFolder, settings_of
from gaugewright.cli.speech import result, table
from gaugewright.cli.teaching import teaching
from gaugewright.errors import FileError, InputError

if TYPE_CHECKING:
    from gaugewright.records import Entry
    from gaugewright.records.specimen import Bar
    from gaugewright.services.calibrating.table import CalibrationTable
    from gaugewright.store.campaign import CampaignStore

__all__ = ["add_to"]

CALIBRATE = teaching(
    does="""Enter the calibration of a gauged bar: a table of forces by a traceable load, and of
    what each gauge read beside them, rising and falling again. Its heading names the columns with
    units, such as: series, force [kN], T3-N [mV/V], T3-S [mV/V]. What comes out, newtons per
    reading, then stands in the place of gauge factor, area, lead loss and misalignment.""",
    when="before the bar is cast in, with the lead and the recorder of the test.",
    example="""gaugewright calibrate beams-2026 T3 t3.csv --measured 2026-03-04T10:30
    --load-error "0.24" --certificate "cell 7, 2026-01" --temperature 21""",
    after="gaugewright results calibration beams-2026 T3",
)
CARRY = teaching(
    does="""Let the latest calibration of a circuit hold for a later connection of it, with the
    reason. A calibration holds for the connection it was made on and for no other, until somebody
    who knows that lead and bridge are the same says so.""",
    when="after a calibrated bar was unplugged, cast and plugged in again.",
    example='gaugewright carry beams-2026 T3-N --why "same lead, plugged anew"',
    after="gaugewright reduce beams-2026",
)
SCATTER = teaching(
    does="""Work out how far gauges bonded by this laboratory scatter from each other, from the
    calibrations of its bars or, without any, from opposite pairs under load. With --keep the
    campaign's unverified limit gives way to it, with number and degrees of freedom, and the lines
    for the laboratory's own limits.toml are printed.""",
    when="once bars are calibrated or pairs have been read; again when more are.",
    example="gaugewright scatter beams-2026 --keep",
    after="gaugewright reduce beams-2026",
)


def add_to(app: typer.Typer) -> None:
    """Give the commands of this module their names."""
    app.command("calibrate", help=CALIBRATE)(calibrate)
    app.command("carry", help=CARRY)(carry)
    app.command("scatter", help=SCATTER)(scatter)


def calibrate(
    context: typer.Context,
    folder: CampaignFolder,
    bar: Annotated[
        str, typer.Argument(metavar="BAR", help="Label of the bar.", show_default=False)
    ],
    file: Annotated[
        Path,
        typer.Argument(
            metavar="FILE",
            help="Table as CSV, or the label of a recording with load steps in it.",
            show_default=False,
        ),
    ],
    measured: Annotated[
        str, typer.Option(help="When, in the campaign's zone: 2026-03-04T10:30. Must be given.")
    ] = "",
    load_error: Annotated[
        str, typer.Option(help="Doubt of the load as % of it, by certificate. Must be given.")
    ] = "",
    means: Annotated[str, typer.Option(help="What that is: k=2, k=1 or limit.")] = "k=2",
    certificate: Annotated[str, typer.Option(help="Name of the certificate.")] = "",
    temperature: Annotated[str, typer.Option(help="Of the bar, °C. Must be given.")] = "",
    curve: Annotated[str, typer.Option(help="line, or cubic where residuals curve.")] = "line",
    valid_until: Annotated[str, typer.Option(help="Last day it may be used.")] = "",
    note: Annotated[str, typer.Option(help="Whatever else matters.")] = "",
    as_json: AsJson = False,
) -> None:
    """Enter the calibration of a gauged bar."""
    from gaugewright.records.specimen import Bar
    from gaugewright.services.calibrating import calibrations
    from gaugewright.services.calibrating import shown as calibration_shown
    from gaugewright.services.calibrating.table import read_table
    from gaugewright.services.campaign import campaigns
    from gaugewright.services.campaign.book import Book

    texts = {
        "measured": measured,
        "load_error": load_error,
        "means": means,
        "certificate": certificate,
        "temperature": temperature,
        "curve": curve,
        "valid_until": valid_until,
        "note": note,
    }
    text = _text_of(file) if file.is_file() else ""
    with campaigns.opened(folder, settings_of(context)) as store:
        told = calibration_shown.told_from(texts, store.campaign.record.zone)
        entry = Book.read(store).labelled(Bar, bar)
        table = read_table(text) if text else _recorded(store, entry, file)
        made = calibrations.kept(store, entry, table, told)
        book = Book.read(store)
        system = campaigns.system_of(store)
        shown = [
            calibration_shown.shown_calibration(book, one, system, store.campaign.record.zone)
            for one in made
        ]
    lines = [f"{one.circuit}: {one.per_reading.text}; mostly {one.main_cause}" for one in shown]
    lines += ["", f"Next: gaugewright results calibration {folder} {bar}"]
    result(as_json, {"campaign": str(folder), "calibrations": [dict(o.si) for o in shown]}, lines)


def _recorded(store: "CampaignStore", bar: "Entry[Bar]", file: Path) -> "CalibrationTable":
    """Rows from a recording, where the name typed is no file but a recording's label."""
    from gaugewright.records.readings import Recording
    from gaugewright.services.calibrated_bars.steps import table_of_recording

    for recording in store.entries(Recording):
        if recording.record.label == str(file):
            return table_of_recording(store, bar, recording)
    raise InputError("FILE", str(file), "a CSV file that isn't empty, or a recording's label")


def _text_of(file: Path) -> str:
    try:
        return file.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError as error:
        do = "save it as CSV in UTF-8"
        raise FileError(file, "isn't text", do=do) from error


def carry(
    context: typer.Context,
    folder: CampaignFolder,
    circuit: Annotated[
        str, typer.Argument(metavar="CIRCUIT", help="Label of the circuit.", show_default=False)
    ],
    why: Annotated[str, typer.Option(help="Why it answers as before. Must be given.")] = "",
    as_json: AsJson = False,
) -> None:
    """Let a calibration hold for the latest connection of its circuit."""
    from gaugewright.records.electrical import BridgeCircuit
    from gaugewright.services.calibrating import calibrations
    from gaugewright.services.campaign import campaigns
    from gaugewright.services.campaign.book import Book

    with campaigns.opened(folder, settings_of(context)) as store:
        found = Book.read(store).labelled(BridgeCircuit, circuit)
        kept = calibrations.carried_to_last(store, found, why)
    count = len(kept.record.carried_to)
    plain = {
        "campaign": str(folder),
        "circuit": circuit,
        "carried_to": list(kept.record.carried_to),
    }
    words = f"The calibration of {circuit} now holds for {count} later connection(s): {why}"
    result(as_json, plain, [words])


def scatter(
    context: typer.Context,
    folder: CampaignFolder,
    keep: Annotated[
        bool, typer.Option("--keep", help="Put it in the place of the campaign's limit.")
    ] = False,
    as_json: AsJson = False,
) -> None:
    """Work out the laboratory's own installation scatter."""
    from gaugewright.services.calibrated_bars import own_scatter
    from gaugewright.services.campaign import campaigns

    with campaigns.opened(folder, settings_of(context), read_only=not keep) as store:
        found = own_scatter.own_scatter(store)
        if keep:
            own_scatter.keep(store, found)
    rows = [(row.label, f"{row.first:.4g}", f"{row.second:.4g}") for row in found.rows]
    lines = [found.sentence, "", *table(found.heads, rows)]
    if keep:
        lines += ["", "For limits.toml of the laboratory:", "", found.as_toml()]
        lines += ["", f"Next: gaugewright reduce {folder}"]
    plain = {
        "campaign": str(folder),
        "relative_standard_uncertainty": found.standard_uncertainty,
        "degrees_of_freedom": found.degrees_of_freedom,
        "mean_difference": found.mean,
        "counted": len(found.rows),
        "counted_what": found.counted_what,
        "kept": keep,
    }
    result(as_json, plain, lines)
