"""Reading a file as received once more, and holding every row to the one that was kept."""

import json
import tempfile
from pathlib import Path

import polars as pl

from gaugewright.errors import GaugewrightError
from gaugewright.records import Entry
from gaugewright.records.readings import ReadingProfile, Recording
from gaugewright.services.campaign.book import Book
from gaugewright.sources import delimited, files
from gaugewright.store.campaign import CampaignStore
from gaugewright.store.parts import ELAPSED, MARKS_SCHEMA

__all__ = ["difference"]


def difference(store: CampaignStore, book: Book, recording: Entry[Recording]) -> str:
    """What differs between a recording and its original read again; "" when nothing does."""
    record = recording.record
    profile = _profile_then(store, recording)
    layout = delimited.Layout.from_plain(json.loads(profile.layout))
    with tempfile.TemporaryDirectory(prefix="gaugewright-original-") as folder:
        suffix = Path(record.file_name).suffix
        path = Path(folder) / f"original{suffix}"
        path.write_bytes(store.original_bytes(record.original_sha256))
        try:
            return _compared(store, recording, path, layout)
        except GaugewrightError as error:
            return f"can't be read again: {error}"


def _profile_then(store: CampaignStore, recording: Entry[Recording]) -> ReadingProfile:
    """Profile as it was when the recording was brought in: it may have been changed since."""
    versions = store.history(recording.record.profile)
    first = store.history(recording.uid)[0].at
    fitting = [entry for entry in versions if entry.at <= first]
    found: ReadingProfile = (fitting or versions)[-1 if fitting else 0].record
    return found


def _compared(
    store: CampaignStore, recording: Entry[Recording], path: Path, layout: delimited.Layout
) -> str:
    readings = store.readings(recording.uid)
    fields = {column.name: column.field for column in recording.record.columns}
    row, marks = 0, []
    with files.reading(path, layout) as reading:
        for block in reading:
            marks += [(m.column, m.first_row, m.last_row, m.code, m.text) for m in block.marks]
            if not block.rows:
                continue
            if row + block.rows > readings.rows:
                return f"the original has more than the {readings.rows} rows kept"
            again = _as_kept(block, fields)
            kept = readings.window(row, row + block.rows - 1, again.columns)
            for name in again.columns:
                if not kept[name].equals(again[name].cast(kept[name].dtype), null_equal=True):
                    return f"{name} isn't what the original says, rows {row} on"
            row += block.rows
    if row != readings.rows:
        return f"{readings.rows} rows kept, {row} in the original"
    told = pl.DataFrame(marks, schema=MARKS_SCHEMA, orient="row")
    order = list(MARKS_SCHEMA)
    if not told.sort(order).equals(readings.marks().select(order).sort(order)):
        return "marks aren't those of the original"
    return ""


def _as_kept(block: delimited.Block, fields: dict[str, str]) -> pl.DataFrame:
    series = [block.elapsed_ns.alias(ELAPSED)]
    for frame in (block.times, block.texts, block.values):
        series += [one.alias(fields[one.name]) for one in frame if one.name in fields]
    return pl.DataFrame(series)
