"""From records and readings to strain, worked out by hand with resistances alone."""

import importlib.util
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import numpy as np
import polars as pl
import pytest

from gaugewright.errors import InputError
from gaugewright.records.electrical import BridgeCircuit, ChannelSetting, Connection, ReadingKind
from gaugewright.records.gauges import ThermalOutput
from gaugewright.records.proof import Zero, ZeroKind
from gaugewright.records.readings import Recording
from gaugewright.records.stated import Meaning, Stated
from gaugewright.services.campaign.book import Book
from gaugewright.services.strain.strain_files import write_strains
from gaugewright.services.strain.strains import Desk
from gaugewright.services.zeros import zeros

_spec = importlib.util.spec_from_file_location("tiny", Path(__file__).with_name("conftest.py"))
_tiny = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(_tiny)
BEGINS, divider_mv_per_v = _tiny.BEGINS, _tiny.divider_mv_per_v
TEST_BEGINS = BEGINS + timedelta(hours=1)


def quiet(tiny, start=(3e-4, -2e-4), seconds=60):
    """Recording of the unloaded bar: grids off their nominal value by a given strain."""
    flat = np.zeros(seconds)
    tiny.record(
        "zero",
        BEGINS,
        {
            "G-T": divider_mv_per_v(flat + start[0]),
            "G-U": divider_mv_per_v(flat + start[1]),
            "P": flat,
            "T": flat + 20.0,
        },
    )
    for label in ("G-T", "G-U"):
        zeros.take_zero(
            tiny.store,
            kind=ZeroKind.BEFORE_TEST,
            connection=tiny.uid[f"connection {label}"],
            recording=tiny.uid["zero"],
            begins=BEGINS,
            ends=BEGINS + timedelta(seconds=seconds),
        )


def pulled(tiny, strain, start=(3e-4, -2e-4), warmer=0.0):
    """Recording of the pull: the same grids with the true strain on top of their start."""
    # (1 + k ε) of the grid that already stands at (1 + k start).
    both = [first + strain * (1 + 2.0 * first) for first in start]
    tiny.record(
        "test",
        TEST_BEGINS,
        {
            "G-T": divider_mv_per_v(both[0]),
            "G-U": divider_mv_per_v(both[1]),
            "P": strain * 200e9 * 200e-6 / 1e3,
            "T": np.full(strain.size, 20.0 + warmer),
        },
    )


def strain_of(tiny, label):
    desk = Desk(tiny.store, Book.read(tiny.store))
    circuit = desk.book.labelled(BridgeCircuit, label)
    return desk.strain(circuit, ZeroKind.BEFORE_TEST)


@pytest.fixture
def ready(tiny):
    """Card without doubt and without thermal output of the bar's own metal."""
    pack = tiny.store.entry(tiny.uid["pack"])
    card = replace(
        pack.record,
        thermal_output=ThermalOutput(
            (0.0, 0.0), 2.0, 12e-6, 0.0, 60.0, Stated(0.0, 0.0, Meaning.LIMIT)
        ),
    )
    tiny.store.revise(pack.uid, pack.version, card, reason="card typed in")
    return tiny


def test_strain_is_what_the_resistances_say(ready):
    quiet(ready)
    true = np.linspace(0.0, 2e-3, 200)
    pulled(ready, true)
    for label in ("G-T", "G-U"):
        found = strain_of(ready, label)
        # The grids stand 0.06 and 0.04 % off nominal: a lead loss of 1 % errs by 6e-6 of strain.
        np.testing.assert_allclose(found.strain[-200:], true, rtol=7e-6, atol=1e-12)
        np.testing.assert_allclose(found.strain[:60], 0.0, atol=1e-12)


def test_a_thermometer_read_by_eye_stands_for_any_instant(ready):
    connection = ready.store.entry(ready.uid["connection T"])
    ready.store.withdraw(connection.uid, connection.version, reason="nothing records it")
    with pytest.raises(InputError, match="what it showed by eye"):
        quiet(ready)
    keys = set()
    for seen in (20.0, 21.0):
        point = ready.store.entry(ready.uid["T"])
        by_eye = replace(point.record, temperature_degc=seen)
        ready.store.revise(point.uid, point.version, by_eye, reason="looked at the wall")
        if not keys:
            ready.store.withdraw(ready.uid["zero"], 1, reason="brought in again")
            quiet(ready)
            pulled(ready, np.full(100, 1e-3))
            zero = ready.store.entries(Zero)[0].record
            assert (zero.temperature.value, zero.temperature.plus_minus) == (20.0, 0.0)
            np.testing.assert_allclose(strain_of(ready, "G-T").strain[-100:], 1e-3, rtol=7e-6)
        desk = Desk(ready.store, Book.read(ready.store))
        test = desk.book.entry(ready.uid["test"], Recording)
        keys.add(write_strains(desk, test, ZeroKind.BEFORE_TEST))
    assert len(keys) == 2  # what was worked out with the other temperature isn't taken for this


