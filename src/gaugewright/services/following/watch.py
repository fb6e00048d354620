"""How near yield is a gauge now, and what was predicted for it?"""

from dataclasses import dataclass

import numpy as np

from gaugewright.calc.quality import noise_floor
from gaugewright.calc.uncertainty import Uncertain
from gaugewright.errors import Faults, InputError
from gaugewright.quantities import FloatArray
from gaugewright.records import Entry
from gaugewright.records.gauges import Gauge
from gaugewright.records.proof import ZeroKind
from gaugewright.records.specimen import SteelLaw
from gaugewright.services.campaign.book import Book
from gaugewright.services.campaign.coverage import COVERAGE
from gaugewright.services.following.rows import Rows
from gaugewright.services.following.shown import Yield
from gaugewright.services.following.wiring import Wire
from gaugewright.services.loading.yields import yield_strain
from gaugewright.services.members.members import member_of
from gaugewright.services.section.predictions import crushing_load, predicted_strain

__all__ = ["NEAR_YIELD", "Curve", "Watch", "curve_of", "watched"]

NEAR_YIELD = 0.8  # share of the strain at yield from which a person is told; choice of this project
_LOADS = 401


@dataclass(frozen=True, slots=True, eq=False)
class Curve:
    """Strain on first loading against load [N; 1], with its expanded uncertainty; NaN beyond."""

    load: FloatArray
    strain: FloatArray
    doubt: FloatArray

    def at(self, load: float) -> tuple[float, float] | None:
        """Predicted strain and its doubt at a load; None where nothing is predicted."""
        if not self.load[0] <= load <= self.load[-1]:
            return None
        strain = float(np.interp(load, self.load, self.strain))
        doubt = float(np.interp(load, self.load, self.doubt))
        return (strain, doubt) if np.isfinite(strain) else None


def curve_of(book: Book, gauge: Entry[Gauge], since: ZeroKind) -> Curve | str:
    """Prediction of a gauge up to crushing; why there is none.

    Worked out at 400 equal steps of load and taken straight between them.
    """
    try:
        member = member_of(book, book.bar_of(gauge))
        last = crushing_load(book, member)
        if not np.isfinite(last):
            return "no load crushes the member as it is described: nothing bounds a prediction"
        found = predicted_strain(book, gauge, np.linspace(0.0, last, _LOADS), since=since)
    except (InputError, Faults) as problem:
        return str(problem)
    return Curve(found.load, found.first_loading.value, found.first_loading.expanded(COVERAGE))


@dataclass(frozen=True, slots=True)
class Watch:
    """What doubt a gauge's strain has now, and where it stands against yield.

    ``free`` is what a zero before any load adds to the strain since the test's zero, ``limit``
    the strain at yield, ``limit_doubt`` the expanded uncertainty of strain less limit; None where
    the metal has no yield or it isn't known. ``strain`` is kept with all it owes, for pairs.
    """

    strain: Uncertain
    free: float
    limit: float | None
    limit_doubt: float
    free_from: str

    def stands(self, strain: float) -> tuple[Yield, float | None]:
        """Where a strain since the test's zero stands, and its share of the strain at yield."""
        if self.limit is None:
            return Yield.NONE, None
        size = abs(strain + self.free)
        beyond, share = size - self.limit, size / self.limit
        if beyond > self.limit_doubt:
            return Yield.PASSED, share
        if beyond > -self.limit_doubt:
            return Yield.PERHAPS, share
        return (Yield.NEAR if share >= NEAR_YIELD else Yield.BELOW), share


def watched(rows: Rows, wire: Wire) -> Watch | None:
    """Doubt of a gauge's newest strain, by its whole chain; None while it has none."""
    if wire.built is None:
        return None
    reading = rows.reading.last()[:, wire.place]
    count = min(len(reading), max(1, len(rows.window(1.0)[0])))
    newest = reading[-count:]
    good = newest[np.isfinite(newest)]
    if not good.size:
        return None
    mean = np.asarray([float(np.mean(good))])
    floor = noise_floor(reading[-400:])
    noise = (0.0 if np.isnan(floor) else floor) / np.sqrt(good.size)
    columns = rows.beside(wire, rows.newest + wire.shift)
    strain = wire.built.chain.uncertain(mean, columns, noise)
    if not np.isfinite(strain.value).all():
        return None
    free, kind = strain, wire.built.subject.zero.record.kind
    if wire.free is not None:
        free = wire.free.chain.uncertain(mean, rows.beside(wire, rows.newest + wire.shift), noise)
        kind = wire.free.subject.zero.record.kind
    limit = _limit(rows, wire)
    added = float(free.value.item() - strain.value.item())
    if limit is None:
        return Watch(strain, added, None, 0.0, kind.value)
    size = free if free.value.item() >= 0 else -free
    doubt = float((size - limit).expanded(COVERAGE).item())
    return Watch(strain, added, limit.value.item(), doubt, kind.value)


def _limit(rows: Rows, wire: Wire) -> Uncertain | None:
    material = rows.desk.book.material_of(wire.gauges[0])
    if material.record.law is SteelLaw.ELASTIC:
        return None
    try:
        return yield_strain(rows.desk, material)
    except InputError:
        return None  # no yield strength was given: nothing to watch for
