"""Readings: written in parts, published whole or not at all, read back as received."""

import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import polars as pl
import pytest

from gaugewright.errors import InputError, StoreError
from gaugewright.records.identity import Uid
from gaugewright.records.readings import Recording
from gaugewright.store import incoming, parts
from gaugewright.store.campaign import CampaignStore
from gaugewright.store.parts import BLOCK_ROWS
from tests.store import invented
from tests.store.parquet_footer import row_groups


def left_over(store: CampaignStore) -> list[str]:
    """What stands in incoming besides the locks."""
    return [p.name for p in (store.folder / "incoming").iterdir() if not p.name.startswith(".")]


def test_rows_come_back_as_they_were_written(store: CampaignStore, original: Path) -> None:
    entry = invented.add_recording(store, original, rows=10)
    readings = store.readings(entry.uid)
    assert readings.rows == 10
    assert readings.fields == ("elapsed_ns", "stamp", "g1", "g2")
    assert readings.columns == invented.COLUMNS
    assert readings.elapsed_s().tolist() == pytest.approx([0.1 * n for n in range(10)], abs=1e-15)
    assert readings.values("g1").tolist() == list(range(10))
    g2 = readings.values("g2")
    assert np.isnan(g2).tolist() == [n % 5 == 0 for n in range(10)]
    assert g2[1] == 0.1
    assert readings.scan().collect().get_column("g2").null_count() == 2
    assert readings.marks().rows() == [("G2", 0, 0, "over-range", "OVL")]
    assert left_over(store) == []
    assert store.problems() == ()


def test_a_window_holds_both_of_its_ends(store: CampaignStore, original: Path) -> None:
    readings = store.readings(invented.add_recording(store, original, rows=10).uid)
    window = readings.window(3, 5, ["g1", "stamp"])
    assert window.rows() == [(3.0, "row 3"), (4.0, "row 4"), (5.0, "row 5")]
    assert readings.window(9, 9, ["g1"]).item() == 9
    for first, last in [(-1, 2), (5, 4), (0, 10)]:
        with pytest.raises(InputError, match="rows is"):
            readings.window(first, last, ["g1"])


def test_unknown_and_wordy_fields_are_refused(store: CampaignStore, original: Path) -> None:
    readings = store.readings(invented.add_recording(store, original).uid)
    with pytest.raises(InputError, match="one of elapsed_ns, stamp, g1, g2"):
        readings.values("g3")
    with pytest.raises(InputError, match="one that holds numbers"):
        readings.values("stamp")


@pytest.fixture
def narrow_parts(monkeypatch: pytest.MonkeyPatch) -> int:
    """Parts of two groups, so that a small recording has several."""
    monkeypatch.setattr(incoming, "_GROUPS_A_PART", 2)
    return 2 * BLOCK_ROWS


def test_parts_hold_whole_groups_however_the_rows_arrive(
    store: CampaignStore, original: Path, narrow_parts: int
) -> None:
    pieces = [1, BLOCK_ROWS - 2, 3 * BLOCK_ROWS + 7, 100, narrow_parts]
    rows = sum(pieces)
    build = invented.builder(store, original, rows)
    with store.new_recording(invented.COLUMNS) as writer:
        first = 0
        for piece in pieces:
            invented.write_rows(writer, piece, first)
            first += piece
        assert writer.rows == rows
        entry = writer.publish(build)
    readings = store.readings(entry.uid)
    assert readings.rows == rows
    np.testing.assert_array_equal(readings.values("g1"), np.arange(rows))
    files = sorted((store.folder / "readings" / entry.uid).glob("part-*.parquet"))
    assert [path.name for path in files] == [f"part-{n:06d}.parquet" for n in range(4)]
    heights = [pl.scan_parquet(path).select(pl.len()).collect().item() for path in files]
    assert heights == [narrow_parts] * 3 + [rows - 3 * narrow_parts]
    blocks = list(readings.blocks(["g1"]))
    assert [first for first, _ in blocks] == list(range(0, rows, BLOCK_ROWS))
    assert {block.height for _, block in blocks[:-1]} == {BLOCK_ROWS}
    odd = list(readings.blocks(["g1"], block_rows=50_001))  # blocks that lie across parts
    joined = np.concatenate([block.get_column("g1").to_numpy() for _, block in odd])
    np.testing.assert_array_equal(joined, np.arange(rows))


