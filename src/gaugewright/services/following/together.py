"""Rows of every recorder that is followed, each with its own clock and rate, asked as one."""

import math
from collections.abc import Iterator

from gaugewright.services.campaign.book import Book
from gaugewright.services.following.rows import Rows
from gaugewright.services.following.wiring import Wire

__all__ = ["Together"]

_LOAD_S = 1.0  # by which the load may be read later than a gauge


class Together:
    """Rows of several recorders; nothing is brought to one rate, what is asked is joined then."""

    def __init__(self) -> None:
        self.rows: list[Rows] = []

    @property
    def book(self) -> Book:
        """Records as they were looked at last."""
        return self.rows[0].desk.book

    def of(self, wire: Wire) -> Rows:
        """Rows that a wire is read in."""
        return self.rows[wire.source]

    @property
    def newest(self) -> float:
        """Campaign time of the newest row of any [s]; NaN before the first."""
        return max(
            (rows.newest for rows in self.rows if math.isfinite(rows.newest)), default=math.nan
        )

    @property
    def load_rows(self) -> Rows | None:
        """Rows of the recorder that reads the load cell."""
        return next((rows for rows in self.rows if rows.load_place is not None), None)

    def load(self) -> float:
        """Mean of the load over the last second that it was read [N]; NaN where it isn't."""
        rows = self.load_rows
        if rows is None or rows.load_place is None:
            return math.nan
        return float(rows.second()[rows.load_place])

    def load_at(self, wire: Wire) -> float:
        """Mean of the load over the last second of a gauge's own rows [N].

        NaN where it isn't read then: the gauge's recorder writes ahead of the load's by more
        than a second, or stopped so long ago that the load of then isn't held.
        """
        rows, own = self.load_rows, self.of(wire)
        if rows is None or rows.load_place is None or rows is own:
            return self.load()
        if not own.newest <= rows.newest + _LOAD_S:
            return math.nan
        return rows.mean_before(rows.load_place, min(own.newest, rows.newest))

    def wires_now(self) -> Iterator[Wire]:
        """Connections that are read at the newest rows."""
        for rows in self.rows:
            yield from rows.wires_now().values()

    def gauge_wires(self) -> tuple[Wire, ...]:
        """Of those, circuits of one gauge that carries load, in the order of the files."""
        dummies = {
            wire.circuit.record.dummy
            for rows in self.rows
            for wire in rows.wired.wires
            if wire.circuit is not None
        }
        found = [
            wire
            for wire in self.wires_now()
            if len(wire.gauges) == 1 and wire.subject not in dummies
        ]
        return tuple(sorted(found, key=lambda wire: wire.key))

    def mean_now(self, wire: Wire) -> float | None:
        """Mean strain of the last second, or of the newest row where rows come slower."""
        value = float(self.of(wire).second()[wire.place])
        return value if math.isfinite(value) else None
