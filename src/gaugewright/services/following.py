"""A test followed while its recorder is still writing: advisory, in memory, never a recording.

Rows pass through the chains and checks that reducing and reviewing use. When the test is over the
whole file is brought in in the ordinary way; that is the record, and it is compared with what was
followed.
"""

import hashlib
import json
import math
import time
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np

from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray
from gaugewright.records import Entry
from gaugewright.records.electrical import Instrument
from gaugewright.records.readings import ReadingProfile, Recording
from gaugewright.services import layouts
from gaugewright.services.book import Book
from gaugewright.services.follow_checks import LOOKED_AT, Loss, lone_leaps
from gaugewright.services.follow_clock import LiveClock, live_clock, without_stamps
from gaugewright.services.follow_hold import Holds
from gaugewright.services.follow_rows import Rows
from gaugewright.services.follow_shown import (
    FileAccount,
    HoldNow,
    Live,
    Notice,
    Settled,
    Tile,
    Yield,
)
from gaugewright.services.follow_tiles import Group, Tiles, groups
from gaugewright.services.follow_wiring import Wire
from gaugewright.services.series import EPOCH
from gaugewright.services.strains import Desk
from gaugewright.sources.blocks import Block
from gaugewright.sources.growing import Fresh, Growing, Standing, newest
from gaugewright.sources.layout import Layout
from gaugewright.store.campaign import CampaignStore

__all__ = ["Follower", "earlier_recording", "profile_named"]

_NOTICES = 200  # kept; the oldest go
_LEAPS_S = 5.0  # of rows between two searches for leaps in one gauge
_BUDGET_S = 0.3  # for the searches of one look: the next look takes those that are left
_RECORDS_S = 3.0  # how often records are looked at again
_QUIET_S = 10.0  # nothing new for so long is worth a notice
_MOST_LOOKS = 4  # of 16 MB, before what was read is shown
_CHECK_ROWS = 3  # of a file, before its columns are held against the profile


def profile_named(book: Book, label: str) -> Entry[ReadingProfile]:
    """Reading profile by its name.

    Raises
    ------
    InputError
        If the campaign has none that is called so.
    """
    return book.labelled(ReadingProfile, label)


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

    def account(self, *, is_whole: bool = True) -> FileAccount:
        reported = self.growing.report.rows_reported
        path = str(self.growing.path)
        return FileAccount(path, self.rows, reported, self.digest.hexdigest(), is_whole)


