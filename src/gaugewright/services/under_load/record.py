"""Strain of one gauge, or mean of an opposite pair, over all its readings, with the load beside."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from gaugewright.calc.uncertainty import Uncertain
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray
from gaugewright.records import Entry
from gaugewright.records.electrical import BridgeCircuit
from gaugewright.records.gauges import Gauge
from gaugewright.records.proof import ZeroKind
from gaugewright.records.specimen import Material
from gaugewright.services.reading.series import Series
from gaugewright.services.strain.strains import CircuitStrain, Desk
from gaugewright.services.under_load.loads import clock_doubt, load_at, load_uncertain

__all__ = ["BETWEEN", "GaugeRecord", "Rows", "pair_record", "single_record", "stress_free_zero"]

Rows = npt.NDArray[np.int64]
BETWEEN = " with "  # in the label of a pair


@dataclass(frozen=True, slots=True)
class GaugeRecord:
    """Mechanical strain since a zero, with load, at the samples of the first gauge's channel.

    ``parts`` are the strains of one gauge or of two; the mean of two leaves local bending out.
    """

    desk: Desk
    label: str
    gauges: tuple[Entry[Gauge], ...]
    circuits: tuple[Entry[BridgeCircuit], ...]
    zero: ZeroKind
    parts: tuple[CircuitStrain, ...]
    time: FloatArray
    strain: FloatArray
    load: FloatArray

    @property
    def station(self) -> str:
        """Where it sits."""
        stations = [self.desk.book.station_of(gauge).record.label for gauge in self.gauges]
        return " and ".join(dict.fromkeys(stations))

    @property
    def material(self) -> Entry[Material]:
        """Metal under the gauges."""
        return self.desk.book.material_of(self.gauges[0])

    def rows_of_other(self, rows: Rows) -> Rows:
        """Rows of the second gauge of a pair nearest in time to rows of the first."""
        time = self.parts[1].time
        return np.searchsorted(time, self.time[rows]).clip(0, time.size - 1).astype(np.int64)

    def uncertain(self, rows: npt.ArrayLike) -> Uncertain:
        """Strain with everything it owes, at some rows (in rising order)."""
        wanted = np.asarray(rows, dtype=np.int64).reshape(-1)
        first = self.parts[0].uncertain(wanted)
        if len(self.parts) == 1:
            return first
        return (first + self.parts[1].uncertain(self.rows_of_other(wanted))) / 2

    def mean(self, rows: Rows) -> Uncertain:
        """Mean strain over some rows that have one.

        Raises
        ------
        InputError
            If none of them has.
        """
        good = rows[np.isfinite(self.strain[rows])]
        if not good.size:
            raise InputError(f"strain of {self.label}", "missing there", "read at these rows")
        first = self.parts[0].uncertain(good).mean()
        if len(self.parts) == 1:
            return first
        near = np.unique(self.rows_of_other(good))
        return (first + self.parts[1].uncertain(near).mean()) / 2

    def mean_load(self, rows: Rows) -> Uncertain:
        """Mean load over some rows, with the doubt of its cell and of joining two clocks [N]."""
        good = rows[np.isfinite(self.load[rows])]
        if not good.size:
            raise InputError(f"load at {self.label}", "missing there", "recorded at these rows")
        load = np.asarray([float(np.mean(self.load[good]))])
        middle = np.asarray([good[good.size // 2]], dtype=np.float64)
        clock = clock_doubt(self.desk, self.parts[0], middle, load)
        return load_uncertain(self.desk, load)[0] + clock[0]

    def place(self, row: int) -> tuple[str, int]:
        """Recording that a row was read in, and its number there."""
        part = self.parts[0]
        at = int(np.searchsorted(part.begins, row, side="right")) - 1
        stretch = part.pieces[at].stretch
        return stretch.recording.record.label, stretch.first_row + row - part.begins[at]


def stress_free_zero(desk: Desk, circuit: Entry[BridgeCircuit]) -> ZeroKind:
    """Earliest zero that all the circuit's connections with readings can count from.

    A zero before the pour holds restrained shrinkage and dead load in the strain; a zero before
    the test leaves them out.
    """
    name = f"stress-free zero of {circuit.uid}"
    return desk.book.once(name, lambda _: _stress_free_zero(desk, circuit))


def _stress_free_zero(desk: Desk, circuit: Entry[BridgeCircuit]) -> ZeroKind:
    connections = desk.book.connections_of(circuit.uid)
    for kind in (ZeroKind.BARE_BAR, ZeroKind.BEFORE_POUR):
        if not any(desk.book.holds_zero(connection, kind) for connection in connections):
            continue
        try:
            desk.strain(circuit, kind)
        except InputError:
            continue  # that zero can't be used: a later one may
        return kind
    return ZeroKind.BEFORE_TEST


def single_record(
    desk: Desk, circuit: Entry[BridgeCircuit], gauge: Entry[Gauge], zero: ZeroKind | None = None
) -> GaugeRecord:
    """Record of one gauge, from the earliest zero it has or from the one named."""
    kind = zero or stress_free_zero(desk, circuit)
    strain = desk.strain(circuit, kind)
    return GaugeRecord(
        desk,
        gauge.record.label,
        (gauge,),
        (circuit,),
        kind,
        (strain,),
        strain.time,
        strain.strain,
        load_at(desk, strain.time),
    )


def pair_record(
    desk: Desk,
    circuits: tuple[Entry[BridgeCircuit], Entry[BridgeCircuit]],
    gauges: tuple[Entry[Gauge], Entry[Gauge]],
    zero: ZeroKind | None = None,
) -> GaugeRecord:
    """Record of the mean of two opposite gauges, from the earliest zero that both have."""
    kinds = {stress_free_zero(desk, circuit) for circuit in circuits}
    kind = zero or (ZeroKind.BEFORE_TEST if len(kinds) > 1 else kinds.pop())
    one, other = (desk.strain(circuit, kind) for circuit in circuits)
    mean = (one.strain + Series(other.time, other.strain).at(one.time)) / 2
    # Interpolation would bridge what the other gauge lost: keep its gaps.
    mean[~_alive(other, one.time)] = np.nan
    label = BETWEEN.join(gauge.record.label for gauge in gauges)
    return GaugeRecord(
        desk,
        label,
        gauges,
        circuits,
        kind,
        (one, other),
        one.time,
        mean,
        load_at(desk, one.time),
    )


def _alive(strain: CircuitStrain, time: FloatArray) -> npt.NDArray[np.bool_]:
    """Whether the nearest samples on both sides are there."""
    right = np.searchsorted(strain.time, time).clip(1, strain.time.size - 1)
    good = np.isfinite(strain.strain)
    return np.asarray(good[right] & good[right - 1])
