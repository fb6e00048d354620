"""Forms kept on the device: nothing lost and nothing doubled, whatever goes away meanwhile."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, Route, expect

from gaugewright import settings
from gaugewright.records.identity import working_context
from gaugewright.records.proof import Person
from gaugewright.records.readings import Event
from gaugewright.records.specimen import Campaign
from gaugewright.services.campaign import campaigns
from gaugewright.store.campaign import CampaignStore
from tests.browser.served import Laptop, opened

pytestmark = pytest.mark.full

WAITING = "Kept here, not yet at the laptop"


class Kept(Laptop):
    """A laptop whose events are read from its disk."""

    def events(self) -> list[tuple[str, str]]:
        """Kind and words of every event, in the order they were written."""
        with CampaignStore.open(self.home / "beam", working_context(), read_only=True) as store:
            return [(entry.record.kind, entry.record.text) for entry in store.entries(Event)]


@pytest.fixture
def laptop(tmp_path: Path) -> Iterator[Kept]:
    folder = tmp_path / "campaigns"
    folder.mkdir()
    shipped = settings.load({}, environment={}, user_folder=tmp_path / "no settings")
    record = Campaign(label="beam", title="Beam in bending", zone="Europe/Rome", invented=True)
    with campaigns.new(folder / "beam", record, shipped, context=working_context()) as store:
        store.add(Person(label="AB", name="A. Bonder (invented)", role="bonds"))
    made = Kept(folder)
    yield made
    made.close()


@pytest.fixture
def tablet(laptop: Kept, chromium: Browser) -> Iterator[Page]:
    with opened(chromium, "phone") as (page, _):
        page.goto(laptop.served.address)
        page.goto(laptop.base + "/people")
        page.get_by_role("button", name="Choose A. Bonder (invented)").click()
        page.goto(laptop.base + "/c/beam/events")
        yield page


def tap(page: Page, kind: str, words: str = "") -> None:
    if words:
        page.get_by_label("In words").fill(words)
    page.get_by_role("button", name=kind).click()


def waits(page: Page, count: int) -> None:
    expect(page.locator("#kept-here")).to_contain_text(f"{WAITING}: {count}.")


def nothing_waits(page: Page) -> None:
    expect(page.locator("#kept-here")).to_be_empty(timeout=40_000)


@pytest.mark.full
def test_one_tap_notes_an_event_and_the_list_shows_it(laptop: Kept, tablet: Page) -> None:
    tap(tablet, "crack seen", "midspan")
    expect(tablet.locator("#events")).to_contain_text("midspan")
    nothing_waits(tablet)
    assert laptop.events() == [("crack seen", "midspan")]
    expect(tablet.get_by_label("In words")).to_have_value("")


def test_taps_without_a_network_are_sent_in_order_when_it_is_back(
    laptop: Kept, tablet: Page
) -> None:
    tablet.context.set_offline(True)
    for number in range(1, 8):
        tap(tablet, "load step reached", f"step {number}")
        waits(tablet, number)
    assert laptop.events() == []
    tablet.context.set_offline(False)
    nothing_waits(tablet)
    assert laptop.events() == [("load step reached", f"step {n}") for n in range(1, 8)]


def test_a_laptop_that_is_killed_and_started_again_gets_all_of_it_once(
    laptop: Kept, tablet: Page
) -> None:
    tap(tablet, "crack seen", "before")
    expect(tablet.locator("#events")).to_contain_text("before")
    laptop.kill()
    tap(tablet, "noise heard", "while it was gone, 1")
    tap(tablet, "noise heard", "while it was gone, 2")
    waits(tablet, 2)
    laptop.start()
    nothing_waits(tablet)
    assert laptop.events() == [
        ("crack seen", "before"),
        ("noise heard", "while it was gone, 1"),
        ("noise heard", "while it was gone, 2"),
    ]


def test_an_answer_that_is_lost_on_its_way_doubles_nothing(laptop: Kept, tablet: Page) -> None:
    """The laptop has written the event; the tablet never hears of it and sends it again."""
    sent = 0

    def takes_the_form_and_loses_the_answer(route: Route) -> None:
        nonlocal sent
        if route.request.method != "POST":
            route.continue_()
            return
        sent += 1
        if sent <= 2:
            route.fetch()
            route.abort()
        else:
            route.continue_()

    tablet.route("**/c/beam/events", takes_the_form_and_loses_the_answer)
    tap(tablet, "crack seen", "once")
    nothing_waits(tablet)
    assert sent == 3
    assert laptop.events() == [("crack seen", "once")]


@pytest.mark.full
def test_a_tablet_that_falls_asleep_and_loses_its_page_still_sends(
    laptop: Kept, tablet: Page
) -> None:
    tablet.context.set_offline(True)
    tap(tablet, "crack seen", "then it slept")
    waits(tablet, 1)
    context = tablet.context
    tablet.close()
    context.set_offline(False)
    later = context.new_page()
    later.goto(laptop.base + "/c/beam/plan")  # any page of the app
    nothing_waits(later)
    assert laptop.events() == [("crack seen", "then it slept")]


@pytest.mark.full
def test_two_windows_of_one_tablet_send_each_event_once(laptop: Kept, tablet: Page) -> None:
    second = tablet.context.new_page()
    second.goto(laptop.base + "/c/beam/events")
    tablet.context.set_offline(True)
    for number in range(3):
        tap(tablet, "crack seen", f"first window {number}")
        tap(second, "noise heard", f"second window {number}")
    tablet.context.set_offline(False)
    nothing_waits(tablet)
    nothing_waits(second)
    assert sorted(laptop.events()) == sorted(
        [("crack seen", f"first window {n}") for n in range(3)]
        + [("noise heard", f"second window {n}") for n in range(3)]
    )


@pytest.mark.full
def test_a_draft_outlives_the_page(laptop: Kept, tablet: Page) -> None:
    tablet.get_by_label("In words").fill("half a sen")
    tablet.reload()
    expect(tablet.get_by_label("In words")).to_have_value("half a sen")
    expect(tablet.locator("[data-kept-says]")).to_contain_text("kept on this device")
    tap(tablet, "crack seen")
    expect(tablet.locator("#events")).to_contain_text("half a sen")
    tablet.reload()
    expect(tablet.get_by_label("In words")).to_have_value("")


@pytest.mark.full
def test_what_the_laptop_refuses_is_kept_in_sight_and_the_rest_goes_on(
    laptop: Kept, tablet: Page
) -> None:
    tablet.get_by_label("Gauge", exact=True).fill("no such gauge")
    tap(tablet, "gauge touched", "by a trolley")
    refused = tablet.locator("#kept-here .failed")
    expect(refused).to_contain_text("the label of a gauge of this campaign")
    expect(refused).to_contain_text("by a trolley")
    tap(tablet, "crack seen", "midspan")
    expect(tablet.locator("#events")).to_contain_text("midspan")
    assert laptop.events() == [("crack seen", "midspan")]
    tablet.on("dialog", lambda dialog: dialog.accept())
    refused.get_by_role("button", name="Let it go").click()
    expect(tablet.locator("#kept-here")).to_be_empty()


def test_an_edit_that_met_another_shows_both_values_and_writes_nothing(
    laptop: Kept, tablet: Page
) -> None:
    tap(tablet, "crack seen", "midspan")
    link = tablet.locator("#events").get_by_role("link", name="Change: crack seen")
    link.click()
    tablet.get_by_label("In words").fill("mine: at the west support")
    tablet.get_by_label("Why").fill("looked again")
    other = tablet.context.new_page()
    other.goto(tablet.url)
    other.get_by_label("In words").fill("theirs: at the east support")
    other.get_by_label("Why").fill("looked again")
    other.get_by_role("button", name="Keep the change").click()
    other.wait_for_url("**/c/beam/events")
    tablet.get_by_role("button", name="Keep the change").click()
    both = tablet.locator("#kept-here .failed")
    expect(both).to_contain_text("stands now: theirs: at the east support")
    expect(both).to_contain_text("you typed: mine: at the west support")
    assert laptop.events() == [("crack seen", "theirs: at the east support")]


@pytest.mark.full
def test_without_scripts_the_form_notes_an_event_too(laptop: Kept, chromium: Browser) -> None:
    context = chromium.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(laptop.served.address)
    page.goto(laptop.base + "/people")
    page.get_by_role("button", name="Choose A. Bonder (invented)").click()
    page.goto(laptop.base + "/c/beam/events")
    page.get_by_label("In words").fill("no script here")
    page.get_by_role("button", name="crack seen").click()
    expect(page.locator("#events")).to_contain_text("no script here")
    assert laptop.events() == [("crack seen", "no script here")]
    context.close()
