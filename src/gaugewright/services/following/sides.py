"""What a chain needs beside its reading: from rows being followed, or as it was last known."""

import math
from dataclasses import dataclass

import numpy as np

from gaugewright.errors import Faults, InputError
from gaugewright.quantities import FloatArray
from gaugewright.records.electrical import BridgeCircuit
from gaugewright.records.identity import Uid
from gaugewright.services.chaining.chains import BuiltChain
from gaugewright.services.following.wiring import needed
from gaugewright.services.reading.series import Series
from gaugewright.services.strain.strains import Desk

__all__ = ["Sides"]

_MOST = 200_000  # samples of one, however far apart two recorders are read


@dataclass(slots=True)
class _Live:
    """Samples of the rows just read, with the last known one before them."""

    time: FloatArray
    value: FloatArray


class Sides:
    """Temperatures, dummies and other circuits that correct a gauge.

    Those written in a file followed, the gauge's own or another recorder's, are taken at the
    instant of the gauge's own sample, straight between two of theirs; after the newest one it is
    held. Those of no file followed keep the last value that the campaign has, and ``told`` says
    so. ``keep_from`` is the campaign time [s] from which samples are kept for recorders that are
    read later.
    """

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._of: dict[int, tuple[frozenset[Uid], frozenset[Uid]]] = {}
        self._in_files: frozenset[Uid] = frozenset()
        self._live: dict[Uid, _Live] = {}
        self._held: dict[tuple[Uid, str], float] = {}
        self.keep_from = math.inf
        self.wanted: frozenset[Uid] = frozenset()
        self.told: dict[str, str] = {}

    def renew(
        self, desk: Desk, source: int, in_file: frozenset[Uid], wanted: frozenset[Uid]
    ) -> None:
        """Take records, and what one file has and wants, as they are now; samples read stay."""
        self._desk = desk
        self._of[source] = (in_file, wanted)
        self._in_files = frozenset().union(*(own for own, _ in self._of.values()))
        self.wanted = frozenset().union(*(needs for _, needs in self._of.values()))
        self._held.clear()
        self.told.clear()
        self._live = {uid: live for uid, live in self._live.items() if uid in self._in_files}

    def take(self, uid: Uid, time: FloatArray, value: FloatArray) -> None:
        """Samples of a point, sensor or circuit that were just read."""
        good = np.isfinite(time) & np.isfinite(value)
        if not good.any():
            return
        time, value = time[good], value[good]
        before = self._live.get(uid)
        if before is None:
            self.told.pop(self._desk.book.label(uid), None)  # it is read now
        else:
            first = int(np.searchsorted(before.time, self.keep_from)) - 1
            kept = slice(max(min(first, before.time.size - 1), before.time.size - _MOST, 0), None)
            time = np.concatenate([before.time[kept], time])
            value = np.concatenate([before.value[kept], value])
        # A recorder whose clock steps back: what is older than the newest known isn't used.
        rising = time == np.maximum.accumulate(time)
        self._live[uid] = _Live(time[rising], value[rising])

    def columns(self, built: BuiltChain, time: FloatArray) -> dict[str, FloatArray]:
        """Columns of a chain at the instants of its own samples.

        Raises
        ------
        InputError
            If nobody's readings are named for one.
        """
        whose = needed(built)
        found: dict[str, FloatArray] = {}
        for name in built.chain.columns:
            if name == "time":
                found[name] = time
            elif name not in whose:
                raise InputError(f"column {name} of the chain", None, "of a point or circuit named")
            else:
                found[name] = self._at(built, name, whose[name], time)
        return found

    def _at(self, built: BuiltChain, name: str, uid: Uid, time: FloatArray) -> FloatArray:
        live = self._live.get(uid)
        if live is not None:
            return np.interp(time, live.time, live.value)
        key = (uid, name if uid not in self._in_files else f"{name} until it is read")
        if key not in self._held:
            self._held[key] = self._last_known(built, name, uid)
        return np.full(time.shape, self._held[key])

    def _last_known(self, built: BuiltChain, name: str, uid: Uid) -> float:
        label = self._desk.book.label(uid)
        try:
            series = self._series(built, name, uid)
        except (InputError, Faults):
            series = None
        known = np.flatnonzero(np.isfinite(series.value)) if series is not None else np.empty(0)
        if series is not None and known.size:
            value = float(series.value[int(known[-1])])
            self.told[label] = f"{label} isn't in what is followed: its last value known is held"
        elif name == "temperature_degc":
            value = float(built.subject.zero.record.temperature.value)
            self.told[label] = f"{label} was never read: the temperature at the zero is held"
        else:
            value = float("nan")
            self.told[label] = f"{label} was never read: gauges that need it have no strain"
        return value

    def _series(self, built: BuiltChain, name: str, uid: Uid) -> Series:
        if name == "dummy_strain":
            return self._desk.dummy_series(built)
        if name == "reference_strain":
            zero = built.subject.zero.record.kind
            strain = self._desk.strain(self._desk.book.entry(uid, BridgeCircuit), zero)
            return Series(strain.time, strain.strain)
        return self._desk.series(uid)
