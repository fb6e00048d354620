"""Test day: a file followed through the app, with events, steps and photos beside it."""

import hashlib
import io
import re
import time
from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path
from types import SimpleNamespace

import pytest
from PIL import Image
from starlette.testclient import TestClient

from gaugewright.errors import InputError
from gaugewright.records.gauges import Attachment
from gaugewright.records.identity import working_context
from gaugewright.records.readings import Event, LoadStep, Recording
from gaugewright.services.campaign.book import Book
from gaugewright.store.campaign import CampaignStore
from gaugewright.web.followed import refuse_other_machines
from gaugewright.web.people import Someone
from tests.web.reading import words

DAY = "/c/demo/test-day"
QUIET_ROWS = 60  # of the demo's test, before it is loaded


def taken() -> bytes:
    """A picture with words in it, as some cameras write them."""
    data = io.BytesIO()
    Image.new("RGB", (40, 30), (120, 120, 120)).save(data, "JPEG", comment=b"hall 3")
    return data.getvalue()


@pytest.fixture
def at_work(writer: TestClient) -> Iterator[TestClient]:
    people = writer.app.state.people  # type: ignore[attr-defined]
    people.choose(people.devices()[0], Someone("TS", "T. Sample (invented)"))
    yield writer
    writer.app.state.followed.close()  # type: ignore[attr-defined]


@pytest.fixture
def book(tmp_path: Path):
    def read() -> Book:
        folder = tmp_path / "campaigns" / "demo"
        with CampaignStore.open(folder, working_context(), read_only=True) as store:
            return Book.read(store)

    return read


@pytest.fixture
def file(tmp_path: Path) -> Path:
    """What the demo's recorder A wrote of its test so far."""
    folder = tmp_path / "campaigns" / "demo"
    with CampaignStore.open(folder, working_context(), read_only=True) as store:
        recording = store.labelled(Recording, "test, Recorder A").record
        text = store.original_bytes(recording.original_sha256).decode()
    path = tmp_path / "live.csv"
    path.write_text("".join(text.splitlines(keepends=True)[: 2 + QUIET_ROWS]))
    return path


def stood_longer(file: Path) -> None:
    """The quiet rows over and over, with the stamps that follow: half a minute of a still load."""
    rows = file.read_text().splitlines()[2:]
    first, step = datetime.fromisoformat(rows[0].partition(",")[0]), timedelta(milliseconds=100)
    with file.open("a") as longer:
        for number in range(len(rows), 300):
            stamp = (first + number * step).isoformat(timespec="milliseconds")
            rest = rows[number % len(rows)].partition(",")[2]
            longer.write(f"{stamp.replace('+00:00', 'Z')},{rest}\n")


def begun(client: TestClient, file: Path) -> str:
    form = {"place": str(file), "profile": "files of Recorder A"}
    answer = client.post(f"{DAY}/start", data=form)
    assert answer.status_code == 200
    return shown(client)


def shown(client: TestClient) -> str:
    """The changing part, once gauges stand in it."""
    for _ in range(100):
        text = client.get(DAY, headers={"HX-Request": "true"}).text
        if "live-tile" in text:
            return text
        time.sleep(0.3)
    raise AssertionError(words(text))


def test_before_anything_is_followed_the_page_says_what_to_do(reader: TestClient) -> None:
    told = words(reader.get(DAY).text)
    assert "never a safety device" in told
    assert "Follow it" in told
    assert "files of Recorder A" in told


def test_nobody_at_work_begins_nothing(writer: TestClient, file: Path) -> None:
    form = {"place": str(file), "profile": "files of Recorder A"}
    answer = writer.post(f"{DAY}/start", data=form)
    assert answer.status_code == 422
    assert "who is at work on this device" in words(answer.text)


@pytest.mark.parametrize("place", ["", "live.csv", "/no such folder/live.csv"])
def test_a_place_that_cannot_be_is_told_beside_its_field(at_work: TestClient, place: str) -> None:
    form = {"place": place, "profile": "files of Recorder A"}
    answer = at_work.post(f"{DAY}/start", data=form)
    assert answer.status_code == 422
    assert 'id="place-wrong"' in answer.text


