"""Which campaign time is a row of that a recorder has only just written?"""

from dataclasses import dataclass
from datetime import datetime

import numpy as np

from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray
from gaugewright.records import Entry
from gaugewright.records.electrical import Instrument
from gaugewright.records.identity import instant_from_text
from gaugewright.records.readings import ClockMap, Recording
from gaugewright.services.campaign.book import Book
from gaugewright.services.reading.series import EPOCH, campaign_seconds

__all__ = ["LiveClock", "live_clock", "without_stamps"]


@dataclass(frozen=True, slots=True)
class LiveClock:
    """Campaign time = ``begins`` + (1 + ``rate``) x elapsed [s], and why that is believed.

    ``moved`` is by how much the recorder's own stamps were moved [s], or None where it has none;
    ``is_joined`` whether a clock of this recorder was ever joined to the campaign's.
    """

    begins: float
    rate: float
    moved: float | None
    words: str
    is_joined: bool = False

    def time(self, elapsed: FloatArray) -> FloatArray:
        """Campaign time of rows [s]; NaN where nothing is known."""
        return np.asarray(self.begins + (1 + self.rate) * elapsed)


def live_clock(book: Book, instrument: Entry[Instrument], start_utc: str) -> LiveClock | None:
    """Clock of a file by its first stamp; None where that is no instant.

    A recorder whose clock was joined before is taken to be as far off as it was then.
    """
    try:
        start = instant_from_text(start_utc)
    except InputError:
        return None
    begins = campaign_seconds(start)
    known = _last_map(book, instrument)
    if known is None:
        words = "stamps of the recorder as they are: its clock was never joined to the campaign's"
        return LiveClock(begins, 0.0, 0.0, words)
    recording, joined = known
    moved = joined.offset.value + campaign_seconds(joined.epoch)
    moved -= campaign_seconds(instant_from_text(recording.record.first_stamp))
    words = f"stamps of the recorder moved by {moved:+.3f} s, as for {recording.record.label}"
    return LiveClock(begins + moved, joined.rate, moved, words, is_joined=True)


def without_stamps(newest_elapsed: float, seen: datetime) -> LiveClock:
    """Clock of a file without instants: its newest row is taken to be of when it was seen."""
    words = "no instants in the file: its newest row is taken to be of the moment it was first seen"
    seconds = (seen - EPOCH).total_seconds()
    return LiveClock(seconds - newest_elapsed, 0.0, None, words)


def _last_map(
    book: Book, instrument: Entry[Instrument]
) -> tuple[Entry[Recording], ClockMap] | None:
    """Latest recording of an instrument that has instants and was joined, with how."""
    found = []
    for entry in book.of(ClockMap):
        recording = book.entry(entry.record.recording, Recording)
        if recording.record.instrument != instrument.uid:
            continue
        try:
            instant_from_text(recording.record.first_stamp)
        except InputError:
            continue  # joined some other way: says nothing of stamps
        found.append((entry.record.epoch, recording, entry.record))
    if not found:
        return None
    _, recording, joined = max(found, key=lambda item: item[0])
    return recording, joined
