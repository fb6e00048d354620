"""Invented campaigns for the tests of the store; nothing in them happened."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import polars as pl

from gaugewright.records import Entry
from gaugewright.records.identity import Context, Uid, seeded_context
from gaugewright.records.proof import Person
from gaugewright.records.readings import Clock, ReadingProfile, Recording, RecordingColumn
from gaugewright.records.specimen import Campaign, Question
from gaugewright.store.campaign import CampaignStore, RecordingWriter

START = datetime(2026, 3, 4, 5, 6, 7, tzinfo=UTC)
CAMPAIGN = Campaign("INV-1", "Invented beam", "Europe/Rome", invented=True)
COLUMNS = (
    RecordingColumn("Time", "stamp", "", "time"),
    RecordingColumn("G1", "g1", "µm/m", "reading"),
    RecordingColumn("G2", "g2", "µm/m", "reading"),
)


def context(days: int = 0) -> Context:
    """Seeded, and of another day when the campaign is opened again: uids never repeat."""
    return seeded_context(START + timedelta(days=days))


def question(label: str, text: str = "Where does the bar yield first?") -> Question:
    return Question(label, text, "strain")


def new_store(folder: Path, made: Context | None = None) -> CampaignStore:
    return CampaignStore.create(folder, CAMPAIGN, made or context())


def values(rows: int, first: int = 0) -> pl.DataFrame:
    """Two columns: the row number, and its tenth with every fifth one missing."""
    numbers = np.arange(first, first + rows, dtype=np.float64)
    g2 = pl.Series("g2", numbers / 10)
    bad = pl.Series(numbers.astype(np.int64) % 5 == 0)
    return pl.DataFrame({"g1": numbers}).with_columns(
        pl.select(pl.when(~bad).then(g2).alias("g2")).to_series()
    )


def write_rows(writer: RecordingWriter, rows: int, first: int = 0) -> None:
    elapsed = np.arange(first, first + rows, dtype=np.int64) * 100_000_000
    stamps = pl.Series([f"row {n}" for n in range(first, first + rows)])
    writer.write(elapsed, {"stamp": stamps}, values(rows, first))


def builder(
    store: CampaignStore, original: Path, rows: int, label: str = "R1"
) -> Callable[[Uid], Recording]:
    """Maker of the recording's record, with what it refers to written first."""
    profile = store.add(ReadingProfile(f"profile of {label}", "invented", "{}"))
    clock = store.add(Clock(f"clock of {label}", "UTC", 0.1))
    sha256 = store.keep_original(original)

    def build(uid: Uid) -> Recording:
        return Recording(
            label=label,
            file_name=original.name,
            original_sha256=sha256,
            profile=profile.uid,
            clock=clock.uid,
            instrument=None,
            rows=rows,
            rows_reported=0,
            columns=COLUMNS,
            marks=(),
            first_stamp="row 0",
            importer="invented",
        )

    return build


def add_recording(
    store: CampaignStore, original: Path, rows: int = 10, label: str = "R1"
) -> Entry[Recording]:
    build = builder(store, original, rows, label)
    with store.new_recording(COLUMNS) as writer:
        write_rows(writer, rows)
        writer.mark("G2", 0, 0, "over-range", "OVL")
        return writer.publish(build)


def write_and_publish(
    store: CampaignStore, build: Callable[[Uid], Recording], rows: int = 10
) -> Entry[Recording]:
    with store.new_recording(COLUMNS) as writer:
        write_rows(writer, rows)
        return writer.publish(build)


def filled_store(folder: Path, original: Path) -> CampaignStore:
    """A campaign with a person, a question in two versions, one withdrawn, and a recording."""
    store = new_store(folder)
    person = store.add(Person("NB", "Nora Beispiel (invented)"))
    working = store.as_person(person.uid)
    first = working.add(question("yield"))
    working.revise(first.uid, 1, question("yield", "At which load?"), reason="asked better")
    second = working.add(question("slip"))
    working.withdraw(second.uid, 1, reason="not asked any more")
    add_recording(working, original)
    return working
