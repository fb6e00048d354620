"""How a specimen is to be loaded, as it was planned: what predictions are made for."""

from dataclasses import dataclass

from gaugewright.errors import InputError
from gaugewright.records.identity import Uid
from gaugewright.records.stated import check_finite, check_label

__all__ = ["PlannedStep", "Protocol"]


@dataclass(frozen=True, slots=True)
class PlannedStep:
    """One step of a protocol: the load to be reached [N], and how, in words."""

    label: str
    load: float
    note: str = ""

    def __post_init__(self) -> None:
        check_label("label", self.label)
        check_finite("load", self.load)


@dataclass(frozen=True, slots=True)
class Protocol:
    """Steps in the order in which they are planned; the load is what the load cell is to read."""

    label: str
    specimen: Uid
    steps: tuple[PlannedStep, ...]
    note: str = ""

    def __post_init__(self) -> None:
        check_label("label", self.label)
        if not self.steps:
            raise InputError("steps", 0, "one step or more")
        labels = [step.label for step in self.steps]
        twice = next((label for label in labels if labels.count(label) > 1), None)
        if twice is not None:
            raise InputError("steps", twice, "each step's name once")