def test_a_reading_finds_its_gauge_only_through_the_connection_of_that_instant(ready):
    quiet(ready)
    pulled(ready, np.full(100, 1e-3))
    connection = ready.store.entry(ready.uid["connection G-T"])
    ended = replace(connection.record, ends=TEST_BEGINS + timedelta(seconds=40))
    ready.store.revise(connection.uid, connection.version, ended, reason="unplugged")
    found = strain_of(ready, "G-T")
    assert found.time.size == 60 + 40
    assert strain_of(ready, "G-U").time.size == 60 + 100


def test_two_connections_on_one_channel_at_once_are_refused(ready):
    ready.add(
        "second",
        Connection(
            ready.uid["circuit G-U"],
            ready.uid["channel G-T"],
            ready.uid["setting G-T"],
            TEST_BEGINS,
        ),
    )
    with pytest.raises(InputError, match="overlapping"):
        Book.read(ready.store).connections_on(ready.uid["channel G-T"])


def test_a_channel_set_to_strain_is_not_read_as_a_ratio(ready):
    quiet(ready)
    setting = ready.store.entry(ready.uid["setting G-T"])
    wrong = ChannelSetting(
        setting.record.channel, ReadingKind.STRAIN_LINEAR, "µm/m", 2.5, set_gauge_factor=2.0
    )
    ready.store.revise(setting.uid, setting.version, wrong, reason="typed wrong")
    with pytest.raises(InputError, match="set to write"):
        strain_of(ready, "G-T")


def test_a_pack_without_thermal_output_and_without_dummy_is_named(tiny):
    quiet(tiny)
    with pytest.raises(InputError, match="thermal output of pack pack"):
        strain_of(tiny, "G-T")


def test_a_card_that_names_only_its_metal_is_flat_there_and_assumed(tiny):
    pack = tiny.store.entry(tiny.uid["pack"])
    card = replace(pack.record, matched_expansion=11e-6)
    tiny.store.revise(pack.uid, pack.version, card, reason="all that stands on it")
    quiet(tiny)
    pulled(tiny, np.full(100, 1e-3), warmer=10.0)
    found = strain_of(tiny, "G-T")
    # Steel of 12e-6/K under a grid matched to 11e-6/K: 1e-6/K apparent, ten degrees of it.
    np.testing.assert_allclose(found.strain[-100:], 1e-3 - 1e-5, atol=2e-8)
    (told,) = [one for one in found.pieces[0].built.sources if one.parameter == "c0 ... c4"]
    assert told.basis == "assumed"


def test_a_missing_zero_is_named_with_the_way_to_take_it(ready):
    pulled(ready, np.full(10, 1e-3))
    with pytest.raises(InputError, match="zero 'before test' of G-T"):
        strain_of(ready, "G-T")


def test_the_zero_is_the_mean_and_its_doubt_comes_from_its_parts(ready):
    rng = np.random.default_rng(3)
    readings = 0.25 + rng.normal(0, 1e-4, 100)
    flat = np.zeros(100)
    ready.record("noisy", BEGINS, {"G-T": readings, "G-U": flat, "P": flat, "T": flat + 21})
    zero = zeros.take_zero(
        ready.store,
        kind=ZeroKind.BEFORE_TEST,
        connection=ready.uid["connection G-T"],
        recording=ready.uid["noisy"],
        begins=BEGINS,
        ends=BEGINS + timedelta(seconds=100),
    ).record
    parts = readings.reshape(10, 10).mean(axis=1) * 1e-3
    assert zero.bridge_ratio.value == pytest.approx(readings.mean() * 1e-3)
    assert zero.bridge_ratio.plus_minus == pytest.approx(parts.std(ddof=1) / np.sqrt(10))
    assert zero.bridge_ratio.degrees_of_freedom == 9
    assert zero.temperature.value == 21.0


def test_too_short_a_stretch_gives_no_zero(ready):
    with pytest.raises(InputError, match="20 or more"):
        quiet(ready, seconds=15)