class Follower:
    """Follows one file, or the newest file of a folder; ``look`` does all the work.

    Parameters
    ----------
    store : CampaignStore
        Only read.
    place : path
        File, or folder in which the newest file is followed; it need not be there yet.
    profile : Entry of ReadingProfile
        As a person confirmed it for an earlier file of this recorder.
    instrument : Entry of Instrument, optional
        The recorder; that of the last recording read by the profile when left out.
    now : callable
        What this machine's clock shows.

    Raises
    ------
    InputError
        If nothing says which recorder it is, or the profile isn't one for text.
    """

    def __init__(
        self,
        store: CampaignStore,
        place: Path,
        profile: Entry[ReadingProfile],
        *,
        instrument: Entry[Instrument] | None = None,
        now: Callable[[], datetime] = lambda: datetime.now(UTC),
    ) -> None:
        self.store = store
        self.place = place
        self.profile = profile
        self._now = now
        self._seq = store.head().seq
        self._desk = Desk(store, Book.read(store))
        self.instrument = instrument or _instrument_of(self._desk.book, profile)
        self.layout = Layout.from_plain(json.loads(profile.record.layout))
        self._rows = Rows(self._desk, self.instrument, self.layout)
        self._tiles, self._holds = Tiles(), Holds()
        self._file: _File | None = None
        self._ended: list[FileAccount] = []
        self._notices: deque[Notice] = deque(maxlen=_NOTICES)
        self._losses: dict[int, Loss] = {}
        self._watched: dict[str, Yield] = {}
        self._leaps_at: dict[int, float] = {}
        self._standing = ""
        self._grew_at = self._now()
        self._records_at = time.monotonic()
        self._is_quiet = False
        self._offset: float | None = None
        self._groups: tuple[Group, ...] | None = None
        self._passed_over: set[Path] = set()
        self._begin(self._first())

    @property
    def book(self) -> Book:
        """Records as they were looked at last."""
        return self._desk.book

    def look(self) -> Live:
        """Read what is new, judge it, and say how the test stands."""
        began = time.perf_counter()
        self._follow_records()
        self._follow_newest()
        waiting = self._read()
        self._find_losses()
        groups_now = self._groups_now()
        load = self._load()
        tiles = self._all_tiles(groups_now, load)
        self._find_leaps(groups_now, began)
        hold = self._hold(tiles, groups_now)
        return self._live(tiles, hold, load, began, waiting=waiting)

    def last(self) -> Live:
        """Take a last line without an end too, and say how the test stood."""
        while self._read():
            pass
        if self._file is not None:
            self._took(self._file, self._file.growing.last())
        return self.look()

    def accounts(self) -> tuple[FileAccount, ...]:
        """Rows followed of every file so far."""
        now = () if self._file is None or not self._file.rows else (self._file.account(),)
        return (*self._ended, *now)

    def _first(self) -> Path | None:
        """File to begin with: of a folder the newest; what is there already is passed over."""
        if not self.place.is_dir():
            return self.place
        found = newest(self.place)
        self._passed_over |= set(_files_in(self.place))
        return found

    def _next(self) -> Path | None:
        """Of the files that came into a folder since, the one that was begun first."""
        return next((p for p in _files_in(self.place) if p not in self._passed_over), None)

    def _begin(self, path: Path | None) -> None:
        self._file = None
        if path is not None:
            growing = Growing(path, self.layout)
            self._file = _File(growing, 0, hashlib.sha256(), None, False)

    def _follow_newest(self) -> None:
        """Go on with the next file of a folder once the one before is read to its end."""
        if not self.place.is_dir():
            return
        if self._file is None or self._file.growing.path == self.place:
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
            self._ended.append(self._file.account())
        self._tell("", "next file", f"the recorder goes on in {path.name}")
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
            self._tell("", "out of reach", f"the file is {words}; it is waited for")
        if fresh.standing is Standing.GREW:
            if self._is_quiet:
                self._tell("", "goes on", "new rows are coming again")
            self._is_quiet = False
        elif not self._is_quiet and self._quiet() > _QUIET_S and self._rows.time.held:
            self._is_quiet = True
            self._tell("", "no new rows", f"nothing new has come for {_QUIET_S:.0f} s")
        if fresh.standing is Standing.BEGUN_ANEW and self._file is not None:
            if self._file.rows:
                self._ended.append(self._file.account(is_whole=False))
            self._tell("", "begun anew", f"the recorder began the file anew: {fresh.why}")
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
            file.clock = self._clock(file, elapsed)
            known = elapsed[np.isfinite(elapsed)]
            since = file.clock.time(known[:1])
            self._rows.rewired(self._desk, float(since[0]) if known.size else -math.inf)
            self._groups = None
        raw = self._rows.take(block, file.clock.time(elapsed))
        file.digest.update(raw.tobytes())

    def _clock(self, file: _File, elapsed: FloatArray) -> LiveClock:
        start = file.growing.report.start_utc
        found = live_clock(self._desk.book, self.instrument, start)
        if found is not None:
            return found
        known = elapsed[np.isfinite(elapsed)]
        return without_stamps(float(known[-1]) if known.size else 0.0, self._now())

    def _refuse_other_columns(self, file: _File) -> None:
        """Refuse a file whose columns aren't those that a person confirmed."""
        file.is_checked = True
        seen = layouts.understood(file.growing.path)
        layouts.layout_of(self.profile, seen)

    def _follow_records(self) -> None:
        """Take in what was written since: a plug remade, a zero, a decision."""
        if time.monotonic() - self._records_at < _RECORDS_S:
            return
        self._records_at = time.monotonic()
        head = self.store.head().seq
        if head == self._seq:
            return
        book = self._desk.book.followed(self.store, self._seq)
        self._seq, self._desk = head, Desk(self.store, book)
        self._tiles.forget()
        self._groups = None
        if math.isfinite(self._rows.newest):
            self._rows.rewired(self._desk, self._rows.newest)

    def _groups_now(self) -> tuple[Group, ...]:
        """Gauges read now; found again when connections or records changed."""
        is_current = self._groups is not None and all(
            wire.begins <= self._rows.newest + wire.shift < wire.ends
            for group in self._groups
            for wire in group.wires
        )
        if not is_current or not self._groups:
            self._groups = groups(self._rows)
        return self._groups

    def _load(self) -> float:
        if self._rows.load_place is None:
            return math.nan
        values = self._rows.window(1.0)[1][:, self._rows.load_place]
        good = values[np.isfinite(values)]
        return float(np.mean(good)) if good.size else math.nan

    def _find_losses(self) -> None:
        """Tell of gauges that stopped telling anything, and of those that came back."""
        for wire in self._rows.wired.gauge_wires():
            if wire != self._rows.wire_now(wire.place):
                continue
            label = wire.gauges[0].record.label
            loss = self._rows.runs.loss(self._desk.book, wire)
            before = self._losses.get(wire.place)
            if loss is None:
                if before is not None:
                    del self._losses[wire.place]
                    self._tell(label, "reads again", f"{label} reads again")
                continue
            self._losses[wire.place] = loss
            if before is None or before.kind != loss.kind:
                words = f"{label} {loss.words}, for {loss.rows} rows so far"
                self._tell(label, loss.kind, words, is_loss=True)

    def _all_tiles(self, found: tuple[Group, ...], load: float) -> tuple[Tile, ...]:
        made = tuple(self._tiles.tile(self._rows, group, self._losses, load) for group in found)
        order = list(Yield)
        for tile in made:
            before = self._watched.get(tile.label, Yield.NONE)
            if order.index(tile.watch) > max(order.index(before), order.index(Yield.BELOW)):
                share = "" if tile.share is None else f" ({100 * tile.share:.0f} % of it)"
                self._tell(tile.label, tile.watch.value, f"{tile.label}: {tile.watch.value}{share}")
            self._watched[tile.label] = tile.watch
        return made

    def _find_leaps(self, found: tuple[Group, ...], began: float) -> None:
        """Search gauges in turn for leaps that no other saw, as long as this look has time."""
        live = [w for group in found for w in group.wires if w.place not in self._losses]
        due = sorted(live, key=lambda wire: self._leaps_at.get(wire.place, -math.inf))
        times = self._rows.time.last(LOOKED_AT)[:, 0]
        readings = self._rows.reading.last(LOOKED_AT)
        for wire in due:
            at = self._leaps_at.get(wire.place, -math.inf)
            is_due = self._rows.newest - at >= _LEAPS_S
            if not is_due or time.perf_counter() - began > _BUDGET_S:
                break
            self._leaps_at[wire.place] = self._rows.newest
            if wire.gauges[0].uid not in self._tiles.passed:
                self._tell_leaps(wire.place, wire.gauges[0].record.label, live, times, readings)

    def _tell_leaps(
        self, place: int, label: str, live: list[Wire], times: FloatArray, readings: FloatArray
    ) -> None:
        others = [(w.gauges[0].record.label, w.place) for w in live if w.place != place]
        if self._rows.load_place is not None:
            others.append(("the load", self._rows.load_place))
        known = {(n.gauge, n.kind, n.at) for n in self._notices}
        after = float(times[0]) if times.size else 0.0
        found = lone_leaps(self._desk.book, place, others, times, readings, after=after)
        for leap in found:
            at = EPOCH + timedelta(seconds=round(leap.time, 3))
            if (label, leap.kind, at) in known:
                continue
            words = (
                f"{label} leapt by {leap.times_noise:.0f} times its noise; no other gauge saw it"
            )
            self._notices.append(Notice(at, label, leap.kind, words))

    def _hold(self, tiles: tuple[Tile, ...], found: tuple[Group, ...]) -> HoldNow:
        if not self._rows.time.held:
            return HoldNow(Settled.NO_LOAD, "no row was read yet")
        believed = [
            (wire.gauges[0].record.label, wire.place)
            for group in found
            for wire in group.wires
            if wire.place not in self._losses
            and wire.built is not None
            and self._tiles.counts(self._rows, wire)
        ]
        return self._holds.now(self._rows, believed)

    def _tell(self, gauge: str, kind: str, words: str, *, is_loss: bool = False) -> None:
        newest_row = self._rows.newest
        # What a gauge did belongs to its row, what a file did to now.
        is_of_row = bool(gauge) and math.isfinite(newest_row)
        at = EPOCH + timedelta(seconds=newest_row) if is_of_row else self._now()
        self._notices.append(Notice(at, gauge, kind, words, is_loss))

    def _quiet(self) -> float:
        return (self._now() - self._grew_at).total_seconds()

    def _live(
        self, tiles: tuple[Tile, ...], hold: HoldNow, load: float, began: float, *, waiting: bool
    ) -> Live:
        now = self._now()
        newest_row = self._rows.newest
        row_at = EPOCH + timedelta(seconds=newest_row) if math.isfinite(newest_row) else None
        file = self._file
        behind = None if row_at is None else (now - row_at).total_seconds()
        if behind is not None and not waiting:
            self._offset = min(behind, math.inf if self._offset is None else self._offset)
        return Live(
            place=str(self.place),
            file="" if file is None else file.growing.path.name,
            standing=self._standing,
            at=now,
            rows=sum(account.rows for account in self.accounts()),
            reported=sum(account.reported for account in self.accounts()),
            row_at=row_at,
            behind=behind,
            offset=self._offset,
            processing=time.perf_counter() - began,
            quiet=max(self._quiet(), 0.0),
            clock="" if file is None or file.clock is None else file.clock.words,
            load=load if math.isfinite(load) else None,
            hold=hold,
            tiles=tiles,
            notices=tuple(reversed(self._notices)),
            told=self._rows.told,
            accounts=self.accounts(),
            catching_up=waiting,
        )


def _instrument_of(book: Book, profile: Entry[ReadingProfile]) -> Entry[Instrument]:
    earlier = earlier_recording(book, profile)
    if earlier is None or earlier.record.instrument is None:
        raise InputError(
            f"recorder of profile {profile.record.label!r}",
            None,
            "that of an earlier recording read by it",
            "name the instrument that writes the file",
        )
    return book.entry(earlier.record.instrument, Instrument)


def _files_in(folder: Path) -> list[Path]:
    """Files of a folder in the order they were written last; none while it is out of reach."""
    try:
        found = [(path.stat().st_mtime_ns, path) for path in folder.iterdir() if path.is_file()]
    except OSError:
        return []
    return [path for _, path in sorted(found)]
