"""What ``import gaugewright`` gives: every public name, and nothing loaded before its use."""

import ast
import subprocess
import sys

import pytest

import gaugewright
from tools import repository

PAGE = repository.ROOT / "docs" / "how-to" / "use-the-library.md"
STUB = repository.SOURCE / "__init__.pyi"


def test_import_loads_no_part_of_the_package_and_no_other_package() -> None:
    code = "import sys; had = set(sys.modules); import gaugewright; print(*set(sys.modules) - had)"
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    loaded = run.stdout.split()
    brought = {name for name in loaded if name.split(".")[0] not in sys.stdlib_module_names}
    assert brought == {"gaugewright"}


@pytest.mark.parametrize("name", dir(gaugewright))
def test_every_public_name_is_there_and_on_the_page(name: str) -> None:
    assert getattr(gaugewright, name) is getattr(gaugewright, name)
    assert f"`{name}" in PAGE.read_text(encoding="utf-8")


def test_the_stub_tells_type_checkers_of_the_same_names_in_the_same_places() -> None:
    told = {
        alias.name: node.module
        for node in ast.parse(STUB.read_text(encoding="utf-8")).body
        if isinstance(node, ast.ImportFrom)
        for alias in node.names
    }
    assert sorted([*told, "__version__"]) == dir(gaugewright)
    homes = {name: f"gaugewright.{home}" for name, home in gaugewright._HOMES.items()}  # type: ignore[attr-defined]
    assert told == homes


def test_a_name_that_is_not_public_is_refused_as_any_module_does() -> None:
    with pytest.raises(AttributeError, match="no attribute 'open_everything'"):
        _ = gaugewright.open_everything  # type: ignore[attr-defined]
