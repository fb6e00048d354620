"""The pages on one campaign in a real browser: figures fetched, work begun and seen moving."""

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect

from tests.browser.served import Served, barriers, opened, serving

pytestmark = pytest.mark.full


@pytest.fixture(scope="module")
def served(demo_campaign: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    home = tmp_path_factory.mktemp("campaigns")
    shutil.copytree(demo_campaign, home / "demo")
    with serving(home) as found:
        yield found


@pytest.fixture(scope="module")
def paired(served: Served, chromium: Browser, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Cookie of the browser that opened the printed address and said who is at work."""
    kept = tmp_path_factory.mktemp("browser") / "state.json"
    context = chromium.new_context()
    page = context.new_page()
    page.goto(served.address)
    page.goto(served.base + "/people")
    page.get_by_role("button", name="Mara Specimen").first.click()
    context.storage_state(path=kept)
    context.close()
    return kept


def test_from_the_overview_to_a_gauge_whose_figure_draws_itself(
    served: Served, paired: Path, chromium: Browser
) -> None:
    with opened(chromium, state=paired) as (page, wrong):
        page.goto(served.base + "/c/demo/")
        expect(page.get_by_role("img", name="Gauges along their bars")).to_be_visible()
        page.locator(".gauge-list").get_by_role("link", name="L2-W-U").click()
        expect(page.get_by_role("heading", level=1)).to_have_text("L2-W-U, bar L2")
        expect(page.locator("figure.is-plot svg").first).to_be_visible()
        expect(page.locator("[data-loading]")).to_have_count(0)
        assert barriers(page) == []
    assert wrong == []


def test_without_scripts_the_figures_are_a_link_away(
    served: Served, paired: Path, chromium: Browser
) -> None:
    context = chromium.new_context(java_script_enabled=False, storage_state=paired)
    page = context.new_page()
    page.goto(served.base + "/c/demo/gauges/L4-M-U")
    page.get_by_role("link", name="Show the figures of gauge L4-M-U").click()
    expect(page.locator("figure.is-plot svg").first).to_be_visible()
    page.get_by_role("link", name="Back").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("L4-M-U, bar L4")
    context.close()


@pytest.mark.full
def test_the_report_is_built_while_the_page_shows_how_far_it_is(
    served: Served, paired: Path, chromium: Browser
) -> None:
    with opened(chromium, state=paired) as (page, wrong):
        page.goto(served.base + "/c/demo/handover")
        before = page.locator(".reports-table tbody tr").count()
        page.get_by_role("button", name="Build the").click()
        expect(page.locator("#work progress")).to_be_visible()
        # The page reads itself again when the work has ended.
        expect(page.locator(".reports-table tbody tr")).to_have_count(before + 1, timeout=120_000)
        with page.expect_download() as taken:
            page.get_by_role("link", name="Take it").first.click()
        assert taken.value.suggested_filename == f"demo-report-{before + 1}.pdf"
    assert wrong == []