def test_a_remade_plug_moves_the_zero_by_the_step_between_the_two_readings(ready):
    quiet(ready)
    old = next(
        zero
        for zero in ready.store.entries(Zero)
        if zero.record.connection == ready.uid["connection G-T"]
    )
    connection = ready.store.entry(ready.uid["connection G-T"])
    pulled_out = TEST_BEGINS - timedelta(minutes=5)
    ready.store.revise(
        connection.uid,
        connection.version,
        replace(connection.record, ends=pulled_out),
        reason="plug pulled",
    )
    again = ready.add(
        "again",
        Connection(
            ready.uid["circuit G-T"],
            ready.uid["channel G-T"],
            ready.uid["setting G-T"],
            pulled_out + timedelta(minutes=1),
        ),
    )
    step = 4e-6
    zeros.bridge_zero(
        ready.store,
        old.uid,
        again,
        before=Stated(1e-4, 3e-8, Meaning.ONE_SIGMA),
        after=Stated(1e-4 + step, 4e-8, Meaning.ONE_SIGMA),
        reason="beam untouched",
    )
    true = np.linspace(0, 1e-3, 50)
    flat = np.full(50, 20.0)
    ready.record(
        "test",
        TEST_BEGINS,
        {
            "G-T": divider_mv_per_v(3e-4 + true * (1 + 6e-4)) + step * 1e3,
            "G-U": flat * 0,
            "P": flat,
            "T": flat,
        },
    )
    found = strain_of(ready, "G-T")
    # The step is a contact's: it moves the zero; its effect on the slope is of second order.
    np.testing.assert_allclose(found.strain[-50:], true, atol=5e-8)


def test_carrying_a_zero_adds_two_contacts_and_is_assumed(ready):
    quiet(ready)
    connection = ready.store.entry(ready.uid["connection G-T"])
    ended = replace(connection.record, ends=TEST_BEGINS - timedelta(minutes=9))
    ready.store.revise(connection.uid, connection.version, ended, reason="unplugged")
    ready.add(
        "again",
        Connection(
            ready.uid["circuit G-T"],
            ready.uid["channel G-T"],
            ready.uid["setting G-T"],
            TEST_BEGINS - timedelta(minutes=5),
        ),
    )
    carried = zeros.carry_over(ready.store, ZeroKind.BEFORE_TEST, reason="untouched")
    assert len(carried) == 1
    # Two contacts of 10 mohm, each in an arm of 350 ohm: √2 · 0.01 / (4 · 350).
    assert carried[0].record.transfer.plus_minus == pytest.approx(2**0.5 * 0.01 / 1400)
    pulled(ready, np.full(20, 1e-3))
    found = strain_of(ready, "G-T").uncertain([70])
    assert found.value.item() == pytest.approx(1e-3, rel=7e-6)
    # √2 · 0.01 / (350 · 2) of strain, on a lead-loss factor of 1.01.
    assert found.standard_uncertainty().item() == pytest.approx(2**0.5 * 0.01 / 700, rel=0.02)


def test_written_strain_is_the_strain_seen_and_is_made_once(ready):
    quiet(ready)
    true = np.linspace(0, 1.5e-3, 300)
    true[100:110] = np.nan
    pulled(ready, true)
    desk = Desk(ready.store, Book.read(ready.store))
    recording = desk.book.labelled(Recording, "test")
    key = write_strains(desk, recording, ZeroKind.BEFORE_TEST)
    table = pl.read_parquet(ready.store.derived(key) / "*.parquet")
    assert table.columns == ["strain_G-T_1", "strain_G-U_1"]
    assert table.dtypes == [pl.Float32, pl.Float32]
    np.testing.assert_allclose(table["strain_G-T_1"].to_numpy(), true, rtol=1e-5, atol=3e-9)
    assert write_strains(desk, recording, ZeroKind.BEFORE_TEST) == key


def test_another_chain_is_another_file(ready):
    quiet(ready)
    pulled(ready, np.full(50, 1e-3))
    desk = Desk(ready.store, Book.read(ready.store))
    recording = desk.book.labelled(Recording, "test")
    first = write_strains(desk, recording, ZeroKind.BEFORE_TEST)
    pack = ready.store.entry(ready.uid["pack"])
    ready.store.revise(
        pack.uid,
        pack.version,
        replace(pack.record, gauge_factor=Stated(2.1, 0.0, Meaning.LIMIT)),
        reason="card read again",
    )
    desk = Desk(ready.store, Book.read(ready.store))
    second = write_strains(desk, recording, ZeroKind.BEFORE_TEST)
    assert first != second
    one = pl.read_parquet(ready.store.derived(first) / "*.parquet")["strain_G-T_1"]
    other = pl.read_parquet(ready.store.derived(second) / "*.parquet")["strain_G-T_1"]
    np.testing.assert_allclose((one / other).to_numpy(), 1.05, rtol=1e-4)
