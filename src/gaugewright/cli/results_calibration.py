"""The command that prints calibrations of gauged bars: results calibration."""

from typing import TYPE_CHECKING, Annotated

import typer

from gaugewright.cli.options import AsJson, CampaignFolder, settings_of
from gaugewright.cli.speech import result, table
from gaugewright.cli.teaching import teaching

if TYPE_CHECKING:
    from gaugewright.services.calibrating.shown import CalibrationShown, PointRow

__all__ = ["add_to"]

CALIBRATION = teaching(
    does="""Print the calibrations of gauged bars: newtons per reading with their uncertainty and
    its main cause, rows with residuals, zero return, hysteresis and repeatability in the terms of
    ISO 376 and ASTM E74, bending in the machine as ASTM E1012 has it, and what it holds for.""",
    when="after gaugewright calibrate; again before the bar is relied on.",
    example="gaugewright results calibration beams-2026 T3",
    after="gaugewright reduce beams-2026, which takes the bar's force by it",
)


def add_to(app: typer.Typer) -> None:
    """Give the command of this module its name."""
    app.command("calibration", help=CALIBRATION)(calibration)


def calibration(
    context: typer.Context,
    folder: CampaignFolder,
    bar: Annotated[str, typer.Argument(metavar="[BAR]", help="One bar; all when left out.")] = "",
    as_json: AsJson = False,
) -> None:
    """Print calibrations of gauged bars."""
    from gaugewright.records.specimen import Bar
    from gaugewright.services.calibrating import calibrations
    from gaugewright.services.calibrating import shown as calibration_shown
    from gaugewright.services.campaign import campaigns
    from gaugewright.services.campaign.book import Book

    with campaigns.opened(folder, settings_of(context), read_only=True) as store:
        book = Book.read(store)
        bars = (book.labelled(Bar, bar),) if bar else book.of(Bar)
        system, zone = campaigns.system_of(store), store.campaign.record.zone
        shown = [
            calibration_shown.shown_calibration(book, entry, system, zone)
            for one in bars
            for entry in calibrations.calibrations_of_bar(book, one)
        ]
    lines = [line for one in shown for line in (*_lines(one), "")]
    if not shown:
        lines = ["No bar is calibrated yet; enter one with: gaugewright calibrate"]
    result(as_json, {"campaign": str(folder), "calibrations": [dict(o.si) for o in shown]}, lines)


def _lines(one: "CalibrationShown") -> list[str]:
    lines = [
        f"{one.circuit}, {one.measured}: {one.per_reading.text} (95 %)",
        f"Main cause: {one.main_cause}",
        "",
        *table(("", ""), one.facts),
        "",
    ]
    force = f"force {one.force_unit}"
    terms = (force, "repeatability", "with all runs", "reversibility", "curve")
    lines += table(
        terms,
        [
            (s.force, s.repeatability, s.reproducibility, s.reversibility, s.interpolation)
            for s in one.steps
        ],
    )
    heads = ("run", "", force, f"reading {one.reading_unit}", "by the curve", "left over")
    lines += ["", *table(heads, [_point(point) for point in one.points])]
    causes = [(cause.meaning, cause.basis, cause.share) for cause in one.budget]
    return [*lines, "", *table(("cause of the doubt", "basis", "share"), causes)]


def _point(point: "PointRow") -> tuple[str, ...]:
    return (
        str(point.run),
        point.way,
        point.force,
        point.reading,
        point.fitted,
        point.residual,
    )
