"""Two recorders, one quantity: rates kept, scans and filters allowed for, gain and offset found."""

import importlib.util
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest

from gaugewright.calc.evaluation import coverage_factor
from gaugewright.errors import InputError
from gaugewright.records.electrical import Channel, ChannelSetting, ReadingKind
from gaugewright.records.gauges import ThermalOutput
from gaugewright.records.proof import Zero, ZeroKind
from gaugewright.records.readings import ClockMap
from gaugewright.records.stated import Meaning, Stated
from gaugewright.services.campaign.book import Book
from gaugewright.services.comparing import twice_recorded, twice_words
from gaugewright.services.strain.strains import Desk
from gaugewright.services.under_load import loads

_spec = importlib.util.spec_from_file_location("tiny", Path(__file__).with_name("conftest.py"))
_tiny = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(_tiny)
BEGINS, divider, exact = _tiny.BEGINS, _tiny.divider_mv_per_v, _tiny.exact
ROWS = 1200
TEST = BEGINS + timedelta(hours=1)


def force(seconds):
    """Load in kN that rises and swings."""
    return 0.05 * seconds + 10 * np.sin(seconds / 40)


def revised(tiny, uid, **changed):
    entry = tiny.store.entry(uid)
    made = replace(entry.record, **changed)
    tiny.store.revise(entry.uid, entry.version, made, reason="of this test")


def recorded_twice(tiny, *, gain=1.01, offset=0.4, late=0.0, noise=0.02):
    """One recorder a row a second; another four rows a second, from ten seconds later on."""
    rng = np.random.default_rng(5)
    one = np.arange(ROWS) * 1.0
    tiny.record("A", TEST, {"P": force(one) + rng.normal(0, noise, ROWS)})
    two = 10 + np.arange(4 * ROWS) / 4
    read = gain * force(two - late) + offset + rng.normal(0, noise, two.size)
    tiny.record("B", TEST + timedelta(seconds=10), {"P": read}, rate=-0.75)
    return tiny


def test_gain_and_offset_between_two_recorders_of_different_rates(tiny):
    found = twice_recorded.compare(recorded_twice(tiny).store, ("A", "P"), ("B", "P"))
    factor = float(coverage_factor(found.found.degrees_of_freedom, 0.95))
    assert abs(found.found.gain - 1.01) < factor * found.gain_uncertainty
    assert abs(found.found.zero - 400.0) < factor * found.found.zero_uncertainty
    assert found.gain_uncertainty < 1e-3
    # Joined for this only, a row a second; the recordings keep theirs.
    assert found.step == pytest.approx(1.0)
    assert found.found.samples == ROWS - 11  # its first half second isn't there
    assert (found.first.step, found.second.step) == (pytest.approx(1.0), pytest.approx(0.25))
    assert found.found.residual == pytest.approx(found.found.noise, rel=0.3)
    assert "differs from 1" in twice_words.sentence(found)


def test_a_clock_that_may_be_off_counts_in_what_is_found(tiny):
    recorded_twice(tiny)
    sure = twice_recorded.compare(tiny.store, ("A", "P"), ("B", "P"))
    joined = next(e for e in tiny.store.entries(ClockMap) if e.record.recording == tiny.uid["B"])
    revised(tiny, joined.uid, offset=Stated(0.0, 0.5, Meaning.ONE_SIGMA))
    unsure = twice_recorded.compare(tiny.store, ("A", "P"), ("B", "P"))
    assert (sure.clock, unsure.clock) == (0.0, 0.5)
    # Half a second of what the load rises by on the whole.
    rise = 1e3 * (force(ROWS - 1.0) - force(10.0)) / (ROWS - 11)
    assert unsure.by_clock_middle == pytest.approx(0.5 * rise, rel=0.03)
    assert unsure.middle_uncertainty > sure.middle_uncertainty


def test_two_columns_of_one_recording_need_no_clock_and_a_scan_is_allowed_for(tiny):
    revised(tiny, tiny.uid["recorder"], dwell=0.3)
    again = tiny.add("channel Q", Channel("Q", tiny.uid["recorder"], 4, "Q"))
    assert again
    seconds = np.arange(ROWS) * 1.0
    # P is second in the scan and Q fourth, each 0.3 s after the one before.
    columns = {"P": force(seconds + 0.6), "Q": 1e3 * force(seconds + 1.2)}
    tiny.record("A", TEST, columns)
    found = twice_recorded.compare(tiny.store, ("A", "P"), ("A", "Q"))
    assert found.clock == 0.0
    assert not found.is_one_unit
    # 10 kN swinging at 1/40 rad/s: without the scan 0.6 s would leave 0.1 kN about the line.
    assert found.found.residual < 2.0
    assert found.found.gain == pytest.approx(1000.0, rel=1e-3)


