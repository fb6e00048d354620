"""Which channel answered when a gauge was touched: proof that a label belongs to its wires."""

import enum
from dataclasses import dataclass
from datetime import datetime

from gaugewright.errors import InputError
from gaugewright.records.identity import Uid

__all__ = ["IdentityProof", "Stimulus"]


class Stimulus(enum.Enum):
    """What was done to a gauge so that its channel shows it; ``LEADS`` once it is out of reach."""

    TOUCHED = "touched"
    WARMED = "warmed"
    PRESSED = "pressed"
    LEADS = "told by its leads"


@dataclass(frozen=True, slots=True)
class IdentityProof:
    """One gauge, what was done to it, and the channels that moved, the one that moved most first.

    Any transient counts and its sign never does: a matched gauge warmed with its metal hardly
    moves, a grid warmed alone may go either way. ``change`` is the largest departure in bridge
    ratio and ``noise`` that of the channel, where they were found in a recording; ``moved`` is
    empty where nothing moved.
    """

    gauge: Uid
    stimulus: Stimulus
    moved: tuple[Uid, ...]
    measured: datetime
    recording: Uid | None = None
    change: float | None = None
    noise: float | None = None
    note: str = ""

    def __post_init__(self) -> None:
        if len(set(self.moved)) != len(self.moved):
            raise InputError("moved", self.moved, "each channel once")
        if self.stimulus is Stimulus.LEADS and len(self.moved) != 1:
            raise InputError("moved", self.moved, "the one channel whose leads were compared")
