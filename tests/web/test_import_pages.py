"""A file through the app: handed in, asked about, brought in as a job, recognised next time."""

import random
import re
import time
from pathlib import Path

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from gaugewright import settings
from gaugewright.records.identity import working_context
from gaugewright.records.readings import ClockMap, ReadingProfile, Recording
from gaugewright.store.campaign import CampaignStore
from gaugewright.web.app import create_app
from gaugewright.web.people import Someone
from tests.web.conftest import BASE, TOKEN
from tests.web.reading import words

IMPORT = "/c/beam/import"
PULL = (
    b"time,Load [kN],SG 1 [um/m],SG 2\n"
    b"03/04/2026 09:00:00,0.0,1.0,0.1\n"
    b"03/04/2026 09:00:01,0.5,2.0,0.2\n"
    b"03/04/2026 09:00:02,1.0,OVERRANGE,0.3\n"
    b"03/04/2026 09:00:03,1.5,4.0,-9999\n"
)
ANSWERS = {
    "do": "bring in",
    "date_order": "dd/mm/yyyy hh:mm:ss",
    "zone": "Europe/Rome",
    "unit_4": "mV/V",
    "numeric_markers": "-9999",
    "label": "pull 1",
    "profile": "recorder of the hall",
    "joint": "stamps",
    "within": "0,5",
    "source": "set by radio",
}


@pytest.fixture
def at_work(app: FastAPI, client: TestClient) -> TestClient:
    people = app.state.people
    people.choose(people.devices()[0], Someone("AB", "A. Bonder (invented)"))
    return client


def handed_in(client: TestClient, content: bytes = PULL, name: str = "pull 1.csv") -> str:
    answer = client.post(IMPORT, files={"file": (name, content)})
    assert answer.status_code == 200, words(answer.text)
    return str(answer.url).removeprefix(BASE)


def ended(client: TestClient, address: str) -> str:
    """Words of a job's part once it is over."""
    for _ in range(200):
        part = client.get(address, headers={"hx-request": "true"}).text
        if "hx-trigger" not in part:
            return words(part)
        time.sleep(0.1)
    raise AssertionError("the job didn't end")


def recordings(home: Path) -> list[Recording]:
    with CampaignStore.open(home / "beam", working_context(), read_only=True) as store:
        return [entry.record for entry in store.entries(Recording)]


def test_what_was_understood_is_shown_and_what_isn_t_in_the_file_is_asked(
    at_work: TestClient, home: Path
) -> None:
    said = words(at_work.get(handed_in(at_work)).text)
    for expected in (
        "4 questions the file can",
        "In what order is the date in column 1",
        "Which zone did the clock of column 1 show?",
        "What unit is column 4 (SG 2) in?",
        "Do these numbers stand for no reading: -9999",
        "OVERRANGE (overrange), once in SG 1",
        "03/04/2026 09:00:02",
    ):
        assert expected in said
    assert recordings(home) == []


def test_confirmed_it_is_brought_in_by_a_job_and_recognised_the_next_time(
    at_work: TestClient, home: Path
) -> None:
    where = handed_in(at_work)
    answer = at_work.post(where, data=ANSWERS)
    job = str(answer.url).removeprefix(BASE)
    assert "/c/beam/jobs/" in job
    assert "4 rows kept, 0 reported" in ended(at_work, job)
    (record,) = recordings(home)
    assert (record.label, record.file_name, record.rows) == ("pull 1", "pull 1.csv", 4)
    assert {(mark.column, mark.code, mark.count) for mark in record.marks} == {
        ("SG 1", "overrange", 1),
        ("SG 2", "declared", 1),
    }
    with CampaignStore.open(home / "beam", working_context(), read_only=True) as store:
        assert [e.record.label for e in store.entries(ReadingProfile)] == ["recorder of the hall"]
        (joined,) = store.entries(ClockMap)
        # 3 April in Rome is two hours ahead of UTC.
        assert joined.record.epoch.isoformat() == "2026-04-03T07:00:00+00:00"
        # Half a second as stated, and half of the last digit that the stamps show.
        assert joined.record.offset.plus_minus == 0.5 + 0.5
    again = handed_in(at_work, PULL.replace(b"0.5,2.0", b"0.5,2.5"), "pull 2.csv")
    assert "Recognised: it reads as recorder of the hall" in words(at_work.get(again).text)
    second = at_work.post(again, data={"do": "bring in", "label": "pull 2"})
    assert "4 rows kept" in ended(at_work, str(second.url).removeprefix(BASE))
    assert [each.label for each in recordings(home)] == ["pull 1", "pull 2"]


