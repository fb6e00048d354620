"""Packed files from elsewhere are not trusted: each trap is made by hand, as its maker would."""

import os
import stat
import zipfile
from pathlib import Path

import pytest

from gaugewright.errors import FileError
from gaugewright.store import packed


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    folder = tmp_path / "things"
    (folder / "data").mkdir(parents=True)
    (folder / "data" / "a.csv").write_bytes(b"1,2\r\n" * 1000)
    (folder / "data" / "ü.parquet").write_bytes(os.urandom(5000))
    return folder


def test_what_was_packed_comes_out_again(folder: Path, tmp_path: Path) -> None:
    path = packed.pack(folder, tmp_path / "things.zip")
    out = packed.unpack(path, tmp_path / "out")
    assert out == tmp_path / "out" / "things"
    for name in ("data/a.csv", "data/ü.parquet"):
        assert (out / name).read_bytes() == (folder / name).read_bytes()


def test_the_same_files_give_the_same_bytes_at_any_hour(folder: Path, tmp_path: Path) -> None:
    first = packed.pack(folder, tmp_path / "1.zip").read_bytes()
    os.utime(folder / "data" / "a.csv", (1, 1))
    assert packed.pack(folder, tmp_path / "2.zip").read_bytes() == first


def trap(path: Path, *names: str, mode: int = 0o644, content: bytes = b"x") -> Path:
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as file:
        for name in names:
            told = zipfile.ZipInfo("placeholder")
            told.filename = name
            told.external_attr = mode << 16
            told.compress_type = zipfile.ZIP_DEFLATED
            file.writestr(told, content)
    return path


@pytest.mark.parametrize(
    ("names", "why"),
    [
        (["../out.txt"], "points out of the folder"),
        (["top/../../out.txt"], "points out of the folder"),
        (["/etc/out.txt"], "points out of the folder"),
        (["C:/out.txt"], "points out of the folder"),
        (["top\\out.txt"], "systems read differently"),
        (["top/a\x07.txt"], "can't be shown"),
        (["top/con.txt"], "keep for themselves"),
        (["top/name. "], "keep for themselves"),
        (["top/" + "n" * 300], "too long a path"),
        (["/".join("abcdefghijklmno")], "too long a path"),
        (["top/a.txt", "top/A.txt"], "stands for"),
        (["top/\u00fc", "top/u\u0308"], "stands for"),
        (["top/a.txt", "other/b.txt"], "no single folder"),
    ],
)
def test_a_name_that_could_do_harm_is_refused(names: list[str], why: str, tmp_path: Path) -> None:
    path = trap(tmp_path / "trap.zip", *names)
    with pytest.raises(FileError, match=why):
        packed.unpack(path, tmp_path / "out")
    assert not (tmp_path / "out.txt").exists()


def test_a_link_is_refused(tmp_path: Path) -> None:
    path = trap(tmp_path / "t.zip", "top/link", mode=stat.S_IFLNK | 0o777, content=b"/etc/passwd")
    with pytest.raises(FileError, match="link or a device"):
        packed.unpack(path, tmp_path / "out")


def test_what_would_grow_beyond_reason_or_room_is_refused(tmp_path: Path) -> None:
    path = trap(tmp_path / "t.zip", "top/zeros", content=bytes(40_000_000))
    with pytest.raises(FileError, match=r"would grow|would fill"):
        packed.unpack(path, tmp_path / "out", most_bytes=1_000_000)
    path = trap(tmp_path / "u.zip", "top/text", content=os.urandom(2_000_000))
    with pytest.raises(FileError, match="would fill the disk"):
        packed.unpack(path, tmp_path / "out", most_bytes=1_000_000)


def test_a_size_that_is_a_lie_is_found_out(tmp_path: Path) -> None:
    path = trap(tmp_path / "t.zip", "top/text", content=b"a" * 1000)
    content = path.read_bytes()
    path.write_bytes(content.replace((1000).to_bytes(4, "little"), (900).to_bytes(4, "little")))
    with pytest.raises(FileError, match=r"longer than it says|can't be unpacked"):
        packed.unpack(path, tmp_path / "out")


def test_a_file_of_another_kind_is_refused(tmp_path: Path) -> None:
    (tmp_path / "text.zip").write_text("no zip", encoding="utf-8")
    with pytest.raises(FileError, match="can't be unpacked"):
        packed.unpack(tmp_path / "text.zip", tmp_path / "out")


def test_damage_anywhere_is_refused_or_harmless(folder: Path, tmp_path: Path) -> None:
    """A flipped byte may stand in a date or a margin; what comes out is whole, or nothing is."""
    whole = packed.pack(folder, tmp_path / "things.zip").read_bytes()
    expected = {path.name: path.read_bytes() for path in (folder / "data").iterdir()}
    refused = 0
    for place in range(0, len(whole), 7):
        content = bytearray(whole)
        content[place] ^= 0xFF
        path = tmp_path / "damaged.zip"
        path.write_bytes(content)
        out = tmp_path / f"out-{place}"
        try:
            found = packed.unpack(path, out)
        except FileError:
            refused += 1
            continue
        got = {path.name: path.read_bytes() for path in found.rglob("*") if path.is_file()}
        assert set(got.values()) == set(expected.values()), place
    assert refused > 0.9 * len(whole) / 7
