"""The test is over: its whole file brought in as a recording, held against what was followed."""

import hashlib
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from gaugewright.errors import InputError
from gaugewright.records import Entry
from gaugewright.records.identity import Uid
from gaugewright.records.readings import Clock, Recording
from gaugewright.services import layouts, readings
from gaugewright.services.clocks import Joint
from gaugewright.services.follow_shown import FileAccount
from gaugewright.services.following import Follower, earlier_recording
from gaugewright.services.readings import Brought
from gaugewright.store.campaign import CampaignStore

__all__ = ["Compared", "bring_whole_in", "compared"]

_BLOCK = 65_536


@dataclass(frozen=True, slots=True)
class Compared:
    """Rows followed against rows brought in; ``is_same`` when the numbers are to the last bit."""

    followed: int
    imported: int
    is_same: bool
    words: str


def bring_whole_in(
    store: CampaignStore,
    follower: Follower,
    account: FileAccount,
    *,
    label: str,
    joint: Joint | None = None,
    progress: Callable[[int, int, str], None] | None = None,
) -> tuple[Brought, Compared]:
    """Bring a followed file in by the ordinary import, and compare.

    Raises
    ------
    FileError, InputError
        As ``readings.bring_in``; a file that was begun anew has nothing left to bring in.
    """
    if not account.is_whole:
        raise InputError("file", Path(account.path).name, "one that wasn't begun anew since")
    brought = readings.bring_in(
        store,
        Path(account.path),
        follower.layout,
        label=label,
        instrument=follower.instrument.uid,
        clock=_clock(store, follower, Path(account.path)),
        profile=follower.profile.uid,
        joint=joint,
        progress=progress,
    )
    return brought, compared(store, brought.entry, account)


def compared(store: CampaignStore, entry: Entry[Recording], account: FileAccount) -> Compared:
    """Whether the rows of a recording begin with those that were followed, number by number."""
    fields = [column.field for column in entry.record.columns if column.role == "value"]
    kept, wanted = store.readings(entry.uid), account.rows
    digest = hashlib.sha256()
    for first in range(0, min(wanted, entry.record.rows), _BLOCK):
        last = min(first + _BLOCK, wanted, entry.record.rows) - 1
        frame = kept.window(first, last, fields)
        numbers = frame.select(fields).to_numpy().astype(np.float64, order="C", copy=True)
        numbers[np.isnan(numbers)] = np.nan
        digest.update(numbers.tobytes())
    rows = entry.record.rows
    is_same = rows >= wanted and digest.hexdigest() == account.sha256
    if not is_same:
        words = f"{wanted} rows were followed and {rows} brought in, and they aren't the same"
    elif rows == wanted:
        words = f"all {rows} rows that were followed are in the recording, the same to the last bit"
    else:
        words = (
            f"all {wanted} rows that were followed are in the recording, the same to the last bit; "
            f"{rows - wanted} more were written afterwards"
        )
    return Compared(wanted, rows, is_same, words)


def _clock(store: CampaignStore, follower: Follower, path: Path) -> Uid | Clock:
    """Clock of the recorder: that of the last recording read so, or one to be entered."""
    book = follower.book
    earlier = earlier_recording(book, follower.profile)
    if earlier is not None and earlier.record.instrument == follower.instrument.uid:
        return earlier.record.clock
    label = f"clock of {follower.instrument.record.label}"
    resolution = layouts.resolution_of(layouts.understood(path), follower.layout)
    return readings.clock_for(store, label, follower.layout, resolution=resolution)
