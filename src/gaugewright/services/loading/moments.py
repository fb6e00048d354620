"""At which instants of a test can a result be looked at, and which readings stand for each?"""

import math
from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt

from gaugewright.errors import InputError
from gaugewright.records import Entry
from gaugewright.records.electrical import BridgeCircuit
from gaugewright.records.proof import ZeroKind
from gaugewright.records.readings import LoadStep
from gaugewright.services.bars.forces import SETTLED
from gaugewright.services.reading.series import EPOCH, campaign_seconds
from gaugewright.services.strain.strains import Desk
from gaugewright.services.under_load.loads import load_at, load_series

__all__ = ["HALF_WINDOW", "Moment", "moment_named", "moment_or_highest", "moments", "rows_at"]

HALF_WINDOW = 1.0  # seconds to each side of an instant that nobody called a load step
TENTHS = 10


@dataclass(frozen=True, slots=True)
class Moment:
    """A stretch of campaign time [s] that one set of numbers stands for; ``load`` in N.

    ``load`` is the mean of what was measured there; where none was recorded that of the load step
    as typed, else NaN. ``key`` is what an address or a command calls it by.
    """

    key: str
    label: str
    first: float
    last: float
    load: float
    is_step: bool

    @property
    def words(self) -> str:
        """Which readings stand for it."""
        if self.is_step:
            return f"mean of the settled part of {self.label}"
        return f"mean of the readings within {HALF_WINDOW:g} s of {self.label}"


def moments(desk: Desk) -> tuple[Moment, ...]:
    """Load steps in order of time; without any, the instants when load first reached each tenth.

    Empty where there is neither a load step nor a load.
    """
    steps = sorted(desk.book.of(LoadStep), key=lambda step: step.record.begins)
    if steps:
        return tuple(_of_step(desk, step) for step in steps)
    try:
        series = load_series(desk)
    except InputError:
        return ()
    load = np.where(np.isfinite(series.value), np.abs(series.value), -np.inf)
    if not np.isfinite(load).any() or not load.max() > 0:
        return ()
    shares = np.arange(1, TENTHS + 1) / TENTHS * float(load.max())
    at = dict.fromkeys(int(np.argmax(load >= share)) for share in shares)
    zone = ZoneInfo(desk.store.campaign.record.zone)
    return tuple(_instant(desk, float(series.time[row]), zone) for row in at)


def moment_named(desk: Desk, text: str) -> Moment:
    """Moment by the label of a load step, or by a date and time of the campaign's zone.

    Raises
    ------
    InputError
        If it is neither: it names the load steps.
    """
    text = text.strip()
    steps = [step for step in desk.book.of(LoadStep) if step.record.label == text]
    if steps:
        return _of_step(desk, min(steps, key=lambda step: step.record.begins))
    zone = ZoneInfo(desk.store.campaign.record.zone)
    try:
        instant = datetime.fromisoformat(text)
    except ValueError as error:
        known = ", ".join(step.record.label for step in desk.book.of(LoadStep)[:12]) or "none yet"
        raise InputError(
            "instant",
            text,
            f"a load step ({known}), or a date and time such as 2026-03-11T14:05:30",
        ) from error
    if instant.tzinfo is None:
        instant = instant.replace(tzinfo=zone)
    return _instant(desk, campaign_seconds(instant), zone)


def moment_or_highest(desk: Desk, text: str) -> Moment:
    """Moment that somebody named; the first one of the greatest load where nobody did.

    Raises
    ------
    InputError
        If nothing has that name, or there is no moment at all.
    """
    every = () if text else moments(desk)
    if not every:
        return moment_named(desk, text)
    return max(every, key=lambda moment: -1.0 if math.isnan(moment.load) else moment.load)


def rows_at(
    desk: Desk, circuit: Entry[BridgeCircuit], zero: ZeroKind, moment: Moment
) -> npt.NDArray[np.int64]:
    """Rows of a circuit that stand for a moment: those with a strain.

    Where a recorder scans more slowly than an instant's window, its scans next to the instant.
    """
    strain = desk.strain(circuit, zero)
    first, last = moment.first, moment.last
    if not moment.is_step and strain.time.size > 1:
        middle = (first + last) / 2
        half = max((last - first) / 2, float(np.median(np.diff(strain.time))))
        first, last = middle - half, middle + half
    rows = strain.rows_between(first, last)
    return rows[np.isfinite(strain.strain[rows])]


def _of_step(desk: Desk, step: Entry[LoadStep]) -> Moment:
    """The settled part of a load step, as forces take it."""
    record = step.record
    begins, ends = campaign_seconds(record.begins), campaign_seconds(record.ends)
    first = ends - SETTLED * (ends - begins)
    load = _mean_load(desk, first, ends)
    return Moment(
        record.label,
        record.label,
        first,
        ends,
        record.load if math.isnan(load) else load,
        is_step=True,
    )


def _instant(desk: Desk, second: float, zone: ZoneInfo) -> Moment:
    local = (EPOCH + timedelta(seconds=second)).astimezone(zone)
    text = local.replace(tzinfo=None).isoformat(timespec="milliseconds").removesuffix(".000")
    load = _mean_load(desk, second - HALF_WINDOW, second + HALF_WINDOW)
    return Moment(
        text,
        text.replace("T", " "),
        second - HALF_WINDOW,
        second + HALF_WINDOW,
        load,
        is_step=False,
    )


def _mean_load(desk: Desk, first: float, last: float) -> float:
    try:
        return float(np.mean(load_at(desk, np.linspace(first, last, 21))))
    except InputError:
        return math.nan
