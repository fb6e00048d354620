"""Links from one moment of a test to the next: the way through it that needs no script."""

from dataclasses import dataclass
from urllib.parse import urlencode

from gaugewright.errors import InputError
from gaugewright.records.proof import ZeroKind
from gaugewright.services.loading.moments import Moment

__all__ = ["MomentLink", "MomentLinks", "ZeroLink", "moment_links", "zero_links", "zero_named"]


@dataclass(frozen=True, slots=True)
class MomentLink:
    """A moment by its label and address."""

    label: str
    url: str
    is_here: bool


@dataclass(frozen=True, slots=True)
class MomentLinks:
    """Every moment, and the ones before and after the one that is shown."""

    every: tuple[MomentLink, ...]
    earlier: MomentLink | None
    later: MomentLink | None


def moment_links(
    every: tuple[Moment, ...], here: Moment, url: str, kept: dict[str, str]
) -> MomentLinks:
    """Links to every moment; ``kept`` is what the address goes on to say."""
    links = tuple(
        MomentLink(
            moment.label, f"{url}?{urlencode({'at': moment.key, **kept})}", moment.key == here.key
        )
        for moment in every
    )
    before = [n for n, moment in enumerate(every) if moment.first < here.first]
    after = [n for n, moment in enumerate(every) if moment.first > here.first]
    return MomentLinks(
        links, links[before[-1]] if before else None, links[after[0]] if after else None
    )


@dataclass(frozen=True, slots=True)
class ZeroLink:
    """Another zero that strain can count from."""

    words: str
    url: str
    is_here: bool


def zero_links(
    kinds: tuple[ZeroKind, ...], here: ZeroKind, url: str, at: str
) -> tuple[ZeroLink, ...]:
    """Links to the same moment counted from other zeros."""
    return tuple(
        ZeroLink(
            f"since {kind.value}",
            f"{url}?{urlencode({'at': at, 'zero': kind.value})}#shown",
            kind is here,
        )
        for kind in kinds
    )


def zero_named(text: str) -> ZeroKind:
    """Zero that an address names; before the test where it names none.

    Raises
    ------
    InputError
        If there is no such zero.
    """
    for kind in ZeroKind:
        if text in (kind.value, ""):
            return kind if text else ZeroKind.BEFORE_TEST
    raise InputError("zero", text, "one of " + ", ".join(kind.value for kind in ZeroKind))
