"""An app on a folder of small campaigns, and a browser's place in front of it."""

import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from gaugewright import settings
from gaugewright.records.identity import working_context
from gaugewright.records.proof import Person
from gaugewright.records.specimen import Campaign
from gaugewright.services.campaign import campaigns
from gaugewright.services.campaign.book import Book
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


@pytest.fixture(scope="module")
def reader(demo_campaign: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    """A browser in front of a copy of the demo, for tests that write nothing."""
    folder = tmp_path_factory.mktemp("demo to read")
    with demo_client(demo_campaign, folder) as client:
        yield client


@pytest.fixture
def writer(demo_campaign: Path, tmp_path: Path) -> Iterator[TestClient]:
    """A browser in front of a test's own copy of the demo, campaigns/demo below ``tmp_path``."""
    with demo_client(demo_campaign, tmp_path) as client:
        yield client


@contextmanager
def demo_client(demo: Path, folder: Path) -> Iterator[TestClient]:
    home = folder / "campaigns"
    shutil.copytree(demo, home / "demo")
    shipped = settings.load({}, environment={}, user_folder=folder / "no settings")
    made = create_app(shipped, home, token=TOKEN)
    with TestClient(made, base_url=BASE, headers={"origin": BASE}) as client:
        assert client.get("/", params={"key": TOKEN}).status_code == 200
        yield client


@pytest.fixture(scope="module")
def records(demo_campaign: Path) -> Book:
    """What the demo's records say, read without the app."""
    with CampaignStore.open(demo_campaign, working_context(), read_only=True) as store:
        return Book.read(store)
