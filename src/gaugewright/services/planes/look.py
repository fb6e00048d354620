"""A section as its page and its table show it: through the test, at an instant, beside prediction.

The series is worked out once for a book of records; every instant is read off it.
"""

from dataclasses import dataclass

import numpy as np

from gaugewright.calc.uncertainty import Uncertain
from gaugewright.errors import InputError
from gaugewright.services.loading.holds import HeldLoad
from gaugewright.services.planes.gauges import GaugedSection, SectionGauge, section_named
from gaugewright.services.planes.sections import (
    SectionInstant,
    SectionSeries,
    instant_of_series,
    series_of_section,
    settled_time,
    times_of_test,
)
from gaugewright.services.section.predictions import Prediction, predicted_strain
from gaugewright.services.strain.strains import Desk

__all__ = ["Compared", "SectionLook", "compared", "look_at_section", "row_at", "row_of_hold"]


# A hold's load falls a little while it lasts: down to this share it is still a first loading.
_STILL_FIRST = 0.97


@dataclass(frozen=True, slots=True, eq=False)
class SectionLook:
    """A section through the test, and the holds of the load that stand for its steps."""

    section: GaugedSection
    series: SectionSeries
    held: tuple[HeldLoad, ...]

    def instant(self, row: int) -> SectionInstant:
        """The section at one row.

        Raises
        ------
        InputError
            If there is no such row.
        """
        if not 0 <= row < self.series.time.size:
            raise InputError("at", row, f"from 0 to {self.series.time.size - 1}")
        return instant_of_series(self.series, row)


@dataclass(frozen=True, slots=True, eq=False)
class Compared:
    """Measured beside predicted strain of one gauge at one hold [1].

    ``difference`` is measured less predicted, ``in_uncertainties`` that over its standard
    uncertainty, what both share left out; all None where either isn't known.
    """

    gauge: SectionGauge
    held: HeldLoad
    measured: Uncertain | None
    predicted: Uncertain | None
    difference: Uncertain | None
    in_uncertainties: float | None


def look_at_section(desk: Desk, label: str | None = None, *, biaxial: bool = False) -> SectionLook:
    """A section by its label, or that of the most gauges.

    Raises
    ------
    InputError
        If there is no such section, or its readings, load or laws are incomplete.
    """
    section = section_named(desk, label)

    def worked_out(_: object) -> SectionLook:
        times, held = times_of_test(desk)
        series = series_of_section(desk, section, times, biaxial=biaxial)
        return SectionLook(section, series, held)

    return desk.book.once(f"section {section.label} {biaxial}", worked_out)


def row_of_hold(look: SectionLook, hold: HeldLoad) -> int:
    """Row that stands for a hold."""
    return int(np.argmin(np.abs(look.series.time - settled_time(hold))))


def row_at(look: SectionLook, *, load: float | None = None, time: float | None = None) -> int:
    """Row at which a load is first reached [N], or nearest to a campaign time [s].

    Raises
    ------
    InputError
        If the load isn't reached, or the time lies outside the test.
    """
    series = look.series
    if time is not None:
        first, last = float(series.time[0]), float(series.time[-1])
        if not first <= time <= last:
            raise InputError("time", time, f"within the test, {first:.0f} s to {last:.0f} s")
        return int(np.argmin(np.abs(series.time - time)))
    if load is None:
        return int(np.nanargmax(series.load.value))
    reached = np.flatnonzero(series.load.value >= load)
    if not reached.size:
        highest = float(np.nanmax(series.load.value))
        raise InputError("load", load, f"reached in the test, whose highest is {highest:.0f} N")
    # The hold of that load says more than the first touch of it.
    near = [h for h in look.held if abs(h.level - load) < 0.02 * abs(load)]
    return row_of_hold(look, near[0]) if near else int(reached[0])


def compared(desk: Desk, look: SectionLook) -> tuple[tuple[Compared, ...], str]:
    """Every gauge of a section at every hold, and why nothing is predicted.

    A prediction is for first loading: a hold below a load that was there before has none.
    """
    rows = [row_of_hold(look, hold) for hold in look.held]
    loads = look.series.load.value[rows]
    highest = np.fmax.accumulate(np.nan_to_num(look.series.load.value))[rows]
    first = loads >= _STILL_FIRST * highest
    found: list[Compared] = []
    why = ""
    for number, gauge in enumerate(look.section.used):
        measured = look.series.readings[number].measured
        prediction: Prediction | None = None
        try:
            prediction = predicted_strain(desk.book, gauge.gauge, loads, since=look.section.zero)
        except InputError as error:
            why = str(error)
        for place, hold in enumerate(look.held):
            seen = measured[rows[place]]
            expected = prediction.first_loading[place] if prediction and first[place] else None
            found.append(_compared(gauge, hold, seen, expected))
    return tuple(found), why


def _compared(
    gauge: SectionGauge, hold: HeldLoad, seen: Uncertain, expected: Uncertain | None
) -> Compared:
    measured = seen if np.isfinite(seen.value) else None
    predicted = expected if expected is not None and np.isfinite(expected.value) else None
    if measured is None or predicted is None:
        return Compared(gauge, hold, measured, predicted, None, None)
    difference = measured - predicted
    doubt = float(difference.standard_uncertainty())
    share = float(difference.value) / doubt if doubt > 0 else None
    return Compared(gauge, hold, measured, predicted, difference, share)
