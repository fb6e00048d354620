"""All records of a campaign in memory, and the questions services ask of them."""

import itertools
from collections.abc import Callable, Iterable
from typing import Any, TypeVar, cast
from zoneinfo import ZoneInfo

from gaugewright.errors import InputError
from gaugewright.records import Entry, kind_said, label_of
from gaugewright.records.electrical import BridgeCircuit, Channel, ChannelSetting, Connection
from gaugewright.records.gauges import Gauge, GaugePack
from gaugewright.records.identity import Uid
from gaugewright.records.proof import Limit, Zero, ZeroKind
from gaugewright.records.readings import ClockMap, Recording
from gaugewright.records.sensors import TemperaturePoint
from gaugewright.records.specimen import Bar, Campaign, Flat, Material, Station
from gaugewright.store.campaign import CampaignStore

__all__ = ["Book"]

R = TypeVar("R")
T = TypeVar("T")


class Book:
    """Latest versions of all records, as they stood when the book was opened."""

    def __init__(self, entries: Iterable[Entry[Any]]) -> None:
        self._entries: dict[Uid, Entry[Any]] = {}
        self._of: dict[type, list[Entry[Any]]] = {}
        self._worked_out: dict[str, Any] = {}
        self._apart_from: dict[str, frozenset[type]] = {}
        for entry in entries:
            self._entries[entry.uid] = entry
            self._of.setdefault(type(entry.record), []).append(entry)

    @classmethod
    def read(cls, store: CampaignStore) -> "Book":
        """Book of everything in the store that hasn't been withdrawn."""
        return cls(entry for entry in store.written_after(0) if not entry.withdrawn)

    def followed(self, store: CampaignStore, seq: int) -> "Book":
        """Book after what the store wrote since an entry of its journal.

        A campaign of thousands of records costs no more than what changed in it.
        """
        later = {entry.uid: entry for entry in store.written_after(seq)}
        changed = {type(entry.record) for entry in later.values()}
        kept = [later.pop(uid, entry) for uid, entry in self._entries.items()]
        made = Book(entry for entry in (*kept, *later.values()) if not entry.withdrawn)
        for name, apart_from in self._apart_from.items():
            if changed <= apart_from:
                made._worked_out[name] = self._worked_out[name]
                made._apart_from[name] = apart_from
        return made

    def once(
        self,
        name: str,
        work_out: Callable[["Book"], T],
        apart_from: frozenset[type] = frozenset(),
    ) -> T:
        """What follows from the records alone, worked out at the first asking and then kept.

        It holds in the books after this one too, as long as only records of kinds that it stands
        ``apart_from`` change.
        """
        if name not in self._worked_out:
            self._worked_out[name] = work_out(self)
        if apart_from:
            self._apart_from[name] = apart_from
        return cast("T", self._worked_out[name])

    def knowing(self, other: "Book", *beginnings: str) -> "Book":
        """The same book with what another worked out, by the beginnings of its names.

        For books of which nothing differs that such work follows from.
        """
        for name, worked in other._worked_out.items():
            if name.startswith(beginnings):
                self._worked_out.setdefault(name, worked)
        return self

    @property
    def zone(self) -> ZoneInfo:
        """Zone of the campaign: its days are those of the hall, not of UTC."""
        return ZoneInfo(self.of(Campaign)[0].record.zone)

    def of(self, kind: type[R]) -> tuple[Entry[R], ...]:
        """Entries of one kind, in the order they were first written."""
        return tuple(self._of.get(kind, ()))

    def every(self) -> tuple[Entry[Any], ...]:
        """Entries of all kinds."""
        return tuple(self._entries.values())

    def entry(self, uid: Uid, kind: type[R]) -> Entry[R]:
        """Entry of a known kind.

        Raises
        ------
        InputError
            If there is no such record, or it is of another kind.
        """
        entry = self._entries.get(uid)
        if entry is None or not isinstance(entry.record, kind):
            raise InputError(f"{kind_said(kind)} uid", uid, "a record of this campaign")
        return cast("Entry[R]", entry)

    def found(self, uid: Uid) -> Entry[Any] | None:
        """Entry of any kind, or None where the campaign has no such record."""
        return self._entries.get(uid)

    def label(self, uid: Uid) -> str:
        """What people call a record; its uid when it has no label."""
        entry = self._entries.get(uid)
        return (label_of(entry.record) if entry else "") or uid

    def labelled(self, kind: type[R], label: str) -> Entry[R]:
        """Entry of one kind by its label.

        Raises
        ------
        InputError
            If nothing of that kind has the label.
        """
        for entry in self.of(kind):
            if label_of(entry.record) == label:
                return entry
        known = ", ".join(label_of(entry.record) for entry in self.of(kind)[:12]) or "none yet"
        raise InputError(f"{kind_said(kind)} label", label, f"one of: {known}")

    def limit(self, label: str) -> Entry[Limit]:
        """Limit by its label: what the campaign was given when it was made, or since.

        Raises
        ------
        InputError
            If the campaign has no such limit.
        """
        return self.labelled(Limit, label)

    def limit_labels(self) -> frozenset[str]:
        """Labels of all limits the campaign has."""
        return frozenset(entry.record.label for entry in self.of(Limit))

    def pack_of(self, gauge: Entry[Gauge]) -> Entry[GaugePack]:
        """Pack a gauge came from."""
        return self.entry(gauge.record.pack, GaugePack)

    def station_of(self, gauge: Entry[Gauge]) -> Entry[Station]:
        """Station a gauge sits at."""
        return self.entry(gauge.record.station, Station)

    def bar_of(self, gauge: Entry[Gauge]) -> Entry[Bar]:
        """Bar (or plate) a gauge sits on."""
        return self.entry(self.station_of(gauge).record.bar, Bar)

    def material_of(self, gauge: Entry[Gauge]) -> Entry[Material]:
        """Metal under a gauge."""
        return self.entry(self.bar_of(gauge).record.material, Material)

    def flat_of(self, gauge: Entry[Gauge]) -> Entry[Flat] | None:
        """Flat ground for a gauge, or None when none was recorded."""
        return next((f for f in self.of(Flat) if f.record.station == gauge.record.station), None)

    def gauges_of(self, circuit: Entry[BridgeCircuit]) -> tuple[Entry[Gauge], ...]:
        """Gauges wired into a circuit, in order of arm number."""
        arms = sorted(circuit.record.arms, key=lambda arm: arm.number)
        return tuple(self.entry(arm.gauge, Gauge) for arm in arms if arm.gauge is not None)

    def temperature_point_of(self, gauge: Entry[Gauge]) -> Entry[TemperaturePoint]:
        """Temperature point that stands for a gauge.

        Raises
        ------
        InputError
            If no point names the gauge.
        """
        for point in self.of(TemperaturePoint):
            if gauge.uid in point.record.gauges:
                return point
        raise InputError(
            f"temperature point of {gauge.record.label}",
            None,
            "named by one",
            "enter the thermometer that stands for it, with this gauge, in the plan",
        )

    def connections_of(self, subject: Uid) -> tuple[Entry[Connection], ...]:
        """Connections of a circuit, sensor or point, earliest first."""
        found = [c for c in self.of(Connection) if c.record.subject == subject]
        return tuple(sorted(found, key=lambda entry: entry.record.begins))

    def connections_on(self, channel: Uid) -> tuple[Entry[Connection], ...]:
        """Everything that was ever on a channel, earliest first.

        Raises
        ------
        InputError
            If two stood on it at once.
        """
        found = [c for c in self.of(Connection) if c.record.channel == channel]
        found.sort(key=lambda entry: entry.record.begins)
        for earlier, later in itertools.pairwise(found):
            if earlier.record.ends is None or earlier.record.ends > later.record.begins:
                raise InputError(
                    f"connections of channel {self.label(channel)}",
                    f"overlapping from {later.record.begins}",
                    "one at a time",
                    "give the earlier one its end",
                )
        return tuple(found)

    def setting_of(self, connection: Entry[Connection]) -> Entry[ChannelSetting]:
        """How the channel of a connection was set."""
        return self.entry(connection.record.setting, ChannelSetting)

    def channel_of_column(self, recording: Entry[Recording], column: str) -> Entry[Channel] | None:
        """Channel that wrote a column of a recording, or None when nobody named one."""
        for channel in self.of(Channel):
            if (
                channel.record.column == column
                and channel.record.instrument == recording.record.instrument
            ):
                return channel
        return None

    def clock_map_of(self, recording: Entry[Recording]) -> Entry[ClockMap]:
        """How a recording's elapsed time becomes campaign time.

        Raises
        ------
        InputError
            If its clock hasn't been joined to the campaign's.
        """
        for entry in self.of(ClockMap):
            if entry.record.recording == recording.uid:
                return entry
        raise InputError(
            f"clock of recording {recording.record.label}",
            "not joined",
            "joined to the campaign's time",
            "join it by its stamps or by a common trigger",
        )

    def holds_zero(self, connection: Entry[Connection], kind: ZeroKind) -> bool:
        """Whether a zero of one kind holds for a connection."""
        return self._zero(connection.uid, kind) is not None

    def _zero(self, connection: Uid, kind: ZeroKind) -> Entry[Zero] | None:
        own = [z for z in self.of(Zero) if z.record.kind is kind]
        for zero in own:
            if zero.record.connection == connection:
                return zero
        return next((zero for zero in own if connection in zero.record.carried_to), None)

    def zero_for(self, connection: Entry[Connection], kind: ZeroKind) -> Entry[Zero]:
        """Zero of one kind that holds for a connection: its own, or one carried over to it.

        Raises
        ------
        InputError
            If there is none.
        """
        found = self._zero(connection.uid, kind)
        if found is not None:
            return found
        raise InputError(
            f"zero '{kind.value}' of {self.label(connection.record.subject)}",
            None,
            "taken on this connection or carried over to it",
            "take it from a recording of the unloaded state",
        )
