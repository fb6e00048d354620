"""Wiring, zeros, identity and survival in one hand: reach, targets, one finger, and on paper."""

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.browser.served import SIZES, Served, at_work, barriers, opened

pytestmark = pytest.mark.full

PAGES = ("wiring", "wiring/A05", "zeros", "identity", "survival")
REACH = 0.4 * SIZES["phone"][1]  # a thumb comes no higher
# What is touched while working on a page: not the frame's own way through the campaign.
CONTROLS = """Array.from(document.querySelectorAll(
  "main input:not([type=hidden]), main select, main textarea, main button, main summary, .at-hand a"
)).filter((each) => each.checkVisibility())"""


@pytest.fixture(scope="module")
def served(
    demo_campaign: Path, tmp_path_factory: pytest.TempPathFactory, chromium: Browser
) -> Iterator[tuple[Served, Path]]:
    folder = tmp_path_factory.mktemp("hand")
    shutil.copytree(demo_campaign, folder / "demo")
    with at_work(folder, chromium) as found:
        yield found


def opened_wide(page: Page, url: str) -> None:
    page.goto(url)
    page.evaluate("document.querySelectorAll('main details').forEach((each) => each.open = true)")


@pytest.mark.parametrize("size", ["tablet", "phone"])
@pytest.mark.parametrize("name", PAGES)
def test_every_control_is_as_large_as_a_gloved_finger(
    served: tuple[Served, Path], chromium: Browser, size: str, name: str
) -> None:
    app, state = served
    with opened(chromium, size, state=state) as (page, wrong):
        opened_wide(page, f"{app.base}/c/demo/{name}")
        assert page.evaluate("document.documentElement.scrollWidth") <= SIZES[size][0]
        small = page.evaluate(
            f"""{CONTROLS}
              .map((each) => [each.outerHTML.slice(0, 90), each.getBoundingClientRect()])
              .filter(([, box]) => box.height < 47.9 || box.width < 47.9)
              .map(([words, box]) => words + " " + box.width + " x " + box.height)"""
        )
        assert small == []
        assert barriers(page) == []
        assert wrong == []


@pytest.mark.parametrize("name", PAGES)
def test_on_a_phone_every_control_is_brought_below_the_upper_two_fifths(
    served: tuple[Served, Path], chromium: Browser, name: str
) -> None:
    app, state = served
    width, height = SIZES["phone"]
    with opened(chromium, "phone", state=state) as (page, _):
        opened_wide(page, f"{app.base}/c/demo/{name}")
        bar = page.locator(".at-hand").bounding_box()
        assert bar is not None
        assert bar["y"] >= REACH
        assert bar["y"] + bar["height"] <= height + 0.5
        assert bar["width"] <= width
        boxes = page.evaluate(
            f"""{CONTROLS}.map((each) => {{
              window.scrollTo(0, 0);
              each.scrollIntoView({{ block: "nearest" }});
              const box = each.getBoundingClientRect();
              return [box.top, box.bottom, Boolean(each.closest(".at-hand")), each.outerHTML];
            }})"""
        )
        assert boxes
        for top, bottom, is_in_bar, words in boxes:
            assert top >= REACH - 0.5, words
            assert bottom <= (height if is_in_bar else bar["y"]) + 0.5, words  # not under the bar


@pytest.mark.parametrize(("name", "start"), [("zeros", "#take"), ("identity", "#prove")])
def test_one_tap_leads_from_the_bar_to_the_form(
    served: tuple[Served, Path], chromium: Browser, name: str, start: str
) -> None:
    app, state = served
    with opened(chromium, "phone", state=state) as (page, _):
        page.goto(f"{app.base}/c/demo/{name}")
        page.locator(".at-hand a").first.click()
        found = page.locator(start)
        expect(found).to_be_in_viewport()
        assert (found.bounding_box() or {"y": 0})["y"] >= REACH - 1


@pytest.mark.parametrize("name", PAGES)
def test_it_prints_on_paper_with_its_tables_whole_and_without_the_bar(
    served: tuple[Served, Path], chromium: Browser, name: str
) -> None:
    app, state = served
    with opened(chromium, "desk", state=state) as (page, _):
        page.goto(f"{app.base}/c/demo/{name}")
        page.emulate_media(media="print")
        page.set_viewport_size({"width": 720, "height": 1020})  # A4 within its margins
        assert page.evaluate("document.documentElement.scrollWidth") <= 720
        expect(page.locator(".at-hand")).to_be_hidden()
        expect(page.locator("main h1").first).to_be_visible()
        assert page.pdf(format="A4")[:5] == b"%PDF-"
