"""A test followed in the app, with its page open: rows lost, how old what is seen is, work, memory.

Two recorders in processes of their own write at once: 200 channels at 50 rows a second, and 20
channels at 10. The app's page is open in Chromium beside them. Half way the app is killed and
started again. At the end both files are brought in and held against what was followed.
Run with ``python benchmarks/follow_in_app.py [seconds]``; the last line is JSON.
"""

import json
import os
import re
import signal
import subprocess
import sys
import tempfile
import time
from contextlib import ExitStack
from dataclasses import replace
from pathlib import Path

import numpy as np
from follow_speed import head, made, rows_of
from playwright.sync_api import Page, sync_playwright

from gaugewright.records.electrical import Channel, Instrument
from gaugewright.records.plain import canonical_text
from gaugewright.records.proof import Person
from gaugewright.records.readings import ReadingProfile
from gaugewright.services.campaign.book import Book
from gaugewright.sources import delimited
from gaugewright.store.campaign import CampaignStore
from tests.browser.served import serving
from tools import system

RECORDERS = {"R": (200, 50.0), "S": (20, 10.0)}  # channels, rows a second
ALL = sum(channels for channels, _ in RECORDERS.values())
KILLED_AT = 0.5  # share of the time
TICK = os.sysconf("SC_CLK_TCK")
EVERY_S = 0.25  # between two glances at the page


def two_recorders(store: CampaignStore) -> None:
    """Move the last channels over to a second recorder, and keep a profile for each."""
    with store.several():
        first = store.labelled(Instrument, "R")
        other = store.add(replace(first.record, label="S"))
        book = Book.read(store)
        for number in range(RECORDERS["S"][0]):
            known = book.labelled(Channel, f"C{RECORDERS['R'][0] + number:03d}")
            moved = replace(known.record, instrument=other.uid, column=f"C{number:03d}")
            store.revise(known.uid, known.version, moved, reason="read by the other recorder")
        store.add(Person(label="TD", name="T. Day (invented)", role="tests"))
        for recorder, (channels, rate) in RECORDERS.items():
            sample = store.folder.with_name(f"sample {recorder}.csv")
            sample.write_text(head(channels) + rows_of(0, 30, time.time(), rate, channels))
            text = canonical_text(delimited.understand(sample).layout(zone="UTC").as_plain())
            store.add(ReadingProfile(f"texts of {recorder}", "delimited text", text))


class Glances:
    """What a person at the page sees, and what the app costs meanwhile."""

    def __init__(self) -> None:
        self.ages: dict[str, list[float]] = {recorder: [] for recorder in RECORDERS}
        self.cpu_s = 0.0
        self.wall_s = 0.0
        self.peak_mb = 0.0
        self.looks: list[float] = []

    def through(self, page: Page, pid: int, until: float) -> None:
        """Glance at the page again and again until an instant."""
        began, spent = time.time(), _cpu(pid)
        while time.time() < until:
            shown = page.evaluate(
                "() => Array.from(document.querySelectorAll('.live-recorder'))"
                ".map((one) => one.innerText).join('\\n')"
                " + '\\n' + (document.querySelector('.live-test')?.dataset.seen || '')"
                " + '\\n' + document.body.innerText.match(/This look took ([0-9.]+) s/)?.[1]"
            )
            self._take(shown, time.time())
            time.sleep(EVERY_S)
        self.cpu_s += _cpu(pid) - spent
        self.wall_s += time.time() - began
        self.peak_mb = max(self.peak_mb, _peak(pid))

    def _take(self, shown: str, now: float) -> None:
        *told, seen, took = shown.splitlines()
        text = "\n".join(told)
        behind = re.findall(r"(-?[\d.]+) s before this look", text)
        if not seen or len(behind) < len(RECORDERS):
            return
        for recorder, each in zip(RECORDERS, behind, strict=False):
            self.ages[recorder].append(now - float(seen) + float(each))
        self.looks.append(float(took))


def _cpu(pid: int) -> float:
    """Processor time of a process so far [s]."""
    parts = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    return (int(parts[11]) + int(parts[12])) / TICK


def _peak(pid: int) -> float:
    text = Path(f"/proc/{pid}/status").read_text()
    return next(int(line.split()[1]) / 1e3 for line in text.splitlines() if "VmHWM" in line)


def begin(page: Page, base: str, files: dict[str, Path]) -> None:
    """Follow both recorders, as a person does."""
    page.goto(base + "/people")
    page.get_by_role("button", name=re.compile("Choose T. Day")).click()
    for recorder, folder in files.items():
        page.goto(f"{base}/c/campaign/test-day")
        page.get_by_label("File or folder").fill(str(folder / "first.csv"))
        page.get_by_label("Read as").select_option(f"texts of {recorder}")
        page.get_by_label("Recorder", exact=True).fill(recorder)
        page.get_by_role("button", name=re.compile("^Follow it")).click()
        page.locator(".live-recorder").filter(has_text=recorder).first.wait_for(timeout=120_000)


