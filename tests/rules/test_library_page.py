"""The page on the library is true: its examples run, on the demo where they open a campaign."""

import doctest
from pathlib import Path

from tools import repository

PAGE = repository.ROOT / "docs" / "how-to" / "use-the-library.md"


def test_every_example_of_the_library_page_runs(demo_campaign: Path) -> None:
    result = doctest.testfile(
        str(PAGE),
        module_relative=False,
        globs={"folder": demo_campaign},
        optionflags=doctest.IGNORE_EXCEPTION_DETAIL,
        encoding="utf-8",
    )
    assert result.attempted >= 12
    assert result.failed == 0
