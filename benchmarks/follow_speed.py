"""A file that grows is followed: rows lost, how late they are shown, memory, under trouble.

A recorder in a process of its own writes 200 channels at 50 rows a second into a folder, in pieces
that end anywhere; the command ``follow`` looks at them. On the way the follower is killed and
started again, the folder is out of reach for a while, and the recorder goes on in a second file.
At the end both files are imported and held against what was followed, to the last bit.
Run with ``python benchmarks/follow_speed.py [seconds] [channels] [rows a second]``; the last line
is JSON.
"""

import json
import os
import signal
import statistics
import subprocess
import sys
import tempfile
import time
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
from reduce_speed import laid_down

from gaugewright.records.electrical import Instrument
from gaugewright.records.identity import working_context
from gaugewright.records.plain import canonical_text
from gaugewright.records.readings import ReadingProfile
from gaugewright.records.specimen import Campaign
from gaugewright.services.campaign.book import Book
from gaugewright.services.campaign.laboratory import campaign_defaults
from gaugewright.services.following import end as follow_end
from gaugewright.services.following.following import Follower, profile_named
from gaugewright.services.following.shown import FileAccount
from gaugewright.settings import load
from gaugewright.sources import delimited
from gaugewright.store.campaign import CampaignStore

PROFILE = "files of R"
KILLED_AT, AWAY_AT, NEXT_FILE_AT = 0.3, 0.5, 0.7  # shares of the time
AWAY_S = 4.0


def head(channels: int) -> str:
    """Names and units."""
    names = ["Time", *(f"C{n:03d}" for n in range(channels)), "T"]
    units = ["UTC", *["(mV/V)"] * channels, "(°C)"]
    return ",".join(names) + "\n" + ",".join(units) + "\n"


def rows_of(first: int, count: int, began: float, rate: float, channels: int) -> str:
    """Rows as a recorder would write them, stamped with when they were read."""
    rng = np.random.default_rng(first)
    made = []
    for number in range(first, first + count):
        at = datetime.fromtimestamp(began + number / rate, UTC)
        stamp = at.isoformat(timespec="milliseconds").replace("+00:00", "Z")
        level = 0.1 * np.sin(number / rate / 40)
        cells = (level + 2e-4 * rng.standard_normal(channels)).round(5)
        made.append(f"{stamp}," + ",".join(f"{cell:.5f}" for cell in cells) + ",20.00\n")
    return "".join(made)


def write(folder: Path, channels: int, rate: float) -> None:
    """Be the recorder: what is due is written at once, cut anywhere, and flushed.

    It goes on in a second file, and ends, when a file beside the folder says so; then it prints
    how many rows it wrote.
    """
    began, done = time.time(), 0
    next_file, end = folder.with_name("next"), folder.with_name("end")
    # Opened by number: the recorder goes on writing while the folder is out of others' reach.
    place = os.open(folder, os.O_RDONLY)

    def opened(name: str) -> int:
        made = os.open(name, os.O_WRONLY | os.O_CREAT | os.O_APPEND, 0o644, dir_fd=place)
        os.write(made, head(channels).encode())
        return made

    file, is_second = opened("first.csv"), False
    while not end.exists():
        if next_file.exists() and not is_second:
            os.close(file)
            file, is_second = opened("second.csv"), True
        due = int((time.time() - began) * rate) + 1
        if due > done:
            text = rows_of(done, due - done, began, rate, channels).encode()
            half = len(text) * 2 // 3
            os.write(file, text[:half])
            time.sleep(0.004)
            os.write(file, text[half:])
            done = due
        time.sleep(0.5 / rate)
    os.close(file)
    print(done)


def made(folder: Path, channels: int) -> CampaignStore:
    """Campaign with so many quarter bridges and the profile of their recorder."""
    defaults = campaign_defaults(load(environment={}))
    campaign = Campaign("speed", "Invented campaign for timing", "UTC", invented=True)
    store = CampaignStore.create(folder, campaign, working_context(), defaults=defaults)
    with store.several():
        laid_down(store, channels)
    sample = folder.with_name("sample.csv")
    sample.write_text(head(channels) + rows_of(0, 30, time.time(), 50.0, channels))
    layout = delimited.understand(sample).layout(zone="UTC")
    text = canonical_text(layout.as_plain())
    store.add(ReadingProfile(PROFILE, "delimited text", text))
    return store


class Watcher:
    """The command, its looks as they come, and the most memory it ever took."""

    def __init__(self, campaign: Path, folder: Path, log: Path) -> None:
        self.log = log.open("w+b")
        command = [sys.executable, "-m", "gaugewright", "follow", str(campaign), str(folder)]
        options = ["--profile", PROFILE, "--recorder", "R", "--every", "0.5", "--json"]
        self.process = subprocess.Popen([*command, *options], stdout=self.log)

    def peak(self) -> float:
        """Most memory so far [MB]; 0 where the system doesn't tell."""
        status = Path(f"/proc/{self.process.pid}/status")
        if not status.is_file():
            return 0.0
        text = status.read_text()
        return next(
            (int(line.split()[1]) / 1e3 for line in text.splitlines() if "VmHWM" in line), 0.0
        )

    def looks(self) -> list[dict]:
        """What it printed, whole lines only."""
        self.log.flush()
        text = Path(self.log.name).read_bytes().decode()
        return [json.loads(line) for line in text.splitlines() if line.endswith("}")]


