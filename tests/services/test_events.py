"""Events: noted once for each key whatever happens in between, changed in sight of both values."""

import threading
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from gaugewright.errors import InputError, StaleEdit
from gaugewright.records.identity import working_context
from gaugewright.records.readings import Event
from gaugewright.records.specimen import Campaign
from gaugewright.services.campaign import events
from gaugewright.store.campaign import CampaignStore

AT = datetime(2026, 6, 14, 9, 30, tzinfo=UTC)
CRACK = Event(AT, "crack seen", "midspan")
KEY = "0123456789abcdef"
ROME = ZoneInfo("Europe/Rome")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    campaign = Campaign("c", "Invented campaign", "UTC", invented=True)
    CampaignStore.create(tmp_path / "c", campaign, working_context()).close()
    return tmp_path / "c"


@pytest.fixture
def store(folder: Path) -> Iterator[CampaignStore]:
    with CampaignStore.open(folder, working_context()) as opened:
        yield opened


def test_the_same_form_sent_again_is_the_same_event(store: CampaignStore) -> None:
    first = events.note(store, CRACK, key=KEY)
    again = events.note(store, CRACK, key=KEY)
    assert (first.is_new, again.is_new) == (True, False)
    assert again.entry == first.entry
    assert len(store.entries(Event)) == 1


def test_two_events_that_look_alike_are_two_when_they_were_sent_as_two(
    store: CampaignStore,
) -> None:
    events.note(store, CRACK, key=KEY)
    events.note(store, CRACK, key=KEY[::-1])
    assert len(store.entries(Event)) == 2


def test_a_key_stands_for_one_content(store: CampaignStore) -> None:
    events.note(store, CRACK, key=KEY)
    with pytest.raises(InputError, match="came before with other words"):
        events.note(store, Event(AT, "noise heard", ""), key=KEY)
    assert len(store.entries(Event)) == 1


@pytest.mark.parametrize("key", ["", "short", "x" * 81, "ä" * 20, "with\nline break here"])
def test_what_can_be_no_key_is_refused(store: CampaignStore, key: str) -> None:
    with pytest.raises(InputError, match="key of a form"):
        events.note(store, CRACK, key=key)
    assert not store.entries(Event)


def test_a_program_that_dies_after_the_key_and_before_the_record_loses_and_doubles_nothing(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with CampaignStore.open(folder, working_context()) as store:

        def dies(*_: object, **__: object) -> None:
            raise KeyboardInterrupt

        with monkeypatch.context() as patched:
            patched.setattr(type(store), "add", dies)
            with pytest.raises(KeyboardInterrupt):
                events.note(store, CRACK, key=KEY)
        assert not store.entries(Event)
    with CampaignStore.open(folder, working_context()) as store:
        assert events.note(store, CRACK, key=KEY).is_new
        assert not events.note(store, CRACK, key=KEY).is_new
        assert len(store.entries(Event)) == 1


def test_sent_by_many_at_once_it_is_written_once(store: CampaignStore) -> None:
    noted: list[events.Noted] = []
    threads = [
        threading.Thread(target=lambda: noted.append(events.note(store, CRACK, key=KEY)))
        for _ in range(8)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sum(each.is_new for each in noted) == 1
    assert len({each.entry.uid for each in noted}) == 1
    assert len(store.entries(Event)) == 1


def test_an_event_taken_out_does_not_come_back_when_its_form_is_sent_again(
    store: CampaignStore,
) -> None:
    noted = events.note(store, CRACK, key=KEY)
    events.take_out(store, noted.entry.uid, 1, reason="tapped by mistake")
    assert not events.note(store, CRACK, key=KEY).is_new
    assert not store.entries(Event)


def test_a_stale_edit_holds_both_values_and_writes_nothing(store: CampaignStore) -> None:
    noted = events.note(store, CRACK, key=KEY)
    theirs, mine = Event(AT, "crack seen", "at the support"), Event(AT, "crack seen", "none")
    events.change(store, noted.entry.uid, 1, theirs, reason="looked again")
    with pytest.raises(StaleEdit) as caught:
        events.change(store, noted.entry.uid, 1, mine, reason="no crack")
    assert (caught.value.theirs, caught.value.yours) == (theirs, mine)
    assert store.entry(noted.entry.uid).record == theirs


def test_a_change_sent_again_is_no_stale_edit(store: CampaignStore) -> None:
    uid = events.note(store, CRACK, key=KEY).entry.uid
    changed = Event(AT, "crack seen", "at the support")
    first = events.change(store, uid, 1, changed, reason="looked again")
    assert events.change(store, uid, 1, changed, reason="looked again") == first
    assert len(store.history(uid)) == 2


def test_taking_out_what_somebody_changed_is_a_stale_edit(store: CampaignStore) -> None:
    uid = events.note(store, CRACK, key=KEY).entry.uid
    events.change(store, uid, 1, Event(AT, "crack seen", "at the support"), reason="looked")
    with pytest.raises(StaleEdit):
        events.take_out(store, uid, 1, reason="tapped by mistake")
    assert len(store.entries(Event)) == 1


@pytest.mark.parametrize(
    ("typed", "utc"),
    [
        ("14:05", "2026-06-14T12:05:00+00:00"),
        ("14:05:30", "2026-06-14T12:05:30+00:00"),
        ("2026-01-02 08:00", "2026-01-02T07:00:00+00:00"),
        ("2026-01-02T08:00:05", "2026-01-02T07:00:05+00:00"),
        ("02.01.2026 08:00", "2026-01-02T07:00:00+00:00"),
        ("00:30", "2026-06-13T22:30:00+00:00"),
    ],
)
def test_a_typed_time_is_the_hall_s(typed: str, utc: str) -> None:
    assert events.instant_typed(typed, ROME, AT).isoformat() == utc


# Clocks in Rome go forward on the last Sunday of March at 2 and back on that of October at 3.
@pytest.mark.parametrize(
    ("typed", "why"),
    [
        ("2026-03-29 02:30", "put forward"),
        ("2026-10-25 02:30", "put back"),
        ("soon", "like 14:05"),
        ("25:00", "like 14:05"),
        ("", "like 14:05"),
    ],
)
def test_a_time_that_was_never_or_twice_is_refused(typed: str, why: str) -> None:
    with pytest.raises(InputError, match=why):
        events.instant_typed(typed, ROME, AT)
