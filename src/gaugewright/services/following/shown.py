"""What a test being followed looks like at one instant: plain values for a page or a line."""

import enum
from dataclasses import dataclass
from datetime import datetime

from gaugewright.records.stated import State

__all__ = [
    "ADVISORY",
    "FileAccount",
    "HoldNow",
    "Live",
    "Notice",
    "Settled",
    "SourceNow",
    "Tile",
    "Yield",
]

ADVISORY = (
    "advisory only: what is followed is no record, and a strain reading is never a safety device"
)


class Yield(enum.Enum):
    """Where a strain stands against the strain at yield, both with their doubt."""

    NONE = ""
    BELOW = "below yield"
    NEAR = "approaching yield"
    PERHAPS = "may have passed yield"
    PASSED = "passed yield"


class Settled(enum.Enum):
    """Whether a hold has gone on until the gauges stand still."""

    NO_LOAD = "no load in this file"
    MOVING = "the load moves"
    TOO_SHORT = "too early to tell"
    NOT_YET = "not settled"
    SETTLED = "settled"


@dataclass(frozen=True, slots=True)
class Notice:
    """Something a person at the test should know; ``gauge`` is a label or "" for all."""

    at: datetime
    gauge: str
    kind: str
    words: str
    is_loss: bool = False


@dataclass(frozen=True, slots=True)
class Tile:
    """One gauge, or the mean of an opposite pair, now; strains without unit.

    ``strain`` is the mean of the last second since the zero before the test, ``doubt`` its
    expanded uncertainty at 95 %; ``bending`` is half of the first gauge less the second.
    ``trend`` is in 1/s with its standard error; ``share`` that of the strain at yield. None where
    it isn't known, then ``why`` says it.
    """

    label: str
    gauges: tuple[str, ...]
    station: str
    state: State
    strain: float | None
    doubt: float | None
    bending: float | None
    predicted: float | None
    predicted_doubt: float | None
    share: float | None
    watch: Yield
    trend: float | None
    trend_error: float | None
    why: str


@dataclass(frozen=True, slots=True)
class HoldNow:
    """The hold that goes on, and whether it has settled; ``begins`` in campaign seconds."""

    verdict: Settled
    words: str
    begins: float | None = None
    seconds: float | None = None
    load: float | None = None


@dataclass(frozen=True, slots=True)
class FileAccount:
    """Rows followed of one file, and the hash of their numbers in order.

    ``is_whole`` is false where the file was begun anew by its recorder: its rows are gone;
    ``source`` is the number of its recorder among those followed together.
    """

    path: str
    rows: int
    reported: int
    sha256: str
    is_whole: bool = True
    source: int = 0


@dataclass(frozen=True, slots=True)
class SourceNow:
    """One recorder that is followed, as it stands.

    ``behind`` is how long before now the newest row was [s] by the clock described in ``clock``,
    ``offset`` the smallest of that so far: the least time from recorder to here and what the two
    clocks differ by, together. ``quiet`` is how long nothing new has come [s].
    """

    recorder: str
    place: str
    file: str
    standing: str
    rows: int
    reported: int
    row_at: datetime | None
    behind: float | None
    offset: float | None
    quiet: float
    clock: str
    is_clock_joined: bool


@dataclass(frozen=True, slots=True)
class Live:
    """A test being followed, as it stands at the instant ``at``.

    ``processing`` is how long this look took, from the files to here [s].
    """

    at: datetime
    sources: tuple[SourceNow, ...]
    processing: float
    load: float | None
    hold: HoldNow
    tiles: tuple[Tile, ...]
    notices: tuple[Notice, ...]
    told: tuple[str, ...]
    accounts: tuple[FileAccount, ...]
    catching_up: bool = False

    @property
    def rows(self) -> int:
        """How many rows were followed, of every recorder together."""
        return sum(source.rows for source in self.sources)

    @property
    def reported(self) -> int:
        """How many lines weren't rows, of every recorder together."""
        return sum(source.reported for source in self.sources)

    @property
    def quiet(self) -> float:
        """How long nothing new has come from any recorder [s]."""
        return min(source.quiet for source in self.sources)