def test_row_groups_have_the_size_of_a_block(
    store: CampaignStore, original: Path, narrow_parts: int
) -> None:
    build = invented.builder(store, original, narrow_parts)
    with store.new_recording(invented.COLUMNS) as writer:
        invented.write_rows(writer, narrow_parts)
        entry = writer.publish(build)
    path = store.folder / "readings" / entry.uid / "part-000000.parquet"
    assert row_groups(path) == [BLOCK_ROWS, BLOCK_ROWS]


def test_a_part_tells_what_it_holds_without_the_database(
    store: CampaignStore, original: Path
) -> None:
    entry = invented.add_recording(store, original)
    path = store.folder / "readings" / entry.uid / "part-000000.parquet"
    told = json.loads(pl.read_parquet_metadata(path)["gaugewright"])
    assert told["schema"] == parts.PARTS_SCHEMA
    assert told["recording"] == entry.uid
    assert told["first_row"] == 0
    assert told["columns"][1] == {
        "field": "g1",
        "name": "G1",
        "role": "reading",
        "sign": "as received",
        "source_channel": "G1",
        "unit": "µm/m",
    }


class Stop(Exception):
    """Stands for whatever stops a writer."""


def write_and_stop(store: CampaignStore) -> None:
    with store.new_recording() as writer:
        invented.write_rows(writer, 5)
        raise Stop


def publish_with_others_and_stop(store: CampaignStore, build: Callable[[Uid], Recording]) -> None:
    with store.new_recording(invented.COLUMNS) as writer:
        invented.write_rows(writer, 10)
        with store.several():
            store.add(invented.question("q"))
            writer.publish(build)
            raise Stop


def test_leaving_without_publishing_leaves_nothing(store: CampaignStore) -> None:
    before = store.head()
    with pytest.raises(Stop):
        write_and_stop(store)
    assert left_over(store) == []
    assert list((store.folder / "readings").iterdir()) == []
    assert store.head() == before


def test_a_refused_publish_leaves_nothing(store: CampaignStore, original: Path) -> None:
    invented.add_recording(store, original, label="R1")
    build = invented.builder(store, original, 10, label="R2")
    before = store.head()
    with pytest.raises(InputError, match="another recording is called so"):
        invented.write_and_publish(store, lambda uid: replace(build(uid), label="R1"))
    assert store.head() == before
    assert left_over(store) == []
    assert len(list((store.folder / "readings").iterdir())) == 1
    assert store.problems() == ()


def test_a_recording_published_with_others_is_taken_back_with_them(
    store: CampaignStore, original: Path
) -> None:
    build = invented.builder(store, original, 10)
    before = store.head()
    with pytest.raises(Stop):
        publish_with_others_and_stop(store, build)
    assert store.head() == before
    assert store.entries(Recording) == ()
    assert list((store.folder / "readings").iterdir()) == []
    assert left_over(store) == []
    assert store.problems() == ()


def test_a_recording_published_with_others_is_kept_with_them(
    store: CampaignStore, original: Path
) -> None:
    with store.new_recording(invented.COLUMNS) as writer:
        invented.write_rows(writer, 10)
        with store.several():
            entry = writer.publish(invented.builder(store, original, 10))
    assert store.readings(entry.uid).rows == 10
    assert left_over(store) == []
    assert store.problems() == ()


@pytest.mark.parametrize(
    ("change", "words"),
    [({"rows": 9}, "rows is 9"), ({"columns": invented.COLUMNS[:2]}, "columns is")],
)
def test_a_record_that_tells_other_rows_or_columns_is_refused(
    store: CampaignStore, original: Path, change: dict[str, object], words: str
) -> None:
    build = invented.builder(store, original, 10)
    with pytest.raises(InputError, match=words):
        invented.write_and_publish(store, lambda uid: replace(build(uid), **change))
    assert store.entries(Recording) == ()


def test_a_field_no_column_tells_of_is_refused(store: CampaignStore, original: Path) -> None:
    build = invented.builder(store, original, 10)
    with store.new_recording() as writer:
        invented.write_rows(writer, 10)
        with pytest.raises(InputError, match="fields of the recording's columns is 'g2'"):
            writer.publish(lambda uid: replace(build(uid), columns=invented.COLUMNS[:2]))


