"""A reading finds its gauge only through the connection valid at that instant."""

import importlib.util
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest

from gaugewright.errors import InputError
from gaugewright.records.electrical import (
    BridgeCircuit,
    Channel,
    ChannelSetting,
    Connection,
    ReadingKind,
)
from gaugewright.records.gauges import ThermalOutput
from gaugewright.records.proof import Zero, ZeroKind
from gaugewright.records.readings import Recording, RecordingColumn
from gaugewright.records.stated import Meaning, Stated
from gaugewright.services.campaign.book import Book
from gaugewright.services.long_run import term as long_term
from gaugewright.services.strain.strains import Desk
from gaugewright.services.zeros import zeros

_spec = importlib.util.spec_from_file_location("tiny", Path(__file__).with_name("conftest.py"))
_tiny = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(_tiny)
BEGINS, divider, exact = _tiny.BEGINS, _tiny.divider_mv_per_v, _tiny.exact
ROWS = 600
ON_T, ON_U = 200e-6, -300e-6  # what the gauges saw


def after(seconds):
    return BEGINS + timedelta(seconds=seconds)


def revised(tiny, key, **changed):
    entry = tiny.store.entry(tiny.uid[key])
    made = replace(entry.record, **changed)
    tiny.store.revise(entry.uid, entry.version, made, reason="of this test")


def zeroed(tiny, connection, carried=()):
    transfer = Stated(0.0, 2e-6, Meaning.ONE_SIGMA) if carried else None
    zero = Zero(
        ZeroKind.BEFORE_TEST,
        connection,
        exact(0.0),
        exact(20.0),
        BEGINS,
        carried_to=tuple(carried),
        transfer=transfer,
    )
    return tiny.store.add(zero)


@pytest.fixture
def ready(tiny):
    """Thermal output of nothing; both gauges recorded for ten minutes, a row a second."""
    curve = ThermalOutput((0.0, 0.0), 2.0, 12e-6, 0.0, 60.0, exact(0.0))
    revised(tiny, "pack", thermal_output=curve)
    return tiny


def recorded(tiny):
    columns = {
        "G-T": divider(np.full(ROWS, ON_T)),
        "G-U": divider(np.full(ROWS, ON_U)),
        "T": np.full(ROWS, 20.0),
    }
    tiny.record("day", BEGINS, columns)


def strain(tiny, label):
    desk = Desk(tiny.store, Book.read(tiny.store))
    return desk.strain(desk.book.labelled(BridgeCircuit, label), ZeroKind.BEFORE_TEST)


def second(found):
    """Seconds after the beginning at which a circuit was read."""
    return np.round(found.time - found.time[0]).astype(int)


def test_rows_of_an_interruption_belong_to_nobody(ready):
    recorded(ready)
    record = ready.store.entry(ready.uid["connection G-T"]).record
    revised(ready, "connection G-T", ends=after(200))
    again = ready.add("again", replace(record, begins=after(350)))
    zeroed(ready, ready.uid["connection G-T"], [again])
    found = strain(ready, "G-T")
    assert second(found).tolist() == [*range(200), *range(350, ROWS)]
    assert found.strain == pytest.approx(ON_T, rel=1e-9)
    # The doubt of having pulled and pushed the plug is in the later rows alone.
    doubts = found.uncertain([0, found.time.size - 1]).standard_uncertainty()
    assert doubts[1] > doubts[0]
    look = long_term.look_at(Desk(ready.store, Book.read(ready.store)), "G-T")
    assert [gap.why for gap in look.gaps] == ["between two connections"]
    assert look.segments[1].border.step.value == pytest.approx(0.0, abs=1e-12)


def test_a_channel_used_again_gives_each_gauge_its_own_rows(ready):
    recorded(ready)
    record = ready.store.entry(ready.uid["connection G-T"]).record
    revised(ready, "connection G-T", ends=after(250))
    revised(ready, "connection G-U", ends=after(100))
    moved = replace(record, subject=ready.uid["circuit G-U"], begins=after(250))
    later = ready.add("moved", moved)
    zeroed(ready, ready.uid["connection G-T"])
    zeroed(ready, ready.uid["connection G-U"], [later])
    assert second(strain(ready, "G-T")).tolist() == list(range(250))
    found = strain(ready, "G-U")
    assert second(found).tolist() == [*range(100), *range(250, ROWS)]
    # On G-T's channel it read what that column holds.
    assert found.strain[:100] == pytest.approx(ON_U, rel=1e-9)
    assert found.strain[100:] == pytest.approx(ON_T, rel=1e-9)


