"""Everything that one gauge or pair says under load: events, holds, falls, loops, what stayed."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from gaugewright.calc.uncertainty import Uncertain
from gaugewright.present.numbers import Shown
from gaugewright.present.units_shown import System, quantity_shown
from gaugewright.records.stated import State
from gaugewright.services.campaign.coverage import COVERAGE
from gaugewright.services.campaign.states import state_of_gauge
from gaugewright.services.gauge.named import labels, record_labelled
from gaugewright.services.loading.events import Event, events_of
from gaugewright.services.loading.holds import HeldLoad, HoldRow, held_loads, hold_rows
from gaugewright.services.loading.paths import (
    LoopRow,
    ResidualRow,
    UnloadingRow,
    loop_rows,
    residual_rows,
    unloading_rows,
)
from gaugewright.services.reading.series import EPOCH
from gaugewright.services.showing.page import UNUSABLE
from gaugewright.services.strain.strains import Desk
from gaugewright.services.under_load.record import BETWEEN, GaugeRecord

__all__ = [
    "Companion",
    "GaugeLook",
    "SpecimenEvent",
    "every_event",
    "instant_of",
    "look_at",
    "number",
    "of_specimen",
    "state_of",
]


@dataclass(frozen=True, slots=True)
class GaugeLook:
    """One gauge or pair under load, as numbers with their uncertainty (SI)."""

    record: GaugeRecord
    state: State
    events: tuple[Event, ...]
    holds: tuple[HoldRow, ...]
    unloadings: tuple[UnloadingRow, ...]
    residuals: tuple[ResidualRow, ...]
    loops: tuple[LoopRow, ...]


@dataclass(frozen=True, slots=True)
class Companion:
    """Events of one gauge or pair among all of a campaign's."""

    label: str
    station: str
    state: State
    zero: str
    events: tuple[Event, ...]


@dataclass(frozen=True, slots=True)
class SpecimenEvent:
    """First and last load at which the usable gauges showed an event by one criterion."""

    kind: str
    name: str
    first: Companion
    first_load: Uncertain
    last: Companion
    last_load: Uncertain
    gauges: int


def look_at(desk: Desk, label: str, held: tuple[HeldLoad, ...] | None = None) -> GaugeLook:
    """Everything about one gauge, or about a pair written ``ONE with OTHER``.

    Raises
    ------
    InputError
        If there is no such gauge, nothing is reduced, or no load was recorded.
    """
    record = record_labelled(desk, label)
    holds = hold_rows(record, held_loads(desk) if held is None else held)
    return GaugeLook(
        record,
        state_of(record),
        events_of(record),
        holds,
        unloading_rows(record),
        residual_rows(record, holds),
        loop_rows(record),
    )


def state_of(record: GaugeRecord) -> State:
    """Worst state among the gauges of a record."""
    order = list(State)
    states = [state_of_gauge(record.desk.book, gauge) for gauge in record.gauges]
    return max(states, key=order.index)


def every_event(desk: Desk) -> tuple[Companion, ...]:
    """Events of every gauge, then of every usable pair."""
    singles, pairs = labels(desk)
    made = []
    for label in (*singles, *pairs):
        record = record_labelled(desk, label)
        made.append(
            Companion(
                record.label,
                record.station,
                state_of(record),
                record.zero.value,
                events_of(record),
            )
        )
    return tuple(made)


def of_specimen(found: tuple[Companion, ...]) -> tuple[SpecimenEvent, ...]:
    """First and last of the usable single gauges, criterion by criterion."""
    usable = [one for one in found if one.state not in UNUSABLE and BETWEEN not in one.label]
    names = dict.fromkeys((event.kind, event.name) for one in usable for event in one.events)
    made = []
    for kind, name in names:
        seen = [
            (event.load, one)
            for one in usable
            for event in one.events
            if (event.kind, event.name) == (kind, name) and event.load is not None
        ]
        if not seen:
            continue
        first = min(seen, key=lambda pair: pair[0].value.item())
        last = max(seen, key=lambda pair: pair[0].value.item())
        made.append(SpecimenEvent(kind, name, first[1], first[0], last[1], last[0], len(seen)))
    return tuple(made)


def number(
    value: Uncertain | None, quantity: str, system: System, *, sign: bool = False
) -> Shown | None:
    """A value with its expanded uncertainty, as it stands on a page; None stays None."""
    if value is None:
        return None
    doubt = float(value.expanded(COVERAGE))
    return quantity_shown(quantity, value.value.item(), doubt or None, system, sign=sign)


def instant_of(seconds: float) -> datetime:
    """Moment of a campaign time."""
    return EPOCH + timedelta(seconds=seconds)
