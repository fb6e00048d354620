"""What a plot of a recording's column shows between two rows, whatever its length."""

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import polars as pl

from gaugewright.calc.pyramid import Bins, bins_of, joined_bins
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray
from gaugewright.records.identity import Uid
from gaugewright.store.campaign import CampaignStore

__all__ = ["View", "view"]

# Rows in a bin of each level: a block of 65 536 rows holds whole bins of the finest.
LEVELS = (64, 1024, 16_384, 262_144)


@dataclass(frozen=True, slots=True)
class View:
    """Extremes between two rows: ``row`` begins each bin, values in the unit of the file.

    NaN in ``low`` and ``high`` is a gap. ``rows_per_bin`` 1 means every sample is there.
    """

    row: npt.NDArray[np.int64]
    low: FloatArray
    high: FloatArray
    missing: npt.NDArray[np.bool_]
    rows_per_bin: int


def view(
    store: CampaignStore, recording: Uid, field: str, *, first: int, last: int, pixels: int
) -> View:
    """Extremes of a column from row ``first`` to row ``last`` (both included), one bin a pixel.

    The finest level that still gives a bin a pixel is read, and of it only the rows asked for:
    the cost grows with pixels, not with the record.

    Raises
    ------
    InputError
        If the rows or the number of pixels make no sense for this recording.
    """
    readings = store.readings(recording)
    if not 0 <= first <= last < readings.rows:
        raise InputError("rows", (first, last), f"from 0 to {readings.rows - 1}, in order")
    if not 1 <= pixels <= 10_000:
        raise InputError("pixels", pixels, "from 1 to 10 000")
    rows = last - first + 1
    per_pixel = max(1, -(-rows // pixels))
    level = max((size for size in LEVELS if size <= per_pixel), default=0)
    if not level:
        values = readings.window(first, last, [field])[field].to_numpy()
        return _seen(bins_of(values, per_pixel), first, per_pixel)
    bins = _read(store, recording, field, level, slice(first // level, last // level + 1))
    together = max(1, per_pixel // level)
    return _seen(joined_bins(bins, together), first // level * level, level * together)


def _seen(bins: Bins, first: int, rows_per_bin: int) -> View:
    row = first + rows_per_bin * np.arange(bins.low.size, dtype=np.int64)
    return View(row, bins.low, bins.high, bins.missing, rows_per_bin)


def _read(store: CampaignStore, recording: Uid, field: str, level: int, wanted: slice) -> Bins:
    key = _key(store, recording, field, level)
    folder = store.derived(key)
    if folder is None:
        _build(store, recording, field)
        folder = store.derived(key)
    if folder is None:
        raise InputError("level", level, "one of those just built")
    scan = pl.scan_parquet(folder / "*.parquet")
    frame = scan.slice(wanted.start, wanted.stop - wanted.start).collect()
    return Bins(
        frame["low"].cast(pl.Float64).to_numpy(),
        frame["high"].cast(pl.Float64).to_numpy(),
        frame["missing"].to_numpy(),
    )


def _key(store: CampaignStore, recording: Uid, field: str, level: int) -> str:
    text = "\n".join([*store.readings(recording).hashes, field])
    return f"extremes-{hashlib.sha256(text.encode()).hexdigest()[:32]}-{level}"


def _build(store: CampaignStore, recording: Uid, field: str) -> None:
    """All levels of one column: the finest from the rows, block by block, each from the last."""
    readings = store.readings(recording)
    finest = [bins_of(frame[field].to_numpy(), LEVELS[0]) for _, frame in readings.blocks([field])]
    bins = Bins(
        np.concatenate([part.low for part in finest]),
        np.concatenate([part.high for part in finest]),
        np.concatenate([part.missing for part in finest]),
    )
    size = LEVELS[0]
    for level in LEVELS:
        bins = joined_bins(bins, level // size)
        size = level
        store.write_derived(_key(store, recording, field, level), _frame(bins))


def _frame(bins: Bins) -> Iterator[pl.DataFrame]:
    # Kept as 32-bit numbers: one part in ten million, a thousandth of a pixel.
    yield pl.DataFrame({"low": bins.low, "high": bins.high, "missing": bins.missing})