def test_a_recording_without_rows_is_refused(store: CampaignStore, original: Path) -> None:
    build = invented.builder(store, original, 0)
    with store.new_recording() as writer, pytest.raises(InputError, match="1 or more"):
        writer.publish(build)


@pytest.mark.parametrize("bad", [float("nan"), float("inf"), float("-inf")])
def test_a_bad_sample_must_be_null_and_marked(store: CampaignStore, bad: float) -> None:
    with store.new_recording() as writer, pytest.raises(InputError, match="values is 'g1'"):
        writer.write(np.arange(2), {}, pl.DataFrame({"g1": [1.0, bad], "g2": [1.0, None]}))


def test_rows_that_do_not_fit_are_refused_by_name(store: CampaignStore) -> None:
    one = np.arange(2)
    frame = pl.DataFrame({"g1": [1.0, 2.0]})
    stamp = pl.Series(["a", "b"])
    with store.new_recording() as writer:
        for elapsed, times, values, words in [
            (np.arange(2.0), {}, frame, "whole nanoseconds"),
            (one, {"stamp": pl.Series(["a"])}, frame, "rows of stamp"),
            (np.arange(3), {}, frame, "rows of values"),
            (one, {"g1": stamp}, frame, "all different"),
            (one, {}, pl.DataFrame({"g1": [1, 2]}), "type of g1"),
        ]:
            with pytest.raises(InputError, match=words):
                writer.write(elapsed, times, values)
        writer.write(one, {"stamp": stamp}, frame)
        with pytest.raises(InputError, match="those of the first rows"):
            writer.write(one, {}, frame)
        for first, last in [(-1, 0), (1, 0)]:
            with pytest.raises(InputError, match="rows is"):
                writer.mark("G1", first, last, "empty", "")
        with pytest.raises(InputError, match="code is"):
            writer.mark("G1", 0, 0, "", "")


def test_a_mark_beyond_the_last_row_is_refused(store: CampaignStore, original: Path) -> None:
    build = invented.builder(store, original, 10)
    with store.new_recording() as writer:
        invented.write_rows(writer, 10)
        writer.mark("G1", 9, 10, "empty", "")
        with pytest.raises(InputError, match="marked row is 10"):
            writer.publish(build)


def test_one_writer_of_readings_at_a_time_while_records_are_edited(
    store: CampaignStore,
) -> None:
    with store.new_recording() as writer:
        with (
            pytest.raises(StoreError, match="another job has been writing readings"),
            store.new_recording(wait=0.1),
        ):
            pass
        store.add(invented.question("q"))
        invented.write_rows(writer, 3)
    with store.new_recording(wait=0.1):
        pass


def test_a_recording_is_published_once(store: CampaignStore, original: Path) -> None:
    build = invented.builder(store, original, 10)
    with store.new_recording(invented.COLUMNS) as writer:
        invented.write_rows(writer, 10)
        writer.publish(build)
        with pytest.raises(StoreError, match="published already"):
            writer.publish(build)


def test_a_changed_or_missing_part_is_found(store: CampaignStore, original: Path) -> None:
    uid = invented.add_recording(store, original).uid
    folder = store.folder / "readings" / uid
    part = folder / "part-000000.parquet"
    content = bytearray(part.read_bytes())
    content[len(content) // 2] ^= 1
    part.write_bytes(content)
    (folder / "marks.parquet").unlink()
    (folder / "part-000001.parquet").write_bytes(b"forged")
    found = {problem.place: problem.sentence for problem in store.problems()}
    assert "has been changed" in found[f"readings/{uid}/part-000000.parquet"]
    assert "is missing" in found[f"readings/{uid}/marks.parquet"]
    assert "put there from outside" in found[f"readings/{uid}/part-000001.parquet"]
    part.unlink()
    with pytest.raises(StoreError, match="is missing"):
        store.readings(uid).values("g1")
    with pytest.raises(StoreError, match="is missing"):
        store.readings(uid).marks()


def test_a_wide_recording_holds_little_in_memory(store: CampaignStore) -> None:
    wide = pl.DataFrame({f"g{n}": np.zeros(10) for n in range(200)})
    with store.new_recording() as writer:
        writer.write(np.arange(10), {}, wide)
        assert writer._part_rows == BLOCK_ROWS  # 201 columns of 65 536 numbers are 105 MB
    assert isinstance(Uid(writer.uid), str)