def test_the_changing_part_has_the_gauges_and_is_no_whole_page(
    at_work: TestClient, file: Path
) -> None:
    part = begun(at_work, file)
    assert "<html" not in part
    told = words(part)
    assert "L3-M-T with L3-M-U" in told
    assert "predicted" in told
    assert f"{QUIET_ROWS}" in told
    whole = at_work.get(DAY).text
    assert 'http-equiv="refresh"' in whole  # for browsers without scripts
    assert "js/test_day.js" in whole
    assert "<style" not in whole
    assert " style=" not in whole
    assert "onclick" not in whole


def test_a_file_is_followed_once(at_work: TestClient, file: Path) -> None:
    begun(at_work, file)
    form = {"place": str(file), "profile": "files of Recorder A"}
    answer = at_work.post(f"{DAY}/start", data=form)
    assert answer.status_code == 422
    assert "followed already" in words(answer.text)


def test_a_tap_keeps_the_recorder_s_clock_in_the_journal(
    at_work: TestClient, file: Path, book, tmp_path: Path
) -> None:
    begun(at_work, file)
    form = {"key": "page-0123456789abcdef", "kind": "crack seen", "back": "test-day"}
    answer = at_work.post("/c/demo/events", data=form, follow_redirects=False)
    assert answer.headers["location"] == DAY
    entry = max(book().of(Event), key=lambda entry: entry.at)
    assert entry.record.kind == "crack seen"
    folder = tmp_path / "campaigns" / "demo"
    with CampaignStore.open(folder, working_context(), read_only=True) as store:
        reason = store.history(entry.uid)[-1].reason
    assert "rows of live.csv came" in reason
    assert "after their stamp at best" in reason


def test_too_few_rows_for_a_hold_become_no_load_step(at_work: TestClient, file: Path, book) -> None:
    at_work.app.state.followed.close()  # type: ignore[attr-defined]
    begun(at_work, file)
    answer = at_work.post(f"{DAY}/step", data={"label": "nothing yet", "load": "0"})
    assert answer.status_code == 422
    assert "a load that stands still" in words(answer.text)
    assert "nothing yet" not in [e.record.label for e in book().of(LoadStep)]


def test_a_hold_becomes_a_load_step(at_work: TestClient, file: Path, book) -> None:
    at_work.app.state.followed.close()  # type: ignore[attr-defined]
    stood_longer(file)
    begun(at_work, file)
    answer = at_work.post(f"{DAY}/step", data={"label": "stood still", "load": "0"})
    assert answer.status_code == 200
    [step] = [e.record for e in book().of(LoadStep) if e.record.label == "stood still"]
    assert step.load == 0.0
    assert step.begins < step.ends


def test_a_photo_is_written_anew_and_kept_with_its_crack(at_work: TestClient, book) -> None:
    data = taken()
    form = {"key": "page-fedcba9876543210", "caption": "below load 1", "gauge": "L3-M-T"}
    answer = at_work.post(
        f"{DAY}/photo", data=form, files={"photo": ("crack.jpg", data, "image/jpeg")}
    )
    assert answer.status_code == 200
    [photo] = book().of(Attachment)
    assert photo.record.taken_sha256 == hashlib.sha256(data).hexdigest()
    event = book().entry(photo.record.of, Event).record
    assert (event.kind, event.text) == ("crack seen", "below load 1")
    url = re.search(r'src="([^"]*/photos/[^"]+)"', answer.text)
    assert url is not None
    shown = at_work.get(url[1])
    assert hashlib.sha256(shown.content).hexdigest() == photo.record.sha256
    assert b"hall 3" not in shown.content
    assert Image.open(io.BytesIO(shown.content)).size == (40, 30)
    assert shown.headers["content-type"] == "image/jpeg"


