"""The command that compares a quantity recorded twice: results twice."""

from dataclasses import asdict
from typing import TYPE_CHECKING, Annotated, Any

import typer

from gaugewright.cli.options import AsJson, CampaignFolder, settings_of
from gaugewright.cli.speech import result, table
from gaugewright.cli.teaching import teaching

if TYPE_CHECKING:
    from gaugewright.services.comparing.twice_recorded import ClockLeft, Twice

__all__ = ["add_to"]

TWICE = teaching(
    does="""Compare two columns that recorded one quantity: what the second reads for each unit of
    the first (gain), at its mean (offset), what neither explains beside the noise of both, and
    how far the clocks may be apart. Each keeps its rate; they are joined for this only. Nothing
    is written.""",
    when="when a load cell or gauge was read by two recorders, before either is believed.",
    example='gaugewright results twice beams-2026 "test, A" P "test, B" load',
    after="gaugewright results calibration, when a gain other than 1 has to be explained",
)


def add_to(app: typer.Typer) -> None:
    """Give the command of this module its name."""
    app.command("twice", help=TWICE)(twice)


def twice(
    context: typer.Context,
    folder: CampaignFolder,
    recording: Annotated[str, typer.Argument(metavar="RECORDING", help="Label of the first.")],
    column: Annotated[str, typer.Argument(metavar="COLUMN", help="Its column.")],
    other: Annotated[str, typer.Argument(metavar="OTHER", help="Label of the second; may be one.")],
    other_column: Annotated[str, typer.Argument(metavar="OTHER_COLUMN", help="Its column.")],
    apart: Annotated[
        float | None,
        typer.Option(
            help="Compare the clocks too: they are apart by at most so many seconds, either way."
        ),
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Compare a quantity recorded twice."""
    from gaugewright.services.campaign import campaigns
    from gaugewright.services.comparing import twice_recorded

    with campaigns.opened(folder, settings_of(context), read_only=True) as store:
        found = twice_recorded.compare(store, (recording, column), (other, other_column))
    left = None if apart is None else twice_recorded.clock_left(found, apart)
    plain = {"campaign": str(folder), **_plain(found)}
    if left is not None:
        plain["clocks"] = asdict(left)
    result(as_json, plain, _lines(found, left))


def _lines(found: "Twice", left: "ClockLeft | None") -> list[str]:
    from gaugewright.services.comparing import twice_words

    told = [
        twice_words.sentence(found),
        "",
        *table(("", "value", "note"), twice_words.rows(found)),
    ]
    if left is not None:
        told += ["", twice_words.clock_sentence(left), ""]
        told += table(("", "value", "note"), twice_words.clock_rows(left))
    return told


def _plain(found: "Twice") -> dict[str, Any]:
    agreed = found.found
    return {
        "first": {"recording": found.first.recording.record.label, "unit": found.first.unit},
        "second": {"recording": found.second.recording.record.label, "unit": found.second.unit},
        "instants": agreed.samples,
        "step_s": found.step,
        "gain": agreed.gain,
        "gain_standard_uncertainty": found.gain_uncertainty,
        "zero": agreed.zero,
        "zero_standard_uncertainty": agreed.zero_uncertainty,
        "mean_of_first": agreed.middle,
        "second_at_mean": agreed.at_middle,
        "second_at_mean_standard_uncertainty": found.middle_uncertainty,
        "degrees_of_freedom": agreed.degrees_of_freedom,
        "standard_deviation_left": agreed.residual,
        "of_which_noise": agreed.noise,
        "clocks_apart_standard_uncertainty_s": found.clock,
        "by_clocks_in_gain": found.by_clock_gain,
        "by_clocks_at_mean": found.by_clock_middle,
    }
