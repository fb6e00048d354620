"""Every number that was collected for checking is checked somewhere, or is told why it isn't."""

import ast
import csv
from pathlib import Path

import pytest

from tools import repository

HERE = Path(__file__).parents[1] / "published"
WORKED = HERE.parent / "calc" / "test_worked_numbers.py"
# How many rows of each topic were collected, so that none is dropped from the list unseen.
TOPICS = (1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 13)
COUNTS = (23, 21, 10, 13, 23, 8, 14, 6, 21, 19, 8, 8)
COLLECTED = {str(topic): count for topic, count in zip(TOPICS, COUNTS, strict=True)}
with (HERE / "rows.csv").open(encoding="utf-8", newline="") as opened:
    ROWS = {row["row"]: row["where"] for row in csv.DictReader(opened)}
PUBLISHED = {
    f"{test.path.stem.removeprefix('test_')}:{test.name.removeprefix('test_')}"
    for test in repository.published_tests()
}
DERIVED = {
    f"worked:{node.name.removeprefix('test_')}"
    for node in ast.parse(WORKED.read_text(encoding="utf-8")).body
    if isinstance(node, ast.FunctionDef)
}
REASONS = " ".join((HERE / "NOT_USED.md").read_text(encoding="utf-8").split())


def test_no_row_is_missing_from_the_list():
    topics = [row.removeprefix("C").partition(".")[0] for row in ROWS]
    assert {topic: topics.count(topic) for topic in COLLECTED} == COLLECTED
    assert len(topics) == sum(COLLECTED.values())


@pytest.mark.parametrize("row", ROWS)
def test_a_row_is_checked_or_its_reason_is_written_down(row):
    kind, _, reason = ROWS[row].partition(":")
    if kind == "not used":
        assert reason.casefold() in REASONS.casefold()
    else:
        assert ROWS[row] in PUBLISHED | DERIVED
