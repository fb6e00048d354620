"""A campaign as a script reads it: labels in; records, results and strain with its doubt out."""

import os
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType
from typing import Any, Self, TypeVar

import numpy as np
import numpy.typing as npt

from gaugewright.calc.uncertainty import Uncertain
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray
from gaugewright.records import Entry
from gaugewright.records.electrical import BridgeCircuit
from gaugewright.records.gauges import Gauge
from gaugewright.records.identity import Uid
from gaugewright.records.proof import ZeroKind
from gaugewright.records.results import Result
from gaugewright.services.campaign import campaigns
from gaugewright.services.campaign.book import Book
from gaugewright.services.reading.series import EPOCH
from gaugewright.services.strain.strains import CircuitStrain, Desk
from gaugewright.store.campaign import CampaignStore

__all__ = ["CampaignReader", "GaugeStrain", "open_campaign"]

R = TypeVar("R")


@dataclass(frozen=True, slots=True, eq=False)
class GaugeStrain:
    """Mechanical strain of a gauge over all its readings, in order of time.

    Attributes
    ----------
    label : str
        Of the gauge or circuit that was asked for.
    zero : str
        State of the specimen in which strain is nothing.
    instant : array of datetime64, shape (n,)
        Of each reading, UTC.
    strain : array, shape (n,)
        Tension positive, temperature taken off; NaN where a reading can't be [1].
    """

    label: str
    zero: str
    instant: npt.NDArray[np.datetime64]
    strain: FloatArray
    _found: CircuitStrain

    def uncertain(self, rows: npt.ArrayLike) -> Uncertain:
        """Strain with every cause of its doubt, at some rows.

        All rows of a long record at once take memory for each cause: ask for those that count.

        Parameters
        ----------
        rows : array of int, shape (m,)
            Rising, from 0 [1].

        Returns
        -------
        Uncertain
            ``value``, ``standard_uncertainty()``, ``expanded()`` and ``budget(at=...)`` [1].

        Raises
        ------
        InputError
            If no row is one of these readings.
        """
        return self._found.uncertain(rows)


class CampaignReader:
    """A campaign opened for reading, as it stood then; nothing can be written through it.

    What was taken from it stays good after it is closed. Use it in ``with``, or ``close()`` it.
    """

    def __init__(self, store: CampaignStore) -> None:
        self._store = store
        self._desk = Desk(store, Book.read(store))

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        where: TracebackType | None,
    ) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the campaign's files."""
        self._store.close()

    def entries(self, kind: type[R]) -> tuple[Entry[R], ...]:
        """Records of one kind, in the order they were first written, each with uid and version."""
        return self._desk.book.of(kind)

    def labelled(self, kind: type[R], label: str) -> Entry[R]:
        """Record of one kind by its label.

        Raises
        ------
        InputError
            If nothing of that kind is called so, with the labels there are.
        """
        return self._desk.book.labelled(kind, label)

    def label(self, uid: Uid) -> str:
        """What people call the record of a uid, such as those in ``Result.subjects``."""
        return self._desk.book.label(uid)

    @property
    def gauges(self) -> tuple[str, ...]:
        """Labels of all gauges."""
        return tuple(gauge.record.label for gauge in self.entries(Gauge))

    def results(self, quantity: str = "") -> tuple[Result, ...]:
        """Results of the last reduction: all, or those of one quantity such as "force"."""
        found = tuple(entry.record for entry in self.entries(Result))
        return tuple(one for one in found if quantity in ("", one.quantity))

    def strain(self, label: str, *, zero: str = ZeroKind.BEFORE_TEST.value) -> GaugeStrain:
        """Strain of a gauge, reduced anew from its readings as the app does it.

        Parameters
        ----------
        label : str
            Of a gauge, or of a circuit where a gauge is in several.
        zero : str
            "bare bar", "before pour", "before test" or "after seating".

        Returns
        -------
        GaugeStrain
            Of all readings since that zero.

        Raises
        ------
        InputError
            If there is no such gauge, circuit or zero, or no readings, or the chain misses
            something; the sentence says which and where to enter it.
        """
        kinds = {kind.value: kind for kind in ZeroKind}
        if zero not in kinds:
            raise InputError("zero", zero, "one of: " + ", ".join(kinds))
        found = self._desk.strain(self._circuit(label), kinds[zero])
        begin = np.datetime64(EPOCH.replace(tzinfo=None), "ns")
        instant = begin + np.round(found.time * 1e9).astype("timedelta64[ns]")
        return GaugeStrain(label, zero, instant, found.strain, found)

    def _circuit(self, label: str) -> Entry[BridgeCircuit]:
        book = self._desk.book
        named = [one for one in book.of(BridgeCircuit) if one.record.label == label]
        if label not in self.gauges and named:
            return named[0]
        gauge = book.labelled(Gauge, label)
        wired = [
            circuit
            for circuit in book.of(BridgeCircuit)
            if any(held.uid == gauge.uid for held in book.gauges_of(circuit))
        ]
        # A gauge may have been wired anew; of several circuits the one called like it is meant.
        meant = wired if len(wired) == 1 else [one for one in wired if one.record.label == label]
        if meant:
            return meant[0]
        if not wired:
            raise InputError(f"circuit of {label}", None, "entered under Wiring")
        several = ", ".join(one.record.label for one in wired)
        raise InputError("gauge label", label, f"one of its circuits instead: {several}")


def open_campaign(folder: str | os.PathLike[Any]) -> CampaignReader:
    """A campaign, opened for reading; another program may be writing in it meanwhile.

    Parameters
    ----------
    folder : str or path
        That holds campaign.sqlite.

    Returns
    -------
    CampaignReader
        To be used in ``with``.

    Raises
    ------
    InputError
        If the folder holds no campaign.
    StoreError
        If it can't be read, such as one that a later version wrote.
    """
    return CampaignReader(campaigns.opened(Path(folder), read_only=True))
