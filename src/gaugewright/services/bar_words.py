"""Numbers along a bar as a person reads them, for pages and commands alike."""

from gaugewright.calc.bond import BondStep
from gaugewright.calc.uncertainty import Uncertain
from gaugewright.present.numbers import Shown
from gaugewright.present.units_shown import quantity_shown
from gaugewright.services.bar_slip import PredictedAt
from gaugewright.services.bar_stations import StationValue
from gaugewright.services.handover_page import Page
from gaugewright.services.reduction_results import COVERAGE

__all__ = ["number_shown", "station_cells", "station_note", "step_cells", "why_unpredicted"]


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
