"""The command that shows a record of months: results long."""

from typing import TYPE_CHECKING, Annotated, Any

import typer

from gaugewright.cli.options import AsJson, CampaignFolder, settings_of
from gaugewright.cli.speech import result, table
from gaugewright.cli.teaching import teaching

if TYPE_CHECKING:
    from gaugewright.services.long_run.pairs import LongPair
    from gaugewright.services.long_run.term import Fit, LongTerm

__all__ = ["add_to"]

LONG = teaching(
    does="""Show one gauge over its whole record: segments with the step at every remade
    connection and what its zero leaves open, gaps with their reasons, local clocks put forward or
    back, the seasonal fit and the fit against temperature with their parameters, and the
    pair with its opposite over the months: mean, bending, and whether it fell apart. Nothing is
    written, and nothing of a fit is taken off.""",
    when="once readings, clocks and a zero are there; most use after months.",
    example="gaugewright results long bridge-2026 G07",
    after="gaugewright serve bridge-2026, whose Results draw the same record",
)


def add_to(app: typer.Typer) -> None:
    """Give the command of this module its name."""
    app.command("long", help=LONG)(long)


def long(
    context: typer.Context,
    folder: CampaignFolder,
    label: Annotated[
        str, typer.Argument(metavar="GAUGE", help="Label of a gauge.", show_default=False)
    ],
    as_json: AsJson = False,
) -> None:
    """Show one gauge over months."""
    from gaugewright.services.campaign import campaigns
    from gaugewright.services.campaign.book import Book
    from gaugewright.services.long_run import pairs as long_pairs
    from gaugewright.services.long_run import term as long_term
    from gaugewright.services.long_run import words as long_words
    from gaugewright.services.showing.page import Page
    from gaugewright.services.strain.strains import Desk

    with campaigns.opened(folder, settings_of(context), read_only=True) as store:
        desk = Desk(store, Book.read(store))
        look = long_term.look_at(desk, label)
        page = Page.of(desk)
        lines = [f"{label}, {look.strain.time.size} readings", ""]
        lines += long_words.sentences(page, look)
        pair = long_pairs.pair_of(desk, look)
        beside = () if pair is None else (long_pairs.pair_table(page, pair),)
        for one in (*long_words.tables(page, look), *beside):
            lines += ["", f"{one.title}. {one.about}", ""]
            lines += table(one.heads, one.rows) if one.rows else [one.empty]
        plain = {"campaign": str(folder), **_plain(look), "pair": _pair_plain(pair)}
    result(as_json, plain, lines)


def _pair_plain(pair: "LongPair | None") -> dict[str, Any] | None:
    from gaugewright.services.reading.series import EPOCH

    if pair is None:
        return None
    return {
        "opposite": pair.other.record.label,
        "falls_apart": pair.falls_apart,
        "change_of_bending": float(pair.change.value),
        "change_of_bending_standard_uncertainty": float(pair.change.standard_uncertainty()),
        "stretches": [
            {
                "begins_s_since_1970": EPOCH.timestamp() + each.begins,
                "ends_s_since_1970": EPOCH.timestamp() + each.ends,
                "readings": each.readings,
                "mean_strain": float(each.mean.value),
                "bending_strain": float(each.bending.value),
            }
            for each in pair.stretches
        ],
    }


def _plain(look: "LongTerm") -> dict[str, Any]:
    from datetime import timedelta

    from gaugewright.services.campaign.coverage import COVERAGE
    from gaugewright.services.reading.series import EPOCH

    def at(seconds: float) -> str:
        return (EPOCH + timedelta(seconds=seconds)).isoformat()

    segments = []
    for segment in look.segments:
        told: dict[str, Any] = {"channel": segment.channel, "begins": at(segment.begins)}
        told |= {"ends": at(segment.ends), "readings": segment.last - segment.first + 1}
        border = segment.border
        if border is not None:
            step = border.step
            told["zero"] = border.words
            told["step"] = None if step is None else step.value.item()
            told["step_expanded"] = None if step is None else float(step.expanded(COVERAGE))
            told["zero_expanded"] = border.transfer
        segments.append(told)
    return {
        "gauge": look.gauge.record.label,
        "zero": look.zero.value,
        "coverage": COVERAGE,
        "segments": segments,
        "gaps": [{"begins": at(g.begins), "ends": at(g.ends), "why": g.why} for g in look.gaps],
        "clocks": [
            {"at": at(t.at), "shift_s": t.shift, "zone": t.zone, "recording": t.recording}
            for t in look.turns
        ],
        "fits": [_fit_plain(fit) for fit in look.fits],
        "drift_expanded_at_end": None if look.drift is None else float(look.drift.expanded()),
        "reference": None if look.reference is None else look.reference.record.label,
    }


def _fit_plain(fit: "Fit") -> dict[str, Any]:
    found = fit.found
    if found is None:
        return {"fit": fit.name, "why_not": list(fit.why)}
    doubts = found.standard_uncertainties.tolist()
    return {
        "fit": fit.name,
        "not_fitted": list(fit.why),
        "terms": {
            term: {"value": value, "standard_uncertainty": doubt}
            for term, value, doubt in zip(
                found.terms, found.coefficients.tolist(), doubts, strict=True
            )
        },
        "cycles": [
            {
                "period_s": cycle.period,
                "amplitude": cycle.amplitude,
                "standard_uncertainty": cycle.amplitude_uncertainty,
            }
            for cycle in found.cycles
        ],
        "degrees_of_freedom": found.degrees_of_freedom,
        "standard_deviation_left": found.residual_deviation,
        "share": found.share,
    }