CLEAN = PULL.replace(b"-9999", b"0.4")


def cleanly_brought_in(client: TestClient) -> None:
    clean = {name: value for name, value in ANSWERS.items() if name != "numeric_markers"}
    job = str(client.post(handed_in(client, CLEAN, "clean.csv"), data=clean).url)
    assert "4 rows kept" in ended(client, job.removeprefix(BASE))


@pytest.mark.parametrize("waits_already", [True, False])
def test_a_profile_from_a_clean_file_doesn_t_silence_the_question_about_a_number_it_never_saw(
    at_work: TestClient, home: Path, waits_already: bool
) -> None:
    second = {"do": "bring in", "label": "pull 2"}
    where = handed_in(at_work) if waits_already else ""
    cleanly_brought_in(at_work)
    where = where or handed_in(at_work)
    shown = words(at_work.get(where).text)
    assert "it reads as recorder of the hall" in shown
    assert "stand for no reading: -9999? List those that do, or none" in shown
    for unanswered in ({}, {"numeric_markers": "-8888"}):
        answer = at_work.post(where, data=second | unanswered)
        assert answer.status_code == 422
        assert 'id="numeric_markers-wrong"' in answer.text
    assert len(recordings(home)) == 1
    answer = at_work.post(where, data=second | {"numeric_markers": "-9999"})
    assert "4 rows kept" in ended(at_work, str(answer.url).removeprefix(BASE))
    record = recordings(home)[1]
    assert ("SG 2", "declared", 1) in {(m.column, m.code, m.count) for m in record.marks}
    with CampaignStore.open(home / "beam", working_context(), read_only=True) as store:
        profile = store.entry(record.profile).record
    assert '"-9999"' in profile.layout  # the one it was really read with


def test_answers_are_kept_for_other_files_only_under_a_name_that_a_person_gave(
    at_work: TestClient, home: Path
) -> None:
    where = handed_in(at_work)
    field = re.search(r'<input[^>]*name="profile"[^>]*>', at_work.get(where).text)
    assert field is not None
    assert 'value="' not in field[0] or 'value=""' in field[0]
    answer = at_work.post(where, data=ANSWERS | {"profile": ""})
    assert "4 rows kept" in ended(at_work, str(answer.url).removeprefix(BASE))
    again = handed_in(at_work, PULL.replace(b"0.5,2.0", b"0.5,2.5"), "pull 2.csv")
    assert "Recognised" not in words(at_work.get(again).text)


@pytest.mark.parametrize("left_out", ["date_order", "zone", "unit_4", "numeric_markers"])
def test_nothing_is_brought_in_while_a_question_is_open(
    at_work: TestClient, home: Path, left_out: str
) -> None:
    answers = {name: value for name, value in ANSWERS.items() if name != left_out}
    answer = at_work.post(handed_in(at_work), data=answers)
    assert answer.status_code == 422
    assert f'id="{left_out}-wrong"' in answer.text
    assert 'value="recorder of the hall"' in answer.text  # what was typed is still there
    assert recordings(home) == []


@pytest.mark.parametrize(
    ("field", "typed", "said"),
    [
        ("unit_4", "furlong", "unit is 'furlong'"),
        ("zone", "Europe/Nowhere", "europe/nowhere"),
        ("numeric_markers", "perhaps", "number is 'perhaps'"),
        ("word_markers", "OFF", "word is 'off'"),
        ("within", "", "within"),
        ("within", "soon", "within is 'soon'"),
        ("source", "", "source is empty"),
        ("label", "", "label is empty"),
        ("label", "x" * 81, "label"),
        ("instrument", "nobody", "instrument is 'nobody'"),
        ("first_data_row", "-3", "first_data_row is '-3'"),
        ("first_data_row", "900", "first_data_row"),
        ("joint", "trigger", "reference"),
        ("clock", "column 99", "column 99"),
    ],
)
def test_an_answer_that_can_t_be_used_is_refused_in_a_sentence(
    at_work: TestClient, home: Path, field: str, typed: str, said: str
) -> None:
    answer = at_work.post(handed_in(at_work), data=ANSWERS | {field: typed})
    if answer.status_code == 200:  # found by the work itself: the file waits on
        assert said in ended(at_work, str(answer.url).removeprefix(BASE)).casefold()
    else:
        assert answer.status_code == 422
        assert said in words(answer.text).casefold()
    assert recordings(home) == []


