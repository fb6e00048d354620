"""A cure by its sheet: never more than the sheet's own rows promise, whatever the log."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gaugewright.calc.cure import SheetRow, cure
from gaugewright.errors import InputError, InputFaults

HOUR = 3600.0
TABLE = (SheetRow(20.0, 24 * HOUR), SheetRow(40.0, 3 * HOUR))


def minute_by_minute(hours, degrees, table):
    """The same sum walked through minute by minute, written without the function under test."""
    done = 0.0
    for k in range(len(hours) - 1):
        colder = min(degrees[k], degrees[k + 1])
        reached = [row.time for row in table if row.temperature_degc <= colder]
        for _ in range(round((hours[k + 1] - hours[k]) * 60)):
            done += 60.0 / reached[-1] if reached else 0.0
    return done


def test_a_day_at_the_sheets_temperature_is_cured_and_half_of_it_is_half():
    at = HOUR * np.arange(25)
    assert cure(at, np.full(25, 20.0), TABLE, longest_gap=HOUR).share == pytest.approx(1.0)
    assert cure(at, np.full(25, 20.0), TABLE, longest_gap=HOUR).still == 0
    half = cure(at[:13], np.full(13, 20.0), TABLE, longest_gap=HOUR)
    assert (half.share, half.still) == (pytest.approx(0.5), pytest.approx(12 * HOUR))


def test_a_cold_night_counts_nothing_and_is_told():
    # 6 h at 21, 12 h at 15, 6 h at 21 °C: half of what the sheet asks at 20 °C, less the two
    # stretches in which it fell and rose, which count at their colder end.
    degrees = np.r_[np.full(7, 21.0), np.full(11, 15.0), np.full(7, 21.0)]
    found = cure(HOUR * np.arange(25), degrees, TABLE, longest_gap=HOUR)
    assert found.counted == 12 * HOUR
    assert found.too_cold == 12 * HOUR
    assert found.share == pytest.approx(0.5)
    assert found.lowest_degc == 15.0


def test_a_gap_counts_nothing_and_between_rows_the_colder_row_holds():
    found = cure([0, HOUR, 15 * HOUR, 16 * HOUR], [30.0] * 4, TABLE, longest_gap=HOUR)
    assert (found.counted, found.unknown) == (2 * HOUR, 14 * HOUR)
    assert found.share == pytest.approx(2 / 24)  # 30 °C is not 40 °C: the row of 20 °C
    warm = cure([0, HOUR], [60.0, 60.0], TABLE, longest_gap=HOUR)
    assert warm.share == pytest.approx(1 / 3)  # no faster than the warmest row


def test_where_it_is_too_cold_at_the_end_no_time_is_promised():
    assert cure([0, HOUR], [25.0, 10.0], TABLE, longest_gap=HOUR).still == np.inf


@given(
    st.lists(st.floats(0, 70), min_size=3, max_size=30),
    st.lists(st.integers(1, 60), min_size=29, max_size=29),
)
def test_it_is_the_sum_walked_through_by_the_minute(degrees, minutes):
    hours = np.r_[0, np.cumsum(minutes[: len(degrees) - 1])] / 60
    found = cure(HOUR * hours, degrees, TABLE, longest_gap=2 * HOUR)
    assert found.share == pytest.approx(minute_by_minute(hours, degrees, TABLE), abs=1e-9)
    total = found.counted + found.too_cold + found.unknown
    assert total == pytest.approx(HOUR * hours[-1])


@given(st.lists(st.floats(0, 60), min_size=2, max_size=20), st.floats(0.5, 20))
def test_a_colder_log_never_cures_further(degrees, colder):
    at = HOUR * np.arange(len(degrees))
    here = cure(at, degrees, TABLE, longest_gap=HOUR).share
    assert cure(at, np.asarray(degrees) - colder, TABLE, longest_gap=HOUR).share <= here + 1e-12


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"time": [0.0, 0.0]}, "log is 2"),
        ({"time": [0.0]}, "log is 1"),
        ({"temperature_degc": [20.0, np.nan]}, "temperature_degc is nan"),
        ({"table": ()}, "table is 'empty'"),
        ({"table": (SheetRow(20.0, 10.0), SheetRow(40.0, 20.0))}, "shorter one the warmer"),
        ({"longest_gap": 0.0}, "longest_gap is 0"),
        ({"highest_degc": 15.0}, "temperature_degc is 20"),
    ],
)
def test_what_cannot_be_is_refused_by_name(change, words):
    given = {
        "time": [0.0, HOUR],
        "temperature_degc": [20.0, 20.0],
        "table": TABLE,
        "longest_gap": HOUR,
        "highest_degc": np.inf,
    } | change
    with pytest.raises(InputError, match=words):
        cure(
            given["time"],
            given["temperature_degc"],
            given["table"],
            longest_gap=given["longest_gap"],
            highest_degc=given["highest_degc"],
        )


def test_several_faults_are_told_at_once():
    with pytest.raises(InputFaults, match="2 thing"):
        cure([0.0], [20.0], (), longest_gap=HOUR)
