"""How long a view of a long channel takes, from its ready extremes and from the raw column.

Baseline: polars reads the raw column of the same rows and numpy takes the extremes of each pixel.
Ours: the view that the plot of readings asks for. Both are asked for the whole record and for ever
shorter windows, in interleaved rounds, at two widths; medians and the spread are printed, and once
the time that making the extremes took.
Run with ``python benchmarks/pyramid_speed.py [rows] [rounds]``; 20 million rows when left out, and
``100000000`` is the size that the plan of the house speaks of.
"""

import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path

import numpy as np
import polars as pl

from gaugewright.calc.pyramid import bins_of
from gaugewright.records.identity import Uid, working_context
from gaugewright.records.readings import Clock, ReadingProfile, Recording, RecordingColumn
from gaugewright.records.specimen import Campaign
from gaugewright.services.reading.pyramid import view
from gaugewright.store.campaign import CampaignStore

BLOCK = 65_536
RATE_NS = 1_000_000  # a reading a millisecond
COLUMN = RecordingColumn("G", "g_um_per_m", "µm/m", "value")
WIDTHS = (600, 2400)


def made(folder: Path, rows: int) -> tuple[CampaignStore, Uid]:
    """Invented campaign with one long channel: a wandering signal with noise and a few gaps."""
    campaign = Campaign("speed", "Invented campaign for timing", "UTC", invented=True)
    store = CampaignStore.create(folder, campaign, working_context())
    clock = store.add(Clock("clock", "UTC", 0.001)).uid
    profile = store.add(ReadingProfile("profile", "none", "{}")).uid
    noise = np.random.default_rng(7)
    with store.new_recording([COLUMN]) as writer:
        for first in range(0, rows, BLOCK):
            row = np.arange(first, min(first + BLOCK, rows))
            value = np.round(500 * np.sin(row / 3e5) + noise.normal(0, 2, row.size), 2)
            value[row % 1_000_003 < 2_000] = np.nan
            series = pl.Series(COLUMN.field, value, nan_to_null=True)
            writer.write(pl.Series(row * RATE_NS), {}, pl.DataFrame({COLUMN.field: series}))
        record = Recording(
            label="long",
            file_name="none",
            original_sha256="0" * 64,
            profile=profile,
            clock=clock,
            instrument=None,
            rows=rows,
            rows_reported=0,
            columns=(COLUMN,),
            marks=(),
            first_stamp="",
            importer="none",
        )
        return store, writer.publish(lambda _: record).uid


def raw_view(store: CampaignStore, uid: Uid, first: int, last: int, pixels: int) -> int:
    """Extremes of each pixel from the raw column, read anew as a plot without them would."""
    paths = sorted((store.folder / "readings" / uid).glob("part-*.parquet"))
    column = pl.scan_parquet(paths).select(COLUMN.field).slice(first, last - first + 1).collect()
    values = column.to_series().to_numpy()
    return bins_of(values, max(1, -(-values.size // pixels))).low.size


def timed(work: Callable[[], object]) -> float:
    """Milliseconds that a piece of work takes."""
    began = time.perf_counter()
    work()
    return 1000 * (time.perf_counter() - began)


def told(times: list[float]) -> str:
    """Median and spread."""
    return f"{statistics.median(times):8.1f} ({min(times):.1f} to {max(times):.1f})"


def main(rows: int, rounds: int) -> None:
    """Time views of every length."""
    with tempfile.TemporaryDirectory() as room:
        store, uid = made(Path(room) / "campaign", rows)
        with store:

            def ours(first: int, last: int, pixels: int) -> object:
                return view(store, uid, COLUMN.field, first=first, last=last, pixels=pixels)

            build = timed(lambda: ours(0, rows - 1, WIDTHS[0]))
            print(f"{rows} rows; extremes made once in {build / 1000:.2f} s")
            print(f"{'rows shown':>12} {'pixels':>7} {'view [ms]':>28} {'raw column [ms]':>30}")
            length = rows
            while length >= 1000:
                first = (rows - length) // 2
                last = first + length - 1
                for pixels in WIDTHS:
                    seen: list[float] = []
                    raw: list[float] = []
                    for _ in range(rounds):
                        seen.append(timed(partial(ours, first, last, pixels)))
                        raw.append(timed(partial(raw_view, store, uid, first, last, pixels)))
                    print(f"{length:12} {pixels:7} {told(seen):>28} {told(raw):>30}")
                length //= 10


if __name__ == "__main__":
    given = [int(text) for text in sys.argv[1:]]
    main(given[0] if given else 20_000_000, given[1] if len(given) > 1 else 7)
