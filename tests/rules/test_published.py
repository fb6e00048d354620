"""Checks against print say where the value stands and which copy was read."""

import pytest

from tools import repository

TESTS = list(repository.published_tests())


def test_there_are_checks_against_print() -> None:
    assert TESTS


@pytest.mark.parametrize("test", TESTS, ids=lambda test: f"{test.path.stem}:{test.name}")
def test_a_check_against_print_says_where_and_what_was_seen(
    test: repository.PublishedTest,
) -> None:
    assert test.marked, "needs @pytest.mark.published(where=..., seen=...)"
    assert len(test.where) > 15, "where needs author, title, edition and place"
    assert len(test.seen) > 5, "seen needs the copy that was really read, or 'from memory'"
