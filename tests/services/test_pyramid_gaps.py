"""Gaps stay gaps in a view of any width: none is bridged, and none is missing."""

import numpy as np
import polars as pl
import pytest

from gaugewright.records.identity import working_context
from gaugewright.records.readings import Clock, ReadingProfile, Recording, RecordingColumn
from gaugewright.records.specimen import Campaign
from gaugewright.services.reading.pyramid import LEVELS, view
from gaugewright.store.campaign import CampaignStore

pytestmark = pytest.mark.full

ROWS = 1_200_000
COLUMN = RecordingColumn("G", "g_um_per_m", "µm/m", "value")
# One reading, a few, some within a block, and more than a whole bin of the coarsest level.
GAPS = ((0, 1), (5_000, 5_001), (20_000, 20_070), (100_000, 103_000), (500_000, 1_100_000))
# Rows to a pixel: every reading, below and at each level, and between them.
ZOOMS = (1, 7, *LEVELS, *(2 * level + 1 for level in LEVELS[:3]))


@pytest.fixture(scope="module")
def long_channel(tmp_path_factory):
    """A store with one long channel, its uid and its readings as they were written."""
    campaign = Campaign("gaps", "Invented campaign with gaps", "UTC", invented=True)
    folder = tmp_path_factory.mktemp("gaps") / "campaign"
    with CampaignStore.create(folder, campaign, working_context()) as store:
        clock = store.add(Clock("clock", "UTC", 0.001)).uid
        profile = store.add(ReadingProfile("profile", "none", "{}")).uid
        values = np.random.default_rng(4).normal(0.0, 100.0, ROWS).astype(np.float32)
        values = values.astype(np.float64)  # levels keep 32 bits: nothing is rounded there
        for first, end in GAPS:
            values[first:end] = np.nan
        elapsed = np.arange(ROWS, dtype=np.int64) * 1_000_000
        with store.new_recording((COLUMN,)) as writer:
            frame = pl.DataFrame({COLUMN.field: pl.Series(values, nan_to_null=True)})
            writer.write(elapsed, {}, frame)
            entry = writer.publish(
                lambda uid: Recording(
                    "long", "none", "0" * 64, profile, clock, None, ROWS, 0, (COLUMN,), (), "", ""
                )
            )
        yield store, entry.uid, values


@pytest.mark.parametrize("zoom", ZOOMS)
@pytest.mark.parametrize("middle", [0, 5_000, 20_035, 101_500, 800_000, ROWS - 1])
def test_gaps_stay_gaps_at_every_zoom(long_channel, zoom, middle):
    store, uid, values = long_channel
    pixels = 300
    first = max(0, min(middle - zoom * pixels // 2, ROWS - 1))
    last = min(ROWS - 1, first + zoom * pixels - 1)
    seen = view(store, uid, COLUMN.field, first=first, last=last, pixels=pixels)
    assert seen.rows_per_bin <= max(1, -(-(last - first + 1) // pixels))
    for row, low, high, missing in zip(
        seen.row.tolist(), seen.low, seen.high, seen.missing, strict=True
    ):
        here = values[row : row + seen.rows_per_bin]
        read = here[np.isfinite(here)]
        if row + seen.rows_per_bin - 1 > last and seen.rows_per_bin > 1:
            continue  # cut by the window's end, where a level's own bins may reach further
        assert bool(missing) == (read.size < here.size)
        if read.size:
            assert (low, high) == (read.min(), read.max())
        else:
            assert np.isnan(low)
            assert np.isnan(high)


def test_a_gap_wider_than_the_coarsest_bin_is_empty_there(long_channel):
    store, uid, _ = long_channel
    seen = view(store, uid, COLUMN.field, first=0, last=ROWS - 1, pixels=4)
    assert seen.rows_per_bin == LEVELS[-1]
    assert np.isnan(seen.low[2:4]).tolist() == [True, True]
    assert np.isfinite(seen.low[[0, 1, 4]]).all()
