"""What a plan reckons with when gauges are lost: alone, with their bundle, with their bar."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from gaugewright.calc.answer_chance import Needed, SharedFate, answer_chance
from gaugewright.errors import InputError
from gaugewright.records import Entry
from gaugewright.records.electrical import Lead
from gaugewright.records.gauges import Gauge
from gaugewright.records.identity import Uid
from gaugewright.records.specimen import Specimen, SpecimenKind
from gaugewright.services.campaign.book import Book
from gaugewright.services.campaign.laboratory import limit_or_shipped
from gaugewright.services.laboratory.survival_lab import CommonLoss, LabSurvival, lab_survival
from gaugewright.services.plan.answers import PlannedAnswer
from gaugewright.services.plan.book import ONE_BUNDLE, PlanBook
from gaugewright.settings import Settings

__all__ = ["Losses", "chance_of", "fates_of", "losses_of"]

_ALONE = {
    SpecimenKind.CAST_MEMBER: "survival of the pour, practised",
}
_BARE = "survival on bare metal"
_GROUPS = {"bundle": "loss of a bundle", "bar": "loss of a bar"}


@dataclass(frozen=True, slots=True)
class Losses:
    """Survival of a gauge by the kind of its specimen, losses in common, and whence both.

    ``words`` says for each where it comes from; ``is_assumed`` that something wasn't counted.
    """

    alone: Mapping[str, float]
    common: Mapping[str, float]
    words: tuple[str, ...]
    is_assumed: bool

    def of_gauge(self, book: Book, gauge: Entry[Gauge]) -> float:
        """Chance that a gauge comes through by itself."""
        specimen = book.entry(book.bar_of(gauge).record.specimen, Specimen)
        return self.alone[specimen.record.kind.value]


def losses_of(settings: Settings | None, book: Book) -> Losses:
    """Losses as the laboratory counted them; by limits of the campaign where it hasn't."""
    kinds = {entry.record.kind for entry in book.of(Specimen)}
    alone, words, assumed = dict[str, float](), list[str](), False
    common: dict[str, float] = {}
    counted: LabSurvival | None = None
    for kind in sorted(kinds, key=lambda kind: kind.value):
        found = _counted(settings, kind.value)
        if found is None:
            limit = limit_or_shipped(book, _ALONE.get(kind, _BARE))
            alone[kind.value] = limit.value
            words.append(f"{kind.value}: {limit.value:.3g} a gauge, limit “{limit.label}”, assumed")
            assumed = True
        else:
            counted = found
            chance = found.through
            alone[kind.value] = chance.probability
            words.append(
                f"{kind.value}: {chance.probability:.3g} a gauge ({chance.low:.2f} to "
                f"{chance.high:.2f}), laboratory's own, {', '.join(found.campaigns)}"
            )
    for group, label in _GROUPS.items():
        own = None if counted is None else _common(counted, group)
        if own is None:
            limit = limit_or_shipped(book, label)
            common[group] = limit.value
            words.append(f"whole {group} lost: {limit.value:.3g}, limit “{label}”, assumed")
            assumed = True
        else:
            common[group] = own.whole_group.probability
            words.append(
                f"whole {group} lost: {own.whole_group.probability:.3g}, laboratory's own, "
                f"{own.wholly_lost} of {own.groups}"
            )
    return Losses(alone, common, tuple(words), assumed)


def _counted(settings: Settings | None, kind: str) -> LabSurvival | None:
    """Survival that the laboratory published for a kind of specimen; None without any."""
    if settings is None or not settings["laboratory"]:
        return None
    try:
        return lab_survival(settings, specimen=kind)
    except InputError:
        return None  # nothing published for gauges alike: told as assumed


def _common(found: LabSurvival, kind: str) -> CommonLoss | None:
    return next((one for one in found.common if one.kind == kind and one.groups), None)


def fates_of(
    plan: PlanBook,
    gauges: Sequence[Entry[Gauge]],
    losses: Losses,
    bundles: Mapping[Uid, str] | None = None,
) -> tuple[SharedFate, ...]:
    """Bundles and bars that some gauges share; ``bundles`` gives some another bundle, by uid."""
    groups: dict[tuple[str, str], list[int]] = {}
    for number, gauge in enumerate(gauges):
        bundle = (bundles or {}).get(gauge.uid) or bundle_of(plan, gauge)
        groups.setdefault(("bundle", bundle), []).append(number)
        groups.setdefault(("bar", plan.book.bar_of(gauge).uid), []).append(number)
    return tuple(
        SharedFate(1 - losses.common[kind], tuple(members)) for (kind, _), members in groups.items()
    )


def bundle_of(plan: PlanBook, gauge: Entry[Gauge]) -> str:
    """Bundle a gauge's lead runs in; one for all where nobody named any."""
    circuit = plan.circuits[gauge.uid]
    return plan.book.entry(circuit.record.lead, Lead).record.bundle or ONE_BUNDLE


def chance_of(
    plan: PlanBook,
    answer: PlannedAnswer,
    losses: Losses,
    *,
    needed: Needed | None = None,
    bundles: Mapping[Uid, str] | None = None,
) -> float | None:
    """Chance that a question can still be answered; None where nothing can be said of it."""
    wanted = needed or answer.needed
    if wanted is None:
        return None
    alone = [losses.of_gauge(plan.book, gauge) for gauge in answer.gauges]
    return answer_chance(wanted, alone, fates_of(plan, answer.gauges, losses, bundles))
