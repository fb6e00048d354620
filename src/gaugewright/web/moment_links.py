"""Links from one moment of a test to the next: the way through it that needs no script."""

from dataclasses import dataclass
from urllib.parse import urlencode

from gaugewright.services.moments import Moment

__all__ = ["MomentLink", "MomentLinks", "moment_links"]


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
