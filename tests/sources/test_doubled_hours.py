"""An hour that came twice is resolved where the rows prove it, and left open where they don't.

The truth is a list of instants; the standard library turns them into local stamps.
"""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gaugewright.sources import delimited, doubled_hours, stamps

ZONES = ("Europe/Berlin", "America/New_York", "Australia/Lord_Howe")  # the last goes back 30 min
MIDNIGHT = {
    "Europe/Berlin": datetime(2024, 10, 26, 22, tzinfo=UTC),
    "America/New_York": datetime(2024, 11, 3, 4, tzinfo=UTC),
    "Australia/Lord_Howe": datetime(2024, 4, 6, 13, tzinfo=UTC),
}


def local_text(instant, zone):
    return f"{instant.astimezone(ZoneInfo(zone)):%Y-%m-%d %H:%M:%S.%f}"


def read(folder, texts, zone, **options):
    path = folder / "night.csv"
    path.write_text("when;A (kN)\n" + "".join(f"{text};1.5\n" for text in texts))
    seen = delimited.understand(path)
    answers = {"zone": zone, "date_order": "yyyy-mm-dd hh:mm:ss.f"}
    asked = {question.field for question in seen.questions}
    layout = seen.layout(**{name: value for name, value in answers.items() if name in asked})
    reading = delimited.read(path, layout, **options)
    elapsed = [at for block in reading for at in block.elapsed_ns.to_list()]
    return elapsed, reading.report


def elapsed_of(instants):
    return [round((one - instants[0]) / timedelta(microseconds=1)) * 1000 for one in instants]


@pytest.mark.parametrize("zone", ZONES)
@pytest.mark.parametrize("step", [1, 60, 600, 1200])
def test_a_whole_night_has_its_true_times(tmp_path, zone, step):
    begin = MIDNIGHT[zone]
    instants = [begin + timedelta(seconds=step * row) for row in range(6 * 3600 // step)]
    texts = [local_text(one, zone) for one in instants]
    elapsed, report = read(tmp_path, texts, zone)
    assert elapsed == elapsed_of(instants)
    assert report.rows_without_time == 0
    assert any("their order tells them apart" in words for words in report.findings())


@pytest.mark.parametrize("zone", ZONES[:2])
@pytest.mark.parametrize("hours", [1, 2])
def test_rows_every_hour_or_two_are_told_apart_by_their_even_steps(tmp_path, zone, hours):
    begin = MIDNIGHT[zone] - timedelta(hours=20)
    instants = [begin + timedelta(hours=hours * row) for row in range(40 // hours)]
    elapsed, report = read(tmp_path, [local_text(one, zone) for one in instants], zone)
    assert elapsed == elapsed_of(instants)
    assert report.rows_without_time == 0


def test_how_the_file_is_cut_into_blocks_does_not_matter(tmp_path):
    zone = ZONES[0]
    instants = [MIDNIGHT[zone] + timedelta(seconds=30 * row) for row in range(720)]
    texts = [local_text(one, zone) for one in instants]
    for rows in (7, 100, 65_536):
        elapsed, _ = read(tmp_path, texts, zone, block_rows=rows)
        assert elapsed == elapsed_of(instants)


LOST = {
    "the first pass": (0, 1),
    "the second pass": (1, 2),
    "the end of the first pass": (0.5, 1),
    "some of both": (0.7, 1.4),
}


@pytest.mark.parametrize("lost", LOST)
def test_rows_lost_in_the_hour_never_give_a_wrong_time(tmp_path, lost):
    zone = ZONES[0]
    from_, to = (MIDNIGHT[zone] + timedelta(hours=2 + share) for share in LOST[lost])
    every = [MIDNIGHT[zone] + timedelta(minutes=5 * row) for row in range(72)]
    instants = [one for one in every if not from_ <= one < to]
    elapsed, report = read(tmp_path, [local_text(one, zone) for one in instants], zone)
    wrong = [
        row
        for row, (found, true) in enumerate(zip(elapsed, elapsed_of(instants), strict=True))
        if found is not None and found != true
    ]
    assert wrong == []
    assert report.rows_without_time > 0


def test_a_clock_set_back_a_little_inside_the_hour_is_no_proof(tmp_path):
    zone = ZONES[0]
    # The second pass was never recorded, and the clock was set right by three seconds.
    every = [MIDNIGHT[zone] + timedelta(seconds=10 * row) for row in range(6 * 360)]
    kept = [one for one in every if not 3 <= (one - MIDNIGHT[zone]) / timedelta(hours=1) < 4]
    texts = [
        local_text(one - timedelta(seconds=33 if 840 <= row < 1080 else 0), zone)
        for row, one in enumerate(kept)
    ]
    elapsed, report = read(tmp_path, texts, zone)
    assert sum(at is None for at in elapsed) >= 230
    assert any("isn't 60 min less an ordinary step" in words for words in report.findings())


def test_a_clock_that_steps_back_twice_proves_nothing():
    hour = 3600 * 10**9
    local = np.array([0, 1, 2, 1.5, 2.5, 2.2, 3, 4]) * hour
    later, why = doubled_hours.decided(local.astype(np.int64), hour, 3 * hour, hour)
    assert later is None
    assert why == "the clock steps back 2 times hereabouts"


@given(
    st.lists(st.integers(1, 400), min_size=30, max_size=60),
    st.integers(0, 3 * 3600),
)
def test_uneven_rows_are_right_or_open(gaps, start):
    zone = ZoneInfo(ZONES[0])
    instants = [MIDNIGHT[ZONES[0]] + timedelta(seconds=start + s) for s in np.cumsum(gaps).tolist()]
    pattern = stamps.compile_pattern("yyyy-mm-dd hh:mm:ss")
    texts = [f"{one.astimezone(zone):%Y-%m-%d %H:%M:%S}" for one in instants]
    local, _ = stamps.local_ns(texts, pattern)
    for turn in doubled_hours.between(zone, int(local.min()), int(local.max())):
        later, _ = doubled_hours.decided(local, turn.begins, turn.ends, turn.shift)
        if later is None:
            continue
        inside = (local >= turn.begins) & (local < turn.ends)
        fold = np.array([one.astimezone(zone).fold for one in instants])
        assert (fold[inside] == (np.flatnonzero(inside) >= later)).all()