def test_what_is_no_photo_is_refused_and_nothing_is_noted(at_work: TestClient, book) -> None:
    before = len(book().of(Event))
    form = {"key": "page-fedcba9876543211"}
    files = {"photo": ("crack.jpg", b"<svg onload=alert(1)>", "image/jpeg")}
    answer = at_work.post(f"{DAY}/photo", data=form, files=files)
    assert answer.status_code == 422
    assert "a JPEG, PNG or WebP picture" in words(answer.text)
    assert len(book().of(Event)) == before
    assert not book().of(Attachment)


def test_stopped_the_whole_file_is_brought_in_and_compared(
    at_work: TestClient, file: Path, book
) -> None:
    begun(at_work, file)
    early = at_work.post(f"{DAY}/import", data={"number": "0", "recording": "early"})
    assert "stopped before its file is brought in" in words(early.text)
    assert at_work.post(f"{DAY}/stop").status_code == 200
    assert "no longer followed" in words(at_work.get(DAY).text)
    form = {"number": "0", "recording": "followed test", "within": "0,5"}
    begun_job = at_work.post(f"{DAY}/import", data=form, follow_redirects=False)
    url = begun_job.headers["location"]
    assert "/jobs/" in url
    for _ in range(150):
        part = at_work.get(url, headers={"HX-Request": "true"}).text
        if "<progress" not in part:
            break
        time.sleep(0.3)
    told = words(part)
    assert f"All {QUIET_ROWS} rows that were followed are in the recording" in told
    assert "followed test" in [entry.record.label for entry in book().of(Recording)]
    page = words(at_work.get(DAY).text)
    assert f"All {QUIET_ROWS} rows that were followed are in the recording" in page
    assert "Bring live.csv in" not in page
    form = {"number": "0", "recording": "followed test"}
    taken_name = at_work.post(f"{DAY}/import", data=form)
    assert taken_name.status_code == 422
    assert "another recording is called so" in words(taken_name.text)


def test_a_look_is_drawn_once_and_not_sent_twice(at_work: TestClient, file: Path) -> None:
    part = begun(at_work, file)
    seen = re.search(r'data-seen="([^"]+)"', part)
    assert seen is not None
    asking = {"HX-Request": "true"}
    for _ in range(100):
        part = at_work.get(DAY, headers=asking).text
        again = re.search(r'data-seen="([^"]+)"', part)
        assert again is not None
        answer = at_work.get(f"{DAY}?seen={again[1]}", headers=asking)
        if answer.status_code == 204:
            return
    raise AssertionError("a look that was seen already was sent again and again")


def test_after_the_app_was_started_again_it_follows_on(at_work: TestClient, file: Path) -> None:
    begun(at_work, file)
    tests = at_work.app.state.followed  # type: ignore[attr-defined]
    tests.close()  # as the app does when it ends, or is ended
    tests._threads.clear()
    assert "Stop following" in words(at_work.get(DAY).text)
    assert "L3-M-T with L3-M-U" in words(shown(at_work))
    assert at_work.post(f"{DAY}/stop").status_code == 200
    tests._threads.clear()
    assert "Stop following" not in words(at_work.get(DAY).text)


def test_a_form_s_address_opened_again_leads_to_the_page(reader: TestClient) -> None:
    answer = reader.get(f"{DAY}/start", follow_redirects=False)
    assert answer.headers["location"] == DAY


def test_a_device_of_the_network_names_no_files_of_this_machine() -> None:
    def asking(host: str, *, lan: bool) -> SimpleNamespace:
        state = SimpleNamespace(lan=lan)
        return SimpleNamespace(client=SimpleNamespace(host=host), app=SimpleNamespace(state=state))

    refuse_other_machines(asking("127.0.0.1", lan=True))  # type: ignore[arg-type]
    refuse_other_machines(asking("testclient", lan=False))  # type: ignore[arg-type]
    with pytest.raises(InputError, match="the machine that runs this app"):
        refuse_other_machines(asking("192.168.1.20", lan=True))  # type: ignore[arg-type]
