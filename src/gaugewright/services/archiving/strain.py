"""Strain of every recording beside its time, for whoever has no gaugewright."""

from collections.abc import Callable, Iterator
from datetime import datetime, timedelta
from pathlib import Path

import polars as pl

from gaugewright.records import Entry
from gaugewright.records.plain import canonical_text
from gaugewright.records.proof import ZeroKind
from gaugewright.records.readings import ClockMap, Recording
from gaugewright.records.results import Chain
from gaugewright.services.campaign.book import Book
from gaugewright.services.strain.strain_files import write_strains
from gaugewright.services.strain.strains import Desk
from gaugewright.store.campaign import CampaignStore
from gaugewright.store.parts import ELAPSED

__all__ = ["as_text", "strains_of_archive", "write_strain"]

Progress = Callable[[int, int, str], None]
_MOST_CSV_VALUES = 20_000_000  # about 300 MB of text; Parquet has them all


def write_strain(store: CampaignStore, book: Book, folder: Path, tell: Progress) -> Iterator[str]:
    """Strain of every recording; what was left out, in words."""
    folder.mkdir()
    desk = Desk(store, book)
    for entry in book.of(Recording):
        tell(3, 6, f"strain of {entry.record.label}")
        key = strains_of_archive(desk, entry)
        source = None if key is None else store.derived(key)
        if source is None:
            yield f"Recording {entry.record.label} has no strain: it was read for a zero only."
            continue
        place = folder / entry.uid
        place.mkdir()
        is_short = _copy_strain(store, book, entry, source, place)
        if not is_short:
            label = entry.record.label
            yield f"Strain of {label} is in Parquet only: as text it would be too long."


def strains_of_archive(desk: Desk, recording: Entry[Recording]) -> str | None:
    """Key of the strain of a recording that an archive holds: since the zero before the test."""
    chained = frozenset(chain.record.connection for chain in desk.book.of(Chain))
    return write_strains(desk, recording, ZeroKind.BEFORE_TEST, connections=chained)


def _copy_strain(
    store: CampaignStore, book: Book, recording: Entry[Recording], source: Path, place: Path
) -> bool:
    """Strain beside its time, part by part; whether it is there as text too."""
    readings = store.readings(recording.uid)
    clock = book.clock_map_of(recording).record
    start = clock.epoch + timedelta(seconds=clock.offset.value)
    first = 0
    parts = sorted(source.glob("*.parquet"))
    columns = len(pl.read_parquet_schema(parts[0])) if parts else 0
    is_short = readings.rows * columns <= _MOST_CSV_VALUES
    with (place / "strain.csv").open("wb") as text:
        for number, part in enumerate(parts):
            strain = pl.read_parquet(part)
            elapsed = readings.window(first, first + strain.height - 1, [ELAPSED])
            time = _utc(start, clock, elapsed[ELAPSED])
            frame = pl.concat([elapsed, pl.DataFrame({"time_utc": time}), strain], how="horizontal")
            frame.write_parquet(place / part.name, compression="zstd", metadata=_told(recording))
            if is_short:
                text.write(as_text(frame, is_first=number == 0))
            first += strain.height
    if not is_short:
        (place / "strain.csv").unlink()
    return is_short


def as_text(frame: pl.DataFrame, *, is_first: bool) -> bytes:
    """Rows of strain as comma-separated text, as the archive has them beside the Parquet."""
    written: str = frame.write_csv(
        include_header=is_first,
        datetime_format="%Y-%m-%dT%H:%M:%S%.6fZ",
        line_terminator="\r\n",
    )
    return written.encode()


def _utc(start: datetime, clock: ClockMap, elapsed: pl.Series) -> pl.Series:
    """Campaign time of rows, to the microsecond."""
    nanoseconds = (elapsed.cast(pl.Float64) * (1 + clock.rate)).round().cast(pl.Int64)
    begins = pl.Series([start]).cast(pl.Datetime("ns", "UTC")).dt.timestamp("ns")[0]
    stamps: pl.Series = (nanoseconds + begins) // 1000
    return stamps.cast(pl.Datetime("us", "UTC"))


def _told(recording: Entry[Recording]) -> dict[str, str]:
    told = {
        "recording": recording.uid,
        "label": recording.record.label,
        "elapsed_ns": "nanoseconds of the recorder's own clock since its first row",
        "time_utc": "time of the campaign, clocks joined",
        "strain": "mechanical strain since the zero before the test, tension positive [1]",
        "columns": "strain_ and the label of the circuit; the last part is the unit: 1",
    }
    return {"gaugewright": canonical_text(told)}
