"""Load steps marked after the test: the holds that the load itself shows."""

from datetime import timedelta

from gaugewright.errors import InputError
from gaugewright.present.units_shown import System, in_shown, unit_shown
from gaugewright.records import Entry
from gaugewright.records.readings import LoadStep
from gaugewright.records.specimen import Question
from gaugewright.services.campaign import campaigns
from gaugewright.services.campaign.book import Book
from gaugewright.services.loading.holds import HeldLoad, held_loads
from gaugewright.services.reading.series import EPOCH
from gaugewright.services.strain.strains import Desk
from gaugewright.store.campaign import CampaignStore

__all__ = ["mark_holds", "unmarked_holds"]

_UNLOADED = 0.05  # of the largest load held; below it nothing was meant to be held
_MEANT = 0.02  # of a load that a question names: so near, it was the one that was meant


def unmarked_holds(desk: Desk) -> tuple[LoadStep, ...]:
    """Load steps as the load cell shows them, where nobody marked any; none without a load.

    The load meant is the one that a question names, where the hold is within 2 % of it (common
    practice, no source), else what was held, to three digits.
    """
    if desk.book.of(LoadStep):
        return ()
    try:
        held = held_loads(desk)
    except InputError:
        return ()  # no load was read: there is nothing to hold
    largest = max((abs(one.level) for one in held), default=0.0)
    asked = {one.record.load for one in desk.book.of(Question)} - {None}
    found = [one for one in held if abs(one.level) > _UNLOADED * largest]
    system = campaigns.system_of(desk.store)
    steps: list[LoadStep] = []
    for one in found:
        load = _meant(one.level, [load for load in asked if load])
        steps.append(_step(one, load, system, sum(load == other.load for other in steps)))
    return tuple(steps)


def _meant(level: float, asked: list[float]) -> float:
    near = [load for load in asked if abs(level - load) <= _MEANT * abs(load)]
    return min(near, key=lambda load: abs(load - level), default=float(f"{level:.3g}"))


def _step(held: HeldLoad, load: float, system: System, before: int) -> LoadStep:
    """Called by its load, and by how often that was held where it was before."""
    unit = unit_shown("force", system).text
    name = f"{in_shown(load, 'force', system):.3g} {unit}"
    begins, ends = (EPOCH + timedelta(seconds=one) for one in (held.begins, held.ends))
    return LoadStep(f"{name} ({before + 1})" if before else name, begins, ends, load)


def mark_holds(store: CampaignStore) -> tuple[Entry[LoadStep], ...]:
    """Keep every hold that the load shows as a load step.

    Raises
    ------
    InputError
        If load steps are marked already, or the load never stood still.
    """
    steps = unmarked_holds(Desk(store, Book.read(store)))
    if not steps:
        raise InputError("holds", "none to be marked", "a load that stood still, with no step yet")
    with store.several():
        return tuple(store.add(one, reason="held, as the load cell shows") for one in steps)
