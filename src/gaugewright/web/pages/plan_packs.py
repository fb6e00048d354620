"""Packs on hand in the laboratory: lot cards, how many are left, and taking one into a campaign."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated

from fastapi import APIRouter, Depends
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from gaugewright.errors import GaugewrightError, InputError
from gaugewright.records.gauges import GaugePack
from gaugewright.services.plan.packs_on_hand import LotCard, cards_of
from gaugewright.services.plan.packs_typed import kept_of, left_typed
from gaugewright.services.plan_parts.parts import card_list
from gaugewright.web import frame, rooms
from gaugewright.web.forms import Choice, Field, told_beside, typed_form
from gaugewright.web.listed import Listed, csv_of, listed
from gaugewright.web.plan_shown import TITLES, links_of

__all__ = ["PacksPage", "router"]

router = APIRouter()

_FIELDS = ("pack", "left")
SEE_OTHER = 303


@dataclass(frozen=True, slots=True)
class PacksPage:
    """Lot cards, a form that counts or keeps one, and one that takes one into the campaign."""

    sheet: frame.Sheet
    lead: str
    links: tuple[tuple[str, str], ...]
    failure: str
    has_laboratory: bool
    fields: tuple[Field, ...]
    to_take: tuple[str, ...]
    card_url: str
    lists: tuple[Listed, ...]


@router.get("/c/{name}/plan/packs")
def show(request: Request, numbers: str | None = None) -> Response:
    """Packs on hand; ``numbers`` asks for them as CSV."""
    room = rooms.room(request)
    if numbers is not None:
        return csv_of(room, (card_list(room.settings),), numbers)
    return frame.page(request, "plan_packs.html", _context(room, {}))


@router.post("/c/{name}/plan/packs")
def keep(request: Request, typed: Annotated[dict[str, str], Depends(typed_form)]) -> Response:
    """Keep a pack as on hand, or take one that is into the campaign."""
    try:
        room = rooms.room_to_write(request)
        if typed.get("take"):
            _take(room, typed["take"])
        else:
            _keep(room, typed)
    except GaugewrightError as error:
        context = _context(rooms.room(request), typed, error)
        return frame.page(request, "plan_packs.html", context, status=422)
    return RedirectResponse(room.url("plan/packs"), status_code=SEE_OTHER)


def _keep(room: rooms.Room, typed: Mapping[str, str]) -> None:
    label = typed.get("pack", "")
    before = next((card for card in _cards(room) if card.label == label), None)
    own = next((e.record for e in room.book.of(GaugePack) if e.record.label == label), None)
    pack = own if own is not None else None if before is None else before.pack
    if pack is None:
        raise InputError("pack", label, "one of the campaign or on hand", "enter its card first")
    left = left_typed(typed.get("left", ""))
    person = "" if room.person is None else room.person.record.label
    kept_of(room.settings, pack, before, left=left, changes={}, person=person)


def _take(room: rooms.Room, label: str) -> None:
    """A card on hand becomes a pack of the campaign."""
    card = next((one for one in _cards(room) if one.label == label), None)
    if card is None:
        raise InputError("take", label, "a pack on hand")
    if any(entry.record.label == label for entry in room.book.of(GaugePack)):
        raise InputError("take", label, "a pack that the campaign hasn't got yet")
    room.store.add(card.pack, reason="taken from the laboratory's packs on hand")


def _cards(room: rooms.Room) -> tuple[LotCard, ...]:
    return cards_of(room.settings) if room.settings["laboratory"] else ()


def _context(
    room: rooms.Room, typed: Mapping[str, str], error: GaugewrightError | None = None
) -> PacksPage:
    wrong, failure = told_beside(error, _FIELDS)
    cards = _cards(room)
    own = {entry.record.label for entry in room.book.of(GaugePack)}
    labels = dict.fromkeys([*(card.label for card in cards), *sorted(own)])
    there = [card for card in cards if card.left != 0]
    lead = "No pack is kept as on hand yet."
    if cards:
        lead = "One pack is on hand." if len(there) == 1 else f"{len(there)} packs are on hand."
    return PacksPage(
        sheet=frame.Sheet(
            TITLES["packs"], "Plan, packs on hand", frame.room_block(room, TITLES["packs"]), "plan"
        ),
        lead=lead,
        links=links_of(room, "packs"),
        failure=failure,
        has_laboratory=bool(room.settings["laboratory"]),
        fields=(
            Field(
                "pack",
                "Pack",
                typed.get("pack", ""),
                wrong=wrong.get("pack", ""),
                choices=tuple(Choice(label, label) for label in labels),
            ),
            Field(
                "left",
                "Gauges left",
                typed.get("left", ""),
                kind="number",
                hint="0 when it is used up; empty leaves it as it was.",
                wrong=wrong.get("left", ""),
            ),
        ),
        to_take=tuple(card.label for card in there if card.label not in own),
        card_url=room.url("plan/enter/pack"),
        lists=(listed(room, card_list(room.settings), room.url("plan/packs")),),
    )
