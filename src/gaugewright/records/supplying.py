"""What a bench uses up: how much for each gauge or lead, and what stands on the shelf."""

import enum
from dataclasses import dataclass
from datetime import date

from gaugewright.errors import InputError
from gaugewright.records.stated import check_label, check_positive

__all__ = ["OnShelf", "Per", "SupplyRate"]


class Per(enum.Enum):
    """What a rate counts by."""

    GAUGE = "gauge"
    LEAD = "lead"
    LEAD_METRE = "metre of lead"
    CABLE = "metre of cable"
    TAG = "tag"
    METER = "meter"
    CAMPAIGN = "campaign"


@dataclass(frozen=True, slots=True)
class SupplyRate:
    """How much of something is used: ``amount`` in ``unit`` for each of what it counts by.

    ``step`` is the word by which the steps of a bench method name it: it is counted for gauges
    whose method has such a step, for every gauge where it is empty. ``adhesives`` and
    ``protections`` are families it belongs to, every one where they are empty. ``package`` is what
    one package holds, ``until`` whether it must be in date at "bonding" or still at the "pour".
    """

    label: str
    per: Per
    amount: float
    unit: str
    source: str
    package: float | None = None
    step: str = ""
    adhesives: tuple[str, ...] = ()
    protections: tuple[str, ...] = ()
    until: str = ""
    note: str = ""

    def __post_init__(self) -> None:
        check_label("label", self.label)
        check_positive("amount", self.amount)
        if self.package is not None:
            check_positive("package", self.package)
        if self.until not in ("", "bonding", "pour"):
            raise InputError("until", self.until, "bonding, pour, or empty")
        if not self.source.strip():
            raise InputError("source", self.source, "given: own counts, or “common practice”")


@dataclass(frozen=True, slots=True)
class OnShelf:
    """So much of a supply is on the shelf, in the unit of its rate; 0 when it is used up."""

    label: str
    amount: float
    batch: str = ""
    expires: date | None = None

    def __post_init__(self) -> None:
        check_label("label", self.label)
        if not 0 <= self.amount < float("inf"):
            raise InputError("amount", self.amount, "0 or more")
