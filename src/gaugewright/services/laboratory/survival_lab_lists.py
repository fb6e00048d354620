"""The laboratory's own survival as lists: stage by stage, common losses, campaigns counted."""

from gaugewright.calc.survival_chance import Chance
from gaugewright.present.numbers import significant_text
from gaugewright.services.laboratory.survival_lab import CommonLoss, StageChance, lab_survival
from gaugewright.services.laboratory.survival_lists import percent
from gaugewright.services.laboratory.survival_published import Counted, published
from gaugewright.services.showing.listings import Column, Listing
from gaugewright.settings import Settings

__all__ = ["lab_lists", "published_words"]


def lab_lists(settings: Settings) -> tuple[Listing, ...]:
    """Every list of the laboratory's survival; none where no laboratory is set.

    Raises
    ------
    FileError
        If the laboratory's file was changed.
    """
    if not settings["laboratory"]:
        return ()
    found = published(settings)
    if not found:
        return (_stages(()), _campaigns(()))
    lab = lab_survival(settings)
    return (_stages(lab.stages), _common(lab.common), _campaigns(found))


def published_words(found: Counted) -> str:
    """What was counted, in a sentence."""
    stages = dict.fromkeys(count.stage for count in found.counts)
    lost = sum(count.lost for count in found.counts)
    many = "" if lost == 1 else "s"
    return (
        f"{found.label} is counted: {len(stages)} stages, {lost} gauge{many} lost. It counts once, "
        "as it stands now."
    )


def _interval(chance: Chance) -> str:
    return f"{percent(chance.low)} to {percent(chance.high)}"


def _stages(stages: tuple[StageChance, ...]) -> Listing:
    rows = tuple(
        (
            one.stage,
            one.exposed,
            one.lost,
            one.undecided,
            one.repaired,
            percent(one.chance.probability),
            _interval(one.chance),
            significant_text(one.dispersion, 2),
            "by campaign: "
            + "; ".join(f"{label} {through} of {through + lost}" for label, through, lost in lots),
        )
        for one in stages
        for lots in (one.by_campaign,)
    )
    return Listing(
        "laboratory",
        "The laboratory’s own",
        (
            Column("stage"),
            Column("came to it"),
            Column("lost"),
            Column("can’t tell"),
            Column("repaired"),
            Column("to reckon with"),
            Column("95 %"),
            Column("campaigns differ"),
            Column("told"),
        ),
        rows,
        "No campaign is published yet: publish this one when its gates are through.",
        "Over all campaigns published, each counted once. To reckon with: half a loss and half a "
        "survivor are added to the counts. Where campaigns differ by more than chance, the counts "
        "are worth that much less.",
    )


def _common(common: tuple[CommonLoss, ...]) -> Listing:
    rows = tuple(
        (
            one.kind,
            one.groups,
            one.wholly_lost,
            percent(one.whole_group.probability),
            _interval(one.whole_group),
            one.losses,
            one.together,
            percent(one.share.probability),
            _interval(one.share),
        )
        for one in common
    )
    return Listing(
        "laboratory-common",
        "Lost together",
        (
            Column("sharing a"),
            Column("groups"),
            Column("lost whole"),
            Column("a whole group"),
            Column("95 %"),
            Column("gauges lost"),
            Column("with another"),
            Column("share lost together"),
            Column("95 % of it"),
        ),
        rows,
        "No group of two gauges or more was counted.",
        "Groups of two or more; lost together at one stage. Some meet by chance, so the share "
        "errs on the high side.",
    )


def _campaigns(found: tuple[Counted, ...]) -> Listing:
    rows = tuple(
        (one.label, one.counted[:10], one.counted[11:16] + " UTC", one.journal_head[:12])
        for one in found
    )
    return Listing(
        "laboratory-campaigns",
        "Campaigns counted",
        (Column("campaign"), Column("day"), Column("at"), Column("journal then")),
        rows,
        "None yet.",
    )