def test_a_clock_that_is_late_and_drifts_is_found_by_what_both_followed(tiny):
    rng = np.random.default_rng(7)
    seconds = np.arange(ROWS) * 1.0
    lost = 40e-6  # of each second, as far as a quartz may be off
    tiny.record("A", TEST, {"P": force(seconds) + rng.normal(0, 0.02, ROWS)})
    # At its own second t the other recorder sees what happened at t + 0.8 + 40 µs a second.
    theirs = force(seconds + 0.8 + lost * seconds) + rng.normal(0, 0.02, ROWS)
    tiny.record("B", TEST, {"P": theirs})
    found = twice_recorded.compare(tiny.store, ("A", "P"), ("B", "P"))
    left = twice_recorded.clock_left(found, 3.0)
    truth = (0.8, 0.8 + lost * (ROWS - 1))
    for behind, doubt, true in zip(left.behind, left.standard_uncertainty, truth, strict=True):
        assert abs(behind - true) < 3 * doubt
        assert doubt < 0.05
    assert left.correlation > 0.999
    assert "differ by more than their ±" in twice_words.clock_sentence(left)
    assert len(twice_words.clock_rows(left)) == 4


def test_one_recording_has_one_clock_and_a_time_apart_is_asked(tiny):
    recorded_twice(tiny)
    found = twice_recorded.compare(tiny.store, ("A", "P"), ("B", "P"))
    with pytest.raises(InputError, match="apart"):
        twice_recorded.clock_left(found, 0.0)


def test_what_cannot_be_compared_is_named(tiny):
    recorded_twice(tiny)
    for second, said in ((("A", "P"), "another column"), (("A", "X"), "'X'"), (("C", "P"), "'C'")):
        with pytest.raises(InputError, match=said):
            twice_recorded.compare(tiny.store, ("A", "P"), second)


@pytest.fixture
def two_recorders(tiny):
    """Gauge on one recorder, load cell on another of its own, load rising by 100 N a second."""
    pack = tiny.store.entry(tiny.uid["pack"])
    curve = ThermalOutput((0.0, 0.0), 2.0, 12e-6, 0.0, 60.0, exact(0.0))
    revised(tiny, pack.uid, thermal_output=curve)
    recorder = tiny.store.entry(tiny.uid["recorder"]).record
    other = tiny.add("other", replace(recorder, label="Q", filter_delay=exact(0.0)))
    channel = tiny.add("cell channel", Channel("cell", other, 0, "P"))
    setting = tiny.add("cell setting", ChannelSetting(channel, ReadingKind.OTHER, "kN"))
    revised(tiny, tiny.uid["connection P"], channel=channel, setting=setting)
    connection = tiny.uid["connection G-T"]
    tiny.store.add(Zero(ZeroKind.BEFORE_TEST, connection, exact(0.0), exact(20.0), BEGINS))
    seconds = np.arange(100.0)
    gauge = {"G-T": divider(seconds * 1e-6), "T": np.full(100, 20.0)}
    tiny.record("gauge", TEST, gauge)
    tiny.uid["recorder"], kept = other, tiny.uid["recorder"]
    tiny.record("cell", TEST, {"P": 0.1 * seconds})
    tiny.uid["recorder"] = kept
    return tiny


def doubt_of_load(tiny):
    desk = Desk(tiny.store, Book.read(tiny.store))
    circuit = desk.book.entry(tiny.uid["circuit G-T"], object)
    strain = desk.strain(circuit, ZeroKind.BEFORE_TEST)
    rows = np.array([50.0])
    load = loads.load_at(desk, strain.time[[50]])
    return load.item(), loads.clock_doubt(desk, strain, rows, load)


def test_a_filter_s_delay_moves_its_samples_and_its_doubt_reaches_the_load(two_recorders):
    load, doubt = doubt_of_load(two_recorders)
    assert load == pytest.approx(5000.0)
    assert float(doubt.standard_uncertainty()[0]) == 0.0
    late = Stated(0.5, 0.2, Meaning.ONE_SIGMA)
    revised(two_recorders, two_recorders.uid["recorder"], filter_delay=late)
    load, doubt = doubt_of_load(two_recorders)
    # What the gauge shows half a second late happened at 49.5 s, and 0.2 s are 20 N.
    assert load == pytest.approx(4950.0)
    assert float(doubt.standard_uncertainty()[0]) == pytest.approx(20.0, rel=1e-6)
    revised(two_recorders, two_recorders.uid["other"], filter_delay=late)
    load, doubt = doubt_of_load(two_recorders)
    assert load == pytest.approx(5000.0)
    assert float(doubt.standard_uncertainty()[0]) == pytest.approx(np.hypot(20, 20), rel=1e-6)


def test_a_place_in_the_scan_is_a_place_in_time(two_recorders):
    revised(two_recorders, two_recorders.uid["recorder"], dwell=0.4)
    # Channels are numbered 0 G-T, 1 G-U, 2 P, 3 T: the gauge leads its own scan.
    assert doubt_of_load(two_recorders)[0] == pytest.approx(5000.0)
    revised(two_recorders, two_recorders.uid["channel G-T"], number=5)
    # Now it is the last of numbers 1 to 5: 1.6 s later.
    assert doubt_of_load(two_recorders)[0] == pytest.approx(5160.0)


def test_a_recording_keeps_its_own_rows_and_times_whatever_it_is_joined_to(two_recorders):
    desk = Desk(two_recorders.store, Book.read(two_recorders.store))
    before = desk.store.readings(two_recorders.uid["cell"]).elapsed_s().copy()
    loads.load_at(desk, np.linspace(0, 1e3, 7777))
    after = desk.store.readings(two_recorders.uid["cell"]).elapsed_s()
    np.testing.assert_array_equal(before, after)
    assert after.size == 100
