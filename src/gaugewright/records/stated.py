"""Words that many records share: a stated value with its doubt, where it came from, states."""

import enum
import math
from dataclasses import dataclass

from gaugewright.errors import InputError

__all__ = [
    "Basis",
    "Meaning",
    "State",
    "Stated",
    "check_finite",
    "check_label",
    "check_positive",
    "check_seconds",
]

_LONGEST = 100 * 86400.0  # s: no step of work takes so long; more was typed in another unit


class Basis(enum.Enum):
    """Where a number came from. What nobody measured or typed is *assumed*, and shown so."""

    MEASURED = "measured"
    STATED = "stated"
    CALCULATED = "calculated"
    ASSUMED = "assumed"


class Meaning(enum.Enum):
    """What a plus-minus means; unknown is taken as a rectangular limit."""

    ONE_SIGMA = "k=1"
    TWO_SIGMA = "k=2"
    THREE_SIGMA = "k=3"
    LIMIT = "limit"
    TRIANGULAR = "triangular"
    UNKNOWN = "unknown"


class State(enum.Enum):
    """The one scale of states, of a gauge and of what is asked of it."""

    SOUND = "sound"
    WATCH = "watch"
    REPAIR = "repair"
    DOUBTFUL = "doubtful"
    LOST = "lost"
    NOT_YET = "not yet"


@dataclass(frozen=True, slots=True)
class Stated:
    """A value as stated: card, certificate, drawing or own measurement.

    ``plus_minus`` is in the unit of ``value`` and None when nothing was said about it;
    ``degrees_of_freedom`` is None when unlimited or unknown.
    """

    value: float
    plus_minus: float | None = None
    meaning: Meaning = Meaning.UNKNOWN
    basis: Basis = Basis.STATED
    source: str = ""
    degrees_of_freedom: float | None = None

    def __post_init__(self) -> None:
        check_finite("value", self.value)
        if self.plus_minus is not None:
            check_finite("plus_minus", self.plus_minus)
            if self.plus_minus < 0:
                raise InputError("plus_minus", self.plus_minus, "0 or more")
        if self.degrees_of_freedom is not None and not self.degrees_of_freedom > 0:
            raise InputError("degrees_of_freedom", self.degrees_of_freedom, "a positive number")


def check_finite(name: str, value: float) -> None:
    """Refuse a number that isn't finite.

    Raises
    ------
    InputError
        Naming the field.
    """
    if not math.isfinite(value):
        raise InputError(name, value, "a finite number")


def check_positive(name: str, value: float) -> None:
    """Refuse a number that isn't finite and above zero.

    Raises
    ------
    InputError
        Naming the field.
    """
    if not (math.isfinite(value) and value > 0):
        raise InputError(name, value, "a positive number")


def check_seconds(name: str, value: float) -> None:
    """Refuse a span of work that is negative, or so long that it was meant in another unit.

    Raises
    ------
    InputError
        Naming the field.
    """
    if not 0 <= value < _LONGEST:
        raise InputError(name, value, "from 0 to below 100 days, in s")


def check_label(name: str, value: str) -> None:
    """Refuse a label that is empty, too long, or has line breaks in it.

    Raises
    ------
    InputError
        Naming the field.
    """
    if not value.strip() or len(value) > 80 or any(ord(c) < 32 or ord(c) == 127 for c in value):
        raise InputError(name, value, "1 to 80 characters on one line")
