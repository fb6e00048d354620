"""Forty-eight gauges through every gate on a tablet, three faults found and repaired, a crash."""

import csv
import io
import json
import os
import subprocess
import sys
from collections import Counter
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from gaugewright.records.identity import working_context
from gaugewright.records.proof import Gate, GateCheck, Verdict
from gaugewright.services.campaign.book import Book
from gaugewright.store.campaign import CampaignStore
from tests.browser import forty_eight
from tests.browser.forty_eight import CAMPAIGN, Bench, Wired
from tests.browser.served import Laptop, opened

pytestmark = [pytest.mark.full, pytest.mark.timeout(600)]

BY_KEYPAD = 6


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Bench:
    return forty_eight.made(tmp_path_factory.mktemp("forty-eight"))


@pytest.fixture(scope="module")
def laptop(bench: Bench) -> Iterator[Laptop]:
    app = Laptop(bench.home)
    yield app
    app.close()


@pytest.fixture(scope="module")
def page(laptop: Laptop, chromium: Browser) -> Iterator[Page]:
    with opened(chromium, "tablet") as (page, _):
        page.set_default_timeout(30_000)  # ms; a sheet of 48 rows on a busy machine
        page.goto(laptop.served.address)
        page.goto(laptop.base + "/people")
        page.get_by_role("button", name="Choose Ines Example").click()
        yield page


def wait_until(page: Page, holds: Callable[[], bool]) -> None:
    """Wait in the test: the pages' own policy lets no waiting function in."""
    for _ in range(300):
        if holds():
            return
        page.wait_for_timeout(100)
    raise AssertionError("it didn't come about within half a minute")


def visits(bench: Bench, gate: Gate) -> dict[str, int]:
    with CampaignStore.open(bench.home / CAMPAIGN, working_context(), read_only=True) as store:
        book = Book.read(store)
        checks = [check for check in book.of(GateCheck) if check.record.gate is gate]
        return dict(Counter(book.label(check.record.gauge) for check in checks))


def url(laptop: Laptop, rest: str = "") -> str:
    return f"{laptop.base}/c/{CAMPAIGN}/{rest}"


def last_verdicts(bench: Bench, gate: Gate) -> dict[str, Verdict]:
    found: dict[str, Verdict] = {}
    with CampaignStore.open(bench.home / CAMPAIGN, working_context(), read_only=True) as store:
        book = Book.read(store)
        for check in sorted(
            book.of(GateCheck), key=lambda one: max(r.entered for r in one.record.readings)
        ):
            if check.record.gate is gate:
                found[book.label(check.record.gauge)] = check.record.verdict
    return found


def by_sheet(page: Page, laptop: Laptop, bench: Bench, gate: Gate, leave_out: set[str]) -> str:
    """Fetch the sheet of a gate, fill every row but some, bring it back; what the page says."""
    page.goto(url(laptop, f"gates?gate={gate.value}"))
    with page.expect_download() as down:
        page.get_by_role("link", name="As CSV").click()
    rows = list(csv.reader(io.StringIO(Path(down.value.path()).read_text("utf-8-sig"))))
    heads = [head.partition(" in ")[0] for head in rows[0]]
    rows[1:] = [filled(heads, row, bench, gate) for row in rows[1:] if row[0] not in leave_out]
    text = io.StringIO()
    csv.writer(text).writerows(rows)
    content = text.getvalue().encode("utf-8")
    sheet = {"name": "sheet.csv", "mimeType": "text/csv", "buffer": content}
    page.locator("#file").set_input_files(files=[sheet])
    page.get_by_role("button", name="Take it in").click()
    page.wait_for_load_state()
    told = page.locator("main").inner_text()
    assert "done=" in page.url, told  # what was refused, row by row
    return told


def filled(heads: list[str], row: list[str], bench: Bench, gate: Gate) -> list[str]:
    wired = bench.of(row[0])
    made = list(row)
    for place, head in enumerate(heads):
        if head.startswith("temperature"):
            made[place] = "20"
        elif head in asked(wired, gate):
            text = own_tab(wired, row[0]) if head == "tab to tab" else wired.reads(head)
            made[place] = text
    return made


