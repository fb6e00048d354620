"""A laboratory's lines are only ever added to; what was touched is found by its number."""

from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from gaugewright.errors import FileError
from gaugewright.store.kept_lines import add_line, lines


def test_lines_come_back_in_order_and_a_file_not_there_has_none(tmp_path: Path) -> None:
    path = tmp_path / "lines.jsonl"
    assert lines(path) == ()
    for number in range(3):
        add_line(path, {"number": number, "word": "µε"})
    assert [told["number"] for told in lines(path)] == [0, 1, 2]


def test_lines_added_at_once_all_stand(tmp_path: Path) -> None:
    path = tmp_path / "lines.jsonl"
    with ThreadPoolExecutor(4) as pool:
        list(pool.map(lambda number: add_line(path, {"number": number}), range(12)))
    assert sorted(told["number"] for told in lines(path)) == list(range(12))


@pytest.mark.parametrize("spoil", ["change", "take out", "break"])
def test_a_line_that_was_touched_is_named_and_nothing_more_is_added(
    tmp_path: Path, spoil: str
) -> None:
    path = tmp_path / "lines.jsonl"
    for number in range(3):
        add_line(path, {"number": number})
    written = path.read_text(encoding="utf-8").splitlines(keepends=True)
    if spoil == "change":
        written[1] = written[1].replace('\\"number\\":1', '\\"number\\":7')
    elif spoil == "take out":
        del written[1]
    else:
        written[1] = written[1][:20] + "\n"
    path.write_text("".join(written), encoding="utf-8")
    with pytest.raises(FileError, match="line 2"):
        lines(path)
    with pytest.raises(FileError, match="line 2"):
        add_line(path, {"number": 3})


def test_a_folder_not_there_is_told_with_what_to_do(tmp_path: Path) -> None:
    with pytest.raises(FileError, match="isn't a folder; correct the setting laboratory"):
        add_line(tmp_path / "none" / "lines.jsonl", {})
