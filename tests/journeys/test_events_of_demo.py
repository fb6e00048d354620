"""Cracking, yield and holds of the demo, judged by the truth that was kept apart from it."""

import json
from datetime import timedelta

import pytest

from gaugewright.records.identity import working_context
from gaugewright.records.readings import LoadStep
from gaugewright.services.campaign.book import Book
from gaugewright.services.demo import demo
from gaugewright.services.gauge import look as gauge_look
from gaugewright.services.loading import holds as load_holds
from gaugewright.services.reading.series import EPOCH
from gaugewright.services.strain.strains import Desk
from gaugewright.store.campaign import CampaignStore

pytestmark = [pytest.mark.full, pytest.mark.long]


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """The demo, made once at full length."""
    return demo.run(tmp_path_factory.mktemp("demo") / "campaign")


@pytest.fixture(scope="module")
def truth(made):
    """What was true."""
    return json.loads((made.truth / "truth.json").read_text())


@pytest.fixture(scope="module")
def desk(made):
    """The reduced campaign, read only."""
    with CampaignStore.open(made.campaign, working_context(), read_only=True) as store:
        yield Desk(store, Book.read(store))


@pytest.fixture(scope="module")
def events(desk):
    """Events of every gauge and pair by label, event and criterion."""
    return {
        (one.label, event.kind, event.name): event
        for one in gauge_look.every_event(desk)
        for event in one.events
        if event.load is not None
    }


def test_departure_tells_when_the_bar_yields(truth, events) -> None:
    seen = 0
    for pair, load in truth["questions"]["yield load of pairs_n"].items():
        for label in (pair, *pair.split(" with ")):
            event = events.get((label, "yield", "departure"))
            if event is None or load is None:
                continue
            seen += 1
            assert event.load.value.item() == pytest.approx(load, abs=500), label
            assert abs(event.load.value.item() - load) < event.load.expanded().item(), label
    assert seen >= 10


def test_every_crack_by_its_step_was_opened_at_that_load(truth, events) -> None:
    opened = [load for _, load in truth["beam"]["crack position_m and opening load_n"]]
    found = [e for (_, _, name), e in events.items() if name == "step"]
    assert len(found) >= 15
    for event in found:
        load = event.load.value.item()
        nearest = min(opened, key=lambda one: abs(one - load))
        assert load == pytest.approx(nearest, abs=200)
        assert abs(load - nearest) < event.load.expanded().item()


def test_every_load_step_is_found_as_a_hold_and_no_other(desk) -> None:
    held = load_holds.held_loads(desk)
    steps = {step.record.label: step.record for step in desk.book.of(LoadStep)}
    # 'after seating' and 'quiet after' go on from the step before at the same load.
    wanted = set(steps) - {"after seating", "quiet after"}
    named = {one.label for one in held}
    assert wanted <= named | {"seating 3 down", "unload"}
    for one in held:
        middle = EPOCH + timedelta(seconds=(one.begins + one.ends) / 2)
        assert any(
            s.begins - timedelta(seconds=30) <= middle <= s.ends + timedelta(seconds=30)
            for s in steps.values()
        ), one
