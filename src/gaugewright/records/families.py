"""Families of adhesive and protection in general words, as a laboratory states them."""

from dataclasses import dataclass

from gaugewright.errors import InputError
from gaugewright.records.stated import check_label, check_positive

__all__ = ["ENVIRONMENTS", "Adhesive", "Coating"]

ENVIRONMENTS = ("dry hall", "humid hall", "in concrete", "under water")


@dataclass(frozen=True, slots=True)
class Adhesive:
    """A family of adhesive: what it bears and how long it takes.

    ``limit`` names the campaign's limit of strain for it; ``curing`` is the time until it may be
    strained [s] at ``cure_degc`` [degC]; ``low_degc`` and ``high_degc`` bound the temperature of
    its work and service, ``longest`` the time it is used for [s]; None where nobody says.
    """

    label: str
    limit: str
    curing: float
    cure_degc: float
    source: str
    low_degc: float | None = None
    high_degc: float | None = None
    longest: float | None = None
    note: str = ""

    def __post_init__(self) -> None:
        check_label("label", self.label)
        check_label("limit", self.limit)
        check_positive("curing", self.curing)
        _check(self.source, self.longest)


@dataclass(frozen=True, slots=True)
class Coating:
    """A family of protection: where it holds, for how long, how hot and how far strained."""

    label: str
    environments: tuple[str, ...]
    source: str
    longest: float | None = None
    high_degc: float | None = None
    strain_limit: float | None = None
    note: str = ""

    def __post_init__(self) -> None:
        check_label("label", self.label)
        unknown = [each for each in self.environments if each not in ENVIRONMENTS]
        if unknown or not self.environments:
            raise InputError("environments", unknown, "some of " + ", ".join(ENVIRONMENTS))
        _check(self.source, self.longest)


def _check(source: str, longest: float | None) -> None:
    if not source.strip():
        raise InputError("source", source, "given: a data sheet, or “common practice, no source”")
    if longest is not None:
        check_positive("longest", longest)
