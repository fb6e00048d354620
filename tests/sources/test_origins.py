"""Lines ahead of the readings that tell when the file's time began: offered, never assumed."""

from datetime import UTC, datetime

import pytest

from gaugewright.errors import InputError
from gaugewright.services.reading import beginnings, layouts
from gaugewright.sources import delimited, files, stamps
from gaugewright.sources.layout import Clock
from gaugewright.sources.origins import origins_seen

ROWS = "Time\tCH1\ns\tmV/V\n" + "".join(f"{n / 2:.1f}\t{0.1 * n:.2f}\n" for n in range(8))


@pytest.mark.parametrize(
    ("head", "said"),
    [
        (["Start 13.01.2027 09:15:00"], [(1, ["2027-01-13 09:15:00"])]),
        (["Start 12.01.2027 09:15"], [(1, ["2027-01-12 09:15", "2027-12-01 09:15"])]),
        (["2027-01-12T09:15:00.25Z"], [(1, ["2027-01-12 09:15:00.25"])]),
        (["Date: 13/01/2027", "Time: 9:15 PM"], [(1, ["2027-01-13 21:15"])]),
        (["09:15:00 on 12 Jan 2027"], [(1, ["2027-01-12 09:15:00"])]),
        (["a", "End 13.01.2027 at 10:00:00"], [(2, ["2027-01-13 10:00:00"])]),
        (["Date 13.01.2027", "Rate 2 Hz"], []),
        (["Firmware 2.10.27", "Gauge 3:1", "99.99.2027 09:15"], []),
    ],
)
def test_a_line_with_a_date_and_a_time_offers_all_that_it_may_say(head, said) -> None:
    found = [(one.line, [instant for _, instant in one.instants]) for one in origins_seen(head, ())]
    assert found == said


def test_seconds_counted_from_a_date_and_time_give_its_instant_not_midnight(tmp_path) -> None:
    path = tmp_path / "pull.txt"
    path.write_text("Test\nStart 12.01.2027 09:15:00\n\n" + ROWS)
    seen = files.understand(path)
    asked = beginnings.questions(seen, {})
    assert [question.field for question in asked] == ["epoch", "zone"]
    assert "Start 12.01.2027 09:15:00" in asked[0].what
    answers = {"epoch": "2027-01-12 09:15:00", "zone": "Europe/Rome"}
    assert beginnings.open_about(asked, answers) == ()
    layout = layouts.confirmed(seen, answers, {})
    reading = delimited.read(path, layout)
    list(reading)
    # Rome is an hour ahead of UTC in January.
    assert reading.report.start_utc == "2027-01-12T08:15:00.000000Z"
    assert layouts.resolution_of(seen, layout) == 1.0  # the line tells whole seconds
    beginnings.refuse_undated(layout.clock)

    other = tmp_path / "next.txt"
    other.write_text("Test\nStart 03.02.2027 10:00:00\n\n" + ROWS)
    kept = delimited.Layout.from_plain(layout.as_plain())
    assert kept == layout
    own = beginnings.of_this_file(kept, files.understand(other))
    assert own.clock.epoch == "2027-02-03 10:00:00"
    other.write_text("Test\nno date\n\n" + ROWS)
    seen = files.understand(other)
    bare = beginnings.of_this_file(kept, seen)
    assert (bare.clock.kind, bare.clock.epoch) == ("elapsed", "")
    assert [question.field for question in beginnings.begun(kept, bare, seen)] == ["epoch"]
    with pytest.raises(InputError, match="no day is known"):
        beginnings.refuse_undated(bare.clock)


def test_nobody_who_says_none_is_asked_for_a_zone(tmp_path) -> None:
    path = tmp_path / "pull.txt"
    path.write_text(ROWS)
    seen = files.understand(path)
    [asked] = beginnings.questions(seen, {"epoch": "none"})
    assert (asked.choices, beginnings.open_about((asked,), {"epoch": "none"})) == (
        (beginnings.NOBODY_KNOWS,),
        (),
    )
    assert layouts.confirmed(seen, {"epoch": "none"}, {}).clock.kind == "elapsed"


@pytest.mark.parametrize(
    ("text", "answers", "start"),
    [
        (
            "Load (kN)\n" + "".join(f"{n}.5\n" for n in range(8)),
            {"clock": "rate", "rate_hz": 2.0, "epoch": "2027-01-12 09:15:00"},
            datetime(2027, 1, 12, 9, 15, tzinfo=UTC),
        ),
        (
            "Time;Load (kN)\n" + "".join(f"09:15:0{n};{n}.5\n" for n in range(8)),
            {"epoch": "2027-07-12"},
            datetime(2027, 7, 12, 9, 15, tzinfo=UTC),
        ),
    ],
)
def test_even_rows_and_stamps_without_a_day_are_dated_by_what_is_stated(
    tmp_path, text, answers, start
) -> None:
    path = tmp_path / "pull.txt"
    path.write_text(text)
    seen = files.understand(path)
    known = {name: value for name, value in answers.items() if name != "epoch"}
    assert [question.field for question in beginnings.questions(seen, known)] == ["epoch", "zone"]
    layout = seen.layout(**answers, zone="UTC")
    reading = delimited.read(path, layout)
    elapsed = [at for block in reading for at in block.elapsed_ns.to_list()]
    assert datetime.fromisoformat(reading.report.start_utc) == start
    assert elapsed[0] == 0
    assert layout.clock.begins_with_the_file


def test_a_date_that_every_file_counts_from_is_no_beginning_of_one() -> None:
    since = Clock("epoch", (0,), epoch="1970-01-01", zone="UTC")
    assert since.of_another_file() == since
    assert stamps.epoch_ns("2027-01-12 09:15:00") - stamps.epoch_ns("2027-01-12") == 33_300 * 10**9
    with pytest.raises(InputError, match="without a zone"):
        stamps.epoch_ns("2027-01-12 09:15:00+01:00")
