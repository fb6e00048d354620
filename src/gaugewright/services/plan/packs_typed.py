"""Packs on hand as people write them down: from a campaign's card, changed, counted."""

import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from gaugewright.errors import InputError
from gaugewright.records.gauges import GaugePack
from gaugewright.records.identity import working_context
from gaugewright.services.campaign import campaigns
from gaugewright.services.campaign.book import Book
from gaugewright.services.plan.packs_on_hand import LotCard, cards_of, kept_card, with_changes
from gaugewright.settings import Settings

__all__ = ["kept_from", "kept_of", "left_typed"]


def kept_from(
    settings: Settings,
    label: str,
    source: Path | None,
    *,
    left: int | None,
    changes: Mapping[str, str],
) -> LotCard:
    """Keep a pack as on hand: a campaign's card, or the one that is there, with changes.

    Raises
    ------
    InputError
        If neither has the label, a field isn't one of a card, or no laboratory is set.
    """
    if source is None:
        pack, before = _known(settings, label)
    else:
        with campaigns.opened(source, settings, read_only=True) as store:
            pack = Book.read(store).labelled(GaugePack, label).record
        before = next((card for card in cards_of(settings) if card.label == label), None)
    return kept_of(settings, pack, before, left=left, changes=changes)


def kept_of(
    settings: Settings,
    pack: GaugePack,
    before: LotCard | None,
    *,
    left: int | None,
    changes: Mapping[str, str],
    person: str = "",
) -> LotCard:
    """Write a card down with changes; the number left stays as it was where none is given."""
    card = LotCard(pack, None, None, "", 0)
    changed = with_changes(card, {name: _value(text) for name, text in changes.items()})
    count = left if left is not None or before is None else before.left
    who = person or settings["person"] or "nobody named"
    return kept_card(settings, changed, count, at=working_context().now(), person=who)


def _known(settings: Settings, label: str) -> tuple[GaugePack, LotCard | None]:
    cards = cards_of(settings)
    for card in cards:
        if card.label == label:
            return card.pack, card
    known = "; ".join(card.label for card in cards) or "none yet"
    raise InputError("pack", label, f"one on hand: {known}", "or name its campaign with --from")


def _value(text: str) -> Any:
    """A field as TOML writes it: 0.004, "words", { value = 120.0 }; bare words are words."""
    try:
        return tomllib.loads(f"value = {text}")["value"]
    except tomllib.TOMLDecodeError:
        return text


def left_typed(text: str) -> int | None:
    """Number of gauges left as typed; None where nothing was.

    Raises
    ------
    InputError
        If it isn't a whole number of 0 or more.
    """
    if not text.strip():
        return None
    if not text.strip().isdecimal():
        raise InputError("left", text, "a whole number, 0 or more")
    return int(text)