def own_tab(wired: Wired, label: str) -> str:
    return f"{wired.grids[wired.gauges.index(label)]:.2f}"


def asked(wired: Wired, gate: Gate) -> set[str]:
    """Pairs that a circuit of this kind has, as a person reads them off the sheet."""
    if gate is Gate.BONDED:
        return {"tab to tab", "insulation"}
    pairs = {
        "quarter": {"A-B", "B-C", "A-C"},
        "half": {"A-B", "A-C", "B-C"},
        "full": {"P-N", "SP-SN", "P-KP", "N-KN"},
    }[wired.family]
    late = gate in (Gate.BEFORE_POUR, Gate.AFTER_POUR, Gate.BEFORE_TEST)
    return pairs | {"insulation"} | ({"reading"} if late else set())


def by_keypad(page: Page, laptop: Laptop, bench: Bench, gate: Gate, label: str) -> None:
    """One gauge as a hand does it: keys of the tablet, in the order of the meter's leads."""
    at = gate.value.replace(" ", "-")
    page.goto(url(laptop, f"gates/{at}/{label}"))
    typed_by_keys(page, bench, label)
    page.locator(".bench-go [type=submit]").click()
    page.wait_for_url("**done=**")


def typed_by_keys(page: Page, bench: Bench, label: str) -> None:
    tick = page.locator(".tick input[name=unplugged]")
    if tick.count():
        tick.check()
    for box in page.locator("[data-reading] input").all():
        name = (box.get_attribute("name") or "").upper().replace("_", "-")
        what = {"INSULATION": "insulation", "READING": "reading"}.get(name, name)
        text = bench.of(label).reads(what)
        box.focus()
        if text in ("open", "> 100000"):
            page.locator(".key[data-key='special']").click()
        elif set(text) <= set("0123456789."):
            page.locator(".key[data-key='clear']").click()
            for sign in text:
                page.locator(f".key[data-key='{sign}']").click()
        else:
            box.fill(text)  # a minus isn't on the pad of resistances
        if not box.input_value():
            box.fill(text)


def likeliest(bench: Bench, label: str) -> list[str]:
    """What the fault finder puts first, asked as a person would."""
    done = subprocess.run(
        [sys.executable, "-m", "gaugewright", "diagnose", str(bench.home / CAMPAIGN), label,
         "--json"],
        capture_output=True, text=True, check=True,
        env={**os.environ, "XDG_CONFIG_HOME": str(bench.home / "no settings")},
    )  # fmt: skip
    return list(json.loads(done.stdout)["groups"][0]["causes"])


def states(page: Page, laptop: Laptop, gate: Gate, state: str) -> set[str]:
    """Gauges that the table of gates shows in a state at one gate."""
    page.goto(url(laptop, f"gates?gate={gate.value}"))
    found = page.evaluate(
        """(state) => Array.from(document.querySelectorAll("tr"))
          .filter((row) => row.querySelector("td.is-chosen .unseen")
            ?.textContent.startsWith(state + ":"))
          .map((row) => row.querySelector("th").textContent.trim())""",
        state,
    )
    return set(found)


def repaired(page: Page, laptop: Laptop, bench: Bench, gate: Gate, label: str) -> None:
    """Mended by hand, read again at the same gate, every pair of it."""
    bench.of(label).repair()
    at = gate.value.replace(" ", "-")
    page.goto(url(laptop, f"gates/{at}/{label}?full=1"))
    typed_by_keys(page, bench, label)
    page.locator(".bench-go [type=submit]").click()
    page.wait_for_url("**done=**")
    assert last_verdicts(bench, gate)[label] is Verdict.PASS


