# ruff: noqa: DTZ001, DTZ007 - a stamp shows its own clock
"""Time stamps against the calendar of the standard library, in patterns written out here."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gaugewright.errors import InputError
from gaugewright.sources import stamps
from gaugewright.sources.stamp_patterns import patterns_of

EPOCH = datetime(1970, 1, 1)  # the clock's own time


def ns_of(moment: datetime) -> int:
    delta = moment - EPOCH
    return (delta.days * 86_400 + delta.seconds) * 10**9 + delta.microseconds * 1000


def local(pattern: str, *texts: str | None, **more) -> list[int]:
    return stamps.local_ns(texts, stamps.compile_pattern(pattern, **more))[0].tolist()


moments = st.datetimes(datetime(1700, 1, 1), datetime(2200, 1, 1))

# Pattern, and the same written with the standard library's own codes.
WRITTEN = {
    "yyyy-mm-dd hh:mm:ss.ffffff": "%Y-%m-%d %H:%M:%S.%f",
    "dd.mm.yyyy hh:mm:ss.ffffff": "%d.%m.%Y %H:%M:%S.%f",
    "mm/dd/yyyy hh:mm:ss,f": "%m/%d/%Y %H:%M:%S,%f",
    "dd-mmm-yyyy hh:mm:ss.f": "%d-%b-%Y %H:%M:%S.%f",
    "mm/dd/yyyy hh:mm:ss.f am": "%m/%d/%Y %I:%M:%S.%f %p",
    "hh:mm:ss.f dd/mm/yyyy": "%H:%M:%S.%f %d/%m/%Y",
    "yyyymmddThhmmss.f": "%Y%m%dT%H%M%S.%f",
}


@pytest.mark.parametrize("pattern", WRITTEN)
@given(st.lists(moments, min_size=1, max_size=20))
def test_stamps_written_by_the_standard_library_are_read_back(pattern, chosen) -> None:
    texts = [moment.strftime(WRITTEN[pattern]) for moment in chosen]
    assert local(pattern, *texts) == [ns_of(moment) for moment in chosen]


damaged = st.text(st.sampled_from("0123456789.:- Z+"), min_size=0, max_size=24)


@given(st.lists(st.one_of(moments.map(str), damaged, st.none()), max_size=30))
def test_stamps_read_together_and_one_by_one_are_the_same(texts) -> None:
    pattern = stamps.compile_pattern("yyyy-mm-dd hh:mm:ss.f")
    together, _ = stamps.local_ns(texts, pattern)
    one_by_one = [stamps.local_ns([None, text], pattern)[0][1] for text in texts]
    assert together.tolist() == one_by_one


@given(st.dates(datetime(1700, 1, 1).date(), datetime(2200, 1, 1).date()), st.integers(1, 40))
def test_days_that_are_in_no_calendar_have_no_time(day, number) -> None:
    text = f"{day:%Y-%m}-{number:02d}"
    try:
        expected = ns_of(datetime.strptime(text, "%Y-%m-%d"))
    except ValueError:
        expected = stamps.NO_TIME
    assert local("yyyy-mm-dd", text, text) == [expected] * 2


def test_a_fraction_may_be_missing_or_of_any_length() -> None:
    read = local(
        "hh:mm:ss.f", "00:00:01", "00:00:01.5", "00:00:01.000000001", "00:00:01.1234567899"
    )
    assert read == [10**9, 1_500_000_000, 1_000_000_001, 1_123_456_789]


def test_hour_24_is_the_end_of_its_day_and_nothing_later() -> None:
    read = local(
        "dd.mm.yyyy hh:mm:ss", "31.12.2023 24:00:00", "01.01.2024 00:00:00", "01.01.2024 24:00:01"
    )
    assert read[0] == read[1]
    assert read[2] == stamps.NO_TIME


def test_noon_and_midnight_of_a_twelve_hour_clock() -> None:
    read = local(
        "hh:mm:ss am", "12:00:00 AM", "12:00:00 PM", "1:00:00 pm", "13:00:00 PM", "0:30:00 AM"
    )
    hour = 3600 * 10**9
    assert read == [0, 12 * hour, 13 * hour, stamps.NO_TIME, stamps.NO_TIME]


def test_the_century_of_a_two_digit_year_is_stated() -> None:
    assert local("dd.mm.yy", "01.02.99", century=1900) == [ns_of(datetime(1999, 2, 1))]
    assert local("dd.mm.yy", "01.02.24", century=2000) == [ns_of(datetime(2024, 2, 1))]


def test_months_are_read_in_the_language_stated() -> None:
    names = "Jan Feb Mär Apr Mai Jun Jul Aug Sep Okt Nov Dez"
    german = names.split()
    assert local("dd. mmm yyyy", "03. Mai 2024", months=german) == [ns_of(datetime(2024, 5, 3))]
    assert local("dd. mmm yyyy", "03. Mai 2024") == [stamps.NO_TIME]
    assert local("dd-mmm-yyyy", "03-DEZ.-2024", months=german) == [ns_of(datetime(2024, 12, 3))]


def test_offsets_written_in_the_stamps_are_kept_beside_them() -> None:
    pattern = stamps.compile_pattern("yyyy-mm-ddThh:mm:ssz")
    texts = ["2024-05-03T10:00:00Z", "2024-05-03T12:00:00+02:00", "2024-05-03T04:30:00-0530", "x"]
    ns, offset = stamps.local_ns(texts, pattern)
    assert np.unique((ns - offset)[:3]).tolist() == [ns_of(datetime(2024, 5, 3, 10))]
    assert ns[3] == stamps.NO_TIME


@given(st.lists(st.datetimes(datetime(2015, 1, 1), datetime(2030, 1, 1)), min_size=1, max_size=30))
@pytest.mark.parametrize("name", ["Europe/Rome", "America/New_York", "Australia/Lord_Howe", "UTC"])
def test_local_times_become_the_instants_of_the_zone(name, walls) -> None:
    zone = ZoneInfo(name)
    utc, masks = stamps.utc_ns(np.array([ns_of(wall) for wall in walls]), zone)
    for row, wall in enumerate(walls):
        early = wall.replace(tzinfo=zone, fold=0).astimezone(UTC)
        late = wall.replace(tzinfo=zone, fold=1).astimezone(UTC)
        if early == late:
            assert utc[row] == ns_of(early.replace(tzinfo=None))
        else:
            assert utc[row] == stamps.NO_TIME
            assert masks["hour_twice"][row] != masks["hour_missing"][row]


def test_the_hour_that_came_twice_and_the_hour_that_never_was_are_named() -> None:
    zone = stamps.zone_named("Europe/Rome")
    walls = ["2024-10-27 02:30:00", "2024-03-31 02:30:00", "2024-10-27 03:30:00"]
    ns = np.array(local("yyyy-mm-dd hh:mm:ss", *walls))
    utc, masks = stamps.utc_ns(ns, zone)
    assert masks["hour_twice"].tolist() == [True, False, False]
    assert masks["hour_missing"].tolist() == [False, True, False]
    assert utc[2] == ns_of(datetime(2024, 10, 27, 2, 30))


def test_a_time_that_is_not_known_stays_unknown_in_every_zone() -> None:
    utc, masks = stamps.utc_ns(np.array([stamps.NO_TIME, 0]), stamps.zone_named("+02:00"))
    assert utc.tolist() == [stamps.NO_TIME, -2 * 3600 * 10**9]
    assert not masks["hour_twice"].any()


@pytest.mark.parametrize("zone", ["Mars/Phobos", "+2", "../etc", "+99:00x"])
def test_an_unknown_zone_is_refused(zone) -> None:
    with pytest.raises(InputError, match=r"^zone is "):
        stamps.zone_named(zone)


@pytest.mark.parametrize("pattern", ["", "dd.mm", "yyyy-mm-dd dd", "ss.f", "yyyy-mm hh:mm", "abc"])
def test_a_pattern_that_tells_no_instant_is_refused(pattern) -> None:
    with pytest.raises(InputError, match=r"^pattern is "):
        stamps.compile_pattern(pattern)


@pytest.mark.parametrize("date", ["", "yesterday", "1904"])
def test_an_epoch_that_is_no_date_is_refused(date) -> None:
    with pytest.raises(InputError, match=r"^epoch is "):
        stamps.epoch_ns(date)


def test_epochs_are_counted_in_the_calendar() -> None:
    for date in ("1904-01-01", "1970-01-01", "1899-12-30", "2000-02-29"):
        delta = datetime.fromisoformat(date) - EPOCH
        assert stamps.epoch_ns(date) == delta // timedelta(microseconds=1) * 1000


@given(moments)
def test_a_day_above_twelve_decides_the_order_and_a_day_below_leaves_it_open(moment) -> None:
    patterns = patterns_of([moment.strftime("%d/%m/%Y %H:%M:%S")])
    assert "dd/mm/yyyy hh:mm:ss" in patterns
    assert (len(patterns) == 1) == (moment.day > 12)


def test_one_late_day_settles_the_order_for_the_whole_sample() -> None:
    texts = ["03.04.2024 10:00:00"] * 500 + ["13.04.2024 10:00:00"]
    assert patterns_of(texts) == ("dd.mm.yyyy hh:mm:ss",)


def test_the_letter_t_of_the_standard_notation_settles_year_month_day() -> None:
    assert patterns_of(["2024-05-03T10:00:00.01Z"]) == ("yyyy-mm-ddThh:mm:ss.fz",)
    assert len(patterns_of(["2024-05-03 10:00:00.01"])) == 2


def test_six_digits_may_be_three_orders() -> None:
    assert patterns_of(["03.04.05"]) == ("dd.mm.yy", "mm.dd.yy", "yy.mm.dd")


@pytest.mark.parametrize("text", ["", "hello", "1.5", "99.99.2024", "10:00:99"])
def test_what_is_no_stamp_has_no_pattern(text) -> None:
    assert patterns_of([text]) == ()
