"""One recorder while its file grows: which file, how it stands, and its rows taken in once each."""

import hashlib
import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np

from gaugewright.errors import FileError, InputError
from gaugewright.quantities import FloatArray
from gaugewright.records import Entry
from gaugewright.records.electrical import Instrument
from gaugewright.records.readings import ReadingProfile, Recording
from gaugewright.services.campaign.book import Book
from gaugewright.services.following.clock import LiveClock, live_clock, without_stamps
from gaugewright.services.following.rows import Rows
from gaugewright.services.following.shown import FileAccount, SourceNow
from gaugewright.services.following.sides import Sides
from gaugewright.services.reading import beginnings, layouts
from gaugewright.services.reading.series import EPOCH
from gaugewright.services.strain.strains import Desk
from gaugewright.sources.blocks import Block
from gaugewright.sources.growing import Fresh, Growing, Standing, newest
from gaugewright.sources.layout import Layout

__all__ = ["QUIET_S", "Source", "Stream", "earlier_recording"]

QUIET_S = 10.0  # nothing new for so long is worth a notice
_MOST_LOOKS = 4  # of 16 MB, before what was read is shown
_CHECK_ROWS = 3  # of a file, before its columns are held against the profile


@dataclass(frozen=True, slots=True)
class Source:
    """What is followed of one recorder: its file, or the folder its files come into.

    ``instrument`` is that of the last recording read by the profile when left out. ``older`` are
    names of files in the folder that were there before the first one followed, when that was
    earlier than now; None begins with the newest.
    """

    place: Path
    profile: Entry[ReadingProfile]
    instrument: Entry[Instrument] | None = None
    older: frozenset[str] | None = None


def earlier_recording(book: Book, profile: Entry[ReadingProfile]) -> Entry[Recording] | None:
    """The last recording that was read by a profile and has an instrument."""
    found = [
        entry
        for entry in book.of(Recording)
        if entry.record.profile == profile.uid and entry.record.instrument is not None
    ]
    return found[-1] if found else None


@dataclass(slots=True)
class _File:
    """A file while it is followed: its rows so far, and the hash of their numbers."""

    growing: Growing
    rows: int
    digest: "hashlib._Hash"
    clock: LiveClock | None
    is_checked: bool

    def account(self, source: int, *, is_whole: bool = True) -> FileAccount:
        reported = self.growing.report.rows_reported
        path = str(self.growing.path)
        return FileAccount(path, self.rows, reported, self.digest.hexdigest(), is_whole, source)


