"""Strain of a circuit over all its readings: values for plots and criteria, doubt where asked."""

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any, TypeVar, cast

import numpy as np
import numpy.typing as npt
import polars as pl

from gaugewright.calc import quality
from gaugewright.calc.chain import Chain
from gaugewright.calc.chain_rows import Shared
from gaugewright.calc.uncertainty import InputQuantity, Uncertain
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray
from gaugewright.records import Entry
from gaugewright.records.electrical import BridgeCircuit
from gaugewright.records.identity import Uid
from gaugewright.records.proof import Zero, ZeroKind
from gaugewright.records.readings import Decision, Finding, Recording
from gaugewright.services.campaign.book import Book
from gaugewright.services.chaining.chains import BuiltChain, chain_for
from gaugewright.services.reading.series import Series, Stretch, series_of, stretches_of
from gaugewright.services.work.kept import Kept
from gaugewright.store.campaign import CampaignStore

__all__ = ["CircuitStrain", "Desk", "excluded_spans", "joined"]

T = TypeVar("T")
THERMAL = "thermal output@1"
KEPT_BYTES = 2**28
LONG = 2**22  # rows from which memory counts for more than time
PART = 2**19


@dataclass(frozen=True)  # without slots: the noise is worked out at its first asking
class Piece:
    """One stretch with its chain and the columns it needs."""

    stretch: Stretch
    built: BuiltChain
    columns: Mapping[str, FloatArray]

    @cached_property
    def noise(self) -> float:
        """Noise of the readings, in their unit; none where there are too few to tell."""
        floor = quality.noise_floor(self.stretch.reading)
        return 0.0 if np.isnan(floor) else floor


@dataclass(frozen=True, slots=True)
class CircuitStrain:
    """Mechanical strain of one circuit over all its readings, in order of time."""

    circuit: Entry[BridgeCircuit]
    pieces: tuple[Piece, ...]
    time: FloatArray
    strain: FloatArray
    begins: tuple[int, ...]

    def uncertain(self, rows: npt.ArrayLike) -> Uncertain:
        """Strain with everything it owes, at some rows (in rising order)."""
        wanted = np.asarray(rows, dtype=np.int64).reshape(-1)
        parts: list[Uncertain] = []
        for piece, begin in zip(self.pieces, self.begins, strict=True):
            end = begin + piece.stretch.reading.size
            local = wanted[(wanted >= begin) & (wanted < end)] - begin
            if not local.size:
                continue
            columns = {name: column[local] for name, column in piece.columns.items()}
            parts.append(
                piece.built.chain.uncertain(piece.stretch.reading[local], columns, piece.noise)
            )
        if not parts:
            raise InputError("rows", "none", "rows of this circuit's readings")
        return parts[0] if len(parts) == 1 else joined(parts)

    def rows_between(self, begins: float, ends: float) -> npt.NDArray[np.int64]:
        """Rows from one campaign second to another."""
        return np.flatnonzero((self.time >= begins) & (self.time < ends)).astype(np.int64)

    def rows_nearest(
        self, times: FloatArray
    ) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.bool_]]:
        """Rows read nearest to some instants, and whether there was a scan: within two of it."""
        last = self.time.size - 1
        right = np.searchsorted(self.time, times).clip(0, last)
        left = (right - 1).clip(0)
        nearer = np.abs(self.time[left] - times) <= np.abs(self.time[right] - times)
        rows = np.where(nearer, left, right).astype(np.int64)
        scan = float(np.median(np.diff(self.time))) if last else np.inf
        return rows, np.abs(self.time[rows] - times) <= 2 * scan


