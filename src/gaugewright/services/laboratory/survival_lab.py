"""What the laboratory's own counts let a plan reckon with: survival gate by gate, common losses."""

from collections.abc import Sequence
from dataclasses import dataclass

from gaugewright.calc.survival_chance import (
    Chance,
    chance_through,
    count_dispersion,
    survival_chance,
)
from gaugewright.errors import InputError
from gaugewright.records.proof import Gate
from gaugewright.services.laboratory.survival_published import (
    FILE,
    TEST,
    Count,
    Counted,
    InCompany,
    published,
)
from gaugewright.settings import Settings

__all__ = ["CommonLoss", "LabSurvival", "StageChance", "lab_survival"]

STAGES = (*(gate.value for gate in Gate), TEST)


@dataclass(frozen=True, slots=True)
class StageChance:
    """One gate, or the test: binomial counts over all campaigns and the chance they leave.

    ``dispersion`` is how much more the campaigns differ than chance would have them, by which
    the counts are worth less; ``by_campaign`` has label, passed and lost of each.
    """

    stage: str
    passed: int
    lost: int
    undecided: int
    repaired: int
    dispersion: float
    chance: Chance
    by_campaign: tuple[tuple[str, int, int], ...]

    @property
    def exposed(self) -> int:
        """Gauges that came to it sound and were decided on."""
        return self.passed + self.lost


@dataclass(frozen=True, slots=True)
class CommonLoss:
    """What gauges lose by sharing a bundle, bar, pack or batch.

    ``whole_group`` is the probability that a group loses all its gauges at once: the c of
    (1 - c)(1 - (1 - p)^n). ``share`` is that of all losses which came with another of the group;
    it errs on the high side, since losses may also meet by chance.
    """

    kind: str
    groups: int
    wholly_lost: int
    losses: int
    together: int
    whole_group: Chance
    share: Chance


@dataclass(frozen=True, slots=True)
class LabSurvival:
    """The laboratory's survival of gauges alike: stages in order of time, common losses.

    ``uncounted`` are stages at which no such gauge was ever decided on: the chance through
    all stages leaves them out.
    """

    campaigns: tuple[str, ...]
    stages: tuple[StageChance, ...]
    common: tuple[CommonLoss, ...]
    uncounted: tuple[str, ...]

    @property
    def through(self) -> Chance:
        """Chance that a gauge comes through every stage that was counted."""
        return self.through_of([one.stage for one in self.stages])

    def through_of(self, stages: Sequence[str]) -> Chance:
        """Chance of coming through some stages, by their names.

        Raises
        ------
        InputError
            If one of them was never counted.
        """
        found = {one.stage: one for one in self.stages}
        for stage in stages:
            if stage not in found:
                known = ", ".join(found)
                raise InputError("stage", stage, f"one that was counted: {known}")
        chosen = [found[stage] for stage in stages]
        return chance_through(
            [one.passed for one in chosen],
            [one.exposed for one in chosen],
            dispersion=[one.dispersion for one in chosen],
        )


def lab_survival(
    settings: Settings, *, specimen: str = "", gauge: str = "", protection: str = ""
) -> LabSurvival:
    """Survival as the laboratory counted it, of gauges alike or, left empty, of all.

    ``specimen`` is a kind of specimen ("cast member"), ``gauge`` grid and resistance ("3 mm,
    350 ohm"), ``protection`` the layers with commas, all as `gaugewright survival --laboratory`
    shows them. Each campaign counts once, as it was published last. Common losses are those of
    all gauges: a bundle doesn't ask what its gauges are.

    Raises
    ------
    InputError
        If no laboratory is set, nothing is published, or no gauge is like that: an assumption
        has to be typed then, with its source.
    FileError
        If the laboratory's file was changed.
    """
    found = published(settings)
    wanted = (specimen, gauge, protection)
    counts = [(one.label, count) for one in found for count in one.counts if _is(count, wanted)]
    if not counts:
        raise InputError(
            "survival counted by the laboratory",
            "none" if not found else f"none of {', '.join(one for one in wanted if one)}",
            f"in {FILE} of the laboratory's folder" + _known(found),
            "publish campaigns with: gaugewright survival CAMPAIGN --publish; or type an "
            "assumed survival with its source",
        )
    stages = tuple(one for name in STAGES if (one := _stage(name, counts)) is not None)
    at_any = {one.stage for one in stages}
    return LabSurvival(
        tuple(dict.fromkeys(label for label, _ in counts)),
        stages,
        _common(found),
        tuple(name for name in STAGES if name not in at_any),
    )


def _is(count: Count, wanted: tuple[str, str, str]) -> bool:
    mine = (count.specimen, count.gauge, count.protection)
    return all(not want or want == own for want, own in zip(wanted, mine, strict=True))


def _known(found: Sequence[Counted]) -> str:
    """What there is to choose from."""
    alike = {(c.specimen, c.gauge, c.protection) for one in found for c in one.counts}
    return f", of {'; '.join(' | '.join(one) for one in sorted(alike))}" if alike else ""


def _stage(name: str, counts: Sequence[tuple[str, Count]]) -> StageChance | None:
    mine = [(label, count) for label, count in counts if count.stage == name]
    by_campaign = tuple(
        (
            label,
            sum(count.passed for other, count in mine if other == label),
            sum(count.lost for other, count in mine if other == label),
        )
        for label in dict.fromkeys(label for label, _ in mine)
    )
    passed = [through for _, through, _ in by_campaign]
    exposed = [through + lost for _, through, lost in by_campaign]
    if not sum(exposed):
        return None
    dispersion = count_dispersion(passed, exposed)
    return StageChance(
        name,
        sum(passed),
        sum(exposed) - sum(passed),
        sum(count.undecided for _, count in mine),
        sum(count.repaired for _, count in mine),
        dispersion,
        survival_chance(sum(passed), sum(exposed), dispersion=dispersion),
        by_campaign,
    )


def _common(found: Sequence[Counted]) -> tuple[CommonLoss, ...]:
    every = [one for counted in found for one in counted.in_company]
    kinds = dict.fromkeys(one.kind for one in every)
    return tuple(_of_kind(kind, [one for one in every if one.kind == kind]) for kind in kinds)


def _of_kind(kind: str, parts: Sequence[InCompany]) -> CommonLoss:
    groups, wholly = sum(one.groups for one in parts), sum(one.wholly_lost for one in parts)
    losses, together = sum(one.losses for one in parts), sum(one.together for one in parts)
    return CommonLoss(
        kind,
        groups,
        wholly,
        losses,
        together,
        survival_chance(wholly, groups),
        survival_chance(together, losses),
    )
