"""Campaigns opened for requests: one folder or many, several at a time, gone in between."""

import dataclasses
import shutil
import threading
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from gaugewright.errors import InputError
from gaugewright.records.identity import working_context
from gaugewright.records.specimen import Campaign
from gaugewright.settings import Settings
from gaugewright.store.campaign import CampaignStore, JournalHead
from gaugewright.web.app import create_app
from gaugewright.web.not_there import NotThere
from gaugewright.web.rooms import Rooms
from tests.web.conftest import BASE, TOKEN


@pytest.fixture
def rooms(home: Path, in_force: Settings) -> Iterator[Rooms]:
    found = Rooms(home, in_force)
    yield found
    found.close()


@pytest.fixture
def alone(home: Path, in_force: Settings) -> Iterator[TestClient]:
    """A browser in an app on one campaign."""
    app = create_app(in_force, home / "beam", token=TOKEN)
    with TestClient(app, base_url=BASE, headers={"origin": BASE}) as client:
        client.get("/pair", params={"key": TOKEN})
        yield client


def retitled(store: CampaignStore, title: str) -> None:
    entry = store.campaign
    changed = dataclasses.replace(entry.record, title=title)
    store.revise(entry.uid, entry.version, changed, reason="another title")


class TestOneCampaign:
    def test_it_is_opened_at_once(self, alone: TestClient) -> None:
        answer = alone.get("/", follow_redirects=False)
        assert answer.headers["location"] == "/c/beam/"
        assert "Beam in bending" in alone.get("/c/beam/plan").text

    def test_none_is_begun_or_copied_inside_it(self, alone: TestClient, home: Path) -> None:
        form = {"folder": "inside", "title": "t", "zone": "UTC", "units": "si"}
        for page in ("/new", "/c/beam/copy"):
            answer = alone.post(page, data=form)
            assert answer.status_code == 422
            assert "serve the folder above" in answer.text
        assert not (home / "beam" / "inside").exists()

    def test_what_the_app_keeps_of_devices_is_no_part_of_the_campaign(
        self, alone: TestClient, home: Path, tmp_path: Path
    ) -> None:
        assert (home / "beam" / ".gaugewright-web.json").is_file()
        with CampaignStore.open(home / "beam", working_context()) as store:
            assert store.problems() == ()
            copy = store.copy_to(tmp_path / "copy")
        assert not (copy / ".gaugewright-web.json").exists()


class TestFolder:
    def test_a_folder_that_isnt_there_is_refused(self, tmp_path: Path, in_force: Settings) -> None:
        with pytest.raises(InputError, match=r"^folder is "):
            create_app(in_force, tmp_path / "none")

    def test_a_campaign_made_meanwhile_is_there(self, rooms: Rooms, home: Path) -> None:
        with pytest.raises(NotThere):
            rooms.room("later", None)
        shutil.copytree(home / "beam", home / "later")
        assert rooms.room("later", None).name == "later"
        assert len(rooms.summaries()) == 2

    def test_a_campaign_taken_away_is_gone(self, rooms: Rooms, home: Path, tmp_path: Path) -> None:
        rooms.room("beam", None)
        (home / "beam").rename(tmp_path / "away")
        with pytest.raises(NotThere):
            rooms.room("beam", None)

    def test_what_has_no_campaign_in_it_isnt_listed(self, rooms: Rooms, home: Path) -> None:
        (home / "notes").mkdir()
        (home / "campaign.txt").write_text("x", encoding="utf-8")
        assert [one.label for one in rooms.summaries()] == ["beam"]

    def test_people_of_all_campaigns_are_known(self, rooms: Rooms, home: Path) -> None:
        assert [person.label for person in rooms.people()] == ["AB"]

    def test_reading_the_list_leaves_a_campaign_as_it_is(
        self, rooms: Rooms, head: Callable[[], JournalHead], home: Path
    ) -> None:
        before, files = head(), sorted((home / "beam").rglob("*"))
        rooms.summaries()
        rooms.people()
        assert head() == before
        assert sorted((home / "beam").rglob("*")) == files


def test_many_requests_at_once_each_see_one_whole_moment(rooms: Rooms) -> None:
    """Title and head are read together: a page never shows one of them from before a change."""
    faults: list[str] = []
    titles: dict[str, int] = {}
    stop = threading.Event()

    def write() -> None:
        store = rooms.room("beam", None).store
        for number in range(20):
            retitled(store, f"Title {number}")
            titles[f"Title {number}"] = store.head().seq
        stop.set()

    def look() -> None:
        seen = 0
        while not stop.is_set():
            room = rooms.room("beam", None)
            if room.head.seq < seen:
                faults.append(f"went back from {seen} to {room.head.seq}")
            seen = room.head.seq
            (entry,) = room.book.of(Campaign)
            written = titles.get(entry.record.title)
            if written is not None and written < room.head.seq:
                faults.append(f"{entry.record.title} shown at entry {room.head.seq}")

    threads = [threading.Thread(target=look) for _ in range(4)] + [threading.Thread(target=write)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=40)
    assert not any(thread.is_alive() for thread in threads)
    assert faults == []
