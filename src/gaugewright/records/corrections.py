"""What a person decided about a correction: which stage, on or off, why, and with what numbers."""

from dataclasses import dataclass

from gaugewright.errors import InputError
from gaugewright.records.identity import Uid
from gaugewright.records.stated import Stated, check_label

__all__ = ["StageNumber", "StageSwitch"]


@dataclass(frozen=True, slots=True)
class StageNumber:
    """A number that a stage needs and no other record holds, in the stage's own unit."""

    name: str
    stated: Stated

    def __post_init__(self) -> None:
        check_label("name", self.name)


@dataclass(frozen=True, slots=True)
class StageSwitch:
    """A stage of the correction chain turned on or off by a person, for some circuits or all.

    ``stage`` is a kind with its number, such as ``drift, between two zeros@1``. Numbers that the
    records around the circuit don't hold stand in ``numbers``; ``beside`` is the temperature
    point or the unloaded circuit that a stage reads beside the gauge. A stage turned on takes
    the place of the one that does the same, which stays in the chain, off, with this reason.
    """

    label: str
    stage: str
    on: bool
    reason: str
    circuits: tuple[Uid, ...] = ()
    numbers: tuple[StageNumber, ...] = ()
    beside: Uid | None = None

    def __post_init__(self) -> None:
        check_label("label", self.label)
        check_label("stage", self.stage)
        if not self.reason.strip():
            raise InputError("reason", self.reason, "why this stage is on or off, in words")
        names = [number.name for number in self.numbers]
        if len(set(names)) != len(names):
            raise InputError("numbers", names, "each name once")
