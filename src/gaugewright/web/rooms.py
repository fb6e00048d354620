"""The campaigns that requests work in: found by name, opened once, read once for each change."""

import threading
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import cast
from zoneinfo import ZoneInfo

from starlette.requests import Request

from gaugewright.errors import InputError
from gaugewright.present.units_shown import System
from gaugewright.records import Entry
from gaugewright.records.proof import Person
from gaugewright.services.campaign import campaigns
from gaugewright.services.campaign.book import Book
from gaugewright.services.handover import reports_built
from gaugewright.services.laboratory import people
from gaugewright.services.overview import steps
from gaugewright.services.overview.steps import StepFacts
from gaugewright.settings import Settings
from gaugewright.store.campaign import CampaignStore, JournalHead
from gaugewright.web.not_there import NotThere
from gaugewright.web.people import Device, Someone

__all__ = ["Room", "Rooms", "device", "room", "room_to_write"]


@dataclass(frozen=True, slots=True)
class Room:
    """A campaign as one request sees it: its records at one moment and who is at work."""

    name: str
    store: CampaignStore
    book: Book
    head: JournalHead
    steps: tuple[StepFacts, ...]
    settings: Settings
    units: System
    zone: ZoneInfo
    person: Entry[Person] | None

    def url(self, rest: str = "") -> str:
        """Address of a page of this campaign."""
        return f"/c/{self.name}/{rest}"


@dataclass(slots=True)
class _Open:
    """One open campaign and what was read of it last."""

    store: CampaignStore
    identity: tuple[int, int]
    lock: threading.Lock = field(default_factory=threading.Lock)
    head: JournalHead | None = None
    book: Book = field(default_factory=lambda: Book(()))


class Rooms:
    """Campaigns of a folder, or the one campaign that the folder is."""

    def __init__(self, home: Path, settings: Settings) -> None:
        self.home = home.resolve()
        self.settings = settings
        self._open: dict[str, _Open] = {}
        self._summaries: dict[Path, tuple[tuple[int, ...], campaigns.Summary]] = {}
        self._people: dict[Path, tuple[tuple[int, ...], tuple[Person, ...]]] = {}
        self._lock = threading.Lock()

    @property
    def is_one(self) -> bool:
        """Whether the folder is a campaign itself."""
        return (self.home / campaigns.DATABASE).is_file()

    def names(self) -> tuple[str, ...]:
        """Names that the campaigns have in addresses."""
        here = [self.home] if self.is_one else sorted(self.home.iterdir())
        return tuple(path.name for path in here if (path / campaigns.DATABASE).is_file())

    def folder(self, name: str) -> Path:
        """Folder of a campaign by the name it has in addresses; only names that are listed count.

        Raises
        ------
        NotThere
            If no campaign has that name.
        """
        for path in self._folders():
            if path.name == name:
                return path
        raise NotThere("campaign", name, "one of this folder", "look at the list of campaigns")

    def summaries(self) -> tuple[campaigns.Summary, ...]:
        """One line for each campaign; those that didn't change aren't read again."""
        found = []
        for path in self._folders():
            stamp = _stamp(path)
            kept = self._summaries.get(path)
            if kept is None or kept[0] != stamp:
                (summary,) = campaigns.listed(path)
                kept = self._summaries[path] = (stamp, summary)
            found.append(kept[1])
        return tuple(found)

    def people(self) -> tuple[Person, ...]:
        """People of every campaign; campaigns that didn't change aren't read again."""
        found: list[Person] = []
        for path in self._folders():
            stamp = _stamp(path)
            kept = self._people.get(path)
            if kept is None or kept[0] != stamp:
                kept = self._people[path] = (stamp, people.of_campaign(path))
            found.extend(kept[1])
        return tuple(found)

    def room(self, name: str, who: Someone | None) -> Room:
        """A campaign as it stands now.

        Raises
        ------
        NotThere
            If no campaign has that name.
        StoreError
            If it can't be opened for work.
        """
        opened = self._opened(name)
        with opened.lock:
            head = opened.store.head()
            if opened.head != head:
                # What is written between the two lines is read now and once more next time.
                opened.book = opened.book.followed(
                    opened.store, opened.head.seq if opened.head else 0
                )
                opened.head = head
            book = opened.book
        record = opened.store.campaign.record
        person = _person(book, who)
        reports = len(reports_built.built_reports(opened.store.folder, book))
        return Room(
            name=name,
            store=opened.store.as_person(person.uid) if person else opened.store,
            book=book,
            head=head,
            steps=steps.steps(book, reports, datetime.now(UTC)),
            settings=self.settings,
            units=cast("System", record.units),
            zone=ZoneInfo(record.zone),
            person=person,
        )

    def close(self) -> None:
        """Let go of every open campaign."""
        with self._lock:
            for opened in self._open.values():
                opened.store.close()
            self._open.clear()

    def _folders(self) -> list[Path]:
        if self.is_one:
            return [self.home]
        here = sorted(self.home.iterdir())
        return [path for path in here if (path / campaigns.DATABASE).is_file()]

    def _opened(self, name: str) -> _Open:
        folder = self.folder(name)
        status = (folder / campaigns.DATABASE).stat()
        identity = (status.st_dev, status.st_ino)
        with self._lock:
            opened = self._open.get(name)
            if opened is not None and opened.identity == identity:
                return opened
            if opened is not None:  # another campaign was put in its place
                opened.store.close()
            # Nobody is at work yet: each request names its own person.
            opened = _Open(campaigns.opened(folder), identity)
            self._open[name] = opened
            return opened


def device(request: Request) -> Device:
    """Device a request comes from.

    Raises
    ------
    InputError
        If it isn't paired.
    """
    found: Device | None = request.state.device
    if found is None:
        raise InputError("device", "not paired", "paired with this app", "open /pair")
    return found


def room(request: Request) -> Room:
    """Campaign named in a request's address, with the device's person at work in it.

    Raises
    ------
    NotThere
        If there is no such campaign.
    """
    rooms: Rooms = request.app.state.rooms
    found = rooms.room(request.path_params["name"], device(request).person)
    request.state.room = found
    return found


def room_to_write(request: Request) -> Room:
    """Same as ``room``, with somebody at work: whoever is new to the campaign is entered in it.

    Raises
    ------
    InputError
        If nobody has been chosen on this device.
    """
    found = room(request)
    if found.person is not None:
        return found
    who = device(request).person
    if who is None:
        raise InputError(
            "person", "not chosen", "who is at work on this device", "choose under People"
        )
    found.store.add(
        Person(label=who.label, name=who.name, role=who.role),
        reason="first entry of this person, through the app",
    )
    return room(request)


def _person(book: Book, who: Someone | None) -> Entry[Person] | None:
    if who is None:
        return None
    return next((entry for entry in book.of(Person) if entry.record.label == who.label), None)


def _stamp(folder: Path) -> tuple[int, ...]:
    """Changes whenever the campaign's database does."""
    database = folder / campaigns.DATABASE
    log = database.with_name(database.name + "-wal")
    times = [path.stat() for path in (database, log) if path.exists()]
    return tuple(part for status in times for part in (status.st_mtime_ns, status.st_size))
