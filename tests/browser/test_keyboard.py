"""The job with a keyboard and no mouse; and its forms where no script runs."""

import re
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.browser import slab_strip
from tests.browser.keys import Keys
from tests.browser.served import Served, at_work, opened

pytestmark = [pytest.mark.full, pytest.mark.timeout(300)]

WIRED = dict(slab_strip.WIRED)
ROWS = {
    f"rows.{number}.{head}": text
    for number, values in enumerate(slab_strip.STATIONS[:2], 1)
    for head, text in zip(("label", "bar", "distance", "angle"), values, strict=True)
}
# In the order of a paper: what each form is given, and what its button says.
FORMS = (
    ("question", {"label": "yield", "text": "At which load does the bar yield?"}),
    slab_strip.PLAN[0][:2],
    slab_strip.PLAN[1][:2],
    ("bar", slab_strip.PLAN[2][1] | {"label": "B1"}),
    ("stations", {"datum": "west end of the bar"} | ROWS),
    ("pack", WIRED["pack"]),
    ("gauges", WIRED["gauges"]),
    ("circuits", WIRED["circuits"]),
    ("instrument", WIRED["instrument"]),
    ("channels", WIRED["channels"]),
    ("wired", WIRED["wired"]),
)


@pytest.fixture(scope="module")
def app(
    demo_campaign: Path, tmp_path_factory: pytest.TempPathFactory, chromium: Browser
) -> Iterator[tuple[Served, Path]]:
    home = tmp_path_factory.mktemp("campaigns")
    shutil.copytree(demo_campaign, home / "demo")
    with at_work(home, chromium) as found:
        yield found


def test_the_whole_job_from_the_keyboard(
    app: tuple[Served, Path], chromium: Browser, tmp_path: Path
) -> None:
    served, state = app
    with opened(chromium, state=state) as (page, wrong):
        keys = Keys(page)
        campaign = begin(keys, served.base)
        for key, texts in FORMS:
            keys.open(f"{campaign}/plan/enter/{key}")
            keys.fill(texts)
            submit(keys)
            expect(page.locator(".undo")).to_be_focused()
        taken_back(keys)
        bring_in(keys, campaign, tmp_path)
        demo = f"{served.base}/c/demo"
        bench(keys, demo)
        gate(keys, demo)
        review(keys, demo)
        drawings(keys, demo)
        hand_over(keys, demo)
    assert [line for line in wrong if "422" not in line] == []


def begin(keys: Keys, base: str) -> str:
    """A refused folder has the cursor; the next name goes through."""
    keys.open(base + "/")
    keys.send("Begin a campaign")
    keys.write("title", "One bar, by keys")
    keys.write("folder", "by/keys")
    keys.write("zone", "Europe/Rome")
    keys.press("Enter")
    expect(keys.page.locator("[name=folder]")).to_be_focused()
    keys.change("by-keys")
    keys.press("Enter")
    keys.page.wait_for_url("**/c/by-keys/")
    return base + "/c/by-keys"


def submit(keys: Keys) -> None:
    """On to the form's own button, and press it."""
    for _ in range(60):
        keys.press("Tab")
        if keys.page.locator(".plan-form button.is-next:focus").count():
            break
    else:
        raise AssertionError("the form's button isn't reached")
    with keys.page.expect_navigation():
        keys.press("Enter")


def taken_back(keys: Keys) -> None:
    """From what was kept one press leads to Undo; the page says that it is taken back."""
    assert keys.to("Undo") == 1
    with keys.page.expect_navigation():
        keys.press("Enter")
    expect(keys.page.locator("#notices .notice")).to_be_focused()
    expect(keys.page.locator("#notices")).to_contain_text("Taken back")


def bring_in(keys: Keys, campaign: str, folder: Path) -> None:
    """A file, and answers to what it doesn't say."""
    page, file = keys.page, folder / "strip.txt"
    slab_strip.logger_file(file)
    keys.open(f"{campaign}/import")
    page.locator("input[type=file]").first.set_input_files(file)
    keys.send("Show what it holds")
    keys.send("This is right")
    expect(page.locator(".wrong, .failed").first).to_be_visible()
    assert keys.here["tag"] != "BODY"


def bench(keys: Keys, demo: str) -> None:
    """Enter goes from box to box and takes no slip as meant; the last box leads to Done."""
    page = keys.page
    page.goto(f"{demo}/bench/do?method=bar+to+be+cast+in&step=smooth&gauge=L1-M-T")
    keys.to(field="value:diameter left:L1-M-T")
    for text in ("15.97", "60", "0.052"):
        page.keyboard.type(text)
        keys.press("Enter")
    assert keys.here["name"] == "value:flat depth:L1-M-T"
    keys.to("Done")
    keys.press("Enter")
    expect(page.get_by_role("button", name="Take 5.2 mm")).to_be_focused()
    with page.expect_navigation(url="**/bench/kept/**"):
        keys.press("Enter")
    expect(page.locator(".notice")).to_be_focused()