def test_a_wrong_structure_can_be_stated_otherwise(at_work: TestClient) -> None:
    where = handed_in(at_work)
    said = words(at_work.post(where, data={"do": "look", "first_data_row": "3"}).text)
    assert "data begin in line 3" in said


def test_a_decimal_mark_that_reads_nothing_is_refused_beside_its_field(at_work: TestClient) -> None:
    rows = b"".join(b"%d;0,%03d\n" % (n, n) for n in range(1, 41))
    where = handed_in(at_work, b"t [s];Load [kN]\n" + rows)
    answer = at_work.post(where, data={"do": "bring in", "label": "p", "decimal": "."})
    assert answer.status_code == 422
    assert 'id="decimal-wrong"' in answer.text
    assert "40 of 40 sampled cells can't be read" in words(answer.text).replace("’", "'")


def test_with_nobody_chosen_it_is_said_first_and_the_file_and_the_answers_are_kept(
    app: FastAPI, client: TestClient, home: Path
) -> None:
    for page in (IMPORT, "/c/beam/review"):
        shown = client.get(page).text
        body = shown[shown.index('class="page-title"') :]
        assert "Nobody is at work" in body
        assert '<a href="/people">' in body.partition("<form")[0]
    where = handed_in(client)
    assert "Nobody is at work" in client.get(where).text
    answer = client.post(where, data=ANSWERS)
    assert answer.status_code == 422
    assert "person is 'not chosen'" in words(answer.text)
    for kept in ("recorder of the hall", "pull 1", "Europe/Rome", "set by radio", "-9999"):
        assert f'value="{kept}"' in answer.text
    assert recordings(home) == []
    people = app.state.people
    people.choose(people.devices()[0], Someone("AB", "A. Bonder (invented)"))
    assert "Nobody is at work" not in client.get(where).text
    job = str(client.post(where, data=ANSWERS).url).removeprefix(BASE)
    assert "4 rows kept" in ended(client, job)


def test_a_campaign_is_listed_with_its_folder_and_its_times_with_their_zone(
    at_work: TestClient, home: Path
) -> None:
    (home / "beam").rename(home / "hall-3")
    said = words(at_work.get("/").text)
    assert "folder hall-3" in said
    assert re.search(r"\d{4}, \d\d:\d\d, (UTC|Europe/Rome)", said)


@pytest.mark.parametrize("name", ["../pull.csv", "a/b.csv", "a\\b.csv", "..", "x" * 300])
def test_a_file_whose_name_is_a_path_is_refused(at_work: TestClient, home: Path, name: str) -> None:
    answer = at_work.post(IMPORT, files={"file": (name, PULL)})
    assert answer.status_code == 422
    assert "without a path" in words(answer.text)
    assert not list((home / "beam" / "cache").glob("arrivals/*"))


def test_what_is_no_text_is_refused_whatever_it_is_called(at_work: TestClient, home: Path) -> None:
    content = b"\x89PNG\r\n\x1a\n" + random.Random(5).randbytes(50_000)
    answer = at_work.post(IMPORT, files={"file": ("readings.csv", content)})
    assert answer.status_code == 422
    assert re.search(r"readings\.csv: ", words(answer.text), re.IGNORECASE)
    assert not list((home / "beam" / "cache").glob("arrivals/*"))


def test_a_file_over_the_limit_of_the_settings_is_refused(home: Path, tmp_path: Path) -> None:
    few = settings.load({"upload_limit_mb": "1"}, environment={}, user_folder=tmp_path / "none")
    app = create_app(few, home, token=TOKEN)
    with TestClient(app, base_url=BASE, headers={"origin": BASE}) as client:
        client.get("/", params={"key": TOKEN})
        people = app.state.people
        people.choose(people.devices()[0], Someone("AB", "A. Bonder (invented)"))
        fits = PULL + b"03/04/2026 09:00:04,1.5,4.0,0.3\n" * 30_000
        for content in (fits + b"x" * 100_000, b"1,2\n" * 1_000_000):
            answer = client.post(IMPORT, files={"file": ("long.csv", content)})
            assert answer.status_code in (413, 422)
        assert client.post(IMPORT, files={"file": ("long.csv", fits)}).status_code == 200
    kept = list((home / "beam" / "cache").glob("arrivals/*"))
    assert len(kept) == 1


