from pathlib import Path

import pytest
from playwright.sync_api import Page

pytestmark = pytest.mark.full


def test_first_page_of_the_docs_reads_without_anything_from_elsewhere(
    page: Page, built_docs: Path
) -> None:
    asked: list[str] = []
    faults: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.on("pageerror", lambda error: faults.append(str(error)))
    page.goto((built_docs / "index.html").as_uri())
    assert page.locator("h1").inner_text().startswith("gaugewright")
    assert [url for url in asked if not url.startswith(("file:", "data:"))] == []
    assert faults == []


def test_conventions_are_one_click_from_the_first_page(page: Page, built_docs: Path) -> None:
    page.goto((built_docs / "index.html").as_uri())
    page.locator("article").get_by_role("link", name="Signs, units and words").last.click()
    assert page.locator("h1").inner_text().startswith("Signs, units and words")
