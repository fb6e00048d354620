"""The test is over: its whole file brought in as a recording, held against what was followed."""

import hashlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from gaugewright.errors import InputError
from gaugewright.records import Entry
from gaugewright.records.electrical import Instrument
from gaugewright.records.identity import Uid
from gaugewright.records.readings import Clock, ReadingProfile, Recording
from gaugewright.services.campaign.book import Book
from gaugewright.services.following.following import Follower
from gaugewright.services.following.shown import FileAccount
from gaugewright.services.following.stream import Source, earlier_recording
from gaugewright.services.reading import layouts, readings
from gaugewright.services.reading.clocks import ByStamps, Joint
from gaugewright.services.reading.readings import Brought
from gaugewright.services.work import jobs
from gaugewright.services.work.jobs import Progress
from gaugewright.sources.layout import Layout
from gaugewright.store.campaign import CampaignStore

__all__ = ["JOB", "Compared", "bring_in_job", "bring_whole_in", "compared", "submit"]

JOB = "import followed"
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
    _refuse_gone(account)
    stream = follower.streams[account.source]
    source = Source(Path(account.path), stream.source.profile, stream.instrument)
    layout = layouts.layout_of(source.profile, layouts.understood(source.place))
    brought = _brought(store, source, layout, label=label, joint=joint, progress=progress)
    return brought, compared(store, brought.entry, account)


def submit(
    store: CampaignStore,
    follower: Follower,
    account: FileAccount,
    *,
    label: str,
    joint: ByStamps | None = None,
) -> Uid:
    """Begin to bring a followed file in, as a piece of work of its own.

    Raises
    ------
    InputError
        If the file was begun anew, or another recording is called so.
    """
    _refuse_gone(account)
    if not label:
        raise InputError("recording", label, "what people will call the recording")
    if any(entry.record.label == label for entry in Book.read(store).of(Recording)):
        raise InputError("recording", label, "new: another recording is called so", "state another")
    stream = follower.streams[account.source]
    parameters = {
        "path": account.path,
        "name": Path(account.path).name,
        "rows": account.rows,
        "reported": account.reported,
        "sha256": account.sha256,
        "profile": stream.source.profile.uid,
        "instrument": stream.instrument.uid,
        "label": label,
        "stamps": None if joint is None else {"within": joint.within, "source": joint.source},
    }
    return jobs.submit(store, JOB, parameters)


def bring_in_job(store: CampaignStore, parameters: Mapping[str, Any], progress: Progress) -> str:
    """Bring a followed file in and compare it; the words of the comparison come back."""
    book = Book.read(store)
    profile = book.entry(Uid(parameters["profile"]), ReadingProfile)
    instrument = book.entry(Uid(parameters["instrument"]), Instrument)
    source = Source(Path(parameters["path"]), profile, instrument)
    layout = layouts.layout_of(profile, layouts.understood(source.place))
    stamps = parameters["stamps"]
    joint = None if stamps is None else ByStamps(**stamps)
    brought = _brought(
        store, source, layout, label=parameters["label"], joint=joint, progress=progress
    )
    account = FileAccount(
        parameters["path"], parameters["rows"], parameters["reported"], parameters["sha256"]
    )
    return compared(store, brought.entry, account).words


def _refuse_gone(account: FileAccount) -> None:
    if not account.is_whole:
        raise InputError("file", Path(account.path).name, "one that wasn't begun anew since")


def _brought(
    store: CampaignStore,
    source: Source,
    layout: Layout,
    *,
    label: str,
    joint: Joint | None,
    progress: Callable[[int, int, str], None] | None,
) -> Brought:
    instrument = source.instrument
    if instrument is None:
        raise InputError("recorder", None, "named")
    return readings.bring_in(
        store,
        source.place,
        layout,
        label=label,
        instrument=instrument.uid,
        clock=_clock(store, source, layout, instrument),
        profile=source.profile.uid,
        joint=joint,
        progress=progress,
    )


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


def _clock(
    store: CampaignStore, source: Source, layout: Layout, instrument: Entry[Instrument]
) -> Uid | Clock:
    """Clock of the recorder: that of the last recording read so, or one to be entered."""
    earlier = earlier_recording(Book.read(store), source.profile)
    if earlier is not None and earlier.record.instrument == instrument.uid:
        return earlier.record.clock
    label = f"clock of {instrument.record.label}"
    resolution = layouts.resolution_of(layouts.understood(source.place), layout)
    return readings.clock_for(store, label, layout, resolution=resolution)
