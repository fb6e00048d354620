"""Single questions asked in a real browser: by keyboard, without scripts, at every size."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect

from gaugewright.services.answering.asks import TOOLS
from tests.browser.served import MODES, SIZES, Served, barriers, opened, serving

pytestmark = pytest.mark.full

ASKED = {
    "reading": "?reading=2.5&gauge_factor=2.08+%C2%B1+1+%25&lead_resistance=1.34",
    "shunt": "?shunt_resistance=59.88&gauge_resistance=120&gauge_factor=2&lead_resistance=1.34",
    "excitation": "?gauge_resistance=120&grid_length=3&grid_width=1.5&excitation=2.5",
    "flat": "?diameter=16&flat_width=6+%C2%B1+0.2",
    "leads": "?pair_ab=122.7&pair_ac=122.7&pair_bc=2.7",
    "meter": "?gauge_resistance=120&digit=0.1",
}


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    with serving(tmp_path_factory.mktemp("no campaign")) as found:
        yield found


@pytest.fixture(scope="module")
def paired(served: Served, chromium: Browser, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Cookie of the browser that opened the printed address."""
    kept = tmp_path_factory.mktemp("asker") / "state.json"
    context = chromium.new_context()
    context.new_page().goto(served.address)
    context.storage_state(path=kept)
    context.close()
    return kept


def test_a_question_is_asked_with_the_keyboard_and_without_scripts(
    served: Served, paired: Path, chromium: Browser
) -> None:
    context = chromium.new_context(storage_state=paired, java_script_enabled=False)
    page = context.new_page()
    page.goto(served.base + "/")
    page.get_by_role("link", name="worked answers", exact=True).click()
    page.get_by_role("link", name="What does this flat cost?").click()
    page.get_by_label("Diameter of the core").fill("16")
    page.get_by_label("Width of the flat").fill("6,0 ± 0,2")
    page.keyboard.press("Enter")
    # A flat of 6 mm on 16 mm takes 1.17 % by the segment of a circle.
    expect(page.locator(".answer-says")).to_contain_text("1.17 ± 0.14")
    expect(page.get_by_label("Width of the flat")).to_have_value("6,0 ± 0,2")
    context.close()


@pytest.mark.full
@pytest.mark.parametrize("mode", MODES)
@pytest.mark.parametrize("size", SIZES)
def test_nothing_juts_out_and_nobody_is_kept_out(
    served: Served, paired: Path, chromium: Browser, size: str, mode: str
) -> None:
    assert set(ASKED) == set(TOOLS)
    paths = ["/answers", *(f"/answers/{tool}{asked}" for tool, asked in ASKED.items())]
    with opened(chromium, size, mode, paired) as (page, wrong):
        for path in paths:
            page.goto(served.base + path)
            width = page.evaluate("document.documentElement.scrollWidth")
            assert width <= SIZES[size][0], path
            assert barriers(page) == [], path
    assert wrong == []
