"""A long record in words and tables: one wording for pages and for the command line."""

import math
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from gaugewright.calc.evaluation import coverage_factor
from gaugewright.calc.seasons import DAY, YEAR, Cycle, SeasonFit
from gaugewright.calc.uncertainty import Uncertain
from gaugewright.present.numbers import significant_text
from gaugewright.present.units_shown import quantity_shown
from gaugewright.services.campaign.coverage import COVERAGE
from gaugewright.services.long_run.term import Fit, LongTerm, Segment
from gaugewright.services.reading.series import EPOCH
from gaugewright.services.showing.page import Page

__all__ = ["WordTable", "length_shown", "sentences", "tables"]


@dataclass(frozen=True, slots=True)
class WordTable:
    """A table of cells in words; ``empty`` is said when it has no rows."""

    key: str
    title: str
    about: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    empty: str


def sentences(page: Page, look: LongTerm) -> tuple[str, ...]:
    """What stands behind the record: zero, drift, reference, and that no season is taken off."""
    told = [
        f"Strain since the zero {look.zero.value}. Season and temperature are fitted beside it; "
        "nothing of them is taken off."
    ]
    if look.drift is None:
        told.append(
            "No drift that grows with time is allowed for: gaugewright drift CAMPAIGN RATE would "
            "let it count."
        )
    else:
        told.append(
            f"Drift allowed for has grown to ± {_strain(page, 0.0, _expanded(look.drift))} at the "
            f"last reading, beside everything else; from: {look.drift_source}."
        )
    if look.reference is None:
        told.append("No reference gauge is taken off.")
    else:
        name = look.reference.record.label
        told.append(f"The strain of {name}, which carries no load, is taken off as reference.")
    return tuple(told)


def tables(page: Page, look: LongTerm) -> tuple[WordTable, ...]:
    """Segments, gaps, turns of the clock, and each fit's parameters."""
    return (
        _segments(page, look),
        _gaps(page, look),
        _turns(page, look),
        *(_fit(page, look, fit) for fit in look.fits),
    )


def length_shown(seconds: float) -> str:
    """A length of time in the unit a person would say it in."""
    for unit, size in (("d", DAY), ("h", 3600.0), ("min", 60.0)):
        if seconds >= 2 * size:
            return f"{significant_text(float(f'{seconds / size:.3g}'))} {unit}"
    return f"{significant_text(float(f'{seconds:.3g}'))} s"


def _segments(page: Page, look: LongTerm) -> WordTable:
    rows = tuple(
        (
            str(number),
            segment.channel,
            _moment(page, segment.begins),
            _moment(page, segment.ends),
            str(segment.last - segment.first + 1),
            *_border_cells(page, segment),
        )
        for number, segment in enumerate(look.segments, start=1)
    )
    return WordTable(
        "segments",
        "Segments",
        "A connection that was remade opens a segment. The step holds what the strain did "
        "meanwhile and what the contacts did; ± of the zero is what carrying it over leaves open.",
        ("Segment", "Channel", "From", "To", "Readings", "Step before it", "± of the zero", "Zero"),
        rows,
        "There are no readings.",
    )


def _border_cells(page: Page, segment: Segment) -> tuple[str, str, str]:
    border = segment.border
    if border is None:
        return ("", "", "its own")
    if border.step is None or border.transfer is None:
        return ("no strain on one side", "", border.words)
    step = _strain(page, border.step.value.item(), _expanded(border.step), sign=True)
    return (step, _strain(page, 0.0, border.transfer), border.words)


def _gaps(page: Page, look: LongTerm) -> WordTable:
    rows = tuple(
        (
            _moment(page, gap.begins),
            _moment(page, gap.ends),
            length_shown(gap.ends - gap.begins),
            gap.why,
        )
        for gap in look.gaps
    )
    return WordTable(
        "gaps",
        "Gaps",
        "No reading for ten usual steps, and at least a minute. Nothing is drawn across.",
        ("Last reading", "Next reading", "Length", "Why"),
        rows,
        "No gap is longer than ten usual steps.",
    )


def _turns(page: Page, look: LongTerm) -> WordTable:
    rows = tuple(
        (
            _moment(page, turn.at),
            f"{'forward' if turn.shift > 0 else 'back'} {length_shown(abs(turn.shift))}",
            turn.zone,
            turn.recording,
            str(turn.unknown),
        )
        for turn in look.turns
    )
    return WordTable(
        "clocks",
        "Local clocks put forward or back",
        "Readings stand at their instants, so nothing moves here. Rows stamped in an hour that "
        "came twice have no time and no place; they stay in the recording.",
        ("At", "Clock went", "Zone", "Recording", "Its rows without a time"),
        rows,
        "No recorder's local clock was put forward or back inside a recording.",
    )


