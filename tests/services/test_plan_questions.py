"""What a plan can answer: doubts and chances by hand, proposals, plans that can't be."""

import math
from pathlib import Path

import numpy as np
import pytest

from gaugewright import settings
from gaugewright.errors import InputError
from gaugewright.records.identity import working_context
from gaugewright.records.proof import Limit
from gaugewright.records.specimen import Question, Station
from gaugewright.services.campaign.book import Book
from gaugewright.services.plan.added import stations_added
from gaugewright.services.plan.book import PlanChoice
from gaugewright.services.plan.losses import losses_of
from gaugewright.services.plan.questions import (
    ENOUGH,
    SHORT,
    UNTOLD,
    PlannedQuestion,
    PlannedQuestions,
)
from gaugewright.services.plan.strains import PlannedReadings
from gaugewright.store.campaign import CampaignStore
from tests.services import planned_campaigns as made

LIMIT = math.sqrt(3)


@pytest.fixture(scope="module")
def brace(tmp_path_factory):
    folder = tmp_path_factory.mktemp("plan") / "brace"
    made.brace(folder)
    return folder


@pytest.fixture(scope="module")
def plan(brace):
    with CampaignStore.open(brace, working_context(), read_only=True) as store:
        yield PlannedQuestions(store, Book.read(store))


def named(plan: PlannedQuestions, label: str) -> PlannedQuestion:
    return next(one for one in plan.every() if one.question.record.label == label)


def contributions(one: PlannedQuestion) -> dict[str, float]:
    """Root sum of squares of causes with one meaning, of the worst place."""
    found: dict[str, float] = {}
    for line in one.answer.worst.value.budget().lines:
        found[line.meaning] = math.hypot(found.get(line.meaning, 0.0), line.contribution)
    return found


def test_doubts_of_a_pairs_force_are_those_worked_out_by_hand(plan):
    one = named(plan, "axial")
    force = made.FORCE
    assert one.predicted == pytest.approx(force, rel=1e-9)
    found = contributions(one)
    card = 0.021 / 2.1 / LIMIT  # 1 % as a limit, half of its variance shared by the pack
    assert found["gauge factor, what all gauges of the pack share"] == pytest.approx(
        force * card * math.sqrt(0.5), rel=2e-3
    )
    assert found["gauge factor, this gauge's own part"] == pytest.approx(
        force * card * math.sqrt(0.5) / math.sqrt(2), rel=2e-3
    )
    assert found["installation of this gauge"] == pytest.approx(
        force * 0.015 / math.sqrt(2), rel=2e-3
    )
    assert found["modulus of the steel"] == pytest.approx(force * 0.02 / LIMIT, rel=2e-3)
    # 2 µε/K as a limit over a rise of 5 K, the same for both gauges of the pack.
    slope = 2e-6 * 5 / LIMIT * made.MODULUS * made.AREA
    assert found["thermal output of the pack"] == pytest.approx(slope, rel=1e-2)


def test_a_pair_that_lost_one_carries_the_bars_own_bending(plan):
    one = named(plan, "axial")
    # A tenth of the force by itself is twice that at 95 %.
    assert one.answer.reduced > 1.95 * 0.1 * made.FORCE
    assert one.answer.needs == "needs both gauges of each of 2 pairs"


def test_the_chance_of_two_pairs_is_that_worked_out_by_hand(plan):
    one = named(plan, "axial")
    bundle, bar, alone = 0.95, 0.98, 0.95
    assert one.chance == pytest.approx(bundle * bar * alone**4, abs=1e-12)
    pair = alone**2
    assert one.any_chance == pytest.approx(bundle * bar * (1 - (1 - pair) ** 2), abs=1e-12)


def test_yield_is_predicted_and_its_load_cell_counts(plan):
    one = named(plan, "yield")
    assert one.predicted == pytest.approx(made.YIELD * made.AREA, rel=1e-6)
    cell = contributions(one)["load cell, not calibrated yet"]
    assert cell == pytest.approx(made.YIELD * made.AREA * 0.005 / LIMIT, rel=1e-6)
    assert one.standing == ENOUGH
    assert one.answer.margin == pytest.approx(60e3 / one.answer.resolution)


def test_standings_follow_margin_and_chance(plan):
    assert named(plan, "fine").standing == SHORT
    assert "times what is asked for" in named(plan, "fine").why
    assert plan.nearest(named(plan, "fine")).startswith("no single step is enough; the nearest:")
    assert named(plan, "odd").standing == UNTOLD
    assert "isn't worked out in advance" in named(plan, "odd").why


def test_a_load_that_nothing_carries_is_answered_with_what_it_carries(plan):
    one = named(plan, "too much")
    assert one.standing == UNTOLD
    # Yield, and then 2 GPa along the rest of a strain of 0.2.
    most = (made.YIELD + 2e9 * (0.2 - made.YIELD / made.MODULUS)) * made.AREA
    assert f"up to {most / 1e3:.4g} kN" in one.why


def test_a_second_gauge_opposite_and_another_bundle_gain_what_they_should(plan):
    gains = {gain.words.split(",")[0]: gain for gain in named(plan, "one side").gains}
    beside = gains["every place a second time"]
    bar, bundle, alone = 0.98, 0.95, 0.95
    one = bundle * alone
    assert beside.chance == pytest.approx(bar * (1 - (1 - one) ** 2), abs=1e-12)
    assert beside.channels == 1
    opposite = gains["a second gauge opposite T0"]
    assert opposite.channels == 1
    assert opposite.resolution < named(plan, "one side").answer.resolution