def brought_in(page: Page, day: str) -> list[str]:
    """Stop, bring every file in, and what the comparisons say."""
    page.goto(day)
    page.get_by_role("button", name="Stop following").click()
    told = []
    for number in range(len(RECORDERS)):
        page.locator(f"form:has(input[name=number][value='{number}']) button").click()
        page.wait_for_url("**/jobs/**")
        done = page.get_by_text(re.compile("rows that were followed|not done|aren.t the same"))
        done.first.wait_for(timeout=600_000)
        told.append(done.first.inner_text())
        page.goto(day)
    return told


def run(seconds: float) -> dict:
    """The whole experiment; what came out."""
    with tempfile.TemporaryDirectory() as room, ExitStack() as stack:
        base = Path(room)
        (base / "home").mkdir()
        store = made(base / "home" / "campaign", ALL)
        two_recorders(store)
        store.close()
        feeders, files = [], {}
        feeder = str(Path(__file__).with_name("follow_speed.py").resolve())
        for recorder, (channels, rate) in RECORDERS.items():
            files[recorder] = base / recorder / "folder"
            files[recorder].mkdir(parents=True)
            this = [sys.executable, feeder, "write", str(files[recorder]), str(channels), str(rate)]
            feeders.append(subprocess.Popen(this, stdout=subprocess.PIPE, text=True))
        began = time.time()
        served = stack.enter_context(serving(base / "home"))
        browser = stack.enter_context(sync_playwright()).chromium.launch(
            executable_path=system.chromium_path(), args=["--no-sandbox", "--disable-gpu"]
        )
        page = browser.new_page()
        page.set_default_timeout(60_000)
        page.goto(served.address)
        begin(page, served.base, files)
        day = f"{served.base}/c/campaign/test-day"
        page.goto(day)
        before, after = Glances(), Glances()
        before.through(page, served.process.pid, began + KILLED_AT * seconds)
        served.process.send_signal(signal.SIGKILL)
        served.process.wait(timeout=20)
        killed = time.time()
        again = stack.enter_context(
            serving(base / "home", port=int(served.base.rpartition(":")[2]))
        )
        page.goto(day)
        page.locator(".live-recorder").nth(1).wait_for(timeout=120_000)
        caught_up = Glances()
        while True:  # from the beginning of both files to now
            caught_up.through(page, again.process.pid, time.time() + 1.0)
            if all(ages and ages[-1] < 3.0 for ages in caught_up.ages.values()):
                break
            if time.time() - killed > 240:
                raise SystemExit("the app didn't catch up in four minutes")
        away = time.time() - killed
        after.through(page, again.process.pid, began + seconds)
        for recorder in RECORDERS:
            (files[recorder].parent / "end").touch()
        written = [int(each.communicate(timeout=60)[0]) for each in feeders]
        time.sleep(3.0)
        print(outcome(seconds, written, written, [], away, before, after), file=sys.stderr)
        told = brought_in(page, day)
        browser.close()
    followed = [int(re.sub(r"\D", "", text.split("rows")[0])) for text in told]
    return outcome(seconds, written, followed, told, away, before, after)


def outcome(
    seconds: float,
    written: list[int],
    followed: list[int],
    told: list[str],
    away: float,
    *halves: Glances,
) -> dict:
    """The figures of a run."""
    found: dict = {
        "seconds": seconds,
        "recorders": {name: list(each) for name, each in RECORDERS.items()},
        "rows_written": written,
        "rows_followed": followed,
        "rows_lost": sum(written) - sum(followed),
        "same_to_the_last_bit": all("the same to the last bit" in text for text in told),
        "killed_and_caught_up_s": round(away, 1),
        "peak_memory_mb": round(max(half.peak_mb for half in halves), 1),
        "cpu_share_of_one_core": round(
            sum(half.cpu_s for half in halves) / sum(half.wall_s for half in halves), 3
        ),
        "look_median_s": float(np.median([took for half in halves for took in half.looks])),
    }
    for recorder in RECORDERS:
        ages = [age for half in halves for age in half.ages[recorder]]
        at = np.quantile(ages, [0.5, 0.95, 1.0]).round(2).tolist()
        found[f"age_seen_{recorder}_median_95_most_s"] = at
    return found


if __name__ == "__main__":
    done = run(float(sys.argv[1]) if len(sys.argv) > 1 else 600.0)
    for name, value in done.items():
        print(f"{name:36} {value}")
    print(json.dumps(done))
