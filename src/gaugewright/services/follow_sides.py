"""What a chain needs beside its reading: from rows being followed, or as it was last known."""

from dataclasses import dataclass

import numpy as np

from gaugewright.errors import Faults, InputError
from gaugewright.quantities import FloatArray
from gaugewright.records.electrical import BridgeCircuit
from gaugewright.records.identity import Uid
from gaugewright.services.chains import BuiltChain
from gaugewright.services.follow_wiring import needed
from gaugewright.services.series import Series
from gaugewright.services.strains import Desk

__all__ = ["Sides"]


@dataclass(slots=True)
class _Live:
    """Samples of the rows just read, with the last known one before them."""

    time: FloatArray
    value: FloatArray


class Sides:
    """Temperatures, dummies and other circuits that correct a gauge.

    Those written in the file followed are taken at the instant of the gauge's own sample, straight
    between two of theirs; after the newest one it is held. Those of another recorder keep the last
    value that the campaign has, and ``told`` says so.
    """

    def __init__(self, desk: Desk, in_file: frozenset[Uid]) -> None:
        self._desk = desk
        self._in_file = in_file
        self._live: dict[Uid, _Live] = {}
        self._held: dict[tuple[Uid, str], float] = {}
        self.told: dict[str, str] = {}

    def take(self, uid: Uid, time: FloatArray, value: FloatArray) -> None:
        """Samples of a point, sensor or circuit that were just read."""
        good = np.isfinite(time) & np.isfinite(value)
        if not good.any():
            return
        time, value = time[good], value[good]
        before = self._live.get(uid)
        if before is not None:
            time = np.concatenate([before.time[-1:], time])
            value = np.concatenate([before.value[-1:], value])
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
        key = (uid, name if uid not in self._in_file else f"{name} until it is read")
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
            self.told[label] = f"{label} isn't in this file: its last value known is held"
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
