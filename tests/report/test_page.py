"""The report as one page: complete, by itself, and with user text kept as text."""

import dataclasses
import re
from html.parser import HTMLParser
from pathlib import Path

import pytest

from gaugewright.errors import InputError
from gaugewright.report.page import page


@pytest.fixture(name="report")
def _report(make_document):
    return make_document()


class Fetched(HTMLParser):
    """Everything that a page would fetch or run."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        told = dict(attrs)
        if tag in ("script", "link", "iframe", "object", "embed"):
            self.found.append(tag)
        for name in ("src", "href", "xlink:href"):
            address = told.get(name) or ""
            if address and not address.startswith(("#", "data:")):
                self.found.append(address)
        self.found += [name for name in told if name.startswith("on")]


def test_nothing_beside_the_file_is_needed(report, tmp_path: Path) -> None:
    text = page(report, tmp_path / "report.html").read_text(encoding="utf-8")
    reader = Fetched()
    reader.feed(text)
    assert reader.found == []
    assert set(re.findall(r"url\(\"(\w+):", text)) == {"data"}
    assert "@import" not in text


def test_it_says_what_the_document_says(report, tmp_path: Path) -> None:
    text = page(report, tmp_path / "report.html").read_text(encoding="utf-8")
    assert report.title in text
    for answer in report.answers:
        assert answer.question in text
    for row in report.gauges:
        assert row.label in text
    assert report.figures
    for figure in report.figures:
        assert figure.svg in text


def test_what_people_typed_stays_text(report, tmp_path: Path) -> None:
    evil = dataclasses.replace(report, title="<script>alert(1)</script> & {{ 7*7 }}")
    text = page(evil, tmp_path / "report.html").read_text(encoding="utf-8")
    assert "<script" not in text
    assert "&lt;script&gt;" in text
    assert "{{ 7*7 }}" in text


def test_a_folder_that_isnt_there_is_refused(report, tmp_path: Path) -> None:
    with pytest.raises(InputError, match="folder"):
        page(report, tmp_path / "none" / "report.html")
