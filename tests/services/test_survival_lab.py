"""The laboratory's own survival: counted by hand, once a campaign, and what a plan may ask."""

import shutil
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from gaugewright import settings
from gaugewright.errors import FileError, InputError
from gaugewright.records.proof import Gate, GateCheck, Verdict
from gaugewright.records.specimen import Campaign
from gaugewright.services.campaign import campaigns
from gaugewright.services.campaign.book import Book
from gaugewright.services.laboratory import survival_lab, survival_published
from gaugewright.settings import Settings
from gaugewright.store.campaign import CampaignStore


@pytest.fixture
def laboratory(tmp_path: Path) -> Settings:
    (tmp_path / "laboratory").mkdir()
    return settings.load({"laboratory": str(tmp_path / "laboratory")}, environment={})


@pytest.fixture
def store(demo_campaign: Path, tmp_path: Path) -> Iterator[CampaignStore]:
    """A campaign that is no longer told to be invented."""
    shutil.copytree(demo_campaign, tmp_path / "demo")
    with campaigns.opened(tmp_path / "demo") as opened:
        own = opened.campaign
        real = replace(own.record, invented=False)
        opened.revise(own.uid, own.version, real, reason="as the test has it")
        yield opened


def judge(store: CampaignStore, gate: Gate, labels: set[str], verdict: Verdict) -> None:
    book = Book.read(store)
    for check in book.of(GateCheck):
        if check.record.gate is gate and book.label(check.record.gauge) in labels:
            changed = replace(check.record, verdict=verdict)
            store.revise(check.uid, check.version, changed, reason="as the test has it")


def test_a_campaign_counts_once_as_it_was_published_last(
    store: CampaignStore, laboratory: Settings
) -> None:
    survival_published.publish(store, laboratory)
    first = survival_lab.lab_survival(laboratory)
    survival_published.publish(store, laboratory)
    assert survival_lab.lab_survival(laboratory) == first
    pour = {one.stage: one for one in first.stages}["after pour"]
    # The demo's own story: 24 gauges came to the pour, one was lost in it.
    assert (pour.passed, pour.lost, pour.exposed) == (23, 1, 24)
    assert pour.chance.probability == pytest.approx(23.5 / 25)
    assert pour.chance.low < 23 / 24 < pour.chance.high
    assert {one.stage: one.repaired for one in first.stages}["wired"] == 1
    judge(store, Gate.CAGED, {"L1-M-T", "L1-M-U"}, Verdict.FAIL)
    survival_published.publish(store, laboratory)
    later = {one.stage: one for one in survival_lab.lab_survival(laboratory).stages}
    assert (later["caged"].passed, later["caged"].lost) == (22, 2)
    assert len(survival_published.published(laboratory)) == 1
    file = Path(laboratory["laboratory"]) / survival_published.FILE
    assert len(file.read_text(encoding="utf-8").splitlines()) == 3  # nothing is taken out


def test_losses_in_company_are_told_from_single_ones(
    store: CampaignStore, laboratory: Settings
) -> None:
    judge(store, Gate.CAGED, {"L1-M-T", "L1-M-U"}, Verdict.FAIL)
    survival_published.publish(store, laboratory)
    (bars,) = [one for one in survival_lab.lab_survival(laboratory).common if one.kind == "bar"]
    # Both gauges of bar L1 went at the cage: a whole group. The others were lost singly.
    assert (bars.wholly_lost, bars.together) == (1, 2)
    assert bars.losses > bars.together
    assert bars.whole_group.probability == pytest.approx(1.5 / (bars.groups + 1))


def test_gauges_alike_are_chosen_and_one_that_never_was_is_told_with_what_there_is(
    store: CampaignStore, laboratory: Settings
) -> None:
    survival_published.publish(store, laboratory)
    cast = survival_lab.lab_survival(laboratory, specimen="cast member")
    assert cast.stages[-1].stage == "test"
    assert cast.through.probability == pytest.approx(
        cast.through_of([one.stage for one in cast.stages]).probability
    )
    with pytest.raises(InputError, match="cast member"):
        survival_lab.lab_survival(laboratory, specimen="strand")
    with pytest.raises(InputError, match="one that was counted"):
        cast.through_of(["washed"])


def test_campaigns_that_differ_widen_the_chance(
    store: CampaignStore, demo_campaign: Path, laboratory: Settings, tmp_path: Path
) -> None:
    survival_published.publish(store, laboratory)
    alone = {one.stage: one for one in survival_lab.lab_survival(laboratory).stages}["caged"]
    record = replace(store.campaign.record, label="another")
    context = store.context
    path = Path(laboratory["laboratory"]) / survival_published.FILE
    found = survival_published.counted(store)
    other = replace(
        found,
        campaign=context.new_uid(),
        label=record.label,
        counts=tuple(
            replace(c, passed=c.passed // 2, lost=c.lost + c.passed - c.passed // 2)
            if c.stage == "caged"
            else c
            for c in found.counts
        ),
    )
    from gaugewright.records.plain import to_plain
    from gaugewright.store.kept_lines import add_line

    add_line(path, to_plain(other))
    both = {one.stage: one for one in survival_lab.lab_survival(laboratory).stages}["caged"]
    assert alone.dispersion == 1.0
    assert both.dispersion > 5
    assert both.chance.high - both.chance.low > alone.chance.high - alone.chance.low
    assert [label for label, _, _ in both.by_campaign] == [found.label, "another"]


def test_what_is_missing_is_said_with_what_to_do(
    demo_campaign: Path, laboratory: Settings, tmp_path: Path
) -> None:
    with pytest.raises(InputError, match="laboratory's own folder; set it"):
        survival_lab.lab_survival(settings.load({}, environment={}, user_folder=tmp_path))
    with pytest.raises(InputError, match="--publish; or type an assumed survival"):
        survival_lab.lab_survival(laboratory)
    with (
        campaigns.opened(demo_campaign, read_only=True) as invented,
        pytest.raises(InputError, match="invented"),
    ):
        survival_published.publish(invented, laboratory)
    path = Path(laboratory["laboratory"]) / survival_published.FILE
    path.write_text("{}\n", encoding="utf-8")
    with pytest.raises(FileError, match="line 1"):
        survival_lab.lab_survival(laboratory)


def test_a_campaign_without_gates_has_nothing_to_publish(
    laboratory: Settings, tmp_path: Path
) -> None:
    from gaugewright.records.identity import working_context

    campaign = Campaign("empty", "Nothing yet", "UTC")
    with (
        campaigns.new(tmp_path / "empty", campaign, laboratory, context=working_context()) as new,
        pytest.raises(InputError, match="check gauges first"),
    ):
        survival_published.publish(new, laboratory)