class Desk:
    """Everything needed to reduce a campaign: its store, its book, and series read once.

    Strain is kept as long as there is room for it; with long records of many gauges what wasn't
    asked for longest is worked out again when it is. Several threads may share a desk.
    """

    def __init__(self, store: CampaignStore, book: Book) -> None:
        self.store = store
        self.book = book
        self._series: dict[Uid, Series] = {}
        self._dummies: dict[tuple[Uid, ZeroKind], Series] = {}
        self._strains = Kept[tuple[Uid, ZeroKind, bool], CircuitStrain](KEPT_BYTES)
        self._read = Kept[Uid, tuple[Stretch, ...]](KEPT_BYTES // 4)
        self._of_times = Kept[tuple[str, int], tuple[FloatArray, Any]](KEPT_BYTES // 4)
        self._shared = Shared(2)  # of long records each part is as large as a channel
        self._marks = Kept[Uid, pl.DataFrame](KEPT_BYTES // 8)

    @property
    def at_once(self) -> int | None:
        """How many channels to work on at once: one where each is long, None for as many as can."""
        longest = max((entry.record.rows for entry in self.book.of(Recording)), default=0)
        return 1 if longest > LONG else None

    def series(self, subject: Uid) -> Series:
        """Readings of a sensor or temperature point, read once."""
        if subject not in self._series:
            self._series[subject] = series_of(self.store, self.book, subject)
        return self._series[subject]

    def strain(
        self, circuit: Entry[BridgeCircuit], zero_kind: ZeroKind, *, apparent: bool = False
    ) -> CircuitStrain:
        """Strain of a circuit since one kind of zero; ``apparent`` leaves the temperature in.

        Raises
        ------
        InputError
            If the circuit has no readings, or a value that its chain needs is missing.
        """
        key = (circuit.uid, zero_kind, apparent)
        known = self._strains.get(key)
        if known is None:
            self._strains.make_room()
            known = self._reduced(circuit, zero_kind, apparent)
            beside = max(len(piece.columns) for piece in known.pieces)
            self._strains.keep(key, known, known.strain.nbytes * (3 + beside))
        return known

    def stretches(self, subject: Uid) -> tuple[Stretch, ...]:
        """Every stretch of readings of a circuit, sensor or point, as ``stretches_of`` has them."""
        known = self._read.get(subject)
        if known is None:
            self._read.make_room()
            self._strains.make_room()  # one long circuit at a time
            known = stretches_of(self.store, self.book, subject)
            self._read.keep(subject, known, sum(2 * part.reading.nbytes for part in known))
        return known

    def marks(self, recording: Uid) -> pl.DataFrame:
        """What stood where no number was, of a whole recording: read once for its channels."""
        known = self._marks.get(recording)
        if known is None:
            known = self.store.readings(recording).marks()
            self._marks.keep(recording, known, int(known.estimated_size()))
        return known

    def beside(self, name: str, series: Series, time: FloatArray) -> FloatArray:
        """Values of a series at other instants; circuits of one recorder share theirs."""

        def values(time: FloatArray) -> FloatArray:
            found = series.at(time)
            found.flags.writeable = False
            return found

        return self.of_times(name, time, values)

    def of_times(self, name: str, time: FloatArray, work_out: Callable[[FloatArray], T]) -> T:
        """What follows from instants that channels of one recorder share; kept a while."""
        known = self._of_times.get((name, id(time)))
        if known is not None and known[0] is time:  # held here, so that no other has its id
            return cast("T", known[1])
        known = None
        self._of_times.make_room()
        value = work_out(time)
        self._of_times.keep((name, id(time)), (time, value), 2 * time.nbytes)
        return value

    def _reduced(
        self, circuit: Entry[BridgeCircuit], zero_kind: ZeroKind, apparent: bool
    ) -> CircuitStrain:
        stretches = self.stretches(circuit.uid)
        if not stretches:
            raise InputError(
                f"readings of circuit {circuit.record.label}",
                "none",
                "imported and connected",
                "import a file with its channel, or give its connection a beginning",
            )
        built: dict[Uid, BuiltChain] = {}
        pieces: list[Piece] = []
        for whole in self._since_zero(stretches, circuit, zero_kind):
            stretch = self._without_excluded(whole, circuit)
            connection = stretch.connection
            if connection.uid not in built:
                made = chain_for(self.book, connection, zero_kind=zero_kind)
                built[connection.uid] = _without_temperature(made) if apparent else made
            pieces.append(self._piece(stretch, built[connection.uid], zero_kind))
        strains = [_strain(piece, self._shared) for piece in pieces]
        sizes = [0, *np.cumsum([len(strain) for strain in strains]).tolist()]
        return CircuitStrain(
            circuit,
            tuple(pieces),
            _in_one([piece.stretch.time for piece in pieces]),
            _in_one(strains),
            tuple(sizes[:-1]),
        )

    def _since_zero(
        self, stretches: tuple[Stretch, ...], circuit: Entry[BridgeCircuit], zero_kind: ZeroKind
    ) -> tuple[Stretch, ...]:
        """Stretches from the first connection on that has such a zero; without any, all of them.

        What was read through an earlier plugging has no strain since a zero taken later.
        """
        zeros = [zero.record for zero in self.book.of(Zero) if zero.record.kind is zero_kind]
        zeroed = {uid for zero in zeros for uid in (zero.connection, *zero.carried_to)}
        begun = [c.record.begins for c in self.book.connections_of(circuit.uid) if c.uid in zeroed]
        if not begun:
            return stretches
        return tuple(s for s in stretches if s.connection.record.begins >= min(begun))

    def _without_excluded(self, stretch: Stretch, circuit: Entry[BridgeCircuit]) -> Stretch:
        """Stretch without the rows that a person excluded: no number there, the rest as read."""
        gauges = {gauge.uid for gauge in self.book.gauges_of(circuit)}
        spans = excluded_spans(self.book, stretch.recording.uid, gauges)
        if not spans:
            return stretch
        reading = stretch.reading.copy()
        for span in spans:
            first = max(span.first - stretch.first_row, 0)
            reading[first : max(span.last - stretch.first_row + 1, 0)] = np.nan
        return replace(stretch, reading=reading)

    def _piece(self, stretch: Stretch, built: BuiltChain, zero_kind: ZeroKind) -> Piece:
        columns = {
            name: self.column(built, name, stretch.time, zero_kind) for name in built.chain.columns
        }
        return Piece(stretch, built, columns)

    def column(
        self,
        built: BuiltChain,
        name: str,
        time: FloatArray,
        zero_kind: ZeroKind = ZeroKind.BEFORE_TEST,
    ) -> FloatArray:
        """What a chain needs beside its readings, at the instants of those readings."""
        if name == "time":
            return time
        if name == "temperature_degc":
            point = built.subject.point.uid
            return self.beside(point, self.series(point), time)
        if name == "dummy_strain":
            return self.dummy_series(built, zero_kind).at(time)
        if name not in built.beside:
            raise InputError(f"column {name} of the chain", None, "of a point or circuit named")
        if name == "reference_strain":
            circuit = self.book.entry(built.beside[name], BridgeCircuit)
            unloaded = self.strain(circuit, zero_kind)
            return Series(unloaded.time, unloaded.strain).at(time)
        return self.beside(built.beside[name], self.series(built.beside[name]), time)

    def dummy_series(self, built: BuiltChain, zero_kind: ZeroKind = ZeroKind.BEFORE_TEST) -> Series:
        """Apparent strain of the dummy that compensates a circuit: temperature left in.

        Raises
        ------
        InputError
            If the circuit names no dummy.
        """
        uid = built.subject.circuit.record.dummy
        if uid is None:
            raise InputError("dummy circuit", None, "named by the circuit it compensates")
        if (uid, zero_kind) not in self._dummies:
            circuit = self.book.entry(uid, BridgeCircuit)
            dummy = self.strain(circuit, zero_kind, apparent=True)
            self._dummies[uid, zero_kind] = Series(dummy.time, dummy.strain)
        return self._dummies[uid, zero_kind]


def _strain(piece: Piece, shared: Shared) -> FloatArray:
    """Strain of a stretch; of a long one by parts, since each step of a chain makes a copy."""
    reading, columns, chain = piece.stretch.reading, piece.columns, piece.built.chain
    if reading.size <= LONG:
        return chain.strain(reading, columns, shared=shared)
    strain = np.empty(reading.size)
    for first in range(0, reading.size, PART):
        rows = slice(first, first + PART)
        beside = {name: column[rows] for name, column in columns.items()}
        strain[rows] = chain.strain(reading[rows], beside)
    return strain


def _in_one(parts: list[FloatArray]) -> FloatArray:
    return parts[0] if len(parts) == 1 else np.concatenate(parts)


def excluded_spans(book: Book, recording: Uid, gauges: Collection[Uid]) -> tuple[quality.Span, ...]:
    """Rows of a recording that a person excluded for any of some gauges, in order."""
    found: list[quality.Span] = []
    for entry in book.of(Finding):
        finding = entry.record
        is_about = finding.subject in gauges and finding.recording == recording
        if finding.decision is not Decision.EXCLUDED or not is_about:
            continue
        if finding.first_row is not None and finding.last_row is not None:
            found.append(quality.Span(finding.first_row, finding.last_row))
    return tuple(sorted(found, key=lambda span: (span.first, span.last)))


def _without_temperature(built: BuiltChain) -> BuiltChain:
    kinds = {stage.kind for stage in built.chain.stages}
    if THERMAL not in kinds:
        return built
    chain: Chain = built.chain.step_off(THERMAL, "a dummy shows what temperature does")
    return BuiltChain(chain, built.subject, built.sources)


def joined(parts: Sequence[Uncertain]) -> Uncertain:
    """Values one after another, each keeping what it owes; inputs of the same name are shared."""
    inputs: dict[str, InputQuantity] = {}
    for part in parts:
        inputs |= part.inputs
    sizes = [part.value.size for part in parts]
    sensitivities = {
        name: np.concatenate(
            [
                np.broadcast_to(part.sensitivities.get(name, np.zeros(())), (size,))
                for part, size in zip(parts, sizes, strict=True)
            ]
        )
        for name in inputs
    }
    return Uncertain(
        np.concatenate([part.value.reshape(-1) for part in parts]),
        sensitivities,
        np.concatenate(
            [np.broadcast_to(part.noise, (size,)) for part, size in zip(parts, sizes, strict=True)]
        ),
        inputs,
    )
