"""From a plan to what is ordered and to the tags on its leads, in the browser."""

from collections.abc import Iterator
from pathlib import Path

import pypdf
import pytest
import zxingcpp
from PIL import Image
from playwright.sync_api import Browser, expect

from tests.browser.served import SIZES, Served, barriers, serving
from tests.services import planned_campaigns as made

pytestmark = [pytest.mark.full]


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    home = tmp_path_factory.mktemp("campaigns")
    lab = tmp_path_factory.mktemp("lab")
    made.brace(home / "brace")
    folder = home / "no settings" / "gaugewright"  # where the served app looks for them
    folder.mkdir(parents=True)
    (folder / "settings.toml").write_text(f'laboratory = "{lab}"\n', encoding="utf-8")
    with serving(home) as found:
        yield found


def test_supplies_are_ordered_and_tags_printed(
    served: Served, chromium: Browser, tmp_path: Path
) -> None:
    page = chromium.new_context().new_page()
    page.goto(served.address)
    page.goto(served.base + "/c/brace/plan")
    page.get_by_role("link", name="Supplies").click()
    page.get_by_text("Plan with other numbers").click()
    page.get_by_label("From the end of the bar to the plug").fill("6")
    page.get_by_label("Spares").fill("50")
    page.get_by_role("button", name="Work it out").click()
    expect(page.get_by_text("4 to put on and 2 spare")).to_be_visible()
    with page.expect_download() as taken:
        page.get_by_role("link", name="Take it as a paper").click()
    text = "".join(p.extract_text() for p in pypdf.PdfReader(taken.value.path()).pages)
    assert "degreasing solvent" in text
    page.get_by_text("Write down how much").click()
    page.get_by_label("Supply").select_option("degreasing solvent")
    page.get_by_label("On the shelf").fill("100")
    page.get_by_role("button", name="Write it down").click()
    expect(page.locator("#shelf")).to_contain_text("degreasing solvent")
    page.get_by_role("link", name="Labels and tags").click()
    tag = page.locator(".tag-shown svg").first
    expect(tag).to_be_visible()
    for width, height in SIZES.values():
        page.set_viewport_size({"width": width, "height": height})
        wide = page.evaluate("document.documentElement.scrollWidth")
        assert wide <= width
    assert barriers(page) == []
    page.set_viewport_size({"width": 1440, "height": 900})
    with page.expect_download() as taken:
        page.get_by_role("link", name="Print the sheets").click()
    assert len(pypdf.PdfReader(taken.value.path()).pages) == 1
    near = chromium.new_context(device_scale_factor=3).new_page()
    near.set_content(tag.evaluate("drawing => drawing.outerHTML"))
    near.screenshot(path=tmp_path / "tag.png")
    found = {
        one.text.split()[1] for one in zxingcpp.read_barcodes(Image.open(tmp_path / "tag.png"))
    }
    assert found == {"T0"}
