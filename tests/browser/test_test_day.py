"""Test day as it goes: two recorders write, a tablet looks on and is tapped, things go wrong."""

import io
import json
import re
import shutil
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path

import pytest
from PIL import Image
from playwright.sync_api import Browser, Page, expect

from gaugewright.records.identity import working_context
from gaugewright.records.readings import Event, LoadStep, Recording
from gaugewright.services.campaign.book import Book
from gaugewright.store.campaign import CampaignStore
from tests.browser import feeding
from tests.browser.served import Served, barriers, opened, serving

pytestmark = pytest.mark.long

SMALLEST = 48  # px: a finger in a glove, on a bench page
SOON = 45_000  # ms; the first look works every prediction out
HISTORY_S = 140.0
HOLD_AT = 0.60  # of the demo's test: near yield, on the way up


def plan_of(campaign: Path) -> dict:
    """What both recorders of the demo wrote of its test, without their stamps."""
    with CampaignStore.open(campaign, working_context(), read_only=True) as store:
        texts = {
            name: store.original_bytes(
                store.labelled(Recording, f"test, Recorder {name}").record.original_sha256
            ).decode("latin-1")
            for name in "AB"
        }
    one, other = (texts[name].splitlines(keepends=True) for name in "AB")
    begins = next(n for n, line in enumerate(other) if re.match(r"\d\d\.\d\d\.\d{4} ", line))
    return {
        "history_s": HISTORY_S,
        "hold_at_s": HOLD_AT * len(one[2:]) / 10,
        "one": {
            "head": "".join(one[:2]),
            "rows": [line.rstrip("\n").partition(",")[2] for line in one[2:]],
            "rate": 10.0, "off_s": 0.0, "zone": "UTC",
            "pattern": "%Y-%m-%dT%H:%M:%S.%f", "separator": ",",
        },
        "other": {
            "head": "".join(other[:begins]),
            "rows": [line.rstrip("\r\n").partition(";")[2] for line in other[begins:]],
            "rate": 5.0, "off_s": -6.9, "zone": "Europe/Rome",
            "pattern": "%d.%m.%Y %H:%M:%S.%f", "separator": ";",
        },
    }  # fmt: skip


class Hall:
    """A rig that runs: the campaign's app and its recorders, each a process of its own."""

    def __init__(self, room: Path, demo: Path) -> None:
        self.room, self.home = room / "rig", room / "campaigns"
        self.room.mkdir()
        shutil.copytree(demo, self.home / "demo")
        (self.room / "plan.json").write_text(json.dumps(plan_of(self.home / "demo")))
        self._stack = ExitStack()
        self.served: Served = self._stack.enter_context(serving(self.home))
        feeder = [sys.executable, feeding.__file__, str(self.room)]
        self.recorders = subprocess.Popen(feeder)
        self.base = self.served.base
        self.day = f"{self.base}/c/demo/test-day"

    def stir(self, what: str) -> None:
        """Let the recorders do something else."""
        (self.room / what).touch()

    def kill_the_app(self) -> None:
        """As when the power goes."""
        self.served.process.send_signal(signal.SIGKILL)
        self.served.process.wait(timeout=20)

    def start_the_app(self) -> None:
        port = int(self.base.rpartition(":")[2])
        self.served = self._stack.enter_context(serving(self.home, port=port))

    def written(self) -> list[list[int]]:
        """Rows that the recorders wrote, file by file, once they have ended."""
        self.stir("end")
        self.recorders.wait(timeout=20)
        found: list[list[int]] = json.loads((self.room / "written.json").read_text())
        return found

    def book(self) -> Book:
        with CampaignStore.open(self.home / "demo", working_context(), read_only=True) as store:
            return Book.read(store)

    def reason(self, uid: str) -> str:
        with CampaignStore.open(self.home / "demo", working_context(), read_only=True) as store:
            return store.history(uid)[0].reason  # type: ignore[arg-type]

    def close(self) -> None:
        if self.recorders.poll() is None:
            self.recorders.kill()
            self.recorders.wait(timeout=20)
        self._stack.close()


@pytest.fixture(scope="module")
def hall(demo_campaign: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Hall]:
    made = Hall(tmp_path_factory.mktemp("hall"), demo_campaign)
    yield made
    made.close()


