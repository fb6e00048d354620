"""One vocabulary: words that stand for one thing in what people read, and others that don't.

Read are the texts of pages, messages and commands: strings of two words or more in the code that
meets people, and what templates show. ``docs/explanations/conventions.md`` says what each means.
"""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

SOURCE = Path(__file__).parents[2] / "src" / "gaugewright"

# What is not written, what is written in its place, and where the other meaning is the right one.
INSTEAD = {
    r"\b(data ?)?loggers?\b": ("recorder", ()),
    r"\binstruments?\b(?! (set to it|’s own input)|’s own input)": (
        "recorder; 'instrument' only where any bridge instrument of a textbook is meant",
        (
            "calc",
            "answering",
            "guides",
            "calibrating",
            "chaining",
            "records",
            "sources",
            "wiring",
            "quantities",
        ),
    ),
    r"\b(bridge|power|supply) (supply|voltage)\b": ("excitation", ("demo_campaign",)),
    r"\bsupply (wire|corner|voltage)s?\b": (
        "excitation wire, excitation corner",
        ("calc", "chaining"),
    ),
    r"\bgages?\b": ("gauge", ("sheet_words",)),
    r"\bmicrostrain\b": ("µε", ("drifting", "quantities")),
    r"\bwithdr(aw|ew|awn)\b": ("take back, taken back", ("store/migrations", "store/schema")),
    r"\bdelet(e|ed)\b": (
        "take back, take out, let go: nothing is ever deleted",
        ("kept_drawings",),
    ),
    r"\bzero (the|your) (meter|probes)\b": ("null", ()),
    r"\b(on|of) this sheet\b": ("page; a sheet is printed or a file", ("sheets",)),
    r"\b(save|saved)\b(?! (it|again|once|from|at))": ("keep, kept", ("array_files", "workbook")),
    r"\bshunt resistors?\b": ("calibration resistor", ("calc",)),
    r"\btest specimens?\b": ("specimen", ()),
    r"\b(thermocouple|thermistor)s?\b": ("thermometer", ()),
    r"\berror bars?\b": ("whisker", ()),
}


def _of_code(path: Path) -> Iterator[str]:
    tree = ast.parse(path.read_text())
    silent = {
        id(node.value)
        for node in ast.walk(tree)
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)
    }
    for node in ast.walk(tree):
        is_text = isinstance(node, ast.Constant) and isinstance(node.value, str)
        if is_text and id(node) not in silent and " " in node.value.strip():
            yield node.value


def _of_template(path: Path) -> Iterator[str]:
    text = re.sub(r"\{#.*?#\}|\{%.*?%\}|\{\{.*?\}\}", "|", path.read_text(), flags=re.S)
    yield from re.findall(r'(?:aria-label|title|placeholder|alt)="([^"]*)"', text)
    yield from re.sub(r"<[^>]*>", "|", text).split("|")


def _texts() -> list[tuple[str, str]]:
    found = [
        (str(path.relative_to(SOURCE)), text)
        for path in sorted(SOURCE.rglob("*.py"))
        for text in _of_code(path)
    ]
    found += [
        (str(path.relative_to(SOURCE)), text)
        for path in sorted(SOURCE.rglob("*.html"))
        for text in _of_template(path)
    ]
    return found


TEXTS = _texts()


@pytest.mark.parametrize("pattern", INSTEAD)
def test_one_word_for_one_thing(pattern: str) -> None:
    word, but = INSTEAD[pattern]
    wrong = [
        f"{where}: {text.strip()[:90]}"
        for where, text in TEXTS
        if re.search(pattern, text, re.I) and not any(part in where for part in but)
    ]
    assert wrong == [], f"say: {word}"


def test_what_is_read_is_much_and_a_wrong_word_in_it_is_seen(tmp_path: Path) -> None:
    assert len(TEXTS) > 8_000
    page = tmp_path / "page.html"
    page.write_text('<h2 title="The logger">{{ x }} Saved</h2>')
    read = " ".join(_of_template(page))
    assert re.search(next(iter(INSTEAD)), read, re.I)
    code = tmp_path / "code.py"
    code.write_text('"""A logger."""\nx = f"the logger {1}"\n')
    assert list(_of_code(code)) == ["the logger "]
