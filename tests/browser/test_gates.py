"""The bench page of a gate in a hand: reach, targets, keys, a numeric pad, a network that goes."""

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from gaugewright.records.identity import working_context
from gaugewright.records.proof import Gate, GateCheck
from gaugewright.services.campaign.book import Book
from gaugewright.store.campaign import CampaignStore
from tests.browser.gate_circuits import CIRCUITS, every_circuit
from tests.browser.served import SIZES, Served, at_work, barriers, opened

TOUCH = ".reach button, .reach a, .reach .box, .reach .tick"


@pytest.fixture(scope="module")
def home(demo_campaign: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo before the pour, some gauges in other circuits; and the demo as it is."""
    folder = every_circuit(demo_campaign, tmp_path_factory.mktemp("gates"))
    shutil.copytree(demo_campaign, folder / "full")
    return folder


@pytest.fixture(scope="module")
def served(home: Path, chromium: Browser) -> Iterator[tuple[Served, Path]]:
    with at_work(home, chromium) as found:
        yield found


def url(served: Served, gauge: str) -> str:
    return f"{served.base}/c/demo/gates/before-pour/{gauge}"


def checks(home: Path, gauge: str) -> list[dict[str, str]]:
    with CampaignStore.open(home / "demo", working_context(), read_only=True) as store:
        book = Book.read(store)
        return [
            {reading.what: reading.typed for reading in check.record.readings}
            for check in book.of(GateCheck)
            if check.record.gate is Gate.BEFORE_POUR and book.label(check.record.gauge) == gauge
        ]


@pytest.mark.parametrize("size", list(SIZES))
def test_targets_are_large_and_nothing_is_wider_than_the_screen(
    served: tuple[Served, Path], chromium: Browser, size: str
) -> None:
    app, state = served
    with opened(chromium, size, state=state) as (page, wrong):
        page.goto(url(app, "L4-M-T"))
        assert page.evaluate("document.documentElement.scrollWidth") <= SIZES[size][0]
        small = page.evaluate(
            """(what) => Array.from(document.querySelectorAll(what))
              .filter((each) => each.offsetParent !== null)
              .map((each) => [each.textContent.trim(), each.getBoundingClientRect()])
              .filter(([, box]) => box.height < 48 || box.width < 48)
              .map(([words, box]) => words + " " + box.width + " x " + box.height)""",
            TOUCH,
        )
        assert small == []
        assert barriers(page) == []
        assert wrong == []


def test_on_a_phone_everything_to_touch_lies_in_the_lower_three_fifths(
    served: tuple[Served, Path], chromium: Browser
) -> None:
    app, state = served
    with opened(chromium, "phone", state=state) as (page, _):
        page.goto(url(app, "L4-M-T"))
        boxes = page.evaluate(
            """(what) => Array.from(document.querySelectorAll(what))
              .filter((each) => each.offsetParent !== null)
              .map((each) => each.getBoundingClientRect()).map((box) => [box.top, box.bottom])""",
            TOUCH,
        )
        assert len(boxes) > 20
        assert min(top for top, _ in boxes) >= 0.4 * 844
        assert max(bottom for _, bottom in boxes) <= 844
        # Nothing else that is touched while measuring stands above them.
        above = page.evaluate(
            """() => Array.from(document.querySelectorAll("a, button, input, select, summary"))
              .filter((each) => each.offsetParent !== null && !each.closest(".skip"))
              .filter((each) => each.type !== "hidden" && !each.classList.contains("skip"))
              .filter((each) => each.getBoundingClientRect().bottom > 0
                && each.getBoundingClientRect().top < 0.4 * 844)
              .map((each) => each.outerHTML)"""
        )
        assert above == []


def test_a_gauge_takes_fourteen_taps_at_most(
    served: tuple[Served, Path], home: Path, chromium: Browser
) -> None:
    app, state = served
    taps = 0
    with opened(chromium, "tablet", state=state) as (page, _):
        page.goto(url(app, "L2-M-T"))

        def tap(*names: str) -> None:
            nonlocal taps
            for name in names:
                page.locator(f".key[data-key='{name}']").click()
                taps += 1

        tick = page.locator(".tick input")
        if tick.count():
            tick.check()
            taps += 1
        tap(*"35490")  # the point sets itself, the next box is taken by itself
        expect(page.locator("#a_b")).to_have_value("354.90")
        tap(*"445")
        expect(page.locator("#b_c")).to_have_value("4.45")
        expect(page.locator(".key[data-key='special']")).to_have_text("> 2000")
        tap("special")
        expect(page.locator("#insulation")).to_have_value("> 2000")
        tap("next")
        expect(page.locator(".said")).to_contain_text("L2-M-T: pass")
    assert taps <= 14
    assert checks(home, "L2-M-T") == [{"A-B": "354.90", "B-C": "4.45", "insulation": "> 2000 MΩ"}]


@pytest.mark.full
@pytest.mark.parametrize(
    ("gauge", "digits"),
    [
        ("L3-M-U", ("70218", "35218")),
        ("L4-M-U", ("35218", "35218")),
        ("L2-M-U", ("35218", "218", "218")),
        ("L3-R1-S", ("12218", "12218")),
        ("L3-R2-S", ("218", "218", "12218")),
    ],
)
def test_half_and_full_bridges_take_fourteen_taps_at_most_from_the_first_time_on(
    served: tuple[Served, Path], home: Path, chromium: Browser, gauge: str, digits: tuple[str, ...]
) -> None:
    app, state = served
    taps = 0
    with opened(chromium, "tablet", state=state) as (page, wrong):
        page.goto(url(app, gauge))
        tick = page.locator(".tick input")
        if tick.count():
            tick.check()
            taps += 1
        for key in (*"".join(digits), "special", "next"):
            page.locator(f".key[data-key='{key}']").click()
            taps += 1
        page.wait_for_url("**done=**")
        assert wrong == []
    assert taps <= 14
    read = checks(home, gauge)[-1]
    assert [text.replace(".", "") for what, text in read.items() if "-" in what] == list(digits)


def test_a_numeric_pad_does_as_well(
    served: tuple[Served, Path], home: Path, chromium: Browser
) -> None:
    app, state = served
    with opened(chromium, state=state) as (page, _):
        page.goto(url(app, "L2-W-U"))
        unplugged(page)
        page.locator("#a_b").focus()
        page.keyboard.type("352.81")
        page.keyboard.type("4.42")  # typed on: the next box was taken
        page.locator("#insulation").fill("> 2000")
        page.keyboard.press("Enter")
        expect(page.locator("[data-kept-says], .said").first).to_be_visible()
        page.wait_for_url("**/gates/before-pour/**done=**")
    assert checks(home, "L2-W-U")[0]["A-B"] == "352.81"
    assert checks(home, "L2-W-U")[0]["B-C"] == "4.42"


def test_a_slip_is_asked_about_in_reach_and_taken_at_a_tap(
    served: tuple[Served, Path], home: Path, chromium: Browser
) -> None:
    app, state = served
    before = 0
    with opened(chromium, "phone", state=state) as (page, _):
        page.goto(url(app, "L3-M-T"))
        unplugged(page)
        was = page.locator(".was").first.inner_text().removeprefix("was ")
        wrong = was[1] + was[0] + was[2:]
        page.locator("#a_b").fill(wrong)
        page.locator(".bench-go [type=submit]").click()
        ask = page.locator("[data-asked-use]")
        expect(ask).to_contain_text(was)
        assert (ask.bounding_box() or {"y": 0})["y"] >= 0.4 * 844
        assert len(checks(home, "L3-M-T")) == before
        ask.click()
        page.wait_for_url("**done=**")
    assert checks(home, "L3-M-T") == [{"A-B": was}]


def test_three_gauges_are_read_while_the_network_is_gone(
    served: tuple[Served, Path], home: Path, chromium: Browser
) -> None:
    app, state = served
    with opened(chromium, "tablet", state=state) as (page, _):
        page.goto(url(app, "L3-R3-S"))
        kept = "Object.keys(sessionStorage).filter((n) => n.startsWith('gaugewright page')).length"
        for _ in range(100):  # its own policy lets no waiting function in
            if page.evaluate(kept) > 3:
                break
            page.wait_for_timeout(100)
        page.context.set_offline(True)
        read = []
        for _ in range(3):
            label = page.locator(".where b").inner_text()
            unplugged(page)
            was = page.locator(".was").first.inner_text().removeprefix("was ")
            page.locator("#a_b").fill(was)
            page.locator(".bench-go [type=submit]").click()
            expect(page.locator(".where b")).not_to_have_text(label)
            read.append((label, was))
        expect(page.locator("#kept-here")).to_contain_text("not yet at the laptop: 3.")
        page.context.set_offline(False)
        expect(page.locator("#kept-here")).to_be_empty(timeout=40_000)
    for label, was in read:
        assert checks(home, label) == [{"A-B": was}]


def unplugged(page: Page) -> None:
    tick = page.locator(".tick input")
    if tick.count():
        tick.check()


# Every page of the gates but the one that is measured on, which has tests of its own above.
PAGES = {
    "table": "full/gates?gate=after%20pour",
    "meters": "full/gates/meters",
    "reasons": "full/gates/before-test/L3-R6-S/diagnosis",
    "faults": "full/faults?q=hum",
    "read before": "full/gates/before-test/L3-R6-S",
}
CONTROLS = """() => Array.from(
    document.querySelectorAll("main a, main button, main input, main select, main summary"))
  .filter((each) => each.offsetParent !== null && each.type !== "hidden")
  .filter((each) => !each.matches(".past"))  // seen only by whoever comes with the keyboard
  .map((each) => {
    const whole = (each.matches(".box input, .box select") ? each.closest(".box")
      : each.closest("label.tick")) || each;
    const box = whole.getBoundingClientRect();
    return [(each.textContent || each.name).trim(), box.top + scrollY, box.width, box.height];
  })"""


@pytest.mark.full
@pytest.mark.parametrize("name", list(PAGES))
def test_controls_of_every_gate_page_come_within_a_thumb_s_reach(
    served: tuple[Served, Path], chromium: Browser, name: str
) -> None:
    app, state = served
    with opened(chromium, "phone", state=state) as (page, wrong):
        page.goto(f"{app.base}/c/{PAGES[name]}")
        controls = page.evaluate(CONTROLS)
        assert controls
        # A page moves up, never further down than its top: what begins above can't be reached.
        assert [c for c in controls if c[1] < 0.4 * 844] == []
        assert [c for c in controls if min(c[2:]) < 48] == []
        # Nothing that is pulled sideways: no table, no slider, nothing to be dragged.
        assert page.evaluate("document.documentElement.scrollWidth") <= 390
        pulled = """Array.from(document.querySelectorAll("main *")).filter((each) =>
            (each.scrollWidth > each.clientWidth + 1
              && ["auto", "scroll"].includes(getComputedStyle(each).overflowX))
            || each.draggable && !["A", "IMG"].includes(each.tagName)
            || each.matches("input[type=range]")).length"""
        assert page.evaluate(pulled) == 0
        assert barriers(page) == []
        assert wrong == []


@pytest.mark.full
@pytest.mark.parametrize("full", ["", "?full=1"], ids=["fewest", "all pairs"])
@pytest.mark.parametrize("gauge", list(CIRCUITS))
def test_every_circuit_is_read_within_a_thumb_s_reach(
    served: tuple[Served, Path], chromium: Browser, gauge: str, full: str
) -> None:
    app, state = served
    with opened(chromium, "phone", state=state) as (page, wrong):
        page.goto(url(app, gauge) + full)
        boxes = page.evaluate(
            """(what) => Array.from(document.querySelectorAll(what))
              .filter((each) => each.offsetParent !== null)
              .map((each) => each.getBoundingClientRect())
              .map((box) => [box.top, box.bottom, box.width, box.height])""",
            TOUCH,
        )
        assert min(top for top, *_ in boxes) >= 0.4 * 844
        assert max(bottom for _, bottom, *_ in boxes) <= 844
        assert min(min(box[2:]) for box in boxes) >= 48
        assert page.evaluate("document.documentElement.scrollWidth") <= 390
        assert wrong == []


@pytest.mark.full
def test_an_odd_gauge_shows_what_it_may_be_while_the_next_is_read(
    served: tuple[Served, Path], chromium: Browser
) -> None:
    app, state = served
    with opened(chromium, "tablet", state=state) as (page, wrong):
        page.goto(f"{app.base}/c/full/gates/before-test/L3-R6-S")
        page.locator(".key[data-key='7']").click()  # the keypad answers before the reasons are in
        gist = page.locator(".diagnosis-short")
        expect(gist).to_contain_text("Cable crushed", timeout=30_000)
        expect(gist).to_contain_text("of the cable's length from the plug")
        expect(page.locator("#a_b")).to_have_value("7")
        gist.get_by_role("link", name="Reasons, and what to read next").click()
        expect(page.locator("h1")).to_contain_text("What may be wrong with L3-R6-S")
        assert barriers(page) == []
        assert wrong == []


@pytest.mark.full
def test_a_half_bridge_with_an_open_lead_is_read_weighed_and_read_further(
    served: tuple[Served, Path], home: Path, chromium: Browser
) -> None:
    app, state = served
    with opened(chromium, "phone", state=state) as (page, wrong):
        page.goto(url(app, "L3-M-U"))
        unplugged(page)
        page.locator("#a_b").fill("open")
        page.locator("#a_c").fill("open")
        page.locator("#insulation").fill("> 2000")
        page.locator(".bench-go [type=submit]").click()
        page.wait_for_url("**full=1**")
        gist = page.locator(".diagnosis-short")
        expect(gist).to_contain_text("open", timeout=30_000)
        gist.get_by_role("link", name="Reasons, and what to read next").click()
        causes = page.locator(".causes").first
        expect(causes).to_contain_text("ead A open")
        expect(causes).to_contain_text("rid 1 open")
        form = page.locator(".next-form").first
        form.locator("input:not([type=hidden])").first.fill("open")
        tick = form.locator("[type=checkbox]")
        if tick.count():
            tick.check()
        form.get_by_role("button").click()
        expect(page.locator(".chips")).to_contain_text("open")
        assert wrong == []
    assert len(checks(home, "L3-M-U")) >= 2