def test_the_same_bytes_again_are_refused_and_a_waiting_file_can_be_let_go(
    at_work: TestClient, home: Path
) -> None:
    where = handed_in(at_work)
    ended(at_work, str(at_work.post(where, data=ANSWERS).url).removeprefix(BASE))
    answer = at_work.post(IMPORT, files={"file": ("again.csv", PULL)})
    assert answer.status_code == 422
    assert "pull 1 has the same bytes" in words(answer.text)
    other = handed_in(at_work, PULL + b"03/04/2026 09:00:04,1.5,4.0,0.3\n")
    assert at_work.post(f"{other}/discard").status_code == 200
    assert at_work.get(other).status_code == 404


def test_a_script_in_a_column_s_name_stays_a_name(at_work: TestClient) -> None:
    bad = b"<script>alert(1)</script>"
    page = at_work.get(handed_in(at_work, PULL.replace(b"SG 2", bad))).text
    assert bad.decode() not in page
    assert "&lt;script&gt;" in page


def test_a_job_is_found_by_its_uid_alone_and_listed(at_work: TestClient) -> None:
    job = str(at_work.post(handed_in(at_work), data=ANSWERS).url).removeprefix(BASE)
    ended(at_work, job)
    uid = job.rpartition("/")[2]
    assert str(at_work.get(f"/jobs/{uid}").url).removeprefix(BASE) == job
    assert "Bringing in pull 1.csv" in words(at_work.get("/c/beam/jobs").text)
    for other in ("/jobs/01M8924PT0XWQN697ANZPBGY77", "/c/beam/jobs/01M8924PT0XWQN697ANZPBGY77"):
        assert at_work.get(other).status_code == 404


def test_a_file_whose_time_counts_from_its_own_start_is_asked_when_that_was(
    at_work: TestClient, home: Path
) -> None:
    rows = "".join(f"{n / 2:.1f}\t{0.1 * n:.2f}\t{'OVER' if n > 5 else n}\n" for n in range(8))
    head = "Test\nStart 12.01.2027 09:15:00\n\nTime\tCH1\tCH2\ns\tmV/V\tkN\n"
    address = handed_in(at_work, (head + rows).encode(), "tie.txt")
    text = words(at_work.get(address).text)
    assert "2 questions the file can’t answer" in text.replace("'", "’")
    assert "When did the time in column Time read 0? Line 2 says: Start 12.01.2027 09:15:00" in text
    assert "2027-01-12 09:15:00 (line 2, day first)" in text
    assert "2027-12-01 09:15:00 (line 2, month first)" in text
    assert "OVER (overrange), 2 times in CH2" in text
    assert "is this campaign's own; or such as UTC" in text
    typed = {"do": "bring in", "label": "tie", "joint": "stamps", "within": "1", "source": "watch"}
    refused = at_work.post(address, data=typed | {"epoch": "none"})
    assert refused.status_code == 422
    assert "no day is known of them" in words(refused.text)
    bad = {"epoch": "typed", "epoch_typed": "12.01.2027", "zone": "Europe/Rome"}
    refused = at_work.post(address, data=typed | bad)
    assert refused.status_code == 422
    assert "date and time such as 2027-01-12 09:15:00" in words(refused.text)
    good = {"epoch": "2027-01-12 09:15:00", "zone": "Europe/Rome"}
    answer = at_work.post(address, data=typed | good)
    part = ended(at_work, str(answer.url).removeprefix(BASE))
    assert "Take a zero" in part
    assert "Look at tie" in part
    with CampaignStore.open(home / "beam", working_context(), read_only=True) as store:
        [joined] = [e.record for e in store.entries(ClockMap)]
    assert joined.epoch.isoformat() == "2027-01-12T08:15:00+00:00"
    assert joined.offset.plus_minus == pytest.approx(1.5)  # 1 s, and half of the line's last digit


def test_work_that_failed_leads_back_to_the_answers(at_work: TestClient, home: Path) -> None:
    first = at_work.post(handed_in(at_work), data=ANSWERS)
    ended(at_work, str(first.url).removeprefix(BASE))
    rows = "".join(f"{n};{n}.5\n" for n in range(8))
    address = handed_in(at_work, f"Time (s);T (kN)\n{rows}".encode(), "two.txt")
    with CampaignStore.open(home / "beam", working_context(), read_only=True) as store:
        reference = next(iter(store.entries(Recording))).uid
    typed = {"do": "bring in", "label": "two", "epoch": "none", "joint": "trigger"}
    typed |= {"reference": reference, "trigger": "T", "level": "900", "sign_2": "tension"}
    answer = at_work.post(address, data=typed)
    part = ended(at_work, str(answer.url).removeprefix(BASE))
    assert "not done" in words(part)
    assert "Back to the answers" in part
    assert 'value="900"' in at_work.get(address).text
