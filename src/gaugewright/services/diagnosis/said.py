"""A diagnosis in words: evidence first, then groups of causes, then what to read next."""

from collections.abc import Iterator
from dataclasses import dataclass

from gaugewright.calc.diagnosis import Group
from gaugewright.calc.diagnosis_causes import HEALTHY, NONE_OF_THESE
from gaugewright.calc.diagnosis_templates import reading_shown
from gaugewright.services.diagnosis.diagnosing import Look
from gaugewright.services.diagnosis.words import estimate_words

__all__ = ["CAUTION", "Against", "GroupSaid", "evidence", "groups", "has_share", "standing"]

CAUTION = (
    "Insulation is measured at 50 V or less with the recorder unplugged; that ends the zero. "
    "Local rules, data sheets and licensed people come before this list."
)
MOST = 8
_SHOWN = 4  # groups worth a line


@dataclass(frozen=True, slots=True)
class Against:
    """What one reading excludes, each cause with by how many standard uncertainties."""

    what: str
    typed: str
    causes: tuple[str, ...]
    more: int


@dataclass(frozen=True, slots=True)
class GroupSaid:
    """Causes that can't be told apart; ``share`` is empty where no percentage stands."""

    label: str
    others: tuple[str, ...]
    share: str
    amounts: str
    remedy: str
    check: str


def evidence(look: Look) -> tuple[Against, ...]:
    """Which reading excludes which single causes, the commonest first."""
    typed = {one.reading.what: one.typed for one in look.taken}
    by_reading: dict[str, list[str]] = {}
    excluded = [one for one in look.diagnosis.ranked if one.excluded and not one.cause.parts]
    for one in sorted(excluded, key=lambda one: -one.cause.prior):
        if one.against is not None:
            far = one.against.standard_uncertainties
            size = f"{far:.0f}" if far < 1000 else "over 1000"
            by_reading.setdefault(one.against.what, []).append(f"{one.cause.label} by {size}")
    return tuple(
        Against(
            reading_shown(what),
            typed.get(what, ""),
            tuple(causes[:MOST]),
            max(len(causes) - MOST, 0),
        )
        for what, causes in by_reading.items()
    )


def groups(look: Look) -> tuple[GroupSaid, ...]:
    """Groups worth telling, the likeliest first."""
    found = []
    for place, group in enumerate(look.diagnosis.groups[:_SHOWN]):
        if place and group.weight < 1e-3:
            break
        first = group.causes[0]
        amounts = [estimate_words(one, look.cable_length) for one in first.estimates]
        remedy = "" if first.cause.remedy == "none" else first.cause.remedy
        found.append(
            GroupSaid(
                first.cause.label,
                tuple(one.cause.label for one in group.named[1:]),
                _percent(look, group) if has_share(look, group) else "",
                "; ".join(filter(None, amounts)),
                remedy,
                first.cause.check,
            )
        )
    return tuple(found)


def has_share(look: Look, group: Group) -> bool:
    """Whether a percentage stands: never for healthy, as no reading shows what it can't see."""
    first = look.diagnosis.first.label
    neither = (HEALTHY, NONE_OF_THESE)
    return look.diagnosis.settled and first not in neither and group.label != HEALTHY


def _percent(look: Look, group: Group) -> str:
    """Share of a group, less what known faults leave to those in no list."""
    weight = group.weight * look.faults.allowances.sure
    return "under 1 %" if weight < 0.01 else f"{100 * weight:.0f} %"


def standing(look: Look) -> Iterator[str]:
    """What the order stands on, and what wasn't weighed; one sentence each."""
    told, sure = look.diagnosis, look.faults.allowances.sure
    first = told.first.label
    if told.settled and first == HEALTHY:
        yield (
            "It stays first with each prior times or over three; no percentage is given for "
            "healthy: what these readings can't show isn't in it."
        )
    elif first == NONE_OF_THESE:
        yield (
            "No known fault gives these readings: read them again with the probes exchanged, then "
            "with another meter. It gets no percentage, for nobody knows how often that is so."
        )
    elif told.settled:
        yield (
            "Percentages hold with the priors of faults.toml, from memory unless your laboratory "
            "counted; the first stays first with each times or over three. None is above "
            f"{100 * sure:.0f} %: of faults drawn for a trial that were told as certain, the rest "
            "were two at once, or none of the list."
        )
    else:
        yield "No percentage: with priors times or over three another could be first."
    names = [one.cause.label for one in told.unseen if not one.cause.parts]
    if names:
        yield (
            f"These readings speak neither for nor against {len(names)} others, such as "
            + ", ".join(names[:MOST])
            + "."
        )
    if look.grids:
        yield "; ".join(f"Grid {number} is {label}" for number, label in look.grids.items()) + "."
