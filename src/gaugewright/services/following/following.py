"""A test followed while its recorders are still writing: advisory, in memory, never a recording.

Rows pass through the chains and checks that reducing and reviewing use, each recorder's with its
own clock and rate. When the test is over the whole files are brought in in the ordinary way; they
are the record, and are compared with what was followed.
"""

import math
import time
from collections import deque
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

from gaugewright.errors import GaugewrightError, InputError
from gaugewright.records import Entry
from gaugewright.records.electrical import Instrument
from gaugewright.records.readings import ReadingProfile
from gaugewright.services.campaign.book import Book
from gaugewright.services.following.checks import LOOKED_AT, Loss, Seen, lone_leaps
from gaugewright.services.following.hold import Holds
from gaugewright.services.following.shown import (
    FileAccount,
    HoldNow,
    Live,
    Notice,
    Settled,
    Tile,
    Yield,
)
from gaugewright.services.following.sides import Sides
from gaugewright.services.following.stream import QUIET_S, Source, Stream
from gaugewright.services.following.tiles import Group, Tiles, groups
from gaugewright.services.following.together import Together
from gaugewright.services.following.wiring import Wire
from gaugewright.services.reading.series import EPOCH
from gaugewright.services.strain.strains import Desk
from gaugewright.store.campaign import CampaignStore

__all__ = ["Follower", "profile_named"]

_NOTICES = 200  # kept; the oldest go
_LEAPS_S = 5.0  # of rows between two searches for leaps in one gauge
_BUDGET_S = 0.3  # for the searches of one look: the next look takes those that are left
_RECORDS_S = 3.0  # how often records are looked at again
_BESIDE_S = 10.0  # of samples kept for a recorder that is read later than another


def profile_named(book: Book, label: str) -> Entry[ReadingProfile]:
    """Reading profile by its name.

    Raises
    ------
    InputError
        If the campaign has none that is called so.
    """
    return book.labelled(ReadingProfile, label)


