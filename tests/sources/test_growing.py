"""Files that are still being written: nothing twice, nothing lost, nothing half."""

import os
from pathlib import Path

import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gaugewright.errors import FileError
from gaugewright.sources import delimited
from gaugewright.sources.growing import Growing, Standing, newest
from gaugewright.sources.layout import Layout

HEAD = "Time (s);Load (kN);SG1 (µm/m)\n"


def text_of(rows: int, *, first: int = 0) -> str:
    return "".join(
        f"{i / 50:.2f};{i * 0.37:.4f};{-9999 if i % 97 == 96 else i}\n" for i in range(first, rows)
    )


def layout_of(path: Path) -> Layout:
    path.write_text(HEAD + text_of(200), encoding="utf-8")
    layout = delimited.understand(path).layout(numeric_markers=("-9999",))
    path.unlink()
    return layout


def values_of(blocks) -> pl.DataFrame:
    return pl.concat([block.values for block in blocks])


@settings(max_examples=60, deadline=None)
@given(
    cuts=st.lists(st.integers(0, 8000), max_size=30),
    encoding=st.sampled_from(["utf-8", "utf-16-le", "cp1252"]),
)
def test_however_it_grows_it_ends_as_the_whole_file_reads(tmp_path_factory, cuts, encoding) -> None:
    path = tmp_path_factory.mktemp("grow") / "live.csv"
    raw = (HEAD + text_of(400)).encode(encoding)[:-3]  # the last line is cut
    path.write_bytes(raw)
    layout = delimited.understand(path, encoding=encoding).layout(numeric_markers=("-9999",))
    whole = list(delimited.read(path, layout))
    path.write_bytes(b"")
    follower, blocks = Growing(path, layout), []
    begin = 0
    for end in [*sorted(cut for cut in cuts if cut < len(raw)), len(raw)]:
        with path.open("ab") as file:
            file.write(raw[begin:end])
        begin = end
        blocks += follower.look().blocks
    blocks += follower.last().blocks
    assert values_of(blocks).equals(values_of(whole))
    elapsed = pl.concat([block.elapsed_ns for block in blocks])
    assert elapsed.equals(pl.concat([block.elapsed_ns for block in whole]))
    assert follower.report.accounted
    # The cut leaves half a letter in the encoding of two bytes: that cell can't be read.
    half = {"unreadable": 1} if encoding == "utf-16-le" else {}
    assert follower.report.marks == {"SG1": {"declared": 4, **half}}


def test_a_file_that_is_not_there_yet_or_goes_away_is_waited_for(tmp_path) -> None:
    path = tmp_path / "live.csv"
    follower = Growing(path, layout_of(path))
    assert follower.look().standing is Standing.AWAY
    path.write_text(HEAD + text_of(10), encoding="utf-8")
    assert follower.look().rows == 10
    aside = path.rename(tmp_path / "aside")
    away = follower.look()
    assert (away.standing, away.rows) == (Standing.AWAY, 0)
    assert away.why
    aside.rename(path)
    with path.open("a", encoding="utf-8") as file:
        file.write(text_of(12, first=10))
    assert follower.look().rows == 2
    assert follower.look().standing is Standing.STILL


@pytest.mark.parametrize("rows", [3, 50])
def test_a_file_begun_anew_is_told_and_followed_when_asked(tmp_path, rows) -> None:
    path = tmp_path / "live.csv"
    follower = Growing(path, layout_of(path))
    path.write_text(HEAD + text_of(20), encoding="utf-8")
    assert follower.look().rows == 20
    assert follower.look().standing is Standing.STILL
    path.write_text(HEAD + text_of(rows + 500, first=500), encoding="utf-8")
    fresh = follower.look()
    assert fresh.standing is Standing.BEGUN_ANEW
    assert fresh.rows == 0
    follower.begin_anew()
    assert follower.look().rows == rows


def test_the_half_written_line_waits(tmp_path) -> None:
    path = tmp_path / "live.csv"
    follower = Growing(path, layout_of(path))
    path.write_text(HEAD + "0;1;2\n0.02;1.5", encoding="utf-8")
    fresh = follower.look()
    assert (fresh.rows, fresh.half_line) == (1, True)
    with path.open("a", encoding="utf-8") as file:
        file.write("77;4\n")
    assert follower.look().blocks[0].values["Load"].to_list() == [1.577]


def test_what_is_not_text_cannot_be_followed(tmp_path) -> None:
    plain = layout_of(tmp_path / "a.csv").as_plain() | {"importer": "workbook"}
    with pytest.raises(FileError, match="can't be followed"):
        Growing(tmp_path / "a.xlsx", Layout.from_plain(plain))


def test_the_newest_file_of_a_folder(tmp_path) -> None:
    assert newest(tmp_path) is None
    for name in ("a.csv", "b.csv"):
        (tmp_path / name).write_text("x")
    os.utime(tmp_path / "a.csv", ns=(5, 5))
    os.utime(tmp_path / "b.csv", ns=(5, 5))
    (tmp_path / "note.txt").write_text("x")
    assert newest(tmp_path, "*.csv") == tmp_path / "b.csv"
