"""Numbers along a bar as a person reads them, for pages and commands alike."""

from gaugewright.calc.bond import BondStep
from gaugewright.calc.uncertainty import Uncertain
from gaugewright.present.numbers import Shown
from gaugewright.present.units_shown import quantity_shown
from gaugewright.services.along_bars.slip import Averages, LawPoint, PredictedAt
from gaugewright.services.along_bars.stations import StationValue
from gaugewright.services.campaign.coverage import COVERAGE
from gaugewright.services.showing.page import Page

__all__ = [
    "law_cells",
    "mean_facts",
    "mean_words",
    "number_shown",
    "station_cells",
    "station_note",
    "step_cells",
    "why_unpredicted",
]


def number_shown(page: Page, quantity: str, value: Uncertain | None) -> Shown | None:
    """A single value with its expanded uncertainty; None stays None."""
    if value is None:
        return None
    doubt = value.expanded(COVERAGE).item()
    return quantity_shown(quantity, value.value.item(), doubt or None, page.system)


def station_note(station: StationValue) -> str:
    """Why a station lacks something, and whether it is a pair."""
    kind = "mean of two opposite gauges" if station.is_pair else ""
    return "; ".join(part for part in (kind, *station.notes) if part)


def why_unpredicted(predicted: tuple[PredictedAt, ...]) -> str:
    """Why some stations have no prediction, each reason once; "" where all have one."""
    why = list(dict.fromkeys(one.note for one in predicted if one.note))
    return f"Not predicted: {'; '.join(why)}" if why else ""


def station_cells(page: Page, station: StationValue, predicted: PredictedAt) -> tuple[str, ...]:
    """A station in a plain table: label, place, strain, predicted, force, note."""
    shown = [
        number_shown(page, quantity, value)
        for quantity, value in (
            ("distance", station.distance),
            ("strain", station.strain),
            ("strain", predicted.cracked),
            ("force", station.force),
        )
    ]
    return (
        station.label,
        *("" if number is None else number.text for number in shown),
        station_note(station),
    )


def step_cells(page: Page, step: BondStep) -> tuple[str, ...]:
    """A mean bond stress in a plain table: between which, value, over which lost stations."""
    number = number_shown(page, "bond_stress", step.stress)
    return (
        " to ".join(step.between),
        "" if number is None else number.text,
        ", ".join(step.over),
    )


def law_cells(page: Page, one: LawPoint) -> tuple[str, ...]:
    """Measured bond stress beside the law in a plain table."""
    low, high = (
        quantity_shown("bond_stress", value, None, page.system)
        for value in (one.law_low, one.law_high)
    )
    return (
        quantity_shown("distance", one.place, None, page.system).text,
        quantity_shown("slip", one.slip, one.slip_plus_minus or None, page.system).text,
        quantity_shown("bond_stress", one.measured, one.measured_plus_minus, page.system).text,
        quantity_shown("bond_stress", one.law, None, page.system).text,
        f"{low.value} to {high.text}",
    )


def mean_facts(page: Page, mean: Averages) -> tuple[tuple[str, Shown], ...]:
    """Numbers of a mean over cracks, each with its name."""
    first, last = (
        quantity_shown("distance", place, None, page.system) for place in (mean.first, mean.last)
    )
    wanted = [
        (f"Mean strain from {first.text} to {last.text}", "strain", mean.strain),
        (f"Largest at a station, {mean.highest_at}", "strain", mean.highest),
        ("Mean force that the concrete carries between its cracks", "force", mean.concrete),
    ]
    return tuple(
        (name, number)
        for name, quantity, value in wanted
        if (number := number_shown(page, quantity, value)) is not None
    )


def mean_words(page: Page, mean: Averages) -> list[str]:
    """The same as lines."""
    return [
        *(f"{name}: {number.text}." for name, number in mean_facts(page, mean)),
        f"The mean is {mean.initial}; compare it only over two crack spacings or more.",
    ]
