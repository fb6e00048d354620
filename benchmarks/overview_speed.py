"""How long the server takes for the overview of a large campaign: read first, unchanged, changed.

The campaign is the demo with its gauges and everything that was written about them five times
over, through the store: 150 gauges, some thousands of records. Three numbers are printed: the
first view after the app was started (opening the campaign and decoding every record), a view when
nothing was written since, and the first view after somebody wrote a record (which reads what
changed). Times are those of the whole answer, from the request to the last byte of the page, with
medians and the spread; processor time stands beside, because other work on a machine disturbs it
less. Aim: under 100 ms for the second and the third.
Run with ``python benchmarks/overview_speed.py [times the demo] [rounds]``.
"""

import json
import re
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from starlette.testclient import TestClient

from gaugewright import settings
from gaugewright.records import KINDS, Entry, kind_of, label_of
from gaugewright.records.gauges import Gauge
from gaugewright.records.identity import Uid, working_context
from gaugewright.records.plain import canonical_text, from_plain, to_plain
from gaugewright.records.readings import Event
from gaugewright.services.campaign.book import Book
from gaugewright.services.demo import demo
from gaugewright.store.campaign import CampaignStore
from gaugewright.web.app import create_app

UID = re.compile(r"[0-9A-HJKMNP-TV-Z]{26}")
BASE = "http://127.0.0.1:8710"
# What belongs to a specimen and is there once more for each further one.
REPEATED = frozenset(
    (
        *("question", "specimen", "material", "bar", "station", "smoothed zone", "flat"),
        *("gauge pack", "gauge", "protection", "bench step", "lead", "bridge circuit", "channel"),
        *("channel setting", "connection", "temperature point", "gate check", "zero", "chain"),
        *("finding", "result"),
    )
)


def repeated(store: CampaignStore, first: list[Entry[Any]], number: int) -> None:
    """Write some records once more, under labels of their own and pointing to each other."""
    new = {entry.uid: store.context.new_uid() for entry in first}
    with store.several():
        for entry in first:
            text = canonical_text(to_plain(entry.record))
            text = UID.sub(lambda found: new.get(Uid(found[0]), found[0]), text)
            record = from_plain(KINDS[kind_of(entry.record)], json.loads(text))
            if label_of(record):
                record = replace(record, label=f"{label_of(record)[:72]} ({number})")
            store.add(record, uid=new[entry.uid], reason="one more specimen like the first")


def campaign(folder: Path, times: int) -> Path:
    """Demo campaign with ``times`` its gauges."""
    made = demo.run(folder / "made" / "demo", duration_scale=0.02).campaign
    home = folder / "home"
    home.mkdir()
    made.rename(home / "demo")
    with CampaignStore.open(home / "demo", working_context()) as store:
        every = Book.read(store).every()
        first = [entry for entry in every if kind_of(entry.record) in REPEATED]
        for number in range(2, times + 1):
            repeated(store, first, number)
        gauges, records = len(store.entries(Gauge)), len(Book.read(store).every())
        print(f"{gauges} gauges, {records} records")
    return home


def timed(ask: Callable[[], None], rounds: int, before: Callable[[], None] | None = None) -> str:
    """Medians and spread of some rounds, in ms."""
    wall, processor = [], []
    for _ in range(rounds):
        if before is not None:
            before()
        at, cpu = time.perf_counter(), time.process_time()
        ask()
        wall.append(1e3 * (time.perf_counter() - at))
        processor.append(1e3 * (time.process_time() - cpu))
    return (
        f"median {statistics.median(wall):.1f} ms, {min(wall):.1f} to {max(wall):.1f} ms; "
        f"processor {statistics.median(processor):.1f} ms; {rounds} rounds"
    )


def main(times: int = 5, rounds: int = 40) -> None:
    """Build the campaign, ask for its overview, print how long it took."""
    with tempfile.TemporaryDirectory() as room:
        folder = Path(room)
        (folder / "made").mkdir()
        home = campaign(folder, times)
        shipped = settings.load({}, environment={}, user_folder=folder / "no settings")
        firsts = []
        for number in range(3):
            app = create_app(shipped, home, token=f"key {number}")
            with TestClient(app, base_url=BASE, headers={"origin": BASE}) as client:
                client.get("/people", params={"key": f"key {number}"})

                def ask(client: TestClient = client) -> None:
                    answer = client.get("/c/demo/")
                    assert answer.status_code == 200
                    assert answer.text.count("/gauges/") >= 30 * times

                firsts.append(timed(ask, 1))
                if number:
                    continue
                print(f"nothing changed:      {timed(ask, rounds)}")
                with CampaignStore.open(home / "demo", working_context()) as store:

                    def write(store: CampaignStore = store) -> None:
                        store.add(Event(datetime.now(UTC), "note", "somebody wrote this"))

                    print(f"after one change:     {timed(ask, rounds, write)}")
        for first in firsts:
            print(f"first after starting: {first}")


if __name__ == "__main__":
    main(*(int(argument) for argument in sys.argv[1:3]))
