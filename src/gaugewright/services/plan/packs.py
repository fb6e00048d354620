"""Which packs a plan may reckon with: of the campaign, on hand in the laboratory, or assumed."""

from dataclasses import dataclass, replace
from importlib import resources
from pathlib import Path

from gaugewright.errors import InputError
from gaugewright.records.gauges import GaugePack
from gaugewright.services.campaign.book import Book
from gaugewright.services.campaign.laboratory import limit_or_shipped, records_of_file
from gaugewright.services.chaining.matched import flat_curve

__all__ = [
    "ASSUMED",
    "ON_HAND",
    "PlanPack",
    "assumed_packs",
    "pack_named",
    "packs_to_plan_with",
    "with_curve",
]

ASSUMED, CAMPAIGN, ON_HAND = "assumed", "campaign", "on hand"
_FILE = "plan_packs.toml"


@dataclass(frozen=True, slots=True)
class PlanPack:
    """A pack that a plan may reckon with, where it comes from and how many gauges are left."""

    pack: GaugePack
    origin: str
    left: int | None = None

    @property
    def label(self) -> str:
        """Of the pack."""
        return self.pack.label


def assumed_packs() -> tuple[GaugePack, ...]:
    """Made-up cards that come with the package, every value assumed."""
    source = resources.files("gaugewright").joinpath("defaults").joinpath(_FILE)
    found = records_of_file(source, Path(_FILE), "pack", GaugePack)
    return tuple(record for record in found if isinstance(record, GaugePack))


def packs_to_plan_with(book: Book, on_hand: tuple[PlanPack, ...] = ()) -> tuple[PlanPack, ...]:
    """The campaign's packs, then those on hand, then assumed ones; each label once."""
    found = {entry.record.label: PlanPack(entry.record, CAMPAIGN) for entry in book.of(GaugePack)}
    for one in on_hand:
        known = found.get(one.label)
        found[one.label] = one if known is None else replace(known, left=one.left)
    for pack in assumed_packs():
        found.setdefault(pack.label, PlanPack(pack, ASSUMED))
    return tuple(found.values())


def pack_named(packs: tuple[PlanPack, ...], label: str) -> PlanPack:
    """One of several packs; without a label, the first that isn't assumed, else the last.

    Raises
    ------
    InputError
        If none has the label.
    """
    if not label:
        return next((one for one in packs if one.origin != ASSUMED), packs[-1])
    for one in packs:
        if one.label == label:
            return one
    raise InputError("pack", label, "one of: " + "; ".join(one.label for one in packs))


def with_curve(book: Book, pack: GaugePack, expansion: float) -> tuple[GaugePack, str]:
    """A pack whose card has a curve of thermal output; what was assumed for it, or "".

    A card without a curve is taken as flat, with the limit's doubt: on the metal that it says it is
    matched to, else on the one it is to sit on.
    """
    if pack.thermal_output is not None:
        return pack, ""
    limit = limit_or_shipped(book, "planned thermal output doubt")
    metal = expansion if pack.matched_expansion is None else pack.matched_expansion
    curve = flat_curve(book, pack, metal)
    on = "" if pack.matched_expansion is None else f" on metal of {metal * 1e6:g}×10⁻⁶/K"
    words = (
        f"thermal output of {pack.label}: no curve, taken as none{on} ± {limit.value * 1e6:g} µε/K"
    )
    return replace(pack, thermal_output=curve, matched_expansion=None), words
