"""Every page of the app at three sizes, by day and by night: no barrier, no error, no overflow.

One server, one browser, one visit for each page; the size and the paper change under it. At each
the Tab key's stops show where they are, and what was served is whole where no script runs.
GAUGEWRIGHT_SHOTS names a folder that keeps a picture of each page at each size.
"""

import os
import re
import shutil
from collections.abc import Iterator
from importlib import import_module
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from gaugewright.records.identity import working_context
from gaugewright.services.campaign.book import Book
from gaugewright.services.guides.quick_guides import guides
from gaugewright.store.campaign import CampaignStore
from gaugewright.web.app import PAGES
from tests.browser.every_page import MORE, NOT_IN_DEMO, NOT_PAGES, addresses
from tests.browser.keys import missing_without_scripts, unseen_focus
from tests.browser.served import SIZES, Served, at_work, barriers, opened

pytestmark = [pytest.mark.full, pytest.mark.timeout(300)]

OVER = "document.documentElement.scrollWidth - document.documentElement.clientWidth"


def patterns() -> list[str]:
    return [
        route.path
        for area in PAGES
        for route in import_module(f"gaugewright.web.pages.{area}").router.routes
        if "GET" in route.methods
    ]


@pytest.fixture(scope="module")
def app(
    demo_campaign: Path, tmp_path_factory: pytest.TempPathFactory, chromium: Browser
) -> Iterator[tuple[Served, Path, Book]]:
    home = tmp_path_factory.mktemp("campaigns")
    shutil.copytree(demo_campaign, home / "demo")
    with CampaignStore.open(home / "demo", working_context(), read_only=True) as store:
        book = Book.read(store)
    with at_work(home, chromium) as (served, state):
        yield served, state, book


def where(pattern: str, book: Book) -> str:
    return addresses(book).get(pattern, pattern.replace("{name}", "demo"))


def test_the_list_of_pages_is_whole_and_holds_nothing_that_is_gone(
    app: tuple[Served, Path, Book],
) -> None:
    known = set(addresses(app[2])) | NOT_PAGES | NOT_IN_DEMO
    open_ones = {p for p in patterns() if "{" in p.replace("{name}", "") and p not in known}
    assert open_ones == set()
    assert known - set(patterns()) == set()


AREAS = sorted(
    {re.sub(r"^/c/\{name\}/", "", p).partition("/")[0].partition(".")[0] for p in patterns()}
)


@pytest.mark.parametrize("area", AREAS)
def test_no_page_keeps_anybody_out_fails_or_runs_over_its_edge(
    app: tuple[Served, Path, Book], chromium: Browser, area: str
) -> None:
    served, state, book = app
    mine = [
        pattern
        for pattern in patterns()
        if pattern not in NOT_PAGES | NOT_IN_DEMO
        and re.sub(r"^/c/\{name\}/", "", pattern).partition("/")[0].partition(".")[0] == area
    ]
    found: list[str] = []
    with opened(chromium, state=state) as (page, wrong):
        page.set_default_timeout(60_000)
        # Else axe sees colours on their way from one paper to the other.
        page.emulate_media(reduced_motion="reduce")
        paths = [*(where(pattern, book) for pattern in mine), *MORE.get(area, ())]
        for path in dict.fromkeys(paths):
            answer = page.goto(served.base + path)
            assert answer is not None
            assert answer.status == 200, path
            missing = missing_without_scripts(page, answer.text())
            found += [f"{path} without scripts: {fault}" for fault in missing]
            found += faults_of(page, path)
        found += wrong
    assert found == []


def faults_of(page: Page, path: str) -> list[str]:
    """What is wrong with the page that is open: at each size its width, then by day and night."""
    expect(page.locator("[data-loading]")).to_have_count(0, timeout=60_000)
    found = []
    for size in ("tablet", "phone", "desk"):
        width, height = SIZES[size]
        page.set_viewport_size({"width": width, "height": height})
        over = page.evaluate(OVER)
        found += [f"{path} is {over} px too wide on a {size}"] if over else []
        keep_picture(page, path, size)
    # The desk by day and the phone by night: every rule meets both layouts and both papers.
    found += [f"{path} on a desk by day: {fault}" for fault in barriers(page) + unseen_focus(page)]
    width, height = SIZES["phone"]
    page.set_viewport_size({"width": width, "height": height})
    page.emulate_media(color_scheme="dark")
    found += [
        f"{path} on a phone by night: {fault}" for fault in barriers(page) + unseen_focus(page)
    ]
    keep_picture(page, path, "phone at night")
    page.emulate_media(color_scheme="light")
    return found


def keep_picture(page: Page, path: str, size: str) -> None:
    """A picture for a person to look at, where a folder for them is named."""
    folder = os.environ.get("GAUGEWRIGHT_SHOTS")
    if folder:
        name = re.sub(r"[^\w.-]+", "_", path.strip("/") or "campaigns")
        page.screenshot(path=Path(folder) / f"{name} {size}.png", full_page=True)


def test_every_quick_guide_prints_on_one_page(
    app: tuple[Served, Path, Book], chromium: Browser
) -> None:
    served, state, _ = app
    with opened(chromium, state=state) as (page, wrong):
        for guide in guides():
            page.goto(f"{served.base}/guides/{guide.key}")
            printed = page.pdf(format="A4", prefer_css_page_size=True)
            assert len(re.findall(rb"/Type\s*/Page\b", printed)) == 1, guide.key
    assert wrong == []
