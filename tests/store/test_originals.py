"""Files as received: their bytes come back, once each, and a changed one is found."""

import hashlib
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from gaugewright.errors import FileError, InputError, StoreError
from gaugewright.records.identity import Context
from gaugewright.store.campaign import CampaignStore
from gaugewright.store.originals import Originals
from tests.store import invented


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=30)
@given(content=st.binary(max_size=3000))
def test_bytes_come_back_under_their_own_hash(
    store: CampaignStore, tmp_path: Path, content: bytes
) -> None:
    path = tmp_path / "file.bin"
    path.write_bytes(content)
    sha256 = store.keep_original(path)
    assert sha256 == hashlib.sha256(content).hexdigest()
    assert store.original_bytes(sha256) == content


def test_the_same_bytes_are_kept_once(store: CampaignStore, original: Path) -> None:
    sha256 = store.keep_original(original)
    head = store.head()
    again = original.with_name("again.csv")
    again.write_bytes(original.read_bytes())
    assert store.keep_original(again) == sha256
    assert store.head() == head
    assert [p.name for p in (store.folder / "originals").iterdir()] == [f"{sha256}.zst"]


def test_what_another_writer_listed_meanwhile_is_not_taken_back(
    store: CampaignStore, original: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    put_in_place = Originals._put_in_place

    def overtaken(self: Originals, path: Path, context: Context) -> tuple[str, int, bool]:
        found = put_in_place(self, path, context)
        monkeypatch.undo()
        with CampaignStore.open(store.folder, invented.context(days=1)) as other:
            other.keep_original(path)
        monkeypatch.setattr(Originals, "_list", broken)
        return found

    def broken(*_: object) -> None:
        raise StoreError("the disk is full")

    monkeypatch.setattr(Originals, "_put_in_place", overtaken)
    with pytest.raises(StoreError, match="full"):
        store.keep_original(original)
    sha256 = hashlib.sha256(original.read_bytes()).hexdigest()
    assert store.original_bytes(sha256) == original.read_bytes()


def test_a_large_file_is_kept_piece_by_piece(store: CampaignStore, tmp_path: Path) -> None:
    path = tmp_path / "large.csv"
    content = b"".join(b"%d;%d\n" % (n, n * n) for n in range(300_000))
    path.write_bytes(content)
    sha256 = store.keep_original(path)
    assert (store.folder / "originals" / f"{sha256}.zst").stat().st_size < len(content) / 2
    assert store.original_bytes(sha256) == content


def test_a_file_that_cannot_be_read_is_told(store: CampaignStore, tmp_path: Path) -> None:
    before = store.head()
    with pytest.raises(FileError, match=r"gone.csv: can't be read or kept"):
        store.keep_original(tmp_path / "gone.csv")
    assert store.head() == before
    assert not list((store.folder / "incoming").glob("original-*"))


def test_changed_missing_and_unknown_originals_are_told(
    store: CampaignStore, original: Path
) -> None:
    sha256 = store.keep_original(original)
    kept = store.folder / "originals" / f"{sha256}.zst"
    other = original.with_name("other.csv")
    other.write_bytes(b"other bytes")
    sound = kept.read_bytes()

    strange = store.folder / "originals" / f"{store.keep_original(other)}.zst"
    kept.write_bytes(strange.read_bytes())
    assert "has been changed" in store.problems()[0].sentence
    with pytest.raises(StoreError, match="has been changed"):
        store.original_bytes(sha256)

    kept.write_bytes(sound[: len(sound) // 2])
    assert store.problems()[0].place == f"originals/{sha256}.zst"

    kept.unlink()
    assert "is missing" in store.problems()[0].sentence
    with pytest.raises(StoreError, match="is missing"):
        store.original_bytes(sha256)

    with pytest.raises(InputError, match="that of a file kept"):
        store.original_bytes("0" * 64)

    store.keep_original(original)  # the same bytes again mend it
    assert store.problems() == ()


def test_an_original_whose_writer_stopped_is_listed_at_the_next_opening(
    tmp_path: Path, original: Path
) -> None:
    folder = tmp_path / "campaign"
    with invented.new_store(folder) as store:
        sha256 = store.keep_original(original)
    # As a stop between the file and its row leaves it: in place, and in another campaign's list.
    other = tmp_path / "other"
    invented.new_store(other).close()
    (other / "originals" / f"{sha256}.zst").write_bytes(
        (folder / "originals" / f"{sha256}.zst").read_bytes()
    )
    (other / "incoming" / "original-X.zst").write_bytes(b"half")
    with CampaignStore.open(other, invented.context(days=1)) as store:
        assert store.problems() == ()
        assert store.original_bytes(sha256) == original.read_bytes()
        assert not (other / "incoming" / "original-X.zst").exists()
