"""What a person may state beside a bar's profile: known slip, concrete, ribs, window, mean."""

from collections.abc import Mapping
from dataclasses import dataclass

from gaugewright.calc.bond import BondLaw
from gaugewright.errors import InputError
from gaugewright.present.typed import quantity_typed
from gaugewright.present.units_shown import unit_shown
from gaugewright.records import Entry
from gaugewright.records.member import Held, Member
from gaugewright.records.specimen import Bar
from gaugewright.services.along_bars.slip import KnownSlip, law_named
from gaugewright.services.showing.page import Page
from gaugewright.web.forms import Choice, Field

__all__ = ["Asked", "MeanOver", "asked_fields"]

_LENGTHS = {
    "slip_at": ("Slip is known at x", "distance"),
    "slip": ("Slip there", "slip"),
    "slip_doubt": ("± for 95 %", "slip"),
}
_LAW = {
    "f_cm": ("Mean strength of the concrete", "stress"),
    "rib": ("Clear distance between ribs", "clear_rib_spacing"),
}
_MEAN = {
    "first": ("Mean from x", "distance"),
    "last": ("Mean to x", "distance"),
    "crack_spacing": ("Spacing of the cracks", "distance"),
}
_WINDOW = {"window": ("Half-width of a local polynomial", "distance")}
_EVERY = {**_LENGTHS, **_LAW, **_WINDOW, **_MEAN}
_CONDITIONS = (Choice("good", "good"), Choice("other", "all other"))
_TIE = (Choice("", "no"), Choice("yes", "yes: all the load is in this bar"))


@dataclass(frozen=True, slots=True)
class MeanOver:
    """Where a mean is wanted; nothing stated is the whole row [m]."""

    first: float | None = None
    last: float | None = None
    crack_spacing: float | None = None
    is_tie: bool = False


@dataclass(frozen=True, slots=True)
class Asked:
    """What was stated: typed texts, what follows from them, and what is wrong with them."""

    typed: Mapping[str, str]
    known: KnownSlip | None
    law: BondLaw | None
    half_width: float | None
    mean: MeanOver
    wrong: tuple[str, ...]

    @classmethod
    def of(cls, page: Page, query: Mapping[str, str], bar: Entry[Bar]) -> "Asked":
        """What an address says; numbers are in the units that the page shows.

        A bar that the plan has as a tie is one until the form says otherwise.
        """
        names = (*_EVERY, "conditions", "tie")
        typed = {name: query[name].strip() for name in names if query.get(name, "").strip()}
        if "tie" not in query and _is_tie(page, bar):
            typed["tie"] = "yes"
        wrong: list[str] = []
        known = law = None
        try:
            known = _known(page, typed)
        except InputError as problem:
            wrong.append(str(problem))
        try:
            law = _law(page, typed)
        except InputError as problem:
            wrong.append(str(problem))
        window, mean = None, MeanOver()
        try:
            window = _optional(page, typed, "window")
            mean = MeanOver(
                _optional(page, typed, "first"),
                _optional(page, typed, "last"),
                _optional(page, typed, "crack_spacing"),
                "tie" in typed,
            )
        except InputError as problem:
            wrong.append(str(problem))
        return cls(typed, known, law, window, mean, tuple(wrong))


def _is_tie(page: Page, bar: Entry[Bar]) -> bool:
    """Whether the plan has the bar as the only one of a member that only its ends hold."""
    members = [one.record for one in page.desk.book.of(Member)]
    return any(
        one.held is Held.AT_ITS_ENDS and [place.bar for place in one.bars] == [bar.uid]
        for one in members
    )


def asked_fields(page: Page, asked: Asked) -> tuple[Field, ...]:
    """The form's fields, with what was typed."""
    fields = [
        Field(
            name,
            label,
            asked.typed.get(name, ""),
            unit_shown(quantity, page.system).text,
            kind="number",
        )
        for name, (label, quantity) in _EVERY.items()
    ]
    chosen = asked.typed.get("conditions", "good")
    return (
        *fields[:5],
        Field("conditions", "Bond conditions", chosen, choices=_CONDITIONS),
        *fields[5:],
        Field("tie", "The bar is a tie", asked.typed.get("tie", ""), choices=_TIE),
    )


def _known(page: Page, typed: Mapping[str, str]) -> KnownSlip | None:
    if "slip_at" not in typed:
        return None
    for name, label in (("slip", "slip there"), ("slip_doubt", "± of the slip")):
        if name not in typed:
            why = "zero by symmetry is a statement with a doubt too"
            raise InputError(label, None, "stated", why)
    place, slip, doubt = (_si(page, typed, name) for name in _LENGTHS)
    known = KnownSlip(place, slip, doubt)
    known.uncertain()  # refuses what is impossible
    return known


def _law(page: Page, typed: Mapping[str, str]) -> BondLaw | None:
    if not any(name in typed for name in _LAW):
        return None
    for name, (label, _) in _LAW.items():
        if name not in typed:
            raise InputError(label, None, "stated", "the local law needs both")
    strength, rib = (_si(page, typed, name) for name in _LAW)
    return law_named(typed.get("conditions", "good"), strength, rib)


def _optional(page: Page, typed: Mapping[str, str], name: str) -> float | None:
    return _si(page, typed, name) if name in typed else None


def _si(page: Page, typed: Mapping[str, str], name: str) -> float:
    label, quantity = _EVERY[name]
    return quantity_typed(label, typed[name], quantity, page.system)
