"""A file is shown, asked about, confirmed and only then imported; what is wrong changes nothing."""

import json
import re
from collections.abc import Callable
from pathlib import Path

import pytest

from gaugewright.cli import main
from gaugewright.records.electrical import Channel, Instrument
from gaugewright.records.identity import working_context
from gaugewright.records.readings import ClockMap, ReadingProfile, Recording
from gaugewright.records.stated import Stated
from gaugewright.store.campaign import CampaignStore, JournalHead

Head = Callable[[Path], JournalHead]
ZONE = ["--zone", "Europe/Rome"]


def told(capsys: pytest.CaptureFixture[str], *arguments: object) -> dict[str, object]:
    assert main(["import", *map(str, arguments), "--json"]) == 0
    found: dict[str, object] = json.loads(capsys.readouterr().out)
    return found


def test_what_was_understood_is_shown_with_its_open_question_and_nothing_is_imported(
    campaign: Path, raw: Path, head: Head, capsys: pytest.CaptureFixture[str]
) -> None:
    before = head(campaign)
    assert main(["import", str(campaign), str(raw)]) == 0
    shown = capsys.readouterr().out
    for words in ("decimal mark ,", "dd.mm.yyyy hh:mm:ss", "kN", "µm/m", "--zone ZONE"):
        assert words in shown
    assert head(campaign) == before


def test_yes_with_an_open_question_imports_nothing_and_ends_with_2(
    campaign: Path, raw: Path, head: Head, capsys: pytest.CaptureFixture[str]
) -> None:
    before = head(campaign)
    assert main(["import", str(campaign), str(raw), "--yes"]) == 2
    assert "missing for zone" in capsys.readouterr().err
    assert head(campaign) == before


