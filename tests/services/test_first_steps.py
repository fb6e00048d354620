"""First steps of a laboratory are done by what is there, not by being ticked."""

from datetime import UTC, datetime
from pathlib import Path

from gaugewright import settings
from gaugewright.services.campaign.campaigns import Summary
from gaugewright.services.guides.first_steps import first_steps


def done(tmp_path: Path, *campaigns: Summary, somebody: bool = False, **own: str) -> list[bool]:
    in_force = settings.load(own, environment={}, user_folder=tmp_path / "no settings")
    return [s.done for s in first_steps(in_force, campaigns, is_somebody_at_work=somebody)]


def test_nothing_is_done_where_nothing_is_and_the_demo_doesnt_count(tmp_path):
    assert done(tmp_path) == [False] * 5
    demo = Summary(tmp_path / "demo", invented=True, gauges=30, recordings=6)
    broken = Summary(tmp_path / "old", gauges=3, problem="it can't be read")
    assert done(tmp_path, demo, broken) == [False] * 5


def test_each_step_is_done_by_what_it_asks_for(tmp_path):
    own = Summary(tmp_path / "beam")
    assert done(tmp_path, own) == [True, False, False, False, False]
    assert done(tmp_path, somebody=True) == [False, True, False, False, False]
    placed = Summary(tmp_path / "beam", gauges=1, last_entry=datetime(2026, 1, 1, tzinfo=UTC))
    read = Summary(tmp_path / "slab", recordings=1)
    assert done(tmp_path, placed) == [True, False, True, False, False]
    everything = done(tmp_path, placed, read, somebody=True, laboratory=str(tmp_path))
    assert everything == [True] * 5


def test_steps_inside_a_campaign_lead_into_the_newest_own_one(tmp_path):
    in_force = settings.load({}, environment={}, user_folder=tmp_path / "no settings")
    old = Summary(tmp_path / "old", last_entry=datetime(2025, 1, 1, tzinfo=UTC))
    new = Summary(tmp_path / "new", last_entry=datetime(2026, 1, 1, tzinfo=UTC))
    places = [s.place for s in first_steps(in_force, (new, old), is_somebody_at_work=True)]
    assert places[2:4] == ["/c/new/plan", "/c/new/readings"]
    none = [s.place for s in first_steps(in_force, (), is_somebody_at_work=True)]
    assert none[2:4] == ["/new", "/new"]
