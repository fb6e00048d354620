"""How one campaign's numbers, times and names are written on its sheets."""

from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from gaugewright.present.numbers import Shown, shown, significant_text
from gaugewright.present.units_shown import System, UnitShown, quantity_shown, unit_shown
from gaugewright.quantities import QUANTITIES
from gaugewright.records import Entry
from gaugewright.records.electrical import BridgeCircuit
from gaugewright.records.gauges import Gauge
from gaugewright.records.identity import Uid
from gaugewright.records.results import Result
from gaugewright.records.stated import State, Stated
from gaugewright.services.campaign import campaigns
from gaugewright.services.campaign.book import Book
from gaugewright.services.campaign.circuits import circuit_of
from gaugewright.services.campaign.states import state_of_gauge
from gaugewright.services.strain.strains import Desk

__all__ = ["UNUSABLE", "Page"]

# A gauge in one of these states gets its own row but no part in an answer.
UNUSABLE = (State.REPAIR, State.DOUBTFUL, State.LOST)
# A result states its coherent unit; which of the quantities with that unit it is shown like.
_LIKE = {"N": "force", "Pa": "stress", "1": "strain", "rad": "angle", "1/m": "curvature"}


@dataclass(frozen=True, slots=True)
class Page:
    """The campaign under report, in the units and the time zone its reader expects."""

    desk: Desk
    system: System
    zone: ZoneInfo

    @classmethod
    def of(cls, desk: Desk) -> "Page":
        """Page of a campaign, as its own record says."""
        zone = ZoneInfo(desk.store.campaign.record.zone)
        return cls(desk, campaigns.system_of(desk.store), zone)

    @property
    def book(self) -> Book:
        """Records of the campaign."""
        return self.desk.book

    def moment(self, instant: datetime) -> str:
        """Day and minute in the campaign's zone."""
        local = instant.astimezone(self.zone)
        return f"{local.day} {local:%B %Y, %H:%M}"

    def stated(self, quantity: str, stated: Stated) -> Shown:
        """A value as stated, with its plus-minus as stated."""
        doubt = stated.plus_minus or None  # a stated doubt of nothing is none that can be shown
        return quantity_shown(quantity, stated.value, doubt, self.system)

    def result(self, result: Result) -> Shown | None:
        """A result's number; None when it has none.

        A doubt of exactly nothing can't be rounded to: such a value is shown without one.
        """
        if result.value is None:
            return None
        doubt = result.expanded_uncertainty or None
        return self.number(result.value, doubt, result.unit)

    def number(self, value: float, plus_minus: float | None, unit: str) -> Shown:
        """A number in a coherent unit, or in a unit of its own such as scans."""
        like = _like(unit)
        if like:
            return quantity_shown(like, value, plus_minus, self.system)
        if plus_minus is None:
            return Shown(significant_text(value), "", unit)
        return shown(value, plus_minus, unit)

    def unit_like(self, unit: str) -> UnitShown | None:
        """Unit in which numbers of a coherent unit are shown; None for units of their own."""
        like = _like(unit)
        return unit_shown(like, self.system) if like else None

    def state(self, gauge: Entry[Gauge]) -> State:
        """State of a gauge on the one scale."""
        return state_of_gauge(self.book, gauge)

    def worst(self, gauges: tuple[Uid, ...]) -> State:
        """Worst state among some gauges."""
        order = list(State)
        states = [self.state(self.book.entry(uid, Gauge)) for uid in gauges]
        return max(states, key=order.index, default=State.NOT_YET)

    def labels(self, uids: tuple[Uid, ...]) -> list[str]:
        """What people call these records."""
        return [self.book.label(uid) for uid in uids]

    def circuit_of(self, gauge: Entry[Gauge]) -> Entry[BridgeCircuit] | None:
        """Circuit a gauge is wired into, or None while it isn't."""
        return circuit_of(self.book, gauge)


def _like(unit: str) -> str:
    """Quantity that stands for a coherent unit, or "" for a unit of its own."""
    return _LIKE.get(unit) or next(
        (name for name, q in QUANTITIES.items() if q.unit == unit and unit != "1"), ""
    )
