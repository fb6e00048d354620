"""Packs of gauges that a laboratory has on hand: lot cards, kept line by line, nothing erased."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from gaugewright.errors import InputError
from gaugewright.records.gauges import GaugePack
from gaugewright.records.identity import instant_from_text, instant_text
from gaugewright.records.plain import from_plain, to_plain
from gaugewright.services.campaign.laboratory import FILES, records_of_file
from gaugewright.services.laboratory.survival_published import laboratory_folder
from gaugewright.services.plan.packs import ON_HAND, PlanPack
from gaugewright.settings import Settings
from gaugewright.store.kept_lines import add_line, lines

__all__ = ["FILE", "LotCard", "cards_of", "kept_card", "on_hand", "with_changes"]

FILE = "lots.jsonl"
_TOML = "packs.toml"


@dataclass(frozen=True, slots=True)
class LotCard:
    """A pack on hand as it was written down last; ``left`` gauges are in it, 0 when used up."""

    pack: GaugePack
    left: int | None
    at: datetime | None
    person: str
    versions: int

    @property
    def label(self) -> str:
        """Of the pack."""
        return self.pack.label


def cards_of(settings: Settings) -> tuple[LotCard, ...]:
    """Lot cards by label: the last line of each; those of packs.toml where no line has them.

    Raises
    ------
    InputError
        If no laboratory is set.
    FileError
        If a line was changed.
    """
    folder = laboratory_folder(settings)
    found: dict[str, LotCard] = {}
    path = folder / _TOML
    if path.is_file():
        for record in records_of_file(path, path, *FILES[_TOML]):
            if isinstance(record, GaugePack):
                found[record.label] = LotCard(record, None, None, "packs.toml", 1)
    for told in lines(folder / FILE):
        pack: GaugePack = from_plain(GaugePack, told["pack"])
        before = found.get(pack.label)
        found[pack.label] = LotCard(
            pack,
            told["left"],
            instant_from_text(told["at"]),
            told["person"],
            1 if before is None else before.versions + 1,
        )
    return tuple(found.values())


def kept_card(
    settings: Settings, pack: GaugePack, left: int | None, *, at: datetime, person: str
) -> LotCard:
    """Write a lot card down: a new one, or a later state of one with its label.

    Raises
    ------
    InputError
        If fewer than no gauges are left, or no laboratory is set.
    """
    if left is not None and left < 0:
        raise InputError("left", left, "0 or more gauges")
    folder = laboratory_folder(settings)
    line = {"pack": to_plain(pack), "left": left, "at": instant_text(at), "person": person}
    add_line(folder / FILE, line)
    return next(card for card in cards_of(settings) if card.label == pack.label)


def on_hand(settings: Settings | None) -> tuple[PlanPack, ...]:
    """Packs that a plan may count on: those with gauges left, or of unknown number."""
    if settings is None or not settings["laboratory"]:
        return ()
    return tuple(
        PlanPack(card.pack, ON_HAND, card.left) for card in cards_of(settings) if card.left != 0
    )


def with_changes(card: LotCard, changes: Mapping[str, object]) -> GaugePack:
    """The pack of a card with some fields changed, as they stand in a record's plain form."""
    return from_plain(GaugePack, {**to_plain(card.pack), **changes})  # type: ignore[no-any-return]
