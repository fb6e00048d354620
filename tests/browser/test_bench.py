"""A step at the bench in one hand: reach, targets, clocks, steel lost, a network that goes."""

import shutil
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from gaugewright.records.benching import BenchOverride
from gaugewright.records.gauges import BenchStep, Supply
from gaugewright.records.identity import working_context
from gaugewright.records.proof import GateCheck
from gaugewright.services.campaign.book import Book
from gaugewright.store.campaign import CampaignStore
from tests.browser.served import SIZES, Served, at_work, barriers, opened

pytestmark = pytest.mark.full

CAST = "bench/do?method=bar+to+be+cast+in"
TOUCH = ".step-form button, .step-form a, .step-form .box, .step-form .tick, .step-form summary"
PAPERS = ("bench/blank", "bench/record", "bench/blank?method=strand")


@pytest.fixture(scope="module")
def home(demo_campaign: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo before anything was done at the bench."""
    folder = tmp_path_factory.mktemp("bench")
    shutil.copytree(demo_campaign, folder / "demo")
    with CampaignStore.open(folder / "demo", working_context()) as store, store.several():
        book = Book.read(store)
        for entry in (*book.of(BenchStep), *book.of(GateCheck)):
            store.withdraw(entry.uid, entry.version, reason="still to come")
    return folder


@pytest.fixture(scope="module")
def served(home: Path, chromium: Browser) -> Iterator[tuple[Served, Path]]:
    with at_work(home, chromium) as found:
        yield found


def steps(home: Path, gauge: str, step: str) -> list[BenchStep]:
    with CampaignStore.open(home / "demo", working_context(), read_only=True) as store:
        book = Book.read(store)
        return [
            one.record
            for one in book.of(BenchStep)
            if book.label(one.record.gauge) == gauge and one.record.step == step
        ]


def small(page: Page) -> list[str]:
    return page.evaluate(  # type: ignore[no-any-return]
        """(what) => Array.from(document.querySelectorAll(what))
          .filter((each) => each.offsetParent !== null)
          .map((each) => [each.textContent.trim(), each.getBoundingClientRect()])
          .filter(([, box]) => box.height < 48 || box.width < 48)
          .map(([words, box]) => words + " " + box.width + " x " + box.height)""",
        TOUCH,
    )


@pytest.mark.parametrize("size", list(SIZES))
@pytest.mark.parametrize(
    "place",
    [
        "bench/choose",
        f"{CAST}&step=smooth&gauge=L1-M-T&gauge=L1-M-U",
        f"{CAST}&step=bond&gauge=L1-M-T",
    ],
)
def test_targets_are_large_and_nothing_is_wider_than_the_screen(
    served: tuple[Served, Path], chromium: Browser, size: str, place: str
) -> None:
    app, state = served
    with opened(chromium, size, state=state) as (page, wrong):
        page.goto(f"{app.base}/c/demo/{place}")
        assert page.evaluate("document.documentElement.scrollWidth") <= SIZES[size][0]
        for summary in page.locator("summary").all():
            summary.click()
        assert small(page) == []
        assert barriers(page) == []
        assert wrong == []


@pytest.mark.parametrize("place", ["bench/choose", f"{CAST}&step=bond&gauge=L1-M-T"])
def test_on_a_phone_all_to_touch_lies_in_the_lower_three_fifths_wherever_it_is_scrolled(
    served: tuple[Served, Path], chromium: Browser, place: str
) -> None:
    app, state = served
    with opened(chromium, "phone", state=state) as (page, _):
        page.goto(f"{app.base}/c/demo/{place}")
        far = page.evaluate("document.documentElement.scrollHeight")
        for top in range(0, far, 300):
            page.evaluate("(top) => window.scrollTo(0, top)", top)
            # What a thumb would meet there: above the line nothing answers to a touch.
            above = page.evaluate(
                """() => {
                  const met = new Set();
                  for (let y = 4; y < 0.4 * 844 - 2; y += 8) {
                    for (let x = 8; x < 390; x += 12) {
                      const at = document.elementFromPoint(x, y);
                      const one = at && at.closest(
                        "a, button, input, select, textarea, summary, label");
                      if (one) { met.add(one.outerHTML.slice(0, 90)); }
                    }
                  }
                  return Array.from(met);
                }"""
            )
            assert above == []
        end = page.locator(".step-end .is-next").bounding_box()
        assert end is not None
        assert end["y"] + end["height"] <= 844


def test_steel_lost_is_told_at_once_and_a_slip_is_asked_about(
    served: tuple[Served, Path], home: Path, chromium: Browser
) -> None:
    app, state = served
    with opened(chromium, "tablet", state=state) as (page, wrong):
        page.goto(f"{app.base}/c/demo/{CAST}&step=smooth&gauge=L1-M-T&gauge=L1-M-U")
        page.locator("[name='value:flat width:L1-M-T']").fill("5.2")
        expect(page.locator("[data-loss-says]")).to_contain_text("L1-M-T:")
        expect(page.locator("[data-loss-says]")).to_contain_text("% of the steel is gone")
        # A draft: the tablet falls asleep, and everything typed is there again.
        page.reload()
        expect(page.locator("[name='value:flat width:L1-M-T']")).to_have_value("5.2")
        page.locator("[name='value:flat width:L1-M-U']").fill("0.051")
        page.get_by_role("button", name="Done").click()
        expect(page.locator("[data-kept-says]")).to_contain_text("did you mean 5.1 mm?")
        page.locator("[data-asked-use]").click()
        expect(page.locator("h1")).to_contain_text("smooth: L1-M-T, L1-M-U")
        assert [w for w in wrong if "422" not in w] == []
    kept = {label: steps(home, label, "smooth") for label in ("L1-M-T", "L1-M-U")}
    assert [len(each) for each in kept.values()] == [1, 1]
    width = next(r for r in kept["L1-M-U"][0].readings if r.what == "flat width")
    assert width.value == pytest.approx(5.1e-3)
    assert kept["L1-M-T"][0].method is not None
    assert kept["L1-M-T"][0].initials == "IE"


def test_a_refusal_takes_its_box_and_one_value_counts_for_all(
    served: tuple[Served, Path], home: Path, chromium: Browser, tmp_path: Path
) -> None:
    app, state = served
    with opened(chromium, "tablet", state=state) as (page, _):
        page.goto(f"{app.base}/c/demo/{CAST}&step=smooth&gauge=L4-M-T&gauge=L4-M-U")
        page.locator("[name='value:flat width']").fill("5.3")
        page.locator("[name='value:flat width:L4-M-U']").fill("five")
        page.get_by_role("button", name="Done").click()
        wrong = page.locator("[name='value:flat width:L4-M-U']")
        expect(page.locator("[data-refused]")).to_contain_text("Flat width of L4-M-U")
        expect(wrong).to_be_focused()
        wrong.fill("5.1")
        page.get_by_role("button", name="Done").click()
        expect(page.locator("h1")).to_contain_text("smooth: L4-M-T, L4-M-U")
        # A recorder's file is seen in the box before it is sent.
        (tmp_path / "log.csv").write_bytes("time;temp °C\n10:00;21\n11:00;21\n".encode("cp1252"))
        page.goto(f"{app.base}/c/demo/{CAST}&step=cure&gauge=L4-M-T")
        page.locator("#log-file").set_input_files(tmp_path / "log.csv")
        expect(page.locator("[name='value:temperature log']")).to_have_value(
            "time;temp °C\n10:00;21\n11:00;21\n"
        )
    widths = [
        next(r.value for r in steps(home, label, "smooth")[0].readings if r.what == "flat width")
        for label in ("L4-M-T", "L4-M-U")
    ]
    assert widths == [pytest.approx(5.3e-3), pytest.approx(5.1e-3)]


def test_a_step_done_without_the_network_is_sent_once_when_it_is_back(
    served: tuple[Served, Path], home: Path, chromium: Browser
) -> None:
    app, state = served
    with opened(chromium, "phone", state=state) as (page, _):
        page.goto(f"{app.base}/c/demo/{CAST}&step=clean&gauge=L2-M-T&gauge=L2-M-U")
        page.context.set_offline(True)
        page.locator("[name='value:metal temperature']").fill("21")
        page.locator("[name='temperature']").fill("21.5")
        page.locator("[name='humidity']").fill("48")
        page.get_by_role("button", name="Done").click()
        expect(page.locator("#kept-here")).to_contain_text("not yet at the laptop: 1")
        page.context.set_offline(False)
        expect(page.locator("h1")).to_contain_text("clean: L2-M-T, L2-M-U", timeout=40_000)
    assert [len(steps(home, label, "clean")) for label in ("L2-M-T", "L2-M-U")] == [1, 1]


def test_a_clock_runs_by_the_servers_time_and_is_right_after_a_reload(
    served: tuple[Served, Path], chromium: Browser
) -> None:
    app, state = served

    def left(page: Page) -> float:
        words = page.locator(".clock", has_text="cleaned to bonded").locator("b").text_content()
        assert words is not None
        parts = words.split()
        assert parts[-1] == "left"
        minutes = float(parts[0]) if "min" in parts else 0.0
        return 60 * minutes + (float(parts[parts.index("s") - 1]) if "s" in parts else 0.0)

    with opened(chromium, "phone", state=state) as (page, _):
        page.goto(f"{app.base}/c/demo/{CAST}&step=clean&gauge=L3-M-T")
        page.get_by_role("button", name="Done").click()
        expect(page.locator("h1")).to_contain_text("clean: L3-M-T")
        page.goto(f"{app.base}/c/demo/{CAST}&step=lay+out&gauge=L3-M-T")
        page.get_by_role("button", name="Done").click()
        page.get_by_role("button", name="Keep it, not read").click()
        expect(page.locator("h1")).to_contain_text("lay out: L3-M-T")
        page.goto(f"{app.base}/c/demo/{CAST}&step=bond&gauge=L3-M-T")
        first = left(page)
        assert 29 * 60 < first <= 30 * 60
        page.wait_for_function(
            "(was) => document.querySelector('.clock b').textContent !== was",
            arg=page.locator(".clock b").first.text_content(),
        )
        again = left(page)
        assert again < first
        page.reload()
        assert again - 30 < left(page) <= again
        # A device whose own clock is an hour slow shows the same.
        page.add_init_script("{const now = Date.now; Date.now = () => now() - 3600e3;}")
        page.reload()
        assert again - 60 < left(page) <= again


def test_a_limit_that_ran_out_says_what_to_do_again_and_a_named_person_may_override(
    served: tuple[Served, Path], home: Path, chromium: Browser
) -> None:
    app, state = served
    with opened(chromium, "phone", state=state) as (page, _):
        page.goto(f"{app.base}/c/demo/{CAST}&step=clean&gauge=L4-M-T")
        page.locator("[name='begun']").fill("2026-03-02 08:00")
        page.locator("[name='ended']").fill("2026-03-02 08:10")
        page.get_by_role("button", name="Done").click()
        expect(page.locator("h1")).to_contain_text("clean: L4-M-T")
        page.goto(f"{app.base}/c/demo/{CAST}&step=bond&gauge=L4-M-T")
        page.locator("[name='begun']").fill("2026-03-02 09:10")
        page.locator("[name='ended']").fill("2026-03-02 09:15")
        page.get_by_role("button", name="Done").click()
        expect(page.locator("[data-kept-says]")).to_contain_text("grid resistance, insulation")
        page.get_by_role("button", name="Keep it, not read").click()
        told = page.get_by_role("alert")
        expect(told).to_contain_text("cleaned to bonded: 1 h, at most 30 min")
        expect(told).to_contain_text("do again: clean")
        expect(page.get_by_role("link", name="Next: clean")).to_be_visible()
        page.get_by_text("It stands all the same").click()
        page.get_by_label("By", exact=True).select_option("engineer")
        page.get_by_label("Because").fill("kept under film in dry air")
        page.get_by_role("button", name="Put this name under it").click()
        expect(page.get_by_text("kept under film in dry air")).to_be_visible()
        expect(page.get_by_role("link", name="Next: cure")).to_be_visible()
    with CampaignStore.open(home / "demo", working_context(), read_only=True) as store:
        (named,) = Book.read(store).of(BenchOverride)
        assert named.record.what == "cleaned to bonded"


def test_a_supply_past_its_date_is_asked_about_and_flagged(
    served: tuple[Served, Path], home: Path, chromium: Browser
) -> None:
    app, state = served
    with opened(chromium, "phone", state=state) as (page, _):
        page.goto(f"{app.base}/c/demo/bench")
        page.get_by_text("Enter a supply").click()
        for label, text in (("Label", "old"), ("What", "adhesive"), ("Batch", "A-1")):
            page.locator("#supply").get_by_label(label, exact=True).fill(text)
        page.locator("#supply").get_by_label("Good until").fill("2026-01-31")
        page.get_by_role("button", name="Keep the supply").click()
        expect(page.locator(".notice").first).to_contain_text("entered as old")
        page.goto(f"{app.base}/c/demo/{CAST}&step=bond&gauge=L4-M-U")
        page.get_by_text("adhesive, batch A-1").click()
        page.get_by_role("button", name="Done").click()
        expect(page.locator("[data-kept-says]")).to_contain_text("was good until 2026-01-31")
        assert steps(home, "L4-M-U", "bond") == []
        page.get_by_role("button", name="It is as typed").click()
        expect(page.locator("h1")).to_contain_text("bond: L4-M-U")
    (bond,) = steps(home, "L4-M-U", "bond")
    assert bond.ended is not None  # what was asked back was answered for “Done”
    assert any("was good until 2026-01-31" in flag for flag in bond.flags)


def test_all_of_it_works_without_javascript(
    served: tuple[Served, Path], home: Path, chromium: Browser
) -> None:
    app, state = served
    context = chromium.new_context(java_script_enabled=False, storage_state=state)
    context.set_default_timeout(10_000)
    page = context.new_page()
    try:
        page.goto(f"{app.base}/c/demo/bench/choose")
        page.locator("[name='both']").select_option("bare metal in a dry hall / smooth")
        page.locator("[name='gauge'][value='L2-W-T']").check()
        page.get_by_role("button", name="To the step").click()
        page.locator("[name='value:flat width:L2-W-T']").fill("0.051")
        page.get_by_role("button", name="Done").click()
        expect(page.locator("[data-kept-says]")).to_contain_text("did you mean 5.1 mm?")
        page.get_by_role("button", name="Take 5.1 mm").click()
        expect(page.locator("h1")).to_contain_text("smooth: L2-W-T")
        page.goto(f"{app.base}/c/demo/bench/do?method=strand&step=label&gauge=L2-W-T")
        page.get_by_label("Label as written").fill("L2-W-T")
        page.get_by_role("button", name="Done").click()
        expect(page.locator("h1")).to_contain_text("label: L2-W-T")
    finally:
        context.close()
    assert len(steps(home, "L2-W-T", "label")) == 1


def test_a_photo_is_kept_with_its_step(
    served: tuple[Served, Path], chromium: Browser, tmp_path: Path
) -> None:
    from PIL import Image

    Image.new("RGB", (60, 40), "white").save(tmp_path / "flat.png")
    app, state = served
    with opened(chromium, "phone", state=state) as (page, _):
        page.goto(f"{app.base}/c/demo/{CAST}&step=label&gauge=L3-M-U")
        page.get_by_role("button", name="Done").click()
        page.get_by_role("button", name="Keep it, not read").click()
        expect(page.locator("h1")).to_contain_text("label: L3-M-U")
        page.locator("#photo-file").set_input_files(tmp_path / "flat.png")
        page.get_by_label("What it shows").fill("both labels")
        page.get_by_role("button", name="Keep the photo").click()
        expect(page.locator(".bench-photos img")).to_have_attribute("alt", "both labels")


@pytest.mark.parametrize("place", PAPERS)
def test_papers_print_on_a4_without_losing_their_right_edge(
    served: tuple[Served, Path], chromium: Browser, place: str
) -> None:
    app, state = served
    with opened(chromium, "desk", state=state) as (page, _):
        page.goto(f"{app.base}/c/demo/{place}")
        page.emulate_media(media="print")
        page.set_viewport_size({"width": 703, "height": 1000})  # 186 mm between margins
        cut = page.evaluate(
            """() => Array.from(document.querySelectorAll("table, p, dd, h2, h3"))
              .filter((each) => each.offsetParent !== null && !each.closest(".unseen"))
              .filter((each) => each.getBoundingClientRect().right > 704)
              .map((each) => each.textContent.slice(0, 60))"""
        )
        assert cut == []
        assert page.pdf(format="A4")[:5] == b"%PDF-"


def test_a_method_changed_by_the_laboratory_is_a_new_version_that_steps_go_by(
    served: tuple[Served, Path], home: Path, chromium: Browser
) -> None:
    app, state = served
    with opened(chromium, "tablet", state=state) as (page, wrong):
        page.goto(f"{app.base}/c/demo/bench/methods/strand")
        part = page.locator("#step-8")
        part.get_by_text("Change this step").click()
        part.get_by_label("What to do").fill("Label both ends. Once more in the middle.")
        part.get_by_label("Why").fill("cables were cut")
        part.get_by_role("button", name="Keep as a new version").click()
        expect(page.locator("#versions")).to_contain_text("cables were cut")
        assert barriers(page) == []
        limit = page.locator("#limits > .body > .stack", has_text="cleaned to bonded")
        limit.get_by_text("Change this limit").click()
        limit.get_by_label("Value").fill("20 min")
        limit.get_by_label("Source").fill("house rule of the laboratory (invented)")
        limit.get_by_label("Why").fill("damp hall")
        limit.get_by_role("button", name="Keep as a new version").click()
        expect(page.locator("#limits")).to_contain_text("cleaned to bonded: 20 min")
        assert wrong == []
    with CampaignStore.open(home / "demo", working_context(), read_only=True) as store:
        limits = Book.read(store).limit("cleaned to bonded")
        assert (limits.version, limits.record.value, limits.record.unverified) == (2, 1200.0, True)
        assert replace(limits.record, value=1800.0).label == "cleaned to bonded"
        assert Book.read(store).of(Supply)
