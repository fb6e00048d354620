"""The reference pages name everything a person can meet, and are what the code says now."""

import pytest

from gaugewright.quantities import QUANTITIES
from gaugewright.records import KINDS
from gaugewright.settings import SETTINGS
from tools import commands, reference, repository


def page(name: str) -> str:
    return (reference.FOLDER / name).read_text(encoding="utf-8")


def test_generated_pages_are_what_the_code_says_now() -> None:
    assert reference.out_of_date() == [], "run: make reference"


def test_every_command_has_its_heading() -> None:
    words = [words for words, _ in commands.walk(commands.root())]
    assert words
    assert [name for name in words if f"\n## {name}\n" not in page("commands.md")] == []


def test_every_setting_is_listed() -> None:
    assert [name for name in SETTINGS if f"| `{name}` |" not in page("settings.md")] == []


def test_every_quantity_is_listed() -> None:
    assert [name for name in QUANTITIES if f"| `{name}` |" not in page("quantities.md")] == []


def test_every_record_kind_has_its_heading() -> None:
    assert [kind for kind in KINDS if f"\n## {kind}\n" not in page("records.md")] == []


def test_every_error_class_has_its_heading() -> None:
    # Read from the sources, not from the running package, which is how the page is made.
    classes = {"GaugewrightError"}
    grew = True
    while grew:
        found = {
            node.name
            for path in repository.source_files()
            for node in repository.classes_of(path)
            if classes & repository.base_names(node)
        }
        grew = not found <= classes
        classes |= found
    assert len(classes) > 5
    assert [name for name in sorted(classes) if f"\n## {name}\n" not in page("errors.md")] == []


@pytest.mark.parametrize("name", sorted(reference.PAGES))
def test_every_generated_page_is_in_the_table_of_contents(name: str) -> None:
    assert f"\n{name.removesuffix('.md')}\n" in page("index.md")
