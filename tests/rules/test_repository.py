"""What may not be published with the repository, and what must be said beside it."""

import re
from pathlib import Path

import pytest

from tools import repository

# Written so that this file doesn't hold what it looks for.
MACHINE_PATH = re.compile(r"(?<![\w./])/(?:work|home|Users|root|tmp|opt|farm)/[\w.]+|\.(?:pyenv)/")
ADDRESS = re.compile(r"\b(?:https?|ftp|git\+\w+|file)://", re.IGNORECASE)
REGISTRY = re.compile("|".join(("py" r"pi\.org", "python" r"hosted", "npm" r"js\.org")))
UNWANTED_LOCKS = {"uv.lock", "poetry.lock", "pylock.toml", "Pipfile.lock"}


def texts() -> list[tuple[Path, str]]:
    readable = []
    for path in repository.tracked_files():
        try:
            readable.append((path, path.read_text(encoding="utf-8")))
        except UnicodeDecodeError:
            continue  # pictures, fonts and other bytes
    return readable


def shown(path: Path) -> str:
    return str(path.relative_to(repository.ROOT))


def test_no_file_names_a_place_on_a_machine() -> None:
    found = {shown(path): m.group() for path, text in texts() if (m := MACHINE_PATH.search(text))}
    assert found == {}


def test_no_file_names_a_package_registry() -> None:
    found = {shown(path): m.group() for path, text in texts() if (m := REGISTRY.search(text))}
    assert found == {}


def test_lock_files_hold_no_address() -> None:
    locks = [path for path in repository.tracked_files() if ".lock" in path.name]
    assert [shown(path) for path in locks] == ["requirements.lock.txt"]
    lines = locks[0].read_text(encoding="utf-8").splitlines()
    assert [line for line in lines if ADDRESS.search(line) or line.startswith("-")] == []


def test_every_pin_in_the_lock_file_has_a_hash() -> None:
    text = (repository.ROOT / "requirements.lock.txt").read_text(encoding="utf-8")
    pins = re.findall(r"^\S+==.*(?:\n +--hash.*)*", text, re.MULTILINE)
    assert len(pins) > 50
    assert [pin.split()[0] for pin in pins if "--hash=sha256:" not in pin] == []


def test_the_package_sets_lower_bounds_only() -> None:
    text = (repository.ROOT / "pyproject.toml").read_text(encoding="utf-8")
    assert re.findall(r'"[\w.\[\]-]+[^"]*(?:<|==|~=)[^"]*"', text) == []


def test_every_data_file_says_who_made_it_and_how() -> None:
    folder = repository.TESTS / "data"
    files = [path for path in repository.tracked_files() if path.is_relative_to(folder)]
    said = (folder / "README.md").read_text(encoding="utf-8")
    lines = said.splitlines()
    silent = [
        name
        for path in files
        if (name := str(path.relative_to(folder))) != "README.md"
        and not any(f"`{name}`" in line or _folder_line(name, line) for line in lines)
    ]
    assert silent == []


def _folder_line(name: str, line: str) -> bool:
    """A line for a whole folder, written `folder/*`, speaks for the files in it."""
    return any(f"`{parent}/*`" in line for parent in map(str, Path(name).parents))


@pytest.mark.parametrize(
    "path", sorted((repository.ROOT / "docs" / "decisions").glob("[0-9]*.md")), ids=lambda p: p.stem
)
def test_a_decision_says_why_what_and_what_follows(path: Path) -> None:
    headings = re.findall(r"^## (.+)$", path.read_text(encoding="utf-8"), re.MULTILINE)
    assert headings[:3] == ["Context", "Decision", "Consequences"]
    assert re.fullmatch(r"\d{4}-[a-z0-9-]+", path.stem)


def test_changes_are_named_so_that_the_changelog_can_be_built() -> None:
    names = [p.name for p in (repository.ROOT / "changes").iterdir() if p.name != "README.md"]
    pattern = re.compile(r"[a-z0-9-]+\.(added|changed|fixed|result)\.md")
    assert [name for name in names if not pattern.fullmatch(name)] == []
