"""What is a fault finder told: causes with ranges and priors, readings, meters, allowances."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from itertools import combinations

import numpy as np

from gaugewright.calc.diagnosis_circuit import LOGARITHMIC
from gaugewright.calc.diagnosis_harness import EVERY_ELEMENT, EVERY_READING
from gaugewright.calc.leads import COPPER_TEMPERATURE_COEFFICIENT
from gaugewright.errors import InputError

__all__ = [
    "HEALTHY",
    "NONE_OF_THESE",
    "Allowances",
    "Cause",
    "Effort",
    "Range",
    "Reading",
    "ReadingError",
    "Sign",
    "at_the_floor",
    "with_pairs",
]

HEALTHY = "healthy"
NONE_OF_THESE = "none of these"


@dataclass(frozen=True, slots=True)
class Range:
    """Between which values an element of the circuit lies if a cause is true.

    ``even_in`` says whether values are as likely per unit or per decade of it.
    """

    element: str
    low: float
    high: float
    even_in: str = "logarithm"

    def __post_init__(self) -> None:
        if self.element not in EVERY_ELEMENT:
            raise InputError("element", self.element, "one of " + ", ".join(sorted(EVERY_ELEMENT)))
        if self.even_in not in ("logarithm", "value"):
            raise InputError("even_in", self.even_in, "logarithm or value")
        if not self.low <= self.high or not np.isfinite([self.low, self.high]).all():
            raise InputError("high", self.high, f"no less than low ({self.low}), both finite")
        if self.even_in == "logarithm" and self.low <= 0:
            raise InputError("low", self.low, "above 0 where the logarithm is even")


@dataclass(frozen=True, slots=True)
class Cause:
    """One thing that may be so.

    Attributes
    ----------
    label, family : str
        What people call it, and the kind of thing it is (electrical, thermal, setting ...).
    prior : float
        How often it is met among gauges that are looked at, before anything is read [1].
    source : str
        Where prior and ranges come from.
    ranges : tuple of Range
        What it does to the circuit; nothing for a cause that no meter sees.
    pins : str
        Pins of the plug where leads A, B and C arrive; with more wires, their names in the order
        of the harness, with blanks between.
    floats : bool
        The signal input hangs free: the bridge may read anything.
    signs : mapping of sign to float
        How often the sign is seen when this is the cause [1].
    symptom, check, remedy : str
        For a person.
    pairs : bool
        Common enough to be met together with another such cause.
    from_the_start : bool
        There from the first gate on or not at all, such as a gauge of another resistance.
    parts : tuple of str
        Labels of the causes this one is made of.
    """

    label: str
    family: str
    prior: float
    source: str
    ranges: tuple[Range, ...] = ()
    pins: str = "ABC"
    floats: bool = False
    signs: Mapping[str, float] = field(default_factory=dict)
    symptom: str = ""
    check: str = ""
    remedy: str = ""
    pairs: bool = False
    from_the_start: bool = False
    parts: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if not self.label.strip():
            raise InputError("label", self.label, "given")
        if not 0 < self.prior <= 1:
            raise InputError(f"prior of {self.label}", self.prior, "above 0, 1 at most")
        for name, often in self.signs.items():
            if not 0 < often < 1:
                raise InputError(f"sign {name} of {self.label}", often, "between 0 and 1")
        names = [one.element for one in self.ranges]
        if len(set(names)) != len(names):
            raise InputError(f"ranges of {self.label}", ", ".join(names), "one for each element")


@dataclass(frozen=True, slots=True)
class Sign:
    """Something seen without a number: how often it is seen where nothing causes it [1]."""

    name: str
    by_chance: float
    minutes: float
    how: str = ""

    def __post_init__(self) -> None:
        if not 0 < self.by_chance < 1:
            raise InputError(f"chance of {self.name}", self.by_chance, "between 0 and 1")
        if not self.minutes > 0:
            raise InputError(f"minutes of {self.name}", self.minutes, "above 0")


@dataclass(frozen=True, slots=True)
class Effort:
    """How long a reading takes [min], what it needs, and how it is taken."""

    what: str
    minutes: float
    needs: str = ""
    how: str = ""

    def __post_init__(self) -> None:
        if self.what not in EVERY_READING:
            raise InputError("what", self.what, "one of " + ", ".join(EVERY_READING))
        if not self.minutes > 0:
            raise InputError(f"minutes of {self.what}", self.minutes, "above 0")


@dataclass(frozen=True, slots=True)
class ReadingError:
    """How far a meter may be off: limits of error, in the unit of the reading; half of it shared.

    ``share`` of the reading and ``fixed`` are limits that every reading of one meter has in
    common; ``resolution`` is a digit and ``scatter`` a standard deviation of each reading alone.
    """

    share: float
    fixed: float
    resolution: float = 0.0
    scatter: float = 0.0
    highest: float = np.inf

    def __post_init__(self) -> None:
        for name in ("share", "fixed", "resolution", "scatter"):
            if not 0 <= getattr(self, name) < np.inf:
                raise InputError(name, getattr(self, name), "0 or more")
        if self.share == self.fixed == self.resolution == self.scatter == 0:
            raise InputError("reading error", 0.0, "above 0 in one part at least")


@dataclass(frozen=True, slots=True)
class Reading:
    """One reading: a value, or with ``bound`` ``above`` or ``below`` only a limit of it.

    Give ``open`` as above the end of the meter's range. ``degc`` is the temperature of cable
    and gauge, where known.
    """

    what: str
    value: float
    error: ReadingError
    bound: str = ""
    degc: float | None = None

    def __post_init__(self) -> None:
        if self.what not in EVERY_READING:
            raise InputError("what", self.what, "one of " + ", ".join(EVERY_READING))
        if not np.isfinite(self.value):
            raise InputError(self.what, self.value, "finite; give open as above the meter's end")
        if self.bound not in ("", "above", "below"):
            raise InputError("bound", self.bound, "above, below or left out")
        if self.what in LOGARITHMIC and self.value <= 0:
            say = "give 0 as below the meter's digit"
            raise InputError(self.what, self.value, "above 0", say)


@dataclass(frozen=True, slots=True)
class Allowances:
    """How much a sound gauge may be off what its records say: standard deviations.

    Attributes
    ----------
    grid : float
        Of the grid from nominal, relative, bonding and strain at hand included [1].
    grid_between_gates : float
        Of the grid from one gate to another, relative [1].
    lead : float
        Of all three wires together, relative: length, size, temperature [1].
    lead_alone : float
        Of one wire from the others [ohm].
    late_start : float
        How much rarer a cause is after a gate was passed that would have shown it, if it is
        there from the start or not at all: the gate's readings may have been another gauge's [1].
    together : float
        How many times more often two faults meet than chance would have it: bad work and rough
        handling seldom come alone [1].
    sure : float
        How often what is told as certain was right on benches that aren't those of any test: the
        rest were faults in no list, or two of which one was found. Shares shown are times this [1].
    completion : float
        Of the fixed arms from each other, relative [1].
    insulation_decades, insulation_scatter : float
        Middle and spread of the logarithm to ten of a sound insulation in ohm [1].
    copper, copper_scatter : float
        Temperature coefficient of a wire, and its doubt [1/K].
    degc : float
        Of a temperature as noted at a gate [K].
    """

    grid: float = 0.003
    grid_between_gates: float = 0.0003
    lead: float = 0.05
    lead_alone: float = 0.02
    late_start: float = 0.02
    together: float = 3.0
    sure: float = 0.97
    completion: float = 0.0005
    insulation_decades: float = 10.3
    insulation_scatter: float = 0.7
    copper: float = COPPER_TEMPERATURE_COEFFICIENT.value
    copper_scatter: float = 0.0001
    degc: float = 3.0


def at_the_floor(reading: Reading) -> Reading:
    """The same reading, or a bound where it lies at the lower end of what an insulation meter sees.

    Within three of its fixed errors and digits such a reading only says below.
    """
    error = reading.error
    floor = error.fixed + error.resolution
    if reading.bound or reading.what not in LOGARITHMIC or reading.value > 3 * floor:
        return reading
    return replace(reading, value=reading.value + floor, bound="below")


def with_pairs(causes: tuple[Cause, ...], allowances: Allowances) -> tuple[Cause, ...]:
    """Causes, and every two of the common ones at once where both can be.

    Parameters
    ----------
    causes : tuple of Cause
        Single ones.
    allowances : Allowances
        With how many times more often two meet than chance would have it.

    Returns
    -------
    tuple of Cause
        Two causes that need the same element otherwise than in the middle are left out.
    """
    common = [cause for cause in causes if cause.pairs]
    doubles = []
    for first, second in combinations(common, 2):
        names = {one.element for one in first.ranges}
        later = tuple(one for one in second.ranges if one.element not in names)
        if ({one.element for one in second.ranges} - {"at"}) & names or first.pins != second.pins:
            continue
        doubles.append(
            Cause(
                f"{first.label} and {second.label}",
                "two at once",
                min(1.0, allowances.together * first.prior * second.prior),
                f"product of both priors, times {allowances.together:g}",
                (*first.ranges, *later),
                first.pins,
                first.floats or second.floats,
                {**second.signs, **first.signs},
                check=f"{first.check}; {second.check}",
                remedy=f"{first.remedy}; {second.remedy}",
                parts=(first.label, second.label),
            )
        )
    return (*causes, *doubles)
