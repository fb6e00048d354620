"""When things were done, and the load through the test.

Campaign time is the clock of recorder A. Seconds of the test count from the first row of its
test file.
"""

import itertools
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

import numpy as np

from gaugewright.quantities import FloatArray

__all__ = ["DAYS", "PULSE", "Protocol", "Step", "Timetable", "at_second", "pulse_voltage"]


def _utc(month: int, day: int, hour: int, minute: int = 0) -> datetime:
    return datetime(2026, month, day, hour, minute, tzinfo=UTC)


@dataclass(frozen=True, slots=True)
class Timetable:
    """Days of the campaign, UTC."""

    bonded: datetime
    wired: datetime
    protected: datetime
    caged: datetime
    before_pour: datetime
    plugged_before_pour: datetime
    zero_before_pour: datetime
    unplugged_for_pour: datetime
    pour: datetime
    after_pour: datetime
    before_test: datetime
    plugged_before_test: datetime
    zero_before_test: datetime
    plug_pulled: datetime
    plug_remade: datetime
    test: datetime


DAYS = Timetable(
    bonded=_utc(8, 25, 8),
    wired=_utc(8, 27, 8),
    protected=_utc(8, 31, 13),
    caged=_utc(9, 3, 9),
    before_pour=_utc(9, 8, 6, 10),
    plugged_before_pour=_utc(9, 8, 7, 20),
    zero_before_pour=_utc(9, 8, 8, 5),
    unplugged_for_pour=_utc(9, 8, 9, 0),
    pour=_utc(9, 8, 11, 0),
    after_pour=_utc(9, 10, 7, 30),
    before_test=_utc(10, 13, 5, 0),
    plugged_before_test=_utc(10, 13, 6, 10),
    zero_before_test=_utc(10, 13, 7, 0),
    plug_pulled=_utc(10, 13, 7, 22),
    plug_remade=_utc(10, 13, 7, 24),
    test=_utc(10, 13, 7, 40),
)

# A hand-turned voltage: up for a second, held, down for a second; both recorders see it.
PULSE = (1.0, 2.0, 1.0)
_FIRST_PULSE = 5.0
_VOLTS = 5.0


def pulse_voltage(seconds: FloatArray, begins: tuple[float, ...]) -> FloatArray:
    """Voltage of the common trigger line [V]."""
    rise, held, fall = PULSE
    corners = np.cumsum([0.0, rise, held, fall])
    shapes = [np.interp(seconds, begin + corners, (0.0, _VOLTS, _VOLTS, 0.0)) for begin in begins]
    return np.asarray(np.sum(shapes, axis=0))


@dataclass(frozen=True, slots=True)
class Step:
    """A stretch of the test: the load meant [N] and its times [s]; ``ramp_ends`` then a hold."""

    label: str
    load: float
    begins: float
    ramp_ends: float
    ends: float


@dataclass(frozen=True, slots=True)
class Protocol:
    """Load through the test as the actuator was told, step after step."""

    steps: tuple[Step, ...]
    duration: float

    @classmethod
    def planned(cls, past_yield: tuple[float, ...], scale: float) -> "Protocol":
        """Seating, steps to yield with one unloading, ``past_yield`` loads [N], unloading.

        ``scale`` shortens every stretch alike; the quiet ends never fall below 20 s.
        """
        quiet = max(180.0 * scale, 20.0)
        steps = [Step("quiet before", 0.0, 0.0, 0.0, quiet)]

        def go(label: str, kilonewton: float, ramp: float, hold: float) -> None:
            begins = steps[-1].ends
            ends = begins + ramp * scale
            steps.append(Step(label, kilonewton * 1e3, begins, ends, ends + hold * scale))

        for cycle in (1, 2, 3):
            go(f"seating {cycle} up", 18.0, 20.0, 12.0)
            go(f"seating {cycle} down", 0.0, 20.0, 12.0)
        go("after seating", 0.0, 1.0, max(60.0, 10.0 / scale))
        for kilonewton in (25.0, 45.0, 70.0, 100.0, 130.0, 160.0):
            go(f"{kilonewton:.0f} kN", kilonewton, 30.0, 105.0)
        go("unload to 20 kN", 20.0, 50.0, 40.0)
        go("reload to 160 kN", 160.0, 60.0, 60.0)
        for kilonewton in (190.0, 215.0, 232.0, 243.0):
            go(f"{kilonewton:.0f} kN", kilonewton, 30.0, 105.0)
        for number, load in enumerate(past_yield, start=1):
            go(f"past yield {number}", load / 1e3, 90.0, 110.0)
        go("unload", 0.0, 100.0, 60.0)
        last = steps[-1].ends
        steps.append(Step("quiet after", 0.0, last, last, last + quiet))
        return cls(tuple(steps), last + quiet)

    def load(self, seconds: FloatArray, scale: float) -> FloatArray:
        """Load with a slight fall while the stroke is held [N]."""
        times, loads = [0.0], [0.0]
        for step in self.steps:
            times += [max(step.ramp_ends, times[-1] + 1e-6), step.ends]
            loads += [step.load, step.load]
        load = np.interp(seconds, times, loads)
        for step in self.steps:
            if step.load > 20e3 and step.ends > step.ramp_ends:
                held = (seconds >= step.ramp_ends) & (seconds < step.ends)
                since = np.where(held, seconds - step.ramp_ends, 0.0)
                load = load - np.where(
                    held, 0.007 * step.load * (1 - np.exp(-since / (25.0 * scale))), 0.0
                )
        # The next ramp begins where the fall ended.
        return _joined(load, seconds, self.steps, scale)

    def pulses(self) -> tuple[float, float]:
        """Beginnings of the trigger pulses [s]."""
        return _FIRST_PULSE, self.duration - _FIRST_PULSE - sum(PULSE)

    def step_named(self, label: str) -> Step:
        """One stretch by its label."""
        return next(step for step in self.steps if step.label == label)


def _joined(
    load: FloatArray, seconds: FloatArray, steps: tuple[Step, ...], scale: float
) -> FloatArray:
    """Load without a jump where a hold hands over to the next ramp."""
    joined = load.copy()
    for before, after in itertools.pairwise(steps):
        if before.load > 20e3 and before.ends > before.ramp_ends:
            fallen = (
                0.007
                * before.load
                * (1 - np.exp(-(before.ends - before.ramp_ends) / (25.0 * scale)))
            )
            ramp = (seconds >= after.begins) & (seconds < after.ramp_ends)
            length = max(after.ramp_ends - after.begins, 1e-6)
            joined -= np.where(ramp, fallen * (after.ramp_ends - seconds) / length, 0.0)
    return joined


def at_second(begin: datetime, seconds: float) -> datetime:
    """Instant so many seconds after ``begin``, to the microsecond."""
    return begin + timedelta(microseconds=round(seconds * 1e6))
