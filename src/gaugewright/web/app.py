"""The web app: one factory that puts guard, rooms, people and pages together."""

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from importlib import import_module
from pathlib import Path

from fastapi import FastAPI

from gaugewright.errors import InputError
from gaugewright.settings import Settings
from gaugewright.web import assets, faults, frame, guard
from gaugewright.web.followed import Followed
from gaugewright.web.people import People
from gaugewright.web.rooms import Rooms

__all__ = ["PAGES", "create_app"]

# Every area of pages, in the order in which addresses are tried; a new page adds its name here.
PAGES = (
    "campaigns",
    "people",
    "answers",
    "guides",
    "search",
    "undo",
    "overview",
    "gauge",
    "drawings",
    "plan",
    "plan_entry",
    "plan_questions",
    "plan_prediction",
    "plan_selection",
    "plan_electrical",
    "plan_packs",
    "plan_supplies",
    "plan_labels",
    "plan_sheet",
    "plan_place",
    "plan_schedule",
    "bench_step",
    "bench_kept",
    "bench_methods",
    "bench_papers",
    "bench",
    "wiring",
    "zeros",
    "survival",
    "identity",
    "gates",
    "gate_paper",
    "gate",
    "diagnosis",
    "events",
    "day_of_test",
    "readings",
    "imports",
    "review",
    "verdict",
    "results_budget",
    "results_calibration",
    "results_evidence",
    "results_gauge",
    "results_long",
    "results_twice",
    "results_bar",
    "results_rosette",
    "results_coupon",
    "results_cycles",
    "results_section",
    "results",
    "work",
    "handed",
    "handover",
    "jobs",
    "journal",
    "limits",
)
PRIVATE_FILE = ".gaugewright-web.json"


def create_app(
    settings: Settings,
    home: Path,
    *,
    token: str | None = None,
    lan: bool = False,
    hosts: tuple[str, ...] = (),
    lan_address: str = "",
) -> FastAPI:
    """App on the campaigns of a folder, or on one campaign.

    Parameters
    ----------
    settings : Settings
        Settings in force.
    home : path
        Folder with campaigns, or the folder of one.
    token : str, optional
        One-time token of the printed address; without one, only devices paired before get in.
    lan : bool
        Whether other devices of the network may pair; ``hosts`` are then the addresses by which
        they reach this machine, and ``lan_address`` the one that pairing shows.

    Raises
    ------
    InputError
        If the folder isn't there.
    """
    if not home.is_dir():
        raise InputError("folder", str(home), "a folder that exists", "make it, or name another")
    rooms = Rooms(home, settings)
    tests_followed = Followed()
    people = People(home / PRIVATE_FILE)

    @asynccontextmanager
    async def life(app: FastAPI) -> AsyncIterator[None]:
        yield
        tests_followed.close()
        rooms.close()

    app = FastAPI(
        title="gaugewright", lifespan=life, docs_url=None, redoc_url=None, openapi_url=None
    )
    app.state.settings = settings
    app.state.rooms = rooms
    app.state.followed = tests_followed
    app.state.people = people
    app.state.lan = lan
    app.state.lan_address = lan_address
    app.state.assets = assets.Assets()
    app.state.templates = frame.templates(app.state.assets)
    faults.add_to(app)
    app.mount(app.state.assets.address, app.state.assets.files(), name="static")
    for area in PAGES:
        app.include_router(import_module(f"gaugewright.web.pages.{area}").router)
    door = guard.Door(
        people,
        token=token,
        hosts=frozenset(guard.OWN_HOSTS) | (frozenset(hosts) if lan else frozenset()),
        open_addresses=(app.state.assets.address + "/", "/pair"),
    )
    app.state.door = door
    # A little more than the file itself: names and borders of the form's parts.
    upload = int(settings["upload_limit_mb"]) * guard.MEGABYTE + guard.FORM_LIMIT
    limits = {**guard.BODY_LIMITS, "import": upload}
    app.add_middleware(guard.Guard, door=door, body_limits=limits)
    return app