def lateness(looks: list[dict], rate: float) -> list[float]:
    """How late every row was when it was shown first [s].

    The first two looks are left out: they take in what was written before the follower began.
    """
    late: list[float] = []
    before = 0
    found = [
        (look["rows"], one["behind_s"])
        for look in looks
        for one in look.get("recorders", [])
        if one["behind_s"] is not None
    ]
    for number, (rows, behind) in enumerate(found):
        new, before = rows - before, rows
        if number >= 2:
            late += [behind + n / rate for n in range(new)]
    return late


def shares(late: list[float]) -> dict[str, float | None]:
    """Median, 95 % and most of how late rows were; None where none was timed."""
    if not late:
        return dict.fromkeys(("late_median_s", "late_95_s", "late_most_s"))
    at = np.quantile(late, [0.5, 0.95, 1.0]).round(3).tolist()
    return dict(zip(("late_median_s", "late_95_s", "late_most_s"), at, strict=True))


def wait_for(watcher: Watcher, looks: int, *, until: float) -> None:
    """Wait for a follower's looks and for an instant."""
    given_up = time.time() + 120
    while len(watcher.looks()) < looks or time.time() < until:
        if watcher.process.poll() is not None or time.time() > max(given_up, until + 60):
            raise SystemExit(f"the follower ended or stands still: {watcher.looks()[-1:]}")
        time.sleep(0.2)


def followed_through(base: Path, folder: Path, seconds: float) -> tuple[list[dict], float]:
    """Follow through a kill, a folder out of reach and a second file: looks, and peak memory."""
    began = time.time()
    first = Watcher(base / "campaign", folder, base / "first.log")
    wait_for(first, 2, until=began + KILLED_AT * seconds)
    killed_peak = first.peak()
    first.process.kill()
    first.process.wait()
    second = Watcher(base / "campaign", folder, base / "second.log")
    wait_for(second, 3, until=began + AWAY_AT * seconds)
    folder.rename(base / "away")
    time.sleep(AWAY_S)
    (base / "away").rename(folder)
    wait_for(second, 4, until=began + NEXT_FILE_AT * seconds)
    (base / "next").touch()
    wait_for(second, len(second.looks()) + 3, until=began + seconds)
    (base / "end").touch()
    wait_for(second, len(second.looks()) + 3, until=0.0)
    peak = max(killed_peak, second.peak())
    second.process.send_signal(signal.SIGINT)
    second.process.wait(120)
    return second.looks(), peak


def run(seconds: float, channels: int, rate: float) -> dict:
    """The whole experiment; what came out."""
    with tempfile.TemporaryDirectory() as room:
        base = Path(room)
        store = made(base / "campaign", channels)
        folder = base / "recorder"
        folder.mkdir()
        this = [sys.executable, str(Path(__file__).resolve()), "write", str(folder)]
        recorder = subprocess.Popen(
            [*this, str(channels), str(rate)], stdout=subprocess.PIPE, text=True
        )
        try:
            looks, peak = followed_through(base, folder, seconds)
        finally:
            (base / "end").touch()
        told_rows, _ = recorder.communicate(timeout=60)
        written = int(told_rows)
        late = lateness(looks, rate)
        ended = looks[-1]
        told = compared(store, ended["files"])
        followed = sum(file["rows"] for file in ended["files"])
        store.close()
    return {
        "seconds": seconds,
        "channels": channels,
        "rows_a_second": rate,
        "rows_written": written,
        "rows_followed": followed,
        "rows_lost": written - followed,
        "files": len(ended["files"]),
        "same_to_the_last_bit": all(told),
        **shares(late),
        "processing_median_s": round(
            statistics.median(look["processing_s"] for look in looks[:-1]), 3
        ),
        "peak_memory_mb": round(peak, 1),
        "notices": sorted({n["kind"] for look in looks[:-1] for n in look["notices"]}),
    }


def compared(store: CampaignStore, files: list[dict]) -> list[bool]:
    """Whether each file, brought in whole, is what was followed."""
    book = Book.read(store)
    found = []
    for number, file in enumerate(files):
        path = Path(file["path"])
        follower = Follower(
            store,
            path,
            profile_named(book, PROFILE),
            instrument=book.labelled(Instrument, "R"),
        )
        account = FileAccount(file["path"], file["rows"], file["reported"], file["sha256"])
        _, told = follow_end.bring_whole_in(store, follower, account, label=f"file {number}")
        found.append(told.is_same and told.followed == told.imported)
    return found


if __name__ == "__main__":
    if sys.argv[1:2] == ["write"]:
        write(Path(sys.argv[2]), int(sys.argv[3]), float(sys.argv[4]))
    else:
        given = [float(text) for text in sys.argv[1:]] + [600.0, 200.0, 50.0][len(sys.argv) - 1 :]
        outcome = run(given[0], int(given[1]), given[2])
        for name, value in outcome.items():
            print(f"{name:22} {value}")
        print(json.dumps(outcome))