def test_calibrated_bars_take_the_place_of_the_scatter_of_bonding(plan):
    one = named(plan, "axial")
    gain = next(gain for gain in one.gains if gain.words.startswith("calibrate"))
    before = contributions(one)["installation of this gauge"]
    variance = float(one.answer.worst.value.standard_uncertainty()) ** 2
    after = variance - before**2 + (before / 3) ** 2
    ratio = gain.resolution / one.answer.resolution
    # Degrees of freedom change with the parts: the ratio of the expanded ones follows within 1 %.
    assert ratio == pytest.approx(math.sqrt(after / variance), rel=0.01)


def test_a_question_without_stations_gets_some_and_they_can_be_written_down(tmp_path):
    folder = tmp_path / "brace"
    made.brace(folder)
    with CampaignStore.open(folder, working_context()) as store:
        book = Book.read(store)
        planned = PlannedQuestions(store, book)
        one = planned.one(book.labelled(Question, "nowhere"), gains=False)
        assert [s.angle_planned for s in one.proposed.stations] == [0.0, math.pi]
        assert {s.distance_planned for s in one.proposed.stations} == {1.5}
        assert one.predicted == pytest.approx(made.FORCE / made.AREA, rel=1e-9)
        added = stations_added(store, book, "nowhere")
        book = Book.read(store)
        asked = book.labelled(Question, "nowhere").record
        assert asked.stations == tuple(entry.uid for entry in added)
        again = PlannedQuestions(store, book).one(book.labelled(Question, "nowhere"), gains=False)
        assert again.answer.resolution == pytest.approx(one.answer.resolution, rel=1e-12)
        with pytest.raises(InputError, match="none yet"):
            stations_added(store, book, "nowhere")
        assert len(book.of(Station)) == 6


def test_a_limit_that_is_changed_changes_the_plan(tmp_path):
    folder = tmp_path / "brace"
    made.brace(folder)
    with CampaignStore.open(folder, working_context()) as store:
        before = named(PlannedQuestions(store, Book.read(store)), "axial").answer.resolution
        entry = Book.read(store).labelled(Limit, "planned thermal output doubt")
        from dataclasses import replace

        store.revise(entry.uid, entry.version, replace(entry.record, value=0.2e-6), reason="card")
        after = named(PlannedQuestions(store, Book.read(store)), "axial").answer.resolution
    assert after < 0.95 * before


def test_another_pack_is_reckoned_with_and_an_unknown_one_refused(brace):
    with CampaignStore.open(brace, working_context(), read_only=True) as store:
        book = Book.read(store)
        choice = PlanChoice("assumed, 120 Ω, general foil")
        found = PlannedQuestions(store, book, choice=choice)
        assert "120 Ω" in " ".join(found.assumed)
        with pytest.raises(InputError, match="one of: assumed, 120"):
            PlannedQuestions(store, book, choice=PlanChoice("some other pack"))


def test_nothing_of_a_plan_is_written(brace):
    with CampaignStore.open(brace, working_context(), read_only=True) as store:
        before = store.head()
        PlannedQuestions(store, Book.read(store)).every()
        assert store.head() == before


def test_readings_of_a_plan_give_back_the_strain_they_were_made_for(plan):
    readings: PlannedReadings = plan.readings
    circuit = next(iter(readings.plan.circuits.values()))
    for strain in (-3e-3, 0.0, 1e-4, 5e-3):
        assert float(readings.strain(circuit, strain).value) == pytest.approx(strain, abs=1e-11)


@pytest.mark.full
def test_the_demos_plan_foretells_what_its_reduction_states(demo_campaign: Path):
    """Uncertainties planned before the test, beside those that the test's own readings had."""
    from gaugewright.records.results import Result

    with CampaignStore.open(demo_campaign, working_context(), read_only=True) as store:
        book = Book.read(store)
        plan = PlannedQuestions(store, book)
        stated = {e.record.label: e.record.expanded_uncertainty for e in book.of(Result)}
        for question, label in (
            ("bar force", "bar force L4-M-T with L4-M-U at 160 kN"),
            ("yield", "yield load L4-M-T with L4-M-U"),
        ):
            one = plan.one(book.labelled(Question, question), gains=False)
            part = next(p for p in one.answer.parts if p.label == "L4-M-T with L4-M-U")
            foretold = float(part.value.expanded(0.95).reshape(-1)[0])
            # Readings add what no plan knows: contacts made again, the noise and drift there was.
            assert 0.8 < foretold / stated[label] < 1.05


@pytest.mark.full
def test_a_column_is_planned_from_nothing(tmp_path):
    folder = tmp_path / "column"
    made.column(folder)
    with CampaignStore.open(folder, working_context(), read_only=True) as store:
        plan = PlannedQuestions(store, Book.read(store))
        curvature, bond, force = plan.every()
    assert curvature.standing == ENOUGH
    assert {s.label[:2] for s in curvature.proposed.stations} == {"V4", "V1"}
    assert len(bond.proposed.stations) == 10
    places = sorted({s.distance_planned for s in bond.proposed.stations})
    assert np.diff(places) == pytest.approx(np.full(4, 0.34), abs=1e-3)
    assert force.standing == UNTOLD
    assert "crushing load" in force.why


def test_without_counts_of_a_laboratory_losses_are_told_as_assumed(brace, tmp_path):
    (tmp_path / "lab").mkdir()
    chosen = settings.load(
        {"laboratory": str(tmp_path / "lab")}, environment={}, user_folder=tmp_path / "none"
    )
    with CampaignStore.open(brace, working_context(), read_only=True) as store:
        found = losses_of(chosen, Book.read(store))
    assert found.is_assumed
    assert all("assumed" in words for words in found.words)
