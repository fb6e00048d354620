"""Findings decided with the keyboard alone; the page at every size and on both papers."""

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect

from tests.browser.served import MODES, SIZES, Served, barriers, opened, serving

pytestmark = pytest.mark.full


@pytest.fixture(scope="module")
def home(demo_campaign: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("to review")
    shutil.copytree(demo_campaign, folder / "demo")
    return folder


@pytest.fixture(scope="module")
def served(home: Path) -> Iterator[Served]:
    with serving(home) as found:
        yield found


@pytest.fixture(scope="module")
def paired(served: Served, chromium: Browser, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Cookie of a browser that was let in, with somebody at work."""
    kept = tmp_path_factory.mktemp("reviewer") / "state.json"
    context = chromium.new_context()
    page = context.new_page()
    page.goto(served.address)
    page.goto(served.base + "/people")
    page.get_by_role("button", name="Choose Ines Example (invented)").click()
    context.storage_state(path=kept)
    context.close()
    return kept


def test_a_finding_is_decided_and_taken_back_with_the_keyboard_alone(
    served: Served, paired: Path, chromium: Browser
) -> None:
    with opened(chromium, state=paired) as (page, wrong):
        page.goto(served.base + "/c/demo/review")
        title = page.get_by_role("heading", level=1)
        expect(title).to_contain_text("findings to decide")
        many = int(title.inner_text().split()[0])
        first = page.locator(".review-says").inner_text()
        page.keyboard.press("j")
        expect(page.locator(".review-says")).not_to_have_text(first)
        page.keyboard.press("k")
        expect(page.locator(".review-says")).to_have_text(first)
        page.keyboard.press("a")
        expect(page.get_by_label("Why")).to_be_focused()
        page.keyboard.type("arm found open, r and e typed as letters")
        page.keyboard.press("Enter")
        expect(title).to_have_text(f"{many - 1} findings to decide")
        expect(page.locator(".undo")).to_contain_text("accepted")
        page.get_by_role("button", name="Undo").click()
        page.goto(served.base + "/c/demo/review")
        expect(title).to_have_text(f"{many} findings to decide")
    assert wrong == []


def test_a_finding_without_rows_cant_be_excluded_by_key(
    served: Served, paired: Path, chromium: Browser
) -> None:
    with opened(chromium, state=paired) as (page, wrong):
        page.goto(served.base + "/c/demo/review")
        page.get_by_role("link", name="gate failed").click()
        page.keyboard.press("e")
        assert page.locator("input:checked").count() == 0
        page.keyboard.press("r")
        expect(page.locator("input[value=rejected]")).to_be_checked()
    assert wrong == []


@pytest.mark.full
@pytest.mark.parametrize("mode", MODES)
@pytest.mark.parametrize("size", SIZES)
def test_nothing_juts_out_and_nobody_is_kept_out(
    served: Served, paired: Path, chromium: Browser, size: str, mode: str
) -> None:
    with opened(chromium, size, mode, paired) as (page, wrong):
        for path in ("/c/demo/review", "/c/demo/review?decided=0"):
            page.goto(served.base + path)
            width = page.evaluate("document.documentElement.scrollWidth")
            assert width <= SIZES[size][0]
            assert barriers(page) == []
    assert wrong == []
