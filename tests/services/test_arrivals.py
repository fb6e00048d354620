"""Files handed in: kept under names of our own, looked into as text, brought in whole or not."""

import io
import random
import zipfile
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest

from gaugewright.errors import FileError, InputError
from gaugewright.records.identity import Uid, working_context
from gaugewright.records.readings import ClockMap, ReadingProfile, Recording
from gaugewright.records.specimen import Campaign
from gaugewright.services.dispatching.kinds import KINDS
from gaugewright.services.reading import arrivals, layouts
from gaugewright.services.reading.arrivals import Arrival, Plan
from gaugewright.services.reading.clocks import ByStamps
from gaugewright.services.work import jobs
from gaugewright.store.campaign import CampaignStore

LIMIT = 1_000_000
TEXT = b"t [s],Load [kN],SG 1 [um/m]\n" + b"".join(
    b"%d.0,%d.5,%d.25\n" % (n, n, 10 * n) for n in range(40)
)


@pytest.fixture
def store(tmp_path: Path) -> Iterator[CampaignStore]:
    campaign = Campaign("c", "Invented campaign", "UTC", invented=True)
    with CampaignStore.create(tmp_path / "c", campaign, working_context()) as opened:
        yield opened


def handed_in(store: CampaignStore, content: bytes = TEXT, name: str = "pull 1.csv") -> Arrival:
    return arrivals.taken_in(store, name, io.BytesIO(content), limit_bytes=LIMIT)


def plan_for(store: CampaignStore, one: Arrival, label: str = "pull 1") -> Plan:
    seen = arrivals.looked_into(store, one)
    layout = layouts.confirmed(seen, {}, {})
    return Plan(layout, label, None, "clock of recorder", "recorder, forty rows")


def put_up(store: CampaignStore, one: Arrival, plan: Plan) -> Uid:
    """Begin the work without a process: the test does it itself."""
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(jobs, "submit", jobs.begun)
        return arrivals.submit(store, one, plan, resolution=1.0)


def done_here(store: CampaignStore, one: Arrival, plan: Plan) -> str:
    return jobs.run(store, put_up(store, one, plan), KINDS).message


def test_a_file_waits_and_is_found_again(store: CampaignStore) -> None:
    one = handed_in(store)
    assert arrivals.arrivals(store) == (one,)
    assert arrivals.arrival(store, one.uid) == one
    assert (one.name, one.size_bytes) == ("pull 1.csv", len(TEXT))
    assert not store.entries(Recording)


def test_brought_in_it_is_a_recording_with_its_own_name_and_waits_no_longer(
    store: CampaignStore,
) -> None:
    one = handed_in(store)
    message = done_here(store, one, plan_for(store, one))
    assert message.startswith("40 rows kept, 0 reported")
    (entry,) = store.entries(Recording)
    assert (entry.record.label, entry.record.file_name) == ("pull 1", "pull 1.csv")
    assert store.original_bytes(entry.record.original_sha256) == TEXT
    assert not arrivals.arrivals(store)


def test_the_next_file_of_the_kind_is_recognised_and_another_isn_t(store: CampaignStore) -> None:
    one = handed_in(store)
    assert not arrivals.recognised(store, arrivals.looked_into(store, one))
    done_here(store, one, plan_for(store, one))
    again = handed_in(store, TEXT.replace(b"0.5", b"0.75"), "pull 2.csv")
    (profile,) = arrivals.recognised(store, arrivals.looked_into(store, again))
    assert profile.record.label == "recorder, forty rows"
    german = handed_in(store, TEXT.replace(b",", b";").replace(b".", b","), "pull 3.csv")
    assert not arrivals.recognised(store, arrivals.looked_into(store, german))
    other = handed_in(store, TEXT.replace(b"Load", b"Force"), "pull 4.csv")
    assert not arrivals.recognised(store, arrivals.looked_into(store, other))