class Follower:
    """Follows one recorder or several at once; ``look`` does all the work.

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
    older : names of files, optional
        As in ``Source``: those before the one it began with another time.
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
        older: frozenset[str] | None = None,
        now: Callable[[], datetime] = lambda: datetime.now(UTC),
    ) -> None:
        self.store = store
        self._now = now
        self._seq = store.head().seq
        self._desk = Desk(store, Book.read(store))
        self._sides = Sides(self._desk)
        self.streams: list[Stream] = []
        self._together = Together()
        self._tiles, self._holds = Tiles(), Holds()
        self._notices: deque[Notice] = deque(maxlen=_NOTICES)
        self._losses: dict[tuple[int, int], Loss] = {}
        self._watched: dict[str, Yield] = {}
        self._leaps_at: dict[tuple[int, int], float] = {}
        self._records_at = time.monotonic()
        self._groups: tuple[Group, ...] = ()
        self._wirings = -1
        self.also(Source(place, profile, instrument, older))

    @property
    def book(self) -> Book:
        """Records as they were looked at last."""
        return self._desk.book

    @property
    def sources(self) -> tuple[Source, ...]:
        """What is followed, in the order in which it was named."""
        return tuple(stream.source for stream in self.streams)

    def also(self, source: Source) -> None:
        """Follow another recorder beside those that are followed.

        Raises
        ------
        InputError
            If its file is followed already, or as for the first one.
        """
        if any(stream.source.place == source.place for stream in self.streams):
            allowed = "one that isn't followed already"
            raise InputError("place", str(source.place), allowed, "name the other recorder's")
        number = len(self.streams)

        def tell(kind: str, words: str) -> None:
            label = f"{self.streams[number].label}: " if len(self.streams) > 1 else ""
            self._tell("", kind, label + words)

        made = Stream(source, number, self._desk, self._sides, tell=tell, now=self._now)
        self.streams.append(made)
        self._together.rows.append(made.rows)

    def look(self) -> Live:
        """Read what is new, judge it, and say how the test stands."""
        began = time.perf_counter()
        self._follow_records()
        waiting = self._read(Stream.look)
        self._find_losses()
        groups_now = self._groups_now()
        load = self._together.load()
        self._tiles.loaded(load)
        tiles = self._all_tiles(groups_now)
        self._find_leaps(groups_now, began)
        hold = self._hold(groups_now)
        return Live(
            at=self._now(),
            sources=tuple(stream.now() for stream in self.streams),
            load=load if math.isfinite(load) else None,
            hold=hold,
            tiles=tiles,
            notices=tuple(reversed(self._notices)),
            told=self._told(),
            accounts=self.accounts(),
            catching_up=waiting,
            processing=time.perf_counter() - began,
        )

    def last(self) -> Live:
        """Take a last line without an end too, and say how the test stood."""
        self._read(Stream.last)
        return self.look()

    def accounts(self) -> tuple[FileAccount, ...]:
        """Rows followed of every file so far."""
        return tuple(account for stream in self.streams for account in stream.accounts())

    def _read(self, read: Callable[[Stream], bool | None]) -> bool:
        """Let every recorder's file be read on; one that can't be is left, the others go on.

        Raises
        ------
        GaugewrightError
            If it was the last one that could be read.
        """
        waiting = False
        for stream in self.streams:
            if stream.failure:
                continue
            try:
                waiting = bool(read(stream)) or waiting
            except GaugewrightError as error:
                stream.failure = str(error)
                if all(each.failure for each in self.streams):
                    raise
                words = f"{stream.label} is no longer followed: {error}"
                self._tell("", "no longer followed", words)
        if len(self.streams) > 1:
            ends = [stream.rows.newest for stream in self.streams if not stream.failure]
            slowest = min((end for end in ends if math.isfinite(end)), default=-math.inf)
            self._sides.keep_from = slowest - _BESIDE_S
        return waiting

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
        for stream in self.streams:
            stream.rows.desk = self._desk
            if math.isfinite(stream.rows.newest):
                stream.rows.rewired(self._desk, stream.rows.newest)
        self._wirings = -1

    def _groups_now(self) -> tuple[Group, ...]:
        """Gauges read now; found again when connections or records changed."""
        wirings = sum(stream.rows.wirings for stream in self.streams)
        is_current = wirings == self._wirings and all(
            wire.begins <= self._together.of(wire).newest + wire.shift < wire.ends
            for group in self._groups
            for wire in group.wires
        )
        if not is_current or not self._groups:
            self._groups, self._wirings = groups(self._together), wirings
        return self._groups

    def _find_losses(self) -> None:
        """Tell of gauges that stopped telling anything, and of those that came back."""
        for wire in self._together.gauge_wires():
            label = wire.gauges[0].record.label
            loss = self._together.of(wire).runs.loss(self.book, wire)
            before = self._losses.get(wire.key)
            if loss is None:
                if before is not None:
                    del self._losses[wire.key]
                    self._tell(label, "reads again", f"{label} reads again", wire=wire)
                continue
            self._losses[wire.key] = loss
            if before is None or before.kind != loss.kind:
                words = f"{label} {loss.words}, for {loss.rows} rows so far"
                self._tell(label, loss.kind, words, is_loss=True, wire=wire)

    def _all_tiles(self, found: tuple[Group, ...]) -> tuple[Tile, ...]:
        stale = self._stale()
        made = tuple(
            self._tiles.tile(self._together, group, self._losses, stale) for group in found
        )
        order = list(Yield)
        for group, tile in zip(found, made, strict=True):
            before = self._watched.get(tile.label, Yield.NONE)
            if order.index(tile.watch) > max(order.index(before), order.index(Yield.BELOW)):
                share = "" if tile.share is None else f" ({100 * tile.share:.0f} % of it)"
                words = f"{tile.label}: {tile.watch.value}{share}"
                self._tell(tile.label, tile.watch.value, words, wire=group.wires[0])
            self._watched[tile.label] = tile.watch
        return made

    def _stale(self) -> dict[int, str]:
        """Recorders from which nothing new comes: their numbers are of then."""
        return {
            stream.number: f"{stream.label} wrote nothing for {stream.quiet():.0f} s: as read then"
            for stream in self.streams
            if stream.quiet() > QUIET_S
        }

    def _find_leaps(self, found: tuple[Group, ...], began: float) -> None:
        """Search gauges in turn for leaps that no other saw, as long as this look has time."""
        live = [w for group in found for w in group.wires if w.key not in self._losses]
        due = sorted(live, key=lambda wire: self._leaps_at.get(wire.key, -math.inf))
        seen: dict[tuple[int, int], Seen] | None = None
        for wire in due:
            newest = self._together.of(wire).newest
            at = self._leaps_at.get(wire.key, -math.inf)
            is_due = newest - at >= _LEAPS_S
            if not is_due or time.perf_counter() - began > _BUDGET_S:
                break
            self._leaps_at[wire.key] = newest
            if wire.gauges[0].uid not in self._tiles.passed:
                seen = self._seen(live) if seen is None else seen
                self._tell_leaps(wire, seen)

    def _seen(self, live: list[Wire]) -> dict[tuple[int, int], Seen]:
        """What every gauge that reads, and the load, read last."""
        times = [rows.time.last(LOOKED_AT)[:, 0] for rows in self._together.rows]
        readings = [rows.reading.last(LOOKED_AT) for rows in self._together.rows]
        found = {
            wire.key: Seen(
                wire.gauges[0].record.label,
                times[wire.source],
                readings[wire.source][:, wire.place],
            )
            for wire in live
        }
        rows = self._together.load_rows
        if rows is not None and rows.load_place is not None:
            load = readings[rows.source][:, rows.load_place]
            found[rows.source, rows.load_place] = Seen("the load", times[rows.source], load)
        return found

    def _tell_leaps(self, wire: Wire, seen: dict[tuple[int, int], Seen]) -> None:
        own, label = seen[wire.key], wire.gauges[0].record.label
        joined = {wire.source}
        if self._is_joined(wire.source):
            joined |= {n for n in range(len(self.streams)) if self._is_joined(n)}
        others = [each for key, each in seen.items() if key != wire.key and key[0] in joined]
        unasked = [s.label for s in self.streams if s.number not in joined]
        known = {(n.gauge, n.kind, n.at) for n in self._notices}
        after = float(own.time[0]) if own.time.size else 0.0
        for leap in lone_leaps(self.book, own, others, after=after):
            at = EPOCH + timedelta(seconds=round(leap.time, 3))
            if (label, leap.kind, at) in known:
                continue
            words = (
                f"{label} leapt by {leap.times_noise:.0f} times its noise; no other gauge saw it"
            )
            if unasked:
                words += f" (not asked: {', '.join(unasked)}, whose clock was never joined)"
            self._notices.append(Notice(at, label, leap.kind, words))

    def _is_joined(self, number: int) -> bool:
        clock = self.streams[number].clock
        return clock is not None and clock.is_joined

    def _hold(self, found: tuple[Group, ...]) -> HoldNow:
        if not any(rows.time.held for rows in self._together.rows):
            return HoldNow(Settled.NO_LOAD, "no row was read yet")
        believed = [
            wire
            for group in found
            for wire in group.wires
            if wire.key not in self._losses
            and wire.built is not None
            and self._tiles.counts(self._together, wire)
        ]
        return self._holds.now(self._together, believed)

    def _told(self) -> tuple[str, ...]:
        unnamed = [words for stream in self.streams for words in stream.rows.told]
        return (*self._sides.told.values(), *unnamed)

    def _tell(
        self, gauge: str, kind: str, words: str, *, is_loss: bool = False, wire: Wire | None = None
    ) -> None:
        # What a gauge did belongs to its row, what a file did to now.
        newest = math.nan if wire is None else self._together.of(wire).newest
        is_of_row = bool(gauge) and math.isfinite(newest)
        at = EPOCH + timedelta(seconds=newest) if is_of_row else self._now()
        self._notices.append(Notice(at, gauge, kind, words, is_loss))