def gate(keys: Keys, demo: str) -> None:
    """Each box by its own Enter, from the first that has the cursor to the record."""
    page = keys.page
    page.goto(f"{demo}/gates/before%20test/L1-M-U")
    expect(page.locator("#a_b")).to_be_focused()
    for text in ("353.7", "4.43"):
        page.keyboard.type(text)
        keys.press("Enter")
    page.keyboard.type("840")
    with page.expect_response(lambda answer: answer.request.method == "POST"):
        keys.press("Enter")


def review(keys: Keys, demo: str) -> None:
    """A finding decided by its choices; single keys switched off do nothing."""
    page = keys.page
    keys.open(f"{demo}/review")
    keys.to("Keys off")
    keys.press("Enter")
    page.keyboard.press("a")
    assert page.locator("input:checked").count() == 0
    keys.press("Enter")
    keys.to(field="decision")
    keys.press("Space")
    keys.to("Keep the decision")
    keys.press("Enter")
    expect(page.locator("[name=reason]")).to_be_focused()
    page.keyboard.type("it was seen")
    with page.expect_navigation():
        keys.press("Enter")
    expect(page.locator(".undo")).to_be_focused()


def drawings(keys: Keys, demo: str) -> None:
    """A window of readings by its keys, an instant by arrows, and their tables."""
    page = keys.page
    keys.open(f"{demo}/readings/test%2C%20Recorder%20A")
    expect(page.locator(".window .live").first).to_be_visible()
    page.locator(".window .live").first.focus()
    page.keyboard.press("+")
    page.wait_for_url("**first=*")
    expect(page.locator(".window .live").first).to_be_focused()
    keys.send("The same as a table")
    keys.open(f"{demo}/results/gauges/L1-M-U")
    keys.to(field="at")
    before = page.locator("[data-words=time]").inner_text()
    page.keyboard.press("ArrowLeft")
    expect(page.locator("[data-words=time]")).not_to_have_text(before)
    keys.to("The same as a table")


def hand_over(keys: Keys, demo: str) -> None:
    """The work that a button began has the focus where the button was, and can be stopped."""
    page = keys.page
    keys.open(f"{demo}/results")
    keys.to("Reduce again")
    keys.press("Enter")
    expect(page.locator("#work .job")).to_be_visible()
    assert keys.here["tag"] != "BODY"
    keys.to("Stop it", within=3)
    keys.press("Enter")
    expect(page.locator("#work")).to_contain_text(re.compile("Stopping|stopped"))
    keys.open(f"{demo}/handover")
    assert keys.to("Build the next revision") <= 3
    keys.press("Enter")
    expect(page.locator("#work .job")).to_be_visible()


def test_forms_work_where_no_script_runs(app: tuple[Served, Path], chromium: Browser) -> None:
    served, state = app
    context = chromium.new_context(java_script_enabled=False, storage_state=state)
    page: Page = context.new_page()
    demo = f"{served.base}/c/demo"
    page.goto(f"{demo}/plan/enter/sensor")
    page.locator("[name=quantity]").select_option("temperature")
    page.get_by_role("button", name="Show what it asks").first.click()
    expect(page.locator("[name=quantity]")).to_have_value("temperature_degc")
    page.goto(f"{demo}/gates/before%20test/L1-M-T")
    assert "Type each value whole" in page.inner_text("main")
    expect(page.locator("[data-keypad]")).to_be_hidden()
    page.goto(f"{demo}/results/gauges/L1-M-U")
    before = page.locator("[data-words=time]").inner_text()
    page.locator("[name=at]").fill("5")
    page.get_by_role("button", name="Show this instant").click()
    assert page.locator("[data-words=time]").inner_text() != before
    page.goto(f"{demo}/gauges/L1-M-U")
    expect(page.get_by_text("are being drawn")).to_be_hidden()
    page.get_by_role("link", name="Show the figures of gauge L1-M-U").click()
    expect(page.locator("figure svg").first).to_be_visible()
    page.goto(f"{demo}/readings/test%2C%20Recorder%20A")
    page.get_by_role("link", name="Closer").click()
    assert "This browser runs no scripts" in page.inner_text("main")
    page.goto(f"{demo}/test-day")
    page.get_by_role("button", name="crack seen").click()
    expect(page.locator(".journal").first).to_contain_text("crack seen")
    context.close()
