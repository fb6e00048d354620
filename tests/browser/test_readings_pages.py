"""Readings in a real browser: zoomed by drag, buttons and keys; a file brought in and watched."""

import re
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, Response, expect

from tests.browser.served import MODES, SIZES, Served, barriers, opened, serving

pytestmark = pytest.mark.full

A = "/c/demo/readings/test%2C%20Recorder%20A"
PATHS = (
    "/c/demo/readings",
    A + "?channel=A01&channel=A04&channel=A17",
    A + "/table?channel=A04",
    "/c/demo/events",
    "/c/demo/import",
    "/c/demo/jobs",
)
ROWS = re.compile(r"Rows ([\d\s]+) to ([\d\s]+) \(")


@pytest.fixture(scope="module")
def served(demo_campaign: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    home = tmp_path_factory.mktemp("campaigns")
    shutil.copytree(demo_campaign, home / "demo")
    with serving(home) as found:
        yield found


@pytest.fixture(scope="module")
def paired(served: Served, chromium: Browser, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Cookie of a browser with somebody at work."""
    kept = tmp_path_factory.mktemp("browser") / "state.json"
    context = chromium.new_context()
    page = context.new_page()
    page.goto(served.address)
    page.goto(served.base + "/people")
    page.get_by_role("button", name=re.compile("^Choose")).first.click()
    context.storage_state(path=kept)
    context.close()
    return kept


def shown(page: Page) -> tuple[int, int]:
    """Rows that the page says are in the window."""
    found = ROWS.search(page.locator("[data-window-words]").inner_text())
    assert found is not None
    first, last = (int(re.sub(r"\s", "", text)) for text in found.groups())
    return first, last


def drawn(page: Page) -> None:
    expect(page.locator("canvas").first).to_be_visible()
    expect(page.locator("#window")).not_to_have_attribute("aria-busy", "true")


def moved(page: Page, before: tuple[int, int]) -> tuple[int, int]:
    """Rows in the window once it has changed."""
    told = page.locator("[data-window-words]")
    first, last = (rf"{n // 1000}\s{n % 1000:03}" if n > 999 else str(n) for n in before)
    expect(told).not_to_have_text(re.compile(rf"Rows {first} to {last} "))
    return shown(page)


def test_a_window_is_zoomed_by_drag_by_keys_and_by_buttons(
    served: Served, paired: Path, chromium: Browser
) -> None:
    with opened(chromium, state=paired) as (page, wrong):
        page.goto(served.base + A + "?channel=A01&channel=A17")
        drawn(page)
        whole = shown(page)
        over = page.locator(".u-over").first
        box = over.bounding_box()
        assert box is not None
        middle = box["y"] + box["height"] / 2
        page.mouse.move(box["x"] + 0.25 * box["width"], middle)
        page.mouse.down()
        page.mouse.move(box["x"] + 0.5 * box["width"], middle, steps=4)
        page.mouse.up()
        dragged = moved(page, whole)
        length = whole[1] - whole[0]
        assert dragged[0] == pytest.approx(0.25 * length, abs=0.03 * length)
        assert dragged[1] == pytest.approx(0.5 * length, abs=0.03 * length)
        assert f"first={dragged[0]}" in page.url  # the address opens the same window again
        page.locator(".live").first.focus()
        page.keyboard.press("+")
        closer = moved(page, dragged)
        assert closer[1] - closer[0] < dragged[1] - dragged[0]
        page.keyboard.press("ArrowRight")
        assert moved(page, closer)[0] > closer[0]
        page.keyboard.press("Home")
        expect(page.locator("[data-key=Home]")).to_have_attribute("aria-disabled", "true")
        assert shown(page) == whole
        page.get_by_role("link", name="Closer").click()
        by_button = moved(page, whole)
        page.get_by_role("link", name="The same as a table").click()
        expect(page.get_by_role("heading", name="as a table")).to_be_visible()
        found = ROWS.search(page.locator(".page-lead").inner_text())
        assert found is not None
        assert tuple(int(re.sub(r"\s", "", text)) for text in found.groups()) == by_button
    assert wrong == []


def test_without_scripts_the_window_is_drawn_by_the_server_and_links_zoom(
    served: Served, paired: Path, chromium: Browser
) -> None:
    context = chromium.new_context(java_script_enabled=False, storage_state=paired)
    page = context.new_page()
    page.goto(served.base + A + "?channel=A01")
    assert page.locator("canvas").count() == 0
    expect(page.locator("figure svg").first).to_be_visible()
    before = shown(page)
    page.get_by_role("link", name="Closer").click()
    after = shown(page)
    assert before[0] < after[0] < after[1] < before[1]
    expect(page.locator("figure svg").first).to_be_visible()
    context.close()


LONG = 1_500_000  # rows: some seconds of work


def is_part(answer: Response) -> bool:
    return "/jobs/" in answer.url and answer.request.headers.get("hx-request") == "true"


def long_file(path: Path) -> Path:
    with path.open("w") as file:
        file.write("t [s],G1 [um/m],G2 [um/m],Load [kN]\n")
        for n in range(LONG):
            file.write(f"{n / 10:.1f},{n % 1013}.25,{n % 907}.75,{n % 251}.5\n")
    return path


def test_a_file_is_brought_in_and_its_job_is_seen_moving_and_stopped(
    served: Served, paired: Path, chromium: Browser, tmp_path: Path
) -> None:
    with opened(chromium, state=paired) as (page, wrong):
        page.goto(served.base + "/c/demo/import")
        page.set_input_files("#file", long_file(tmp_path / "long pull.csv"))
        page.get_by_role("button", name="Show what it holds").click()
        # Seconds from a first row that nobody dates: it is asked, and may stay unknown.
        page.locator("[name='epoch']").fill("none")
        confirm = page.url
        page.get_by_role("button", name="This is right: bring it in").click()
        expect(page.locator(".busy progress")).to_be_visible()
        page.get_by_role("button", name="Stop it").click()
        expect(page.locator(".job")).to_contain_text("stopped", timeout=30_000)
        page.goto(served.base + "/c/demo/readings")
        expect(page.locator(".recordings")).not_to_contain_text("long pull")
        page.goto(confirm)  # the file still waits, with what was understood
        page.locator("[name='epoch']").fill("none")
        page.get_by_role("button", name="This is right: bring it in").click()
        told: list[str] = []
        page.on("response", lambda answer: told.append(answer.text()) if is_part(answer) else None)
        expect(page.locator(".job")).to_contain_text("rows kept, 0 reported", timeout=60_000)
        percents = [int(n) for text in told for n in re.findall(r'max="100" value="(\d+)"', text)]
        assert percents == sorted(percents)
        assert any(0 < percent < 100 for percent in percents)
        page.get_by_role("link", name="Look at long pull").click()
        drawn(page)
        assert shown(page) == (0, LONG - 1)
    assert wrong == []


@pytest.mark.parametrize("size", ["desk", "phone"])
def test_the_window_holds_no_barrier_and_fits_the_screen(
    served: Served, paired: Path, chromium: Browser, size: str
) -> None:
    assert faults_on(served, paired, chromium, size, "day", PATHS[1:2]) == []


@pytest.mark.full
@pytest.mark.parametrize("mode", MODES)
@pytest.mark.parametrize("size", SIZES)
def test_no_page_of_readings_holds_a_barrier_or_an_error(
    served: Served, paired: Path, chromium: Browser, size: str, mode: str
) -> None:
    assert faults_on(served, paired, chromium, size, mode, PATHS) == []


def faults_on(
    served: Served, paired: Path, chromium: Browser, size: str, mode: str, paths: tuple[str, ...]
) -> list[str]:
    found: list[str] = []
    with opened(chromium, size, mode, paired) as (page, wrong):
        for path in paths:
            page.goto(served.base + path)
            if page.locator("#window").count():
                drawn(page)
            found += [f"{path} {fault}" for fault in barriers(page)]
            beyond = page.evaluate("document.documentElement.scrollWidth - window.innerWidth")
            if beyond > 0:
                found.append(f"{path} is {beyond} px wider than the screen")
        found += wrong
    return found
