"""Filling the plan's forms as a person does: choose, wait for what is asked, type, keep."""

from collections.abc import Mapping
from urllib.parse import quote

from playwright.sync_api import Page, expect

__all__ = ["begin", "fill", "kept"]


def begin(page: Page, base: str, folder: str, title: str, units: str) -> str:
    """Begin a campaign and say who is at work; the address of the campaign."""
    page.goto(base + "/people")
    if page.get_by_text("Plan Maker").count() == 0:
        page.get_by_label("Initials").fill("PM")
        page.get_by_label("Name", exact=True).fill("Plan Maker (invented)")
        page.get_by_role("button", name="Be at work here").click()
    page.goto(base + "/new")
    page.get_by_label("Title").fill(title)
    page.get_by_label("Folder").fill(folder)
    page.get_by_label("Time zone").fill("Europe/Rome")
    page.get_by_label("Units shown").select_option(units)
    page.get_by_role("button", name="Begin the campaign").click()
    expect(page).to_have_url(f"{base}/c/{folder}/")
    return f"{base}/c/{folder}"


def fill(page: Page, campaign: str, key: str, texts: Mapping[str, str], name: str = "") -> None:
    """Open a form, fill it and send it."""
    end = f"/{quote(name, safe='')}" if name else ""
    page.goto(f"{campaign}/plan/enter/{key}{end}")
    _decide(page, texts)
    cells = [field for field in texts if "." in field]
    for _ in range(20):
        if all(page.locator(f'[name="{cell}"]').count() for cell in cells):
            break
        page.get_by_role("button", name="More rows").click()
        page.wait_for_load_state()
    for field, text in texts.items():
        found = page.locator(f'.plan-form [name="{field}"]')
        if found.evaluate("it => it.tagName") == "SELECT":
            if found.input_value() != text:
                found.select_option(text)
        elif found.input_value() != text:
            found.fill(text)
    page.locator(".plan-form button.is-next").click()


def _decide(page: Page, texts: Mapping[str, str]) -> None:
    """Make the choices that decide what else is asked, and wait until it is there."""
    for place in range(page.locator("[hx-get] select").count()):
        choice = page.locator("[hx-get] select").nth(place)
        wanted = texts.get(choice.get_attribute("name") or "")
        if wanted is not None and choice.input_value() != wanted:
            with page.expect_response(lambda answer: "/plan/enter/" in answer.url):
                choice.select_option(wanted)
            expect(choice).to_have_value(wanted)
            expect(page.locator(".htmx-request, .htmx-swapping, .htmx-settling")).to_have_count(0)


def kept(page: Page, words: str) -> None:
    """The page says that something was kept."""
    expect(page.locator(".undo")).to_contain_text(f"Kept: {words}", timeout=20_000)
