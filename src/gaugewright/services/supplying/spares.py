"""How many gauges to order beyond those planned: by own losses counted, stated, or assumed."""

import math
from collections.abc import Mapping
from dataclasses import dataclass

from gaugewright.calc.spares import installed_for
from gaugewright.calc.survival_chance import survival_beta
from gaugewright.errors import InputError
from gaugewright.records.proof import Gate
from gaugewright.records.specimen import SpecimenKind
from gaugewright.services.campaign.book import Book
from gaugewright.services.campaign.laboratory import limit_or_shipped
from gaugewright.services.gating.fields import LAST_FOR_REPAIR
from gaugewright.services.laboratory.on_shelf import amount_typed
from gaugewright.services.laboratory.survival_lab import StageChance, lab_survival
from gaugewright.settings import Settings

__all__ = ["Spares", "spares_of"]

SHARE, ENOUGH = "planned spare share", "planned chance of enough gauges"


@dataclass(frozen=True, slots=True)
class Spares:
    """By what spares are reckoned: counts of survivors, or a share on top; ``words`` says whence.

    ``counts`` are the two numbers of a beta distribution, its first and both together.
    """

    words: str
    is_assumed: bool
    share: float = 0.0
    counts: tuple[float, float] | None = None
    assurance: float = 0.0

    def installed(self, wanted: int) -> int:
        """All that are to be put on, so many of them wanted.

        Raises
        ------
        InputError
            If so many are lost that no number of spares would do.
        """
        if self.counts is None:
            return wanted + math.ceil(self.share * wanted - 1e-9)
        return installed_for(wanted, *self.counts, self.assurance)


def spares_of(
    settings: Settings | None, book: Book, kind: SpecimenKind, typed: Mapping[str, str]
) -> Spares:
    """Spares for gauges of a kind of specimen: as typed, as counted, else assumed.

    Counted are the stages at which a lost gauge can still be put on anew: up to the pour where
    there is one.

    Raises
    ------
    InputError
        If what was typed isn't a number.
    """
    if typed.get("spares", "").strip():
        share = amount_typed("spares", typed["spares"]) / 100
        return Spares(f"{kind.value}: {100 * share:g} % spares, as typed", False, share)
    stages = _counted(settings, kind)
    if not stages:
        limit = limit_or_shipped(book, SHARE)
        return Spares(
            f"{kind.value}: {100 * limit.value:g} % spares assumed, limit “{SHARE}”, "
            f"{limit.source}; the laboratory has no counts of its own for it: publish survival, "
            "or type a share",
            True,
            limit.value,
        )
    one, other = survival_beta(
        [stage.passed for stage in stages],
        [stage.exposed for stage in stages],
        [stage.dispersion for stage in stages],
    )
    limit = limit_or_shipped(book, ENOUGH)
    through = "; ".join(f"{stage.stage} {stage.passed} of {stage.exposed}" for stage in stages)
    return Spares(
        f"{kind.value}: laboratory's own counts ({through}), enough with a probability of "
        f"{100 * limit.value:g} %, limit “{ENOUGH}”",
        False,
        counts=(one, one + other),
        assurance=limit.value,
    )


def _counted(settings: Settings | None, kind: SpecimenKind) -> tuple[StageChance, ...]:
    """Stages counted at which a gauge can be replaced; none without any."""
    if settings is None or not settings["laboratory"]:
        return ()
    try:
        found = lab_survival(settings, specimen=kind.value)
    except InputError:
        return ()  # nothing published for its kind: told as assumed
    gates = list(Gate)
    if kind is SpecimenKind.CAST_MEMBER:
        gates = gates[: gates.index(LAST_FOR_REPAIR) + 1]
    names = {gate.value for gate in gates}
    return tuple(stage for stage in found.stages if stage.stage in names)
