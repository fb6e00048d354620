"""Optional packages are brought in when wanted, or named with the line that installs them."""

import math

import pytest

from gaugewright.errors import MissingExtraError
from gaugewright.extras import needs


def test_a_package_that_is_there_is_handed_over() -> None:
    assert needs("math", extra="fast", to="count") is math


def test_a_package_that_is_missing_is_named_with_the_line_that_installs_it() -> None:
    with pytest.raises(
        MissingExtraError, match=r"to run long records quickly; .*gaugewright\[fast"
    ):
        needs("no_such_package_here", extra="fast", to="run long records quickly")


def test_a_broken_package_is_not_taken_for_a_missing_one(tmp_path, monkeypatch) -> None:
    (tmp_path / "half_there.py").write_text("import no_such_part_here\n", encoding="utf-8")
    monkeypatch.syspath_prepend(tmp_path)
    with pytest.raises(ModuleNotFoundError, match="no_such_part_here"):
        needs("half_there", extra="fast", to="count")
