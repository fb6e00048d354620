"""A gauge under load in a real browser: the handle and a touch move every drawing at once."""

import re
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.browser.served import MODES, SIZES, Served, barriers, opened, serving

pytestmark = pytest.mark.full

GAUGE = "/c/demo/results/gauges/L2-M-T"


@pytest.fixture(scope="module")
def served(demo_campaign: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    home = tmp_path_factory.mktemp("campaigns")
    shutil.copytree(demo_campaign, home / "demo")
    with serving(home) as found:
        yield found


@pytest.fixture(scope="module")
def paired(served: Served, chromium: Browser, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Cookie of a browser that was let in."""
    kept = tmp_path_factory.mktemp("browser") / "state.json"
    context = chromium.new_context()
    context.new_page().goto(served.address)
    context.storage_state(path=kept)
    context.close()
    return kept


@pytest.fixture
def sheet(served: Served, chromium: Browser, paired: Path) -> Iterator[Page]:
    context = chromium.new_context(storage_state=paired, viewport={"width": 1440, "height": 900})
    page = context.new_page()
    page.goto(served.base + GAUGE)
    expect(page.locator("[data-without-script]")).to_be_hidden()
    yield page
    context.close()


def told(page: Page, key: str) -> str:
    return page.locator(f'[data-words="{key}"]').inner_text()


def mark(page: Page, plot: str) -> float:
    line = page.locator(f'[data-plot="{plot}"] .only-wide [data-at] line')
    return float(line.get_attribute("x1") or "nan")


def test_the_handle_moves_every_mark_and_every_word_and_is_kept_in_the_address(
    sheet: Page,
) -> None:
    before = (told(sheet, "time"), mark(sheet, "load"), mark(sheet, "time"))
    handle = sheet.locator('input[name="at"]')
    handle.focus()
    for _ in range(60):
        handle.press("ArrowLeft")
    after = (told(sheet, "time"), mark(sheet, "load"), mark(sheet, "time"))
    assert before[0] != after[0]
    assert after[2] < before[2]
    assert after[1] != before[1]
    number = handle.input_value()
    assert f"at={number}" in sheet.url
    kept = (told(sheet, "strain"), told(sheet, "load"))
    sheet.reload()
    expect(sheet.locator("[data-without-script]")).to_be_hidden()
    assert (told(sheet, "strain"), told(sheet, "load")) == kept


def test_a_touch_in_a_drawing_goes_to_that_instant(sheet: Page) -> None:
    drawing = sheet.locator('[data-plot="time"] .only-wide svg')
    box = drawing.bounding_box()
    assert box is not None
    before = told(sheet, "time")
    drawing.click(position={"x": 0.4 * box["width"], "y": 0.5 * box["height"]})
    assert told(sheet, "time") != before
    scale = 800 / box["width"]
    assert mark(sheet, "time") == pytest.approx(0.4 * box["width"] * scale, abs=15)


def test_without_a_script_a_button_shows_the_instant(
    served: Served, chromium: Browser, paired: Path
) -> None:
    context = chromium.new_context(storage_state=paired, java_script_enabled=False)
    page = context.new_page()
    page.goto(served.base + GAUGE)
    before = told(page, "time")
    handle = page.locator('input[name="at"]')
    handle.focus()
    for _ in range(30):
        handle.press("ArrowLeft")
    page.get_by_role("button", name="Show this instant").click()
    assert re.search(r"at=\d+", page.url)
    assert told(page, "time") != before
    context.close()


@pytest.mark.full
@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("mode", MODES)
def test_the_sheets_have_no_barriers_and_fit_their_screen(
    served: Served, chromium: Browser, paired: Path, size: str, mode: str
) -> None:
    found = []
    with opened(chromium, size, mode, state=paired) as (page, wrong):
        for path in (GAUGE, "/c/demo/results/gauges", "/c/demo/results/events"):
            page.goto(served.base + path)
            found += [f"{path} {fault}" for fault in barriers(page)]
            beyond = page.evaluate("document.documentElement.scrollWidth - window.innerWidth")
            if beyond > 0:
                found.append(f"{path} is {beyond} px wider than the screen")
    assert [*found, *wrong] == []