class Stream:
    """Follows the file of one recorder, or the newest file of a folder.

    Parameters
    ----------
    source : Source
        The file need not be there yet.
    number : int
        Its place among those that are followed together.
    desk, sides
        Records, and what gauges of every recorder need of each other.
    tell : callable
        Takes the kind and the words of a notice about the file.
    now : callable
        What this machine's clock shows.

    Raises
    ------
    InputError
        If nothing says which recorder it is, or the profile isn't one for text.
    """

    def __init__(
        self,
        source: Source,
        number: int,
        desk: Desk,
        sides: Sides,
        *,
        tell: Callable[[str, str], None],
        now: Callable[[], datetime],
    ) -> None:
        self.source = source
        self.number = number
        self.instrument = source.instrument or _instrument_of(desk.book, source.profile)
        self.layout = layouts.kept_layout(source.profile)
        self.rows = Rows(desk, self.instrument, self.layout, sides, number)
        self.failure = ""
        self._tell, self._now = tell, now
        self._file: _File | None = None
        self._ended: list[FileAccount] = []
        self._standing = ""
        self._grew_at = now()
        self._is_quiet = False
        self._is_waiting = False
        self._offset: float | None = None
        self._passed_over: set[Path] = set()
        self._begin(self._first())

    @property
    def label(self) -> str:
        """What people call the recorder."""
        return self.instrument.record.label

    @property
    def clock(self) -> LiveClock | None:
        """Clock of the file that is read now."""
        return None if self._file is None else self._file.clock

    def look(self) -> bool:
        """Take in what is new; whether more is there than one look takes."""
        self._follow_newest()
        self._is_waiting = self._read()
        return self._is_waiting

    def last(self) -> None:
        """Take in all that is there, a last line without an end too."""
        while self._read():
            pass
        if self._file is not None:
            self._took(self._file, self._file.growing.last())

    def accounts(self) -> tuple[FileAccount, ...]:
        """Rows followed of every file so far."""
        if self._file is None or not self._file.rows:
            return tuple(self._ended)
        return (*self._ended, self._file.account(self.number))

    def now(self) -> SourceNow:
        """How the recorder stands."""
        newest_row, file, accounts = self.rows.newest, self._file, self.accounts()
        row_at = EPOCH + timedelta(seconds=newest_row) if math.isfinite(newest_row) else None
        behind = None if row_at is None else (self._now() - row_at).total_seconds()
        if behind is not None and not self._is_waiting:
            self._offset = min(behind, math.inf if self._offset is None else self._offset)
        return SourceNow(
            recorder=self.label,
            place=str(self.source.place),
            file="" if file is None else file.growing.path.name,
            standing=self.failure or self._standing,
            rows=sum(account.rows for account in accounts),
            reported=sum(account.reported for account in accounts),
            row_at=row_at,
            behind=behind,
            offset=self._offset,
            quiet=max(self.quiet(), 0.0),
            clock="" if file is None or file.clock is None else file.clock.words,
            is_clock_joined=file is not None and file.clock is not None and file.clock.is_joined,
        )

    def quiet(self) -> float:
        """How long nothing new has come [s]."""
        return (self._now() - self._grew_at).total_seconds()

    def _first(self) -> Path | None:
        """File to begin with: of a folder the newest; what is there already is passed over."""
        place = self.source.place
        if not place.is_dir():
            return place
        there = _files_in(place)
        if self.source.older is None:
            first, passed_over = newest(place), set(there)
        else:
            later = [path for path in there if path.name not in self.source.older]
            first = later[0] if later else None
            passed_over = {*(set(there) - set(later)), *later[:1]}
        self._passed_over |= passed_over
        if first is not None:
            self.source = replace(
                self.source, older=frozenset(path.name for path in passed_over - {first})
            )
        return first

    def _next(self) -> Path | None:
        """Of the files that came into a folder since, the one that was begun first."""
        found = _files_in(self.source.place)
        return next((path for path in found if path not in self._passed_over), None)

    def _begin(self, path: Path | None) -> None:
        self._file = None
        if path is not None:
            growing = Growing(path, self._layout_of(path))
            self._file = _File(growing, 0, hashlib.sha256(), None, False)

    def _layout_of(self, path: Path) -> Layout:
        """Layout of one file: where its own first lines tell when it began, they are read."""
        if not self.layout.clock.begins_with_the_file:
            return self.layout
        try:
            return beginnings.of_this_file(self.layout, layouts.understood(path))
        except FileError:  # not there yet, or nothing but its first lines
            return replace(self.layout, clock=self.layout.clock.of_another_file())

    def _follow_newest(self) -> None:
        """Go on with the next file of a folder once the one before is read to its end."""
        if not self.source.place.is_dir():
            return
        if self._file is None or self._file.growing.path == self.source.place:
            self._begin(self._first())
            return
        path = self._next()
        if path is None:
            return
        self._passed_over.add(path)
        fresh = self._file.growing.look()
        while fresh.standing is Standing.GREW:
            self._took(self._file, fresh)
            fresh = self._file.growing.look()
        self._took(self._file, self._file.growing.last())
        if self._file.rows:
            self._ended.append(self._file.account(self.number))
        self._tell("next file", f"the recorder goes on in {path.name}")
        self._begin(path)

    def _read(self) -> bool:
        """Read on; whether more is there than one look takes."""
        if self._file is None:
            self._standing = "no file in this folder yet"
            return False
        fresh = Fresh(Standing.STILL)
        for _ in range(_MOST_LOOKS):
            fresh = self._file.growing.look()
            if fresh.standing is not Standing.GREW:
                break
            self._took(self._file, fresh)
            if not fresh.bytes_waiting:
                break
        self._stands(fresh)
        return fresh.bytes_waiting > 0

    def _stands(self, fresh: Fresh) -> None:
        words = fresh.standing.value + (f": {fresh.why}" if fresh.why else "")
        if fresh.standing is Standing.AWAY and self._standing != words:
            self._tell("out of reach", f"the file is {words}; it is waited for")
        if fresh.standing is Standing.GREW:
            if self._is_quiet:
                self._tell("goes on", "new rows are coming again")
            self._is_quiet = False
        elif not self._is_quiet and self.quiet() > QUIET_S and self.rows.time.held:
            self._is_quiet = True
            self._tell("no new rows", f"nothing new has come for {QUIET_S:.0f} s")
        if fresh.standing is Standing.BEGUN_ANEW and self._file is not None:
            if self._file.rows:
                self._ended.append(self._file.account(self.number, is_whole=False))
            self._tell("begun anew", f"the recorder began the file anew: {fresh.why}")
            self._file.growing.begin_anew()
            self._file = _File(self._file.growing, 0, hashlib.sha256(), None, False)
        self._standing = words

    def _took(self, file: _File, fresh: Fresh) -> None:
        for block in fresh.blocks:
            if block.rows:
                self._take(file, block)
                self._grew_at = self._now()

    def _take(self, file: _File, block: Block) -> None:
        file.rows += block.rows
        if not file.is_checked and file.rows >= _CHECK_ROWS:
            self._refuse_other_columns(file)
        elapsed = block.elapsed_ns.cast(float).fill_null(math.nan).to_numpy() / 1e9
        if file.clock is None:
            file.clock = self._clock_of(file, elapsed)
            known = elapsed[np.isfinite(elapsed)]
            since = file.clock.time(known[:1])
            self.rows.rewired(self.rows.desk, float(since[0]) if known.size else -math.inf)
        raw = self.rows.take(block, file.clock.time(elapsed))
        file.digest.update(raw.tobytes())

    def _clock_of(self, file: _File, elapsed: FloatArray) -> LiveClock:
        start = file.growing.report.start_utc
        found = live_clock(self.rows.desk.book, self.instrument, start)
        if found is not None:
            return found
        known = elapsed[np.isfinite(elapsed)]
        return without_stamps(float(known[-1]) if known.size else 0.0, self._now())

    def _refuse_other_columns(self, file: _File) -> None:
        """Refuse a file whose columns aren't those that a person confirmed."""
        file.is_checked = True
        seen = layouts.understood(file.growing.path)
        layouts.layout_of(self.source.profile, seen)


def _instrument_of(book: Book, profile: Entry[ReadingProfile]) -> Entry[Instrument]:
    earlier = earlier_recording(book, profile)
    if earlier is None or earlier.record.instrument is None:
        raise InputError(
            f"recorder of profile {profile.record.label!r}",
            None,
            "that of an earlier recording read by it",
            "name the recorder that writes the file",
        )
    return book.entry(earlier.record.instrument, Instrument)


def _files_in(folder: Path) -> list[Path]:
    """Files of a folder in the order they were written last; none while it is out of reach."""
    try:
        found = [(path.stat().st_mtime_ns, path) for path in folder.iterdir() if path.is_file()]
    except OSError:
        return []
    return [path for _, path in sorted(found)]