def test_two_things_on_one_channel_at_once_are_refused(ready):
    recorded(ready)
    record = ready.store.entry(ready.uid["connection G-T"]).record
    zeroed(ready, ready.uid["connection G-T"])
    ready.store.add(replace(record, subject=ready.uid["circuit G-U"], begins=after(10)))
    with pytest.raises(InputError, match="overlapping"):
        strain(ready, "G-T")


def swapped(tiny, unit, kind, factor, **setting):
    """The gauge goes on to another recorder at 300 s, which writes in a unit of its own."""
    columns = {"G-T": divider(np.full(300, ON_T)), "T": np.full(ROWS, 20.0)}
    tiny.record("first", BEGINS, {"G-T": columns["G-T"], "T": columns["T"][:300]})
    other = tiny.store.entry(tiny.uid["recorder"]).record
    tiny.add("second recorder", replace(other, label="Second"))
    channel = tiny.add("new channel", Channel("7", tiny.uid["second recorder"], 7, "S"))
    made = tiny.add("new setting", ChannelSetting(channel, kind, unit, **setting))
    record = tiny.store.entry(tiny.uid["connection G-T"]).record
    revised(tiny, "connection G-T", ends=after(300))
    later = Connection(record.subject, channel, made, after(300))
    zeroed(tiny, tiny.uid["connection G-T"], [tiny.add("swapped", later)])
    tiny.uid["recorder"], kept = tiny.uid["second recorder"], tiny.uid["recorder"]
    tiny.record("second", after(300), {"S": factor * divider(np.full(300, ON_T))})
    tiny.uid["recorder"] = kept
    entry = tiny.store.entry(tiny.uid["second"])
    columns = tuple(replace(column, unit=unit) for column in entry.record.columns)
    assert all(isinstance(column, RecordingColumn) for column in columns)
    written = replace(entry.record, columns=columns)
    assert isinstance(written, Recording)
    tiny.store.revise(entry.uid, entry.version, written, reason="unit stated")
    thermometer = tiny.store.entry(tiny.uid["connection T"]).record
    assert thermometer.covers(after(300))
    tiny.record("air", after(300), {"T": np.full(300, 20.0)})
    return tiny


@pytest.mark.parametrize(
    ("unit", "kind", "factor", "setting"),
    [
        ("µV/V", ReadingKind.RATIO, 1e3, {}),
        # An instrument that reckons 4 r / k, set to 2.1 though the gauge has 2.0.
        ("µm/m", ReadingKind.STRAIN_LINEAR, 1e3 * 4 / 2.1, {"set_gauge_factor": 2.1}),
    ],
)
def test_an_instrument_is_swapped_for_one_with_another_unit(ready, unit, kind, factor, setting):
    found = strain(swapped(ready, unit, kind, factor, **setting), "G-T")
    assert second(found).tolist() == list(range(ROWS))
    assert found.strain == pytest.approx(ON_T, rel=1e-9)
    assert [p.stretch.recording.record.label for p in found.pieces] == ["first", "second"]


def test_a_unit_that_the_channel_cannot_have_written_is_refused_by_name(ready):
    tiny = swapped(ready, "µV/V", ReadingKind.RATIO, 1e3)
    entry = tiny.store.entry(tiny.uid["second"])
    columns = tuple(replace(column, unit="kN") for column in entry.record.columns)
    tiny.store.revise(
        entry.uid, entry.version, replace(entry.record, columns=columns), reason="typed wrong"
    )
    with pytest.raises(InputError, match="unit of column 'S'"):
        strain(tiny, "G-T")


def test_a_zero_moves_by_the_step_read_at_remaking_a_plug(ready):
    lively = 1e-9 * (-1.0) ** np.arange(ROWS)
    ratio = divider(np.full(ROWS, ON_T)) + lively
    ratio[300:] += 0.012  # the contact, in mV/V
    ready.record("day", BEGINS, {"G-T": ratio, "T": np.full(ROWS, 20.0)})
    record = ready.store.entry(ready.uid["connection G-T"]).record
    revised(ready, "connection G-T", ends=after(290))
    again = ready.add("again", replace(record, begins=after(300)))
    zero = zeroed(ready, ready.uid["connection G-T"])
    zeros.bridge_remade(
        ready.store,
        zero.uid,
        again,
        before=(ready.uid["day"], after(200), after(290)),
        after=(ready.uid["day"], after(300), after(400)),
        reason="plug remade, specimen untouched",
    )
    found = strain(ready, "G-T")
    assert found.strain == pytest.approx(ON_T, rel=2e-5)
    look = long_term.look_at(Desk(ready.store, Book.read(ready.store)), "G-T")
    assert look.segments[1].border.words.startswith("its own zero: zero of the earlier connection")
