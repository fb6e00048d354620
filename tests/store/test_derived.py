"""Derived series: kept under a key, as 32-bit numbers, whole or not at all, deletable."""

import shutil
from collections.abc import Iterator

import polars as pl
import pytest

from gaugewright.errors import InputError
from gaugewright.store.campaign import CampaignStore

FRAMES = [
    pl.DataFrame({"strain": [0.1, None], "mark": [0, 1]}),
    pl.DataFrame({"strain": [0.3], "mark": [2]}),
]


def test_frames_come_back_in_order_as_32_bit_numbers(store: CampaignStore) -> None:
    assert store.derived("strain-1") is None
    path = store.write_derived("strain-1", iter(FRAMES))
    assert store.derived("strain-1") == path
    found = pl.scan_parquet(path).collect()
    assert found.schema == {"strain": pl.Float32, "mark": pl.Int64}
    assert found.get_column("mark").to_list() == [0, 1, 2]
    strain = found.get_column("strain").to_list()
    assert strain[1] is None
    assert [strain[0], strain[2]] == pytest.approx([0.1, 0.3], rel=6e-8)  # half of the last bit


def test_frames_that_stop_half_way_leave_nothing(store: CampaignStore) -> None:
    def half() -> Iterator[pl.DataFrame]:
        yield FRAMES[0]
        raise InputError("block", 1, "readable")

    with pytest.raises(InputError, match="block is 1"):
        store.write_derived("strain-1", half())
    with pytest.raises(InputError, match="frames is 0"):
        store.write_derived("strain-1", [])
    assert store.derived("strain-1") is None
    assert list((store.folder / "cache" / "derived").iterdir()) == []


def test_what_is_kept_already_stays(store: CampaignStore) -> None:
    first = store.write_derived("k", FRAMES)
    assert store.write_derived("k", FRAMES) == first
    assert pl.scan_parquet(first).collect().height == 3


def test_the_cache_may_be_deleted(store: CampaignStore) -> None:
    store.write_derived("k", FRAMES)
    shutil.rmtree(store.folder / "cache")
    assert store.derived("k") is None
    assert store.problems() == ()
    store.write_derived("k", FRAMES)


@pytest.mark.parametrize("key", ["", "..", "a/b", ".hidden", "x" * 129, "ü"])
def test_a_key_that_cannot_be_a_name_is_refused(store: CampaignStore, key: str) -> None:
    with pytest.raises(InputError, match="key is"):
        store.derived(key)


def counted(begun: list[int]):
    """Four frames from the one of a number on; which number was asked for is kept."""

    def frames(done: int) -> Iterator[pl.DataFrame]:
        begun.append(done)
        yield from (pl.DataFrame({"strain": [float(n)]}) for n in range(done, 4))

    return frames


@pytest.mark.parametrize("spoilt", [False, True])
def test_what_a_killed_writer_had_finished_is_taken_over(
    store: CampaignStore, monkeypatch, spoilt: bool
) -> None:
    def killed(done: int) -> Iterator[pl.DataFrame]:
        yield pl.DataFrame({"strain": [0.0]})
        yield pl.DataFrame({"strain": [1.0]})
        raise InputError("writer", "killed", "alive")

    with monkeypatch.context() as death:  # a dead process clears nothing away
        death.setattr("gaugewright.store.derived.shutil.rmtree", lambda *said, **how: None)
        with pytest.raises(InputError, match="killed"):
            store.write_derived("k", killed)
    (room,) = (store.folder / "cache" / "derived").iterdir()
    assert store.derived("k") is None
    if spoilt:  # the machine stopped before the last one was on the disk
        (room / "part-000001.parquet").write_bytes(b"")
    begun: list[int] = []
    found = pl.scan_parquet(store.write_derived("k", counted(begun))).collect()
    assert found.get_column("strain").to_list() == [0.0, 1.0, 2.0, 3.0]
    assert begun == [1 if spoilt else 2]
    assert [path.name for path in (store.folder / "cache" / "derived").iterdir()] == ["k"]