@pytest.fixture(scope="module")
def paired(hall: Hall, chromium: Browser, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Cookie of a tablet that was let in, with somebody at work."""
    kept = tmp_path_factory.mktemp("tablet") / "state.json"
    context = chromium.new_context()
    page = context.new_page()
    page.goto(hall.served.address)
    page.goto(hall.base + "/people")
    page.get_by_role("button", name="Choose Ines Example (invented)").click()
    context.storage_state(path=kept)
    context.close()
    return kept


@pytest.fixture
def tablet(hall: Hall, paired: Path, chromium: Browser) -> Iterator[Page]:
    """The page on a tablet; touched, never clicked."""
    context = chromium.new_context(
        viewport={"width": 1024, "height": 768}, has_touch=True, storage_state=paired
    )
    context.set_default_timeout(20_000)  # ms; a look may go on while a page is asked for
    page = context.new_page()
    page.goto(hall.day)
    yield page
    context.close()


def tile_of(page: Page, gauge: str):
    return page.locator(".live-tile").filter(has=page.get_by_role("link", name=gauge, exact=True))


def small_targets(page: Page) -> list[str]:
    """What can be touched in the sheet and is smaller than a finger, with its size."""
    found: list[str] = page.evaluate(
        """(least) => Array.from(document.querySelectorAll(
          'main button, main input:not([type=hidden]), main select, main textarea, '
          + '.tap-bar button, .live-tile a, .noted-link, .photos a'))
          .map((one) => [one, one.closest('label, .box') || one])
          .filter(([one, box]) => box.getClientRects().length)
          .map(([one, box]) => [one, box.getBoundingClientRect()])
          .filter(([one, box]) => box.height < least - 0.5 || box.width < least - 0.5)
          .map(([one, box]) => `${one.tagName} ${one.name || one.textContent.trim()} `
            + `${box.width.toFixed(0)} x ${box.height.toFixed(0)}`)""",
        SMALLEST,
    )
    return found


def picture() -> bytes:
    data = io.BytesIO()
    exif = Image.Exif()
    exif.get_ifd(0x8825)[2] = (45.0, 28.0, 1.0)  # a latitude, as cameras write it
    Image.new("RGB", (640, 480), (150, 140, 120)).save(data, "JPEG", exif=exif)
    return data.getvalue()


# The tests of this module are one day: each goes on where the one before stopped.


def test_two_recorders_are_followed_from_the_tablet(hall: Hall, tablet: Page) -> None:
    expect(tablet.get_by_text("never a safety device")).to_be_visible()
    tablet.get_by_label("File or folder").fill(str(hall.room / "one"))
    tablet.get_by_label("Read as").select_option("files of Recorder A")
    tablet.get_by_role("button", name="Follow it").tap()
    expect(tile_of(tablet, "L3-M-T")).to_be_visible(timeout=SOON)
    tablet.get_by_label("File or folder").fill(str(hall.room / "other"))
    tablet.get_by_label("Read as").select_option("files of Recorder B")
    tablet.get_by_role("button", name="Follow it as well").tap()
    expect(tablet.locator(".live-recorder")).to_have_count(2, timeout=SOON)
    expect(tile_of(tablet, "L3-R4-S")).to_be_visible(timeout=SOON)


def test_opposites_stand_beside_what_was_predicted_and_yield_is_watched(tablet: Page) -> None:
    tile = tile_of(tablet, "L3-M-T")
    expect(tile).to_contain_text("L3-M-T with L3-M-U")
    expect(tile.locator(".live-facts")).to_contain_text("predicted")
    expect(tile.locator(".live-facts")).to_contain_text("bending")
    expect(tile.locator(".live-share")).to_contain_text("% of yield")
    urgent = tablet.locator(".live-tile.is-urgent")
    expect(urgent.first).to_contain_text("yield", timeout=SOON)
    expect(tablet.locator(".live-notices")).to_contain_text("approaching yield")


def test_the_hold_is_called_settled_and_becomes_a_load_step(hall: Hall, tablet: Page) -> None:
    expect(tablet.locator(".hold-word")).to_have_text("settled", timeout=SOON)
    expect(tablet.locator(".hold.is-settled")).to_be_visible()
    tablet.reload()
    tablet.get_by_label("Name of the step").fill("held near yield")
    tablet.get_by_role("button", name="Mark this hold").tap()
    expect(tablet.locator(".hold-word")).to_be_visible()
    [step] = [e for e in hall.book().of(LoadStep) if e.record.label == "held near yield"]
    assert step.record.load > 0
    assert "Recorder A: rows of part1.csv came" in hall.reason(step.uid)


def test_one_tap_notes_an_event_with_both_recorders_clocks(hall: Hall, tablet: Page) -> None:
    tablet.get_by_role("button", name="crack seen").tap()
    expect(tablet.locator("[data-kept-says]")).to_contain_text("noted")
    noted = tablet.locator("#noted-last li").first
    expect(noted).to_contain_text("crack seen")
    expect(noted).to_contain_text("Recorder A: rows of part1.csv came")
    expect(noted).to_contain_text("Recorder B: rows of part1.csv came")
    entry = max(hall.book().of(Event), key=lambda entry: entry.record.at)
    told = re.search(r"Recorder A: rows of \S+ came (-?\d+\.\d+) s", hall.reason(entry.uid))
    assert told is not None
    assert -0.5 < float(told[1]) < 5.0  # both clocks are this machine's: only the way is left


def test_a_crack_photo_is_kept_without_the_place(hall: Hall, tablet: Page) -> None:
    tablet.get_by_label("Photo").set_input_files(
        {"name": "IMG_7.jpg", "mimeType": "image/jpeg", "buffer": picture()}
    )
    tablet.get_by_label("In words").fill("from the third stirrup")
    tablet.get_by_role("button", name="Note the crack with its photo").tap()
    shown = tablet.locator(".photos img").first
    expect(shown).to_be_visible()
    shown.scroll_into_view_if_needed()
    expect(shown).to_have_js_property("naturalWidth", 640)
    answer = tablet.request.get(hall.base + str(shown.get_attribute("src")))
    assert not Image.open(io.BytesIO(answer.body())).getexif().get_ifd(0x8825)


@pytest.mark.parametrize("size", ["desk", "tablet", "phone"])
def test_it_fits_every_screen_and_every_finger(
    hall: Hall, paired: Path, chromium: Browser, size: str
) -> None:
    with opened(chromium, size, state=paired) as (page, wrong):
        page.goto(hall.day)
        expect(tile_of(page, "L3-M-T")).to_be_visible(timeout=SOON)
        wide = page.evaluate("document.documentElement.scrollWidth - window.innerWidth")
        assert wide <= 0
        assert small_targets(page) == []
        assert barriers(page) == []
        assert not wrong


def test_a_gauge_that_opens_is_told_as_lost(hall: Hall, tablet: Page) -> None:
    hall.stir("open")
    lost = tablet.locator(".live-notices .is-loss").filter(has_text="L3-M-T is off the recorder")
    expect(lost).to_be_visible(timeout=SOON)
    tile = tile_of(tablet, "L3-M-T")
    expect(tile).to_contain_text("L3-M-U alone: local bending is in it")
    expect(tile.locator(".live-state")).to_contain_text("lost")


def test_a_network_that_stalls_is_told_and_followed_on(hall: Hall, tablet: Page) -> None:
    other = hall.room / "other"
    away = other.rename(hall.room / "away")
    expect(tablet.locator(".live-notices")).to_contain_text("out of reach", timeout=SOON)
    away.rename(other)
    one = tablet.locator(".live-recorder").nth(1)
    expect(one).to_contain_text("growing", timeout=SOON)


def test_the_next_file_of_a_recorder_is_followed_on(hall: Hall, tablet: Page) -> None:
    hall.stir("next")
    expect(tablet.locator(".live-notices")).to_contain_text("goes on in part2.csv", timeout=SOON)
    expect(tablet.locator(".live-recorder").first).to_contain_text("part2.csv", timeout=SOON)


def test_the_app_killed_and_started_again_follows_on_by_itself(hall: Hall, tablet: Page) -> None:
    expect(tile_of(tablet, "L3-M-U")).to_be_visible(timeout=SOON)
    hall.kill_the_app()
    failed = tablet.locator("[data-follow-fails]")
    expect(failed).to_be_visible(timeout=SOON)
    expect(failed).to_contain_text(re.compile(r"as it was at \d\d:\d\d:\d\d"))
    hall.start_the_app()
    tablet.reload()
    expect(tablet.locator(".live-recorder")).to_have_count(2, timeout=SOON)
    expect(tile_of(tablet, "L3-M-U")).to_be_visible(timeout=SOON)


def test_stopped_both_files_are_brought_in_as_work_that_is_watched(
    hall: Hall, tablet: Page
) -> None:
    written = hall.written()
    tablet.get_by_role("button", name="Stop following").tap()
    expect(tablet.locator(".hold-word")).to_have_text("no longer followed", timeout=SOON)
    # Started again it began with the first file that was followed, not with the newest.
    for number, rows in enumerate([*written[0], *written[1]]):
        form = tablet.locator(f"form:has(input[name=number][value='{number}'])")
        form.get_by_label("Name of the recording").fill(f"test day {number}")
        form.get_by_label("Its stamps are right within").fill("0.5")
        form.get_by_role("button", name="Bring").tap()
        tablet.wait_for_url("**/jobs/**")
        told = f"all {rows} rows that were followed are in the recording"
        expect(tablet.get_by_text(re.compile(told, re.IGNORECASE))).to_be_visible(timeout=SOON)
        tablet.goto(hall.day)
        expect(tablet.get_by_text(re.compile(told, re.IGNORECASE))).to_be_visible()
    labels = [entry.record.label for entry in hall.book().of(Recording)]
    assert {f"test day {number}" for number in range(3)} <= set(labels)