def _fit(page: Page, look: LongTerm, fit: Fit) -> WordTable:
    title = {"season": "Seasonal fit", "temperature": "Fit against temperature"}[fit.name]
    about = (
        "Least squares with a level for each segment; ± covers 95 % and allows for what is alike "
        "within a fortieth of the record. Shown only: a fit can't tell a season of the "
        "structure from one of the gauge."
    )
    rows = () if fit.found is None else tuple(_parameters(page, look, fit.found))
    if fit.found is not None:
        about += "".join(f" {words[0].upper()}{words[1:]}." for words in fit.why)
    return WordTable(
        fit.name,
        title,
        about,
        ("Parameter", "Value", "Note"),
        rows,
        "Not fitted: " + "; ".join(fit.why) + ".",
    )


def _parameters(page: Page, look: LongTerm, found: SeasonFit) -> list[tuple[str, str, str]]:
    factor = float(coverage_factor(found.degrees_of_freedom, COVERAGE))
    doubts = factor * found.standard_uncertainties
    rows = []
    for place, term in enumerate(found.terms):
        value, doubt = float(found.coefficients[place]), float(doubts[place])
        if term == "change each second":
            shown = _strain(page, value * YEAR, doubt * YEAR, sign=True)
            rows.append(("steady change, each year", shown, _share(page, look)))
        if term == "each kelvin":
            slope = quantity_shown("thermal_output_slope", value, doubt, page.system, sign=True)
            rows.append(("each kelvin at the gauge", slope.text, ""))
    rows += [_cycle(page, look, cycle, factor) for cycle in found.cycles]
    rows += _levels(page, look, found, factor)
    left = _strain(page, 0.0, found.residual_deviation)
    taken = f"{100 * found.share:.3g} % of what moves about levels and steady change"
    rows.append(("standard deviation left", left, f"the fit takes up {taken}"))
    return rows


def _share(page: Page, look: LongTerm) -> str:
    """Beside the steady change: what the allowance for drift would make of it."""
    if look.drift is None:
        return "structure or gauge: nothing is allowed for drift of the gauge"
    return f"drift allowed by the end: ± {_strain(page, 0.0, _expanded(look.drift))}"


def _cycle(page: Page, look: LongTerm, cycle: Cycle, factor: float) -> tuple[str, str, str]:
    name = "a year" if cycle.period == YEAR else "a day"
    size = _strain(page, cycle.amplitude, factor * cycle.amplitude_uncertainty)
    begins = look.segments[0].begins
    first = begins + math.fmod(cycle.highest - begins, cycle.period)
    first += cycle.period if first < begins else 0.0
    late = factor * cycle.highest_uncertainty
    at = EPOCH + timedelta(seconds=first)
    when = f"{at.day} {at:%B %Y}" if cycle.period == YEAR else f"{at.astimezone(UTC):%H:%M} UTC"
    known = f" ± {length_shown(late)}" if late < cycle.period / 4 else ", hardly known"
    return (f"cycle of {name}, amplitude", size, f"highest {when}{known}")


def _levels(
    page: Page, look: LongTerm, found: SeasonFit, factor: float
) -> list[tuple[str, str, str]]:
    """Steps from segment to segment as the fit sees them, each with its covariance."""
    count = sum(term.startswith("level") for term in found.terms)
    rows = []
    for place in range(1, count):
        step = float(found.coefficients[place] - found.coefficients[place - 1])
        part = found.covariances[place - 1 : place + 1, place - 1 : place + 1]
        doubt = factor * math.sqrt(part[0, 0] + part[1, 1] - 2 * part[0, 1])
        shown = _strain(page, step, doubt, sign=True)
        rows.append(
            (
                f"level of segment {place + 1} less that of {place}",
                shown,
                "as the fit sees it; the readings keep theirs",
            )
        )
    return rows


def _strain(page: Page, value: float, doubt: float | None, *, sign: bool = False) -> str:
    """A strain with its ±; with a value of 0 only what stands behind the ±."""
    if value == 0.0 and doubt is not None:
        return quantity_shown("strain", float(f"{doubt:.2g}"), None, page.system).text
    return quantity_shown("strain", value, doubt or None, page.system, sign=sign).text


def _expanded(value: Uncertain) -> float:
    return float(value.expanded(COVERAGE))


def _moment(page: Page, seconds: float) -> str:
    return page.moment(_instant(seconds))


def _instant(seconds: float) -> datetime:
    return EPOCH + timedelta(seconds=seconds)
