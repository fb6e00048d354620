"""Copies of a campaign, also of one that is open and has its last records in the log only."""

import shutil
import sqlite3
from pathlib import Path

import pytest

from gaugewright.errors import StoreError
from gaugewright.records.readings import Recording
from gaugewright.records.specimen import Question
from gaugewright.store.campaign import CampaignStore
from tests.store import invented


def test_a_copy_of_an_open_campaign_has_its_last_record(
    filled: CampaignStore, tmp_path: Path
) -> None:
    last = filled.add(invented.question("asked a moment ago"))
    assert (filled.folder / "campaign.sqlite-wal").stat().st_size > 0
    (filled.folder / "photos" / "bar.jpg").write_bytes(b"photo")
    (filled.folder / "cache" / "old").write_bytes(b"")
    target = filled.copy_to(tmp_path / "copy")
    with CampaignStore.open(target, invented.context(days=1)) as copy:
        assert copy.entry(last.uid) == last
        assert copy.head() == filled.head()
        assert copy.problems() == ()
        (recording,) = copy.entries(Recording)
        assert copy.readings(recording.uid).rows == 10
    assert (target / "photos" / "bar.jpg").read_bytes() == b"photo"
    assert list((target / "cache").iterdir()) == []


def test_copying_the_file_of_an_open_campaign_would_have_lost_it(
    store: CampaignStore, tmp_path: Path
) -> None:
    # Why copy_to exists: this is what a file manager does.
    store.add(invented.question("q"))
    shutil.copy(store.folder / "campaign.sqlite", tmp_path / "bare.sqlite")
    connection = sqlite3.connect(tmp_path / "bare.sqlite")
    rows = connection.execute("SELECT count(*) FROM record WHERE label = 'q'").fetchone()
    connection.close()
    assert rows == (0,)


def test_a_target_that_exists_is_refused(store: CampaignStore, tmp_path: Path) -> None:
    (tmp_path / "copy").mkdir()
    with pytest.raises(StoreError, match="exists; choose a new folder"):
        store.copy_to(tmp_path / "copy")


def test_a_copy_that_cannot_be_finished_leaves_nothing(
    filled: CampaignStore, tmp_path: Path
) -> None:
    (original,) = (filled.folder / "originals").iterdir()
    original.unlink()
    with pytest.raises(StoreError, match="is missing"):
        filled.copy_to(tmp_path / "copy")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["campaign", "received.csv"]


def test_a_copy_goes_its_own_way(store: CampaignStore, tmp_path: Path) -> None:
    target = store.copy_to(tmp_path / "copy")
    with CampaignStore.open(target, invented.context(days=1)) as copy:
        copy.add(invented.question("only here"))
    assert store.entries(Question) == ()


def test_a_campaign_open_for_reading_can_be_copied(filled: CampaignStore, tmp_path: Path) -> None:
    context = invented.context(days=1)
    with CampaignStore.open(filled.folder, context, read_only=True) as reader:
        target = reader.copy_to(tmp_path / "copy")
    with CampaignStore.open(target, context, read_only=True) as copy:
        assert copy.head() == filled.head()
