"""The check of the installation finds what is wrong, and says what to do."""

import sqlite3
from datetime import UTC, datetime
from importlib import metadata
from pathlib import Path

import numpy as np
import pytest

from gaugewright.calc import circuit
from gaugewright.errors import InputError
from gaugewright.records.identity import seeded_context
from gaugewright.records.specimen import Campaign
from gaugewright.services.campaign import campaigns
from gaugewright.services.work import selfcheck
from gaugewright.settings import Settings, load


def by_name(name: str) -> selfcheck.Check:
    return next(check for check in selfcheck.installation() if check.name == name)


def test_an_installation_that_runs_these_tests_passes() -> None:
    checks = selfcheck.installation()
    assert [check for check in checks if not check.passed] == []
    assert {check.name for check in checks} >= {
        "versions",
        "packages",
        "fonts",
        "circuit",
        "database",
        "time zones",
        "permission to write",
        "importers",
    }


def test_a_package_that_is_missing_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    there = metadata.version

    def version(name: str) -> str:
        if name == "zstandard":
            raise metadata.PackageNotFoundError(name)
        return there(name)

    monkeypatch.setattr(metadata, "version", version)
    check = by_name("packages")
    assert not check.passed
    assert "zstandard" in check.sentence


def test_an_old_database_library_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sqlite3, "sqlite_version_info", (3, 7, 17))
    check = by_name("database")
    assert not check.passed
    assert "3.35.0 or newer" in check.sentence


def test_a_solver_that_is_off_by_a_millionth_fails(monkeypatch: pytest.MonkeyPatch) -> None:
    there = circuit.solve

    def off(network: circuit.Network, resistance: np.ndarray) -> circuit.Solution:
        return there(network, np.asarray(resistance) * [1 + 1e-6, 1, 1, 1])

    monkeypatch.setattr(circuit, "solve", off)
    assert not by_name("circuit").passed


@pytest.fixture
def settings(tmp_path: Path) -> Settings:
    return load(environment={}, user_folder=tmp_path / "no settings")


@pytest.fixture
def folder(tmp_path: Path, settings: Settings) -> Path:
    context = seeded_context(datetime(2026, 3, 1, 12, tzinfo=UTC))
    beam = Campaign("beam", "A beam", "UTC")
    campaigns.new(tmp_path / "beam", beam, settings, context=context).close()
    return tmp_path / "beam"


def test_a_sound_campaign_passes_and_shows_its_journal_head(
    folder: Path, settings: Settings
) -> None:
    with campaigns.opened(folder, settings, read_only=True) as store:
        head = store.head().sha256
    [check] = selfcheck.campaign(folder, settings)
    assert check.passed
    assert head in check.sentence


def test_a_record_changed_behind_the_journal_is_found(folder: Path, settings: Settings) -> None:
    with sqlite3.connect(folder / "campaign.sqlite") as database:
        changed = database.execute(
            "UPDATE journal SET text = replace(text, 'A beam', 'B beam') WHERE seq = 1"
        )
        assert changed.rowcount == 1
    database.close()
    checks = selfcheck.campaign(folder, settings)
    assert not any(check.passed for check in checks)
    assert any("has been changed" in check.sentence for check in checks)


def test_a_file_put_there_from_outside_is_found(folder: Path, settings: Settings) -> None:
    (folder / "originals" / "stray.zst").write_bytes(b"stray")
    [check] = selfcheck.campaign(folder, settings)
    assert not check.passed
    assert "stray.zst" in check.name


def test_a_folder_without_a_campaign_is_refused(tmp_path: Path, settings: Settings) -> None:
    with pytest.raises(InputError, match="the folder of a campaign"):
        selfcheck.campaign(tmp_path, settings)
