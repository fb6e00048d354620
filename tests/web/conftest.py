"""An app on a folder of small campaigns, and a browser's place in front of it."""

import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from gaugewright import settings
from gaugewright.records.identity import working_context
from gaugewright.records.proof import Person
from gaugewright.records.specimen import Campaign
from gaugewright.services import campaigns
from gaugewright.store.campaign import CampaignStore, JournalHead
from gaugewright.web.app import create_app

BASE = "http://127.0.0.1:8710"
TOKEN = "a token for tests only"


@pytest.fixture
def in_force(tmp_path: Path) -> settings.Settings:
    """Settings as shipped: those of whoever runs the tests don't count."""
    return settings.load({}, environment={}, user_folder=tmp_path / "no settings")


@pytest.fixture(scope="session")
def beam(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Campaign made once; each test works on a copy of it."""
    room = tmp_path_factory.mktemp("made once")
    shipped = settings.load({}, environment={}, user_folder=room / "no settings")
    record = Campaign(label="beam", title="Beam in bending", zone="Europe/Rome")
    with campaigns.new(room / "beam", record, shipped, context=working_context()) as store:
        store.add(Person(label="AB", name="A. Bonder (invented)", role="bonds"))
    return room / "beam"


@pytest.fixture
def home(tmp_path: Path, beam: Path) -> Path:
    """Folder with one campaign, beam, in which A. Bonder (invented) is known as AB."""
    folder = tmp_path / "campaigns"
    folder.mkdir()
    shutil.copytree(beam, folder / "beam")
    return folder


@pytest.fixture
def app(home: Path, in_force: settings.Settings) -> FastAPI:
    return create_app(in_force, home, token=TOKEN)


@pytest.fixture
def stranger(app: FastAPI) -> Iterator[TestClient]:
    """A browser of this machine that nobody let in; it sends the origin of the app's own pages."""
    with TestClient(app, base_url=BASE, headers={"origin": BASE}) as client:
        yield client


@pytest.fixture
def client(stranger: TestClient) -> TestClient:
    """A browser that opened the printed address."""
    assert stranger.get("/", params={"key": TOKEN}).status_code == 200
    return stranger


@pytest.fixture
def head(home: Path) -> Callable[[], JournalHead]:
    """Last entry of the journal of beam."""

    def of() -> JournalHead:
        with CampaignStore.open(home / "beam", working_context(), read_only=True) as store:
            return store.head()

    return of