def test_gauges_are_bonded_and_wired_and_two_faults_are_found_and_repaired(
    page: Page, laptop: Laptop, bench: Bench
) -> None:
    assert len(bench.gauges) == 48
    by_sheet(page, laptop, bench, Gate.BONDED, set())
    assert list(last_verdicts(bench, Gate.BONDED).values()) == [Verdict.PASS] * 48
    bench.of("B03-T").open_wire = "C"
    bench.of("B11-U").shorted_at = 0.4
    by_sheet(page, laptop, bench, Gate.WIRED, set())
    assert len(last_verdicts(bench, Gate.WIRED)) == 48
    assert states(page, laptop, Gate.WIRED, "repair") == {"B03-T"}
    assert states(page, laptop, Gate.WIRED, "watch") == {"B11-U"}  # passes, but is odd
    assert "lead C open" in likeliest(bench, "B03-T")
    assert "crush B to C" in likeliest(bench, "B11-U")
    for label in ("B03-T", "B11-U"):
        repaired(page, laptop, bench, Gate.WIRED, label)
    assert states(page, laptop, Gate.WIRED, "repair") == set()
    assert states(page, laptop, Gate.WIRED, "watch") == set()


def test_a_lead_crushed_in_the_cage_is_found_by_its_leak_and_repaired(
    page: Page, laptop: Laptop, bench: Bench
) -> None:
    for gate in (Gate.PROTECTED, Gate.CALIBRATED):
        by_sheet(page, laptop, bench, gate, set())
        assert list(last_verdicts(bench, gate).values()) == [Verdict.PASS] * 48
    bench.of("B07-T").insulation_mohm = 0.4
    by_sheet(page, laptop, bench, Gate.CAGED, set())
    assert states(page, laptop, Gate.CAGED, "repair") == {"B07-T"}
    found = likeliest(bench, "B07-T")
    assert any("bar" in cause or "leak" in cause for cause in found), found
    repaired(page, laptop, bench, Gate.CAGED, "B07-T")


def test_six_gauges_by_keypad_lose_nothing_when_the_laptop_dies(
    page: Page, laptop: Laptop, bench: Bench
) -> None:
    gate, six = Gate.BEFORE_POUR, list(bench.gauges[:BY_KEYPAD])
    for label in six[:3]:
        by_keypad(page, laptop, bench, gate, label)
    page.goto(url(laptop, f"gates/before-pour/{six[3]}"))
    kept = "Object.keys(sessionStorage).join(' ')"  # pages that open without the laptop
    wait_until(page, lambda: all(label in page.evaluate(kept) for label in six[4:]))
    laptop.kill()
    for label in six[3:5]:
        expect(page.locator(".where b")).to_have_text(label)
        typed_by_keys(page, bench, label)
        page.locator(".bench-go [type=submit]").click()
    expect(page.locator("#kept-here")).to_contain_text("not yet at the laptop: 2.")
    expect(page.locator(".where b")).to_have_text(six[5])
    page.locator("#a_b").fill(bench.of(six[5]).reads("A-B"))
    laptop.start()
    expect(page.locator("#kept-here")).to_be_empty(timeout=60_000)
    page.goto(url(laptop, f"gates/before-pour/{six[5]}"))
    expect(page.locator("#a_b")).to_have_value(bench.of(six[5]).reads("A-B"))  # the draft
    typed_by_keys(page, bench, six[5])
    page.locator(".bench-go [type=submit]").click()
    page.wait_for_url("**done=**")
    verdicts = last_verdicts(bench, gate)
    assert verdicts == dict.fromkeys(six, Verdict.PASS)
    assert visits(bench, gate) == dict.fromkeys(six, 1)
    by_sheet(page, laptop, bench, gate, set(six))
    assert last_verdicts(bench, gate) == dict.fromkeys(bench.gauges, Verdict.PASS)


def test_the_rest_is_read_after_the_pour_and_before_the_test(
    page: Page, laptop: Laptop, bench: Bench
) -> None:
    for gate in (Gate.AFTER_POUR, Gate.BEFORE_TEST):
        by_sheet(page, laptop, bench, gate, set())
        assert last_verdicts(bench, gate) == dict.fromkeys(bench.gauges, Verdict.PASS)
    for gate in Gate:
        assert states(page, laptop, gate, "sound") == set(bench.gauges), gate
    page.goto(url(laptop, "survival"))
    row = page.locator("#gates tbody tr").filter(has_text="wired")
    expect(row).to_contain_text("48")
    with CampaignStore.open(bench.home / CAMPAIGN, working_context(), read_only=True) as store:
        assert list(store.problems()) == []