def test_a_clock_is_joined_with_the_import_when_that_was_confirmed(store: CampaignStore) -> None:
    stamped = b"time,Load [kN]\n" + b"".join(
        b"2026-06-14 09:00:%02d,%d.5\n" % (n, n) for n in range(40)
    )
    one = handed_in(store, stamped)
    seen = arrivals.looked_into(store, one)
    layout = layouts.confirmed(seen, {"zone": "UTC"}, {})
    plan = Plan(layout, "pull", None, "recorder", "stamped", ByStamps(0.5, "set by radio"))
    done_here(store, one, plan)
    (joined,) = store.entries(ClockMap)
    assert joined.record.epoch == datetime(2026, 6, 14, 9, tzinfo=UTC)


def test_the_same_bytes_are_refused_before_any_question_is_asked(store: CampaignStore) -> None:
    one = handed_in(store)
    done_here(store, one, plan_for(store, one))
    with pytest.raises(InputError, match="pull 1 has the same bytes"):
        handed_in(store, name="another name.csv")
    assert not arrivals.arrivals(store)


@pytest.mark.parametrize(
    "name",
    [
        "",
        " ",
        ".",
        "..",
        "../x.csv",
        "a/b.csv",
        "a\\b.csv",
        "C:\\x.csv",
        "a\x00b",
        "a\nb",
        "x" * 201,
    ],
)
def test_a_name_that_is_more_than_a_name_is_refused_and_nothing_is_kept(
    store: CampaignStore, name: str
) -> None:
    with pytest.raises(InputError, match="file name"):
        handed_in(store, name=name)
    assert not arrivals.arrivals(store)


def test_the_name_of_a_file_never_becomes_a_path(store: CampaignStore) -> None:
    one = handed_in(store, name="campaign.sqlite")
    kept = [path for path in (store.folder / "cache" / "arrivals").rglob("*") if path.is_file()]
    assert {path.name for path in kept} == {"bytes", "told.json"}
    assert one.name == "campaign.sqlite"


def test_a_file_over_the_limit_is_refused_and_nothing_is_kept(store: CampaignStore) -> None:
    with pytest.raises(InputError, match="at most 1000000 bytes"):
        handed_in(store, b"1,2\n" * 300_000)
    with pytest.raises(InputError, match="0 bytes"):
        handed_in(store, b"")
    assert not list((store.folder / "cache" / "arrivals").iterdir())


def zipped() -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as file:
        file.writestr("xl/workbook.xml", "<workbook/>" * 400)
    return out.getvalue()


@pytest.mark.parametrize(
    "content",
    [
        zipped(),
        b"\x89PNG\r\n\x1a\n" + random.Random(1).randbytes(20_000),
        b"%PDF-1.7\n" + random.Random(2).randbytes(20_000),
        b"\x7fELF" + random.Random(3).randbytes(20_000),
        b"\x00" * 5_000,
    ],
    ids=["xlsx", "png", "pdf", "program", "zeros"],
)
def test_what_is_no_text_is_refused_in_a_sentence_that_names_the_file_whatever_its_extension(
    store: CampaignStore, content: bytes
) -> None:
    one = handed_in(store, content, "readings.csv")
    with pytest.raises(FileError, match=r"^readings\.csv"):
        arrivals.looked_into(store, one)


def test_a_cancelled_import_writes_nothing_and_the_file_still_waits(store: CampaignStore) -> None:
    one = handed_in(store)
    plan = plan_for(store, one)
    before = store.head()
    uid = put_up(store, one, plan)
    jobs.ask_to_cancel(store, uid)
    ended = jobs.run(store, uid, KINDS)
    assert ended.state is jobs.JobState.CANCELLED
    assert store.head() == before
    assert arrivals.arrivals(store) == (one,)
    assert not store.entries(ReadingProfile)


def test_an_error_names_the_file_as_it_came(store: CampaignStore) -> None:
    one = handed_in(store)
    plan = plan_for(store, one)
    (store.folder / "cache" / "arrivals" / one.uid / "bytes").write_bytes(b"nothing\nof it\n")
    assert done_here(store, one, plan).startswith("pull 1.csv: no row could be kept")
    assert arrivals.arrivals(store) == (one,)


def test_asked_for_twice_the_work_is_begun_once(store: CampaignStore) -> None:
    one = handed_in(store)
    plan = plan_for(store, one)
    assert put_up(store, one, plan) == put_up(store, one, plan)
    assert len(jobs.jobs(store)) == 1
