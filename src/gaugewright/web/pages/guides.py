"""Help that belongs to no campaign: first steps, quick guides for paper, what quantities mean."""

import shlex
from dataclasses import dataclass

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from gaugewright.errors import InputError
from gaugewright.services.guides import definitions, first_steps, quick_guides
from gaugewright.services.guides.definitions import Definition
from gaugewright.services.guides.first_steps import FirstStep
from gaugewright.services.guides.quick_guides import Guide
from gaugewright.web import frame
from gaugewright.web.not_there import NotThere

__all__ = ["FirstStepsPage", "GuidePage", "GuidesPage", "QuantitiesPage", "first_of", "router"]

router = APIRouter()


@dataclass(frozen=True, slots=True)
class FirstStepsPage:
    """What a new laboratory does first."""

    sheet: frame.Sheet
    lead: str
    steps: tuple[FirstStep, ...]


@dataclass(frozen=True, slots=True)
class GuidesPage:
    """All quick guides."""

    sheet: frame.Sheet
    guides: tuple[Guide, ...]


@dataclass(frozen=True, slots=True)
class GuidePage:
    """One quick guide, on one printed page."""

    sheet: frame.Sheet
    guide: Guide
    others: tuple[Guide, ...]


@dataclass(frozen=True, slots=True)
class QuantitiesPage:
    """Every quantity that stands on a page."""

    sheet: frame.Sheet
    quantities: tuple[Definition, ...]


def first_of(request: Request) -> tuple[FirstStep, ...]:
    """First steps of the laboratory that is served, each done or not."""
    device = request.scope.get("state", {}).get("device")
    return first_steps.first_steps(
        request.app.state.settings,
        request.app.state.rooms.summaries(),
        is_somebody_at_work=bool(device and device.person),
        home=shlex.quote(str(request.app.state.rooms.home)),
    )


@router.get("/first-steps")
def show_first_steps(request: Request) -> Response:
    """What a new laboratory does first; it stays here when all is done."""
    steps = first_of(request)
    asked = [step for step in steps if not step.can_wait]
    left = sum(not step.done for step in asked)
    lead = f"{left} of {len(asked)} are left." if left else "All of them are done."
    return frame.page(
        request, "first_steps.html", FirstStepsPage(_sheet("First steps"), lead, steps)
    )


@router.get("/guides")
def list_guides(request: Request) -> Response:
    """All quick guides."""
    context = GuidesPage(_sheet("Quick guides"), quick_guides.guides())
    return frame.page(request, "guides.html", context)


@router.get("/guides/{key}")
def show_guide(request: Request, key: str) -> Response:
    """A quick guide."""
    try:
        found = quick_guides.guide(key)
    except InputError as error:
        raise NotThere("guide", key, error.allowed, "look at the list of guides") from error
    others = tuple(one for one in quick_guides.guides() if one.key != key)
    context = GuidePage(_sheet(f"Quick guide: {found.title}"), found, others)
    return frame.page(request, "guide.html", context)


@router.get("/quantities")
def list_quantities(request: Request) -> Response:
    """Every quantity that pages show, in SI units."""
    told = tuple(definitions.definition(name, "si") for name in definitions.EXPLAINED)
    return frame.page(request, "quantities.html", QuantitiesPage(_sheet("Quantities"), told))


def _sheet(name: str) -> frame.Sheet:
    return frame.Sheet(title=name, name=name, block=frame.plain_block(name))
