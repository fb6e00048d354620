"""Steps at the bench: for a batch or none of it, with dew, dates and the reason for waiting."""

import shutil
from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from gaugewright.cli import main
from gaugewright.errors import InputError
from gaugewright.records.gauges import BenchStep, Supply
from gaugewright.services.bench import written as bench
from gaugewright.services.bench.lists import bench_lists
from gaugewright.services.bench.step_words import step_words
from gaugewright.services.campaign import campaigns
from gaugewright.services.campaign.book import Book
from gaugewright.services.showing.page import Page
from gaugewright.services.strain.strains import Desk
from gaugewright.store.campaign import CampaignStore

TYPED = {
    "gauges": "L1-M-T; L1-M-U",
    "step": "bond",
    "person": "bonder",
    "begun": "2026-11-02 09:00",
    "supplies": "adhesive",
    "temperature": "21.5 °C",
    "humidity": "48 %",
}


@pytest.fixture
def store(demo_campaign: Path, tmp_path: Path) -> Iterator[CampaignStore]:
    shutil.copytree(demo_campaign, tmp_path / "demo")
    with campaigns.opened(tmp_path / "demo") as opened:
        yield opened


def test_a_batch_is_kept_whole_or_not_at_all(store: CampaignStore) -> None:
    before = len(store.entries(BenchStep))
    kept = bench.noted(store, TYPED)
    assert len(store.entries(BenchStep)) == before + 2
    told = step_words(Book.read(store), kept)
    assert told[0] == "bond: written down for 2 gauges."
    assert told[1].startswith("Dew point 10.0 °C, 11.5 K below the air")
    for name, text in (
        ("gauges", ""),
        ("gauges", "L1-M-T; nobody"),
        ("person", "nobody"),
        ("humidity", "480"),
        ("step", ""),
        ("supplies", "gold"),
        ("ended", "2026-11-01 09:00"),
    ):
        with pytest.raises(InputError):
            bench.noted(store, TYPED | {name: text})
    assert len(store.entries(BenchStep)) == before + 2


def test_damp_air_and_a_supply_past_its_date_are_told(store: CampaignStore) -> None:
    supply = Book.read(store).labelled(Supply, "adhesive")
    old = replace(supply.record, expires=date(2026, 10, 31))
    store.revise(supply.uid, supply.version, old, reason="as the test has it")
    told = step_words(Book.read(store), bench.noted(store, TYPED | {"humidity": "90"}))
    assert "was past its date 2026-10-31" in told[1]
    assert "less than the 3 K wanted" in told[2]
    page = Page.of(Desk(store, Book.read(store)))
    supplies = next(one for one in bench_lists(page.book, page.zone) if one.key == "supplies")
    assert any("used after it for L1-M-T, L1-M-U" in str(row[-1]) for row in supplies.rows)


def test_a_step_put_aside_is_listed_until_it_is_done(store: CampaignStore) -> None:
    bench.noted(store, TYPED | {"parked": "hall below 15 °C"})
    page = Page.of(Desk(store, Book.read(store)))

    def parked() -> list[object]:
        lists = bench_lists(Book.read(store), page.zone)
        return [row[0] for row in next(one for one in lists if one.key == "parked").rows]

    assert parked() == ["L1-M-T", "L1-M-U"]
    bench.noted(store, TYPED | {"gauges": "L1-M-T", "begun": "2026-11-02 11:00"})
    assert parked() == ["L1-M-U"]


def test_by_command(
    demo_campaign: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    shutil.copytree(demo_campaign, tmp_path / "beams")
    folder = str(tmp_path / "beams")
    words = ["--step", "wire", "--person", "bonder", "--temperature", "20", "--humidity", "75"]
    assert main(["bench-step", folder, "L1-M-T", *words]) == 0
    assert "Dew point 15.4 °C" in capsys.readouterr().out
    assert main(["bench-step", folder, "L1-M-T", "--step", "wire"]) == 2
    assert "whoever did it" in capsys.readouterr().err
