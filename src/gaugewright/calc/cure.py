"""How far has an adhesive cured, by its own data sheet and the temperatures that were logged?"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from gaugewright.calc import allowed
from gaugewright.quantities import FloatArray

__all__ = ["Cure", "SheetRow", "cure"]

_WHOLE = 1.0 - 1e-9  # sums of shares round in the last digits


@dataclass(frozen=True, slots=True)
class SheetRow:
    """A row of a data sheet.

    Attributes
    ----------
    temperature_degc : float
        At which it cures [degC].
    time : float
        Asked there [s].
    """

    temperature_degc: float
    time: float


@dataclass(frozen=True, slots=True)
class Cure:
    """What a log of temperatures is worth by a sheet's table.

    Attributes
    ----------
    share : float
        Sum of time at temperature over the time that the sheet asks there; 1 is cured [1].
    counted : float
        Time that counted [s].
    too_cold : float
        Time below the coldest row, which counts nothing [s].
    unknown : float
        Time in gaps of the log, which counts nothing [s].
    lowest_degc : float
        Coldest temperature of the log [degC].
    still : float
        Time still wanted if it stays as warm as at the end of the log; 0 when cured, infinite when
        it is too cold there [s].
    """

    share: float
    counted: float
    too_cold: float
    unknown: float
    lowest_degc: float
    still: float


def cure(
    time: ArrayLike,
    temperature_degc: ArrayLike,
    table: tuple[SheetRow, ...],
    *,
    longest_gap: float,
    highest_degc: float = np.inf,
) -> Cure:
    """Time at temperature added up by a data sheet's own table.

    Each stretch between two readings counts at the colder of both, by the warmest row that is not
    above it: its length over that row's time, and the shares are added. Nothing is put between
    rows or beyond them, so the sum never promises more than the sheet does: below the coldest
    row nothing counts, above the warmest it counts no faster. With one row this is the time at
    or above the sheet's temperature over the time it asks. Adding shares of time supposes that
    the order of temperatures doesn't matter (common practice, no source).

    Parameters
    ----------
    time : array, shape (n_readings,)
        Of the readings, rising [s].
    temperature_degc : array, shape (n_readings,)
        Of the metal beside the gauge [degC].
    table : tuple of SheetRow
        Rows of the sheet; a warmer one asks no longer than a colder one.
    longest_gap : float
        Stretches longer than this count nothing, for nobody knows how cold it was [s].
    highest_degc : float
        Warmest that the sheet allows [degC].

    Returns
    -------
    Cure
        The share, and what counted nothing.

    Raises
    ------
    InputError
        If the log can't be read as one, the table is empty or not in order, or a reading is
        warmer than the sheet allows.
    InputFaults
        If several things are wrong.

    Examples
    --------
    >>> hours = 3600.0 * np.arange(13)
    >>> sheet = (SheetRow(20.0, 86400.0), SheetRow(40.0, 10800.0))
    >>> found = cure(hours, np.full(13, 21.0), sheet, longest_gap=3600)
    >>> found.share, found.still / 3600
    (0.5, 12.0)
    """
    at = np.atleast_1d(np.asarray(time, dtype=np.float64))
    warm = np.atleast_1d(np.asarray(temperature_degc, dtype=np.float64))
    rows = sorted(table, key=lambda row: row.temperature_degc)
    with allowed.Together("cure") as given:
        given.positive("longest_gap", longest_gap)
        given.finite("time", at)
        whole = given.finite("temperature_degc", warm)
        given.holds("table", "empty", "one row or more", if_=bool(rows), do="type the sheet’s in")
        times = [row.time for row in rows]
        falling = all(asked > 0 for asked in times) and times == sorted(times, reverse=True)
        given.holds("table", times, "times above 0, a shorter one the warmer it is", if_=falling)
        alike = at.shape == warm.shape and at.size >= 2 and bool(np.all(np.diff(at) > 0))
        given.holds("log", at.size, "two readings or more, each later than the last", if_=alike)
        hottest = float(warm.max()) if whole else np.nan
        given.holds(
            "temperature_degc",
            hottest,
            f"{highest_degc:g} °C at most, as the sheet has it",
            if_=not hottest > highest_degc,
            do="look at the bond: the sheet says nothing of such heat",
        )
    return _added(at, warm, rows, longest_gap)


def _added(at: FloatArray, warm: FloatArray, rows: list[SheetRow], longest_gap: float) -> Cure:
    length = np.diff(at)
    known = length <= longest_gap
    steps = np.array([row.temperature_degc for row in rows])
    asked = np.array([row.time for row in rows])
    row = np.searchsorted(steps, np.minimum(warm[:-1], warm[1:]), "right") - 1
    counts = known & (row >= 0)
    share = float(np.sum(length[counts] / asked[row[counts]]))
    last = int(np.searchsorted(steps, warm[-1], "right")) - 1
    left = 1.0 - share if share < _WHOLE else 0.0
    asked_last = float(asked[last]) if last >= 0 else np.inf
    still = left * asked_last if left else 0.0
    return Cure(
        share,
        float(length[counts].sum()),
        float(length[known & (row < 0)].sum()),
        float(length[~known].sum()),
        float(warm.min()),
        still,
    )
