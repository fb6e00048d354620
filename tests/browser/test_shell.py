"""The frame of the app in a real browser, served by its own command."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect

from gaugewright import settings
from gaugewright.records.identity import working_context
from gaugewright.records.proof import Person
from gaugewright.records.specimen import Campaign
from gaugewright.services.campaign import campaigns
from tests.browser.served import SIZES, Served, barriers, opened, serving


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("campaigns")
    shipped = settings.load({}, environment={}, user_folder=folder / "no settings")
    record = Campaign(label="beam", title="Beam in bending", zone="Europe/Rome", invented=True)
    with campaigns.new(folder / "beam", record, shipped, context=working_context()) as store:
        store.add(Person(label="AB", name="A. Bonder (invented)", role="bonds"))
    return folder


@pytest.fixture(scope="module")
def served(home: Path) -> Iterator[Served]:
    with serving(home) as found:
        yield found


@pytest.fixture(scope="module")
def paired(served: Served, chromium: Browser, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Cookie of the browser that opened the printed address."""
    kept = tmp_path_factory.mktemp("browser") / "state.json"
    context = chromium.new_context()
    page = context.new_page()
    page.goto(served.address)
    expect(page.get_by_role("heading", name="Campaigns")).to_be_visible()
    assert page.url == served.base + "/"  # the key is gone from the address
    context.storage_state(path=kept)
    context.close()
    return kept


def test_the_printed_address_opens_the_campaigns_and_lets_no_second_browser_in(
    served: Served, paired: Path, chromium: Browser
) -> None:
    with opened(chromium) as (page, _):
        answer = page.goto(served.address)
        assert answer is not None
        assert answer.status == 403
        page.goto(served.base + "/")
        expect(page.get_by_role("heading", name="This device isn’t paired yet")).to_be_visible()


def test_a_page_from_elsewhere_cant_send_a_form(
    served: Served, paired: Path, chromium: Browser, home: Path
) -> None:
    """The browser itself tells where a form came from, and keeps the cookie back."""
    with opened(chromium, state=paired) as (page, _):
        page.goto(
            "data:text/html,<form method=post action=" + served.base + "/new>"
            "<input name=folder value=stolen><input name=title value=t>"
            "<input name=zone value=UTC><input name=units value=si></form>"
        )
        with page.expect_navigation():
            page.evaluate("document.forms[0].submit()")
        assert "another page" in page.inner_text("body")
    assert not (home / "stolen").exists()


def test_somebody_new_begins_a_campaign_with_the_keyboard_alone(
    served: Served, paired: Path, chromium: Browser, home: Path
) -> None:
    with opened(chromium, state=paired) as (page, wrong):
        page.goto(served.base + "/new")
        page.get_by_label("Title").focus()
        page.keyboard.type("Second beam")
        page.keyboard.press("Tab")
        page.keyboard.type("beam/2")
        page.get_by_label("Time zone").fill("Europe/Rome")
        page.keyboard.press("Enter")
        expect(page.locator("#folder-wrong")).to_contain_text("letters, digits, dots")
        expect(page.get_by_label("Title")).to_have_value("Second beam")
        page.get_by_label("Folder").fill("beam-2")
        page.keyboard.press("Enter")
        page.wait_for_url("**/c/beam-2/")
        expect(page.locator(".campaign")).to_contain_text("Second beam")
    assert [line for line in wrong if "422" not in line] == []
    assert (home / "beam-2" / "campaign.sqlite").is_file()


def test_day_and_night_paper_are_switched_and_kept(
    served: Served, paired: Path, chromium: Browser
) -> None:
    with opened(chromium, state=paired) as (page, wrong):
        page.goto(served.base + "/")
        day = page.evaluate("getComputedStyle(document.body).backgroundColor")
        page.get_by_role("button", name="Dark page").click()
        night = page.evaluate("getComputedStyle(document.body).backgroundColor")
        assert day != night
        page.reload()
        assert page.evaluate("getComputedStyle(document.body).backgroundColor") == night
        expect(page.get_by_role("button", name="Light page")).to_be_visible()
    assert wrong == []


@pytest.mark.parametrize("switched", [False, True])
def test_paper_in_the_printer_is_white_at_night_too(
    served: Served, paired: Path, chromium: Browser, switched: bool
) -> None:
    with opened(chromium, mode="day" if switched else "night", state=paired) as (page, wrong):
        page.goto(served.base + "/c/beam/plan")
        if switched:
            page.get_by_role("button", name="Dark page").click()
        page.emulate_media(media="print", color_scheme="light" if switched else "dark")
        sheet = "getComputedStyle(document.querySelector('.sheet'))"
        assert page.evaluate(sheet + ".backgroundColor") == "rgb(255, 255, 255)"
        assert page.evaluate(sheet + ".color") == "rgb(0, 0, 0)"
        expect(page.locator(".chain")).to_be_hidden()
        expect(page.locator(".title-block")).to_be_visible()
    assert wrong == []


def test_the_faces_are_those_that_come_with_the_app(
    served: Served, paired: Path, chromium: Browser
) -> None:
    with opened(chromium, state=paired) as (page, wrong):
        page.goto(served.base + "/")
        loaded = page.evaluate(
            "document.fonts.ready.then(() => [...document.fonts]"
            ".filter(f => f.status === 'loaded').map(f => f.family.replaceAll('\"', '')))"
        )
        assert {"Source Sans 3", "STIX Two Text"} <= set(loaded)
    assert wrong == []


def test_everything_works_without_scripts(served: Served, paired: Path, chromium: Browser) -> None:
    context = chromium.new_context(java_script_enabled=False, storage_state=paired)
    page = context.new_page()
    page.goto(served.base + "/people")
    page.get_by_role("button", name="Choose A. Bonder (invented)").click()
    expect(page.locator(".page-lead")).to_have_text(
        "A. Bonder (invented) is at work on this device."
    )
    page.goto(served.base + "/c/beam/plan")
    page.get_by_label("Label, or last four characters, to look for").fill("nothing like it")
    page.get_by_role("button", name="Find").click()
    expect(page.locator(".page-lead")).to_contain_text("Nothing in this campaign")
    context.close()


def test_an_app_that_has_gone_is_told_of_on_the_page(home: Path, chromium: Browser) -> None:
    with serving(home) as served, opened(chromium) as (page, _):
        page.goto(served.address)
        page.evaluate(
            "document.querySelector('.page-lead').setAttribute('hx-get', '/');"
            "htmx.process(document.body)"
        )
        served.process.terminate()
        served.process.wait(timeout=20)
        page.locator(".page-lead").click()
        expect(page.locator("#notices")).to_contain_text("No answer from the app")


@pytest.mark.parametrize("size", SIZES)
def test_the_first_pages_hold_no_barrier_and_fit_the_screen(
    served: Served, paired: Path, chromium: Browser, size: str
) -> None:
    assert faults_on(served, paired, chromium, size, "day", ("/", "/c/beam/plan")) == []


def faults_on(
    served: Served, paired: Path, chromium: Browser, size: str, mode: str, paths: tuple[str, ...]
) -> list[str]:
    found: list[str] = []
    with opened(chromium, size, mode, paired) as (page, wrong):
        for path in paths:
            page.goto(served.base + path)
            found += [f"{path} {fault}" for fault in barriers(page)]
            beyond = page.evaluate("document.documentElement.scrollWidth - window.innerWidth")
            if beyond > 0:
                found.append(f"{path} is {beyond} px wider than the screen")
        found += wrong
    return found