def test_the_help_says_how_an_open_question_ends(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["import", "--help"]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "--yes with an open question imports nothing and ends with status 2" in said
    assert "showing alone ends with 0" in said


def test_answers_without_yes_import_nothing(
    campaign: Path, raw: Path, head: Head, capsys: pytest.CaptureFixture[str]
) -> None:
    before = head(campaign)
    shown = told(capsys, campaign, raw, *ZONE)
    assert (shown["imported"], shown["questions"]) == (False, [])
    assert head(campaign) == before


def test_a_confirmed_file_is_kept_with_its_rows_numbers_and_instant(
    campaign: Path, raw: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    kept = told(capsys, campaign, raw, *ZONE, "--yes")
    assert (kept["imported"], kept["rows"], kept["rows_reported"]) == (True, 40, 0)
    assert kept["first_stamp"] == "2026-10-13T07:40:00.000000Z"  # summer time: two hours
    with CampaignStore.open(campaign, working_context(), read_only=True) as store:
        [entry] = store.entries(Recording)
        readings = store.readings(entry.uid)
        by_name = {column.name: column for column in entry.record.columns}
        assert (by_name["Load"].unit, by_name["SG1"].unit) == ("kN", "µm/m")
        assert readings.values(by_name["Load"].field)[:3].tolist() == [0.0, 0.25, 0.5]
        assert readings.elapsed_s()[-1] == 39.0
        assert store.original_bytes(entry.record.original_sha256) == raw.read_bytes()
        assert store.problems() == ()


def test_a_profile_answers_for_the_next_file_of_the_kind(
    campaign: Path, raw: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    told(capsys, campaign, raw, *ZONE, "--yes", "--save-profile", "recorder 1")
    second = raw.with_name("pull2.txt")
    second.write_bytes(raw.read_bytes().replace(b"09:40", b"09:41"))
    kept = told(capsys, campaign, second, "--profile", "recorder 1", "--yes")
    assert kept["first_stamp"] == "2026-10-13T07:41:00.000000Z"
    with CampaignStore.open(campaign, working_context(), read_only=True) as store:
        assert [profile.record.label for profile in store.entries(ReadingProfile)] == ["recorder 1"]


def test_a_profile_leaves_the_question_open_about_a_number_it_doesn_t_declare(
    campaign: Path, raw: Path, head: Head, capsys: pytest.CaptureFixture[str]
) -> None:
    told(capsys, campaign, raw, *ZONE, "--yes", "--save-profile", "recorder 1")
    second = raw.with_name("pull2.txt")
    second.write_bytes(raw.read_bytes().replace(b"09:40", b"09:41").replace(b"105,0", b"-9999"))
    before = head(campaign)
    words = ["import", str(campaign), str(second), "--profile", "recorder 1", "--yes"]
    for marker in ([], ["--marker=-8888=declared"]):
        assert main([*words, *marker]) == 2
        assert "missing for numeric_markers" in capsys.readouterr().err
        assert head(campaign) == before
    kept = told(capsys, *words[1:], "--marker=-9999=declared")
    assert kept["marks"] == [{"column": "SG1", "code": "declared", "count": 1}]


def test_words_and_numbers_instead_of_readings_become_marks(
    campaign: Path, raw: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = raw.read_text().replace("2,50;105,0", "OFF;-9999")
    raw.write_text(text)
    kept = told(
        capsys, campaign, raw, *ZONE, "--yes", "--marker=-9999=declared", "--marker=OFF=missing"
    )
    assert kept["marks"] == [
        {"column": "Load", "code": "missing", "count": 1},
        {"column": "SG1", "code": "declared", "count": 1},
    ]


def test_a_line_that_is_no_row_is_reported_and_the_rest_is_kept(
    campaign: Path, raw: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    raw.write_text(raw.read_text() + "recorder switched off\n")
    kept = told(capsys, campaign, raw, *ZONE, "--yes")
    assert (kept["rows"], kept["rows_reported"], kept["lines"]) == (40, 1, 41)


def test_stamps_that_are_trusted_join_the_clock_with_their_doubt(
    campaign: Path, raw: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    why = "set by radio at eight"
    given = ["--stamps-within", "0.25", "--stamps-why", why]
    kept = told(capsys, campaign, raw, *ZONE, "--yes", *given)
    # A quarter of a second as stated and half of the whole seconds that the stamps show.
    assert kept["clock"] == {
        "offset_s": 0.0,
        "plus_minus_s": 0.75,
        "meaning": "limit",
        "rate": 0.0,
        "method": f"by its own stamps: {why}",
    }


def with_trigger(path: Path, late: float, *, step: float = 0.1) -> Path:
    """A file whose column T rises at 2 s and 8 s; its elapsed time begins ``late`` s later."""
    rows = []
    for number in range(int(12 / step)):
        seconds = number * step
        true = seconds + late
        high = 2.0 <= true < 3.0 or 8.0 <= true < 9.0
        rows.append(f"{seconds:.2f},{number},{5.0 if high else 0.0}")
    path.write_text("t,x,T\n(s),(kN),(V)\n" + "\n".join(rows) + "\n")
    return path


def test_a_trigger_both_recorders_saw_joins_their_clocks(
    campaign: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    first = with_trigger(tmp_path / "first.csv", 0.0)
    start = ["--epoch", "2026-10-13T07:40:00", "--zone", "UTC"]
    told(capsys, campaign, first, *start, "--stamps-within", "0", "--yes")
    second = with_trigger(tmp_path / "second.csv", 1.23)
    join = ["--join-to", "first", "--trigger", "T", "--level", "2.5"]
    clock = told(capsys, campaign, second, *join, "--yes")["clock"]
    assert isinstance(clock, dict)
    # Two recorders, half a scan of 0.1 s each, at the edges and beyond them.
    assert clock["offset_s"] == pytest.approx(1.23, abs=0.1)
    assert 0.1 * (2 / 12) ** 0.5 <= clock["plus_minus_s"] <= 0.1


HOW_FAR = re.compile(r": \d+ of \d+$")

BAD: list[tuple[str, list[str], str]] = [
    ("no such file", ["CAMPAIGN", "nothing.txt"], "nothing.txt"),
    ("no such campaign", ["nowhere", "FILE"], "campaign is 'nowhere'"),
    ("unknown zone", ["CAMPAIGN", "FILE", "--zone", "Europe/Nowhere"], "zone"),
    ("unknown column", ["CAMPAIGN", "FILE", "--unit", "Lode=kN"], "column is 'Lode'"),
    ("unknown unit", ["CAMPAIGN", "FILE", *ZONE, "--unit", "Load=furlong"], "furlong"),
    ("no equals sign", ["CAMPAIGN", "FILE", "--unit", "Load"], "written as NAME=VALUE"),
    ("unknown role", ["CAMPAIGN", "FILE", *ZONE, "--role", "Load=weight"], "weight"),
    ("unknown code", ["CAMPAIGN", "FILE", *ZONE, "--marker", "OFF=gone"], "gone"),
    ("decimal mark of others", ["CAMPAIGN", "FILE", *ZONE, "--decimal", "."], "state , as"),
    (
        "profile called as one recording",
        ["CAMPAIGN", "FILE", *ZONE, "--save-profile", "pull1"],
        "--save-profile is 'pull1'",
    ),
    ("no dates that way", ["CAMPAIGN", "FILE", "--month-first"], "--month-first"),
    ("unknown encoding", ["CAMPAIGN", "FILE", "--encoding", "utf-99"], "utf-99"),
    ("unknown instrument", ["CAMPAIGN", "FILE", *ZONE, "--recorder", "R9"], "R9"),
    ("unknown profile", ["CAMPAIGN", "FILE", "--profile", "none such"], "none such"),
    ("profile and answers", ["CAMPAIGN", "FILE", "--profile", "p", *ZONE], "left out with"),
    (
        "joined twice",
        ["CAMPAIGN", "FILE", *ZONE, "--stamps-within", "1", "--join-to", "x"],
        "joined in two ways",
    ),
    ("no trigger named", ["CAMPAIGN", "FILE", *ZONE, "--join-to", "x"], "--trigger and --level"),
    (
        "unknown reference",
        ["CAMPAIGN", "FILE", *ZONE, "--join-to", "x", "--trigger", "Load", "--level", "2"],
        "'x'",
    ),
    ("impossible trust", ["CAMPAIGN", "FILE", *ZONE, "--stamps-within", "-1"], "within is -1.0"),
    (
        "stamps without an instant",
        ["CAMPAIGN", "FILE", "--zone", "none", "--stamps-within", "1"],
        "first stamp",
    ),
    ("an empty label", ["CAMPAIGN", "FILE", *ZONE, "--label", "x" * 81], "label"),
    ("nobody of that name", ["CAMPAIGN", "FILE", *ZONE], "person label is 'Nobody'"),
    ("data that aren't there", ["CAMPAIGN", "FILE", *ZONE, "--first-row", "400"], "pull1.txt"),
    (
        "a pattern nothing follows",
        ["CAMPAIGN", "FILE", *ZONE, "--stamp-pattern", "yyyy"],
        "pattern",
    ),
]


@pytest.mark.parametrize(("name", "arguments", "said"), BAD, ids=[name for name, _, _ in BAD])
def test_what_is_wrong_is_said_in_one_sentence_and_the_campaign_is_as_before(
    name: str,
    arguments: list[str],
    said: str,
    campaign: Path,
    raw: Path,
    head: Head,
    capsys: pytest.CaptureFixture[str],
) -> None:
    before = head(campaign)
    files = sorted(campaign.rglob("*.parquet"))
    places = {"CAMPAIGN": str(campaign), "FILE": str(raw)}
    words = ["import", *(places.get(word, word) for word in arguments), "--yes"]
    if name == "nobody of that name":
        words = ["--set", "person=Nobody", *words]
    assert main(words) == 2
    printed = capsys.readouterr().err.splitlines()
    said_last = [line for line in printed if not HOW_FAR.search(line)]
    assert len(said_last) == 1
    assert said in said_last[0]
    assert head(campaign) == before
    assert sorted(campaign.rglob("*.parquet")) == files


def test_the_same_bytes_are_not_imported_twice(
    campaign: Path, raw: Path, head: Head, capsys: pytest.CaptureFixture[str]
) -> None:
    told(capsys, campaign, raw, *ZONE, "--yes")
    before = head(campaign)
    words = ["import", str(campaign), str(raw), *ZONE, "--yes", "--label", "again"]
    assert main(words) == 2
    assert "pull1 has the same bytes" in capsys.readouterr().err
    assert head(campaign) == before


def test_a_label_that_is_taken_is_refused_before_anything_is_written(
    campaign: Path, raw: Path, head: Head, capsys: pytest.CaptureFixture[str]
) -> None:
    told(capsys, campaign, raw, *ZONE, "--yes")
    raw.write_bytes(raw.read_bytes().replace(b"09:40", b"09:41"))
    before = head(campaign)
    assert main(["import", str(campaign), str(raw), *ZONE, "--yes"]) == 2
    assert "another recording is called so" in capsys.readouterr().err
    assert head(campaign) == before


def test_a_file_of_another_kind_is_refused_by_a_profile(
    campaign: Path, raw: Path, tmp_path: Path, head: Head, capsys: pytest.CaptureFixture[str]
) -> None:
    told(capsys, campaign, raw, *ZONE, "--yes", "--save-profile", "recorder 1")
    other = with_trigger(tmp_path / "other.csv", 0.0)
    before = head(campaign)
    assert main(["import", str(campaign), str(other), "--profile", "recorder 1", "--yes"]) == 2
    assert "those of profile 'recorder 1'" in capsys.readouterr().err
    assert head(campaign) == before


def test_edges_that_do_not_pair_leave_nothing_behind(
    campaign: Path, tmp_path: Path, head: Head, capsys: pytest.CaptureFixture[str]
) -> None:
    first = with_trigger(tmp_path / "first.csv", 0.0)
    start = ["--epoch", "2026-10-13T07:40:00", "--zone", "UTC"]
    told(capsys, campaign, first, *start, "--stamps-within", "0", "--yes")
    second = with_trigger(tmp_path / "second.csv", 5.0)  # began after the first edge
    before = head(campaign)
    join = ["--join-to", "first", "--trigger", "T", "--level", "2.5", "--yes"]
    assert main(["import", str(campaign), str(second), *join]) == 2
    assert "2 in the reference, 1 in the other" in capsys.readouterr().err
    assert head(campaign) == before
    with CampaignStore.open(campaign, working_context(), read_only=True) as store:
        assert len(store.entries(Recording)) == 1
        assert len(store.entries(ClockMap)) == 1


def test_a_trigger_in_a_scan_needs_to_know_its_channel(
    campaign: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    first = with_trigger(tmp_path / "first.csv", 0.0)
    start = ["--epoch", "2026-10-13T07:40:00", "--zone", "UTC"]
    told(capsys, campaign, first, *start, "--stamps-within", "0", "--yes")
    with CampaignStore.open(campaign, working_context()) as store:
        scanner = Instrument("R2", "7", Stated(1.0), 0.02, Stated(0.0), channels_isolated=True)
        instrument = store.add(scanner).uid
    second = with_trigger(tmp_path / "second.csv", 1.0)
    join = ["--recorder", "R2", "--join-to", "first", "--trigger", "T", "--level", "2.5", "--yes"]
    assert main(["import", str(campaign), str(second), *join]) == 2
    assert "its place in the scan moves the trigger" in capsys.readouterr().err
    with CampaignStore.open(campaign, working_context()) as store:
        store.add(Channel("first", instrument, 1, "x"))
        store.add(Channel("eleventh", instrument, 11, "T"))
    clock = told(capsys, campaign, second, *join)["clock"]
    assert isinstance(clock, dict)
    # Ten channels of 20 ms after its row's stamp: the row began that much earlier.
    assert clock["offset_s"] == pytest.approx(1.0 - 0.2, abs=0.1)
