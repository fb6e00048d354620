"""Events, holds, falls and loops of a pulled bar made by hand, through zeros, chains and the cell.

The bar is 200 mm² of steel with 200 GPa and 500 MPa; all the load is in it, so every truth is a
line of arithmetic.
"""

import importlib.util
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest

from gaugewright.errors import InputError
from gaugewright.records.gauges import ThermalOutput
from gaugewright.records.proof import ZeroKind
from gaugewright.records.readings import LoadStep
from gaugewright.records.stated import Meaning, Stated
from gaugewright.services.campaign.book import Book
from gaugewright.services.gauge import look as gauge_look
from gaugewright.services.gauge import named as gauge_named
from gaugewright.services.reducing import reduction
from gaugewright.services.strain.strains import Desk
from gaugewright.services.zeros import zeros

_spec = importlib.util.spec_from_file_location("tiny", Path(__file__).with_name("conftest.py"))
_tiny = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(_tiny)
BEGINS, divider_mv_per_v = _tiny.BEGINS, _tiny.divider_mv_per_v
TEST_BEGINS = BEGINS + timedelta(hours=1)
PER_KN = 1e3 / (200e9 * 200e-6)  # strain per kN while elastic
NOISE = 1e-6


@pytest.fixture
def ready(tiny):
    """Bar with zeros taken and thermal output of nothing."""
    pack = tiny.store.entry(tiny.uid["pack"])
    curve = ThermalOutput((0.0, 0.0), 2.0, 12e-6, 0.0, 60.0, Stated(0.0, 0.0, Meaning.LIMIT))
    tiny.store.revise(
        pack.uid, pack.version, replace(pack.record, thermal_output=curve), reason="typed in"
    )
    flat = np.zeros(60)
    lively = 1e-6 * (-1.0) ** np.arange(60)
    tiny.record("zero", BEGINS, {"G-T": lively, "G-U": lively, "P": flat, "T": flat + 20})
    for label in ("G-T", "G-U"):
        zeros.take_zero(
            tiny.store,
            kind=ZeroKind.BEFORE_TEST,
            connection=tiny.uid[f"connection {label}"],
            recording=tiny.uid["zero"],
            begins=BEGINS,
            ends=BEGINS + timedelta(seconds=60),
        )
    return tiny


def path_of(corners, ramp=200, hold=120):
    """Load in kN through some levels, each held, one row a second."""
    load, level = [np.zeros(hold)], 0.0
    for corner in corners:
        load += [np.linspace(level, corner, ramp + 1)[1:], np.full(hold, corner)]
        level = corner
    return np.concatenate(load)


def steel_strain(load_kn):
    """Bilinear steel with 2 GPa of hardening, unloaded elastically, sample by sample."""
    strain, highest = [], 0.0
    for load in load_kn:
        highest = max(highest, load)
        beyond = max(highest - 100.0, 0.0)
        plastic = beyond * 1e3 / 200e-6 * (1 / 2e9 - 1 / 200e9)
        strain.append(load * PER_KN + plastic)
    return np.asarray(strain)


def put_through(tiny, load_kn, upper, under=None):
    """Record a test, reduce it and lay it on a desk."""
    random = np.random.default_rng(8)
    under = upper if under is None else under
    noisy = [
        divider_mv_per_v(strain + NOISE * random.standard_normal(strain.size))
        for strain in (upper, under)
    ]
    tiny.record(
        "test",
        TEST_BEGINS,
        {
            "G-T": noisy[0],
            "G-U": noisy[1],
            "P": load_kn + 0.005 * random.standard_normal(load_kn.size),
            "T": np.full(load_kn.size, 20.0),
        },
    )
    reduction.reduce(tiny.store)
    return Desk(tiny.store, Book.read(tiny.store))


def value(uncertain):
    return uncertain.value.item()


def event(look, kind, name):
    return next(e for e in look.events if (e.kind, e.name) == (kind, name))


def test_unloading_slope_of_a_pulled_bar_is_its_modulus(ready):
    load = path_of([60, 10, 60, 0])
    look = gauge_look.look_at(put_through(ready, load, load * PER_KN), "G-T")
    first, second = look.unloadings
    assert value(first.peak) == pytest.approx(60e3, abs=50)
    for row in (first, second):
        assert value(row.modulus) == pytest.approx(200e9, rel=2e-3)
        assert "within their doubts" in row.note


def test_an_elastic_loop_holds_no_work_and_leaves_no_strain(ready):
    load = path_of([60, 10, 60, 0])
    look = gauge_look.look_at(put_through(ready, load, load * PER_KN), "G-T")
    (loop,) = look.loops
    assert loop.closed
    assert abs(value(loop.area)) < loop.area.expanded().item()
    (stayed,) = look.residuals
    assert abs(value(stayed.strain)) < 1e-6
    assert stayed.highest == pytest.approx(60e3, abs=50)


def test_work_of_a_loop_with_friction_is_height_times_length_of_the_bar(ready):
    """Going down the strain lags by 50 µε: a parallelogram of 50 kN by 50 µε, 2.5 J/m lost."""
    load = path_of([60, 10, 60, 0])
    strain = load * PER_KN
    falls = slice(120 + 200 + 120, 120 + 200 + 120 + 200 + 120)
    strain[falls] += 50e-6
    look = gauge_look.look_at(put_through(ready, load, strain), "G-T")
    (loop,) = look.loops
    assert value(loop.area) == pytest.approx(50e3 * 50e-6, rel=0.02)
    assert value(loop.energy) == pytest.approx(value(loop.area) / 200e-6, rel=1e-6)


def test_yield_by_every_criterion_lies_at_strength_times_area(ready):
    load = path_of([40, 80, 104, 0])
    look = gauge_look.look_at(put_through(ready, load, steel_strain(load)), "G-T")
    assert value(event(look, "yield", "strain").load) == pytest.approx(100e3, rel=1e-3)
    # 100 µε beyond the line: at 2 GPa of hardening that is 40 N; 0.2 % is 802 N, nearly.
    beyond = 200e-6 / (1 / 2e9 - 1 / 200e9)
    departed = value(event(look, "yield", "departure").load)
    assert departed == pytest.approx(100e3 + 100e-6 * beyond, abs=100)
    offset = value(event(look, "yield", "offset").load)
    assert offset == pytest.approx(100e3 + 0.002 * 2e9 * 200e-6, abs=100)
    assert value(event(look, "yield", "stiffness").load) == pytest.approx(100e3, rel=0.01)
    assert look.residuals[0].note.startswith("more than 200 µε stayed")
    stayed = value(look.residuals[0].strain)
    assert stayed == pytest.approx(steel_strain(load)[-1], rel=1e-3)


def test_holds_have_strain_stress_and_state_of_the_steel(ready):
    load = path_of([40, 80, 104, 0])
    look = gauge_look.look_at(put_through(ready, load, steel_strain(load)), "G-T")
    told = [(round(value(h.load) / 1e3), h.steel) for h in look.holds]
    assert told == [
        (0, "elastic"),
        (40, "elastic"),
        (80, "elastic"),
        (104, "yielded"),
        (0, "unloaded after yield"),
    ]
    assert all(hold.settled for hold in look.holds)
    # Of the whole hold a third, of which the load is what the cell said: stress is load over area.
    assert value(look.holds[2].stress) == pytest.approx(400e6, rel=1e-3)
    assert value(look.holds[4].stress) == pytest.approx(0.0, abs=1e6)


def test_a_hold_takes_the_name_of_the_step_noted_there(ready):
    load = path_of([40, 80])
    first = TEST_BEGINS + timedelta(seconds=120 + 200)
    ready.store.add(LoadStep("forty", first, first + timedelta(seconds=120), 40e3))
    look = gauge_look.look_at(put_through(ready, load, load * PER_KN), "G-T")
    assert [hold.held.label for hold in look.holds] == ["", "forty", ""]


def test_strain_that_creeps_in_a_hold_is_not_settled(ready):
    load = path_of([40, 80])
    creep = np.zeros(load.size)
    creep[320:440] = np.linspace(0, 40e-6, 120)
    creep[440:] = 40e-6
    look = gauge_look.look_at(put_through(ready, load, load * PER_KN + creep), "G-T")
    assert [hold.settled for hold in look.holds] == [True, False, True]
    assert look.holds[1].drift.rate == pytest.approx(40e-6 / 119, rel=0.15)


def test_a_crack_is_a_step_and_says_whether_anything_else_moved(ready):
    load = path_of([40, 80])
    crack = np.where(np.arange(load.size) >= 230, 150e-6, 0.0)
    look = gauge_look.look_at(put_through(ready, load, load * PER_KN + crack, load * PER_KN), "G-T")
    found = event(look, "cracking", "step")
    assert value(found.load) == pytest.approx(load[229] * 1e3, abs=300)
    assert "nothing else moved" in found.note
    other = gauge_look.look_at(look.record.desk, "G-U")
    assert event(other, "cracking", "step").load is None


def test_a_step_of_the_opposite_gauge_is_told(ready):
    load = path_of([40, 80])
    crack = np.where(np.arange(load.size) >= 230, 150e-6, 0.0)
    look = gauge_look.look_at(put_through(ready, load, load * PER_KN + crack), "G-T")
    assert "G-U stepped by +1" in event(look, "cracking", "step").note


def test_the_doubt_of_the_cell_is_in_the_load_of_every_event(ready):
    load = path_of([40, 80, 104, 0])
    cell = ready.store.entry(ready.uid["P"])
    doubtful = replace(cell.record, gain=Stated(1.0, 0.02, Meaning.TWO_SIGMA))
    ready.store.revise(cell.uid, cell.version, doubtful, reason="certificate")
    look = gauge_look.look_at(put_through(ready, load, steel_strain(load)), "G-T")
    for name in ("strain", "offset", "departure", "stiffness"):
        found = event(look, "yield", name).load
        assert found.expanded().item() >= 0.97 * 0.02 * value(found)


def test_a_pair_leaves_local_bending_out(ready):
    load = path_of([40, 80, 104, 0])
    strain = steel_strain(load)
    bending = 0.1 * load * PER_KN
    desk = put_through(ready, load, strain + bending, strain - bending)
    single = event(gauge_look.look_at(desk, "G-T"), "yield", "strain")
    pair = event(gauge_look.look_at(desk, "G-T with G-U"), "yield", "strain")
    assert value(single.load) == pytest.approx(100e3 / 1.1, rel=2e-3)
    assert value(pair.load) == pytest.approx(100e3, rel=2e-3)
    assert gauge_named.labels(desk) == (("G-T", "G-U"), ("G-T with G-U",))


def test_first_and_last_gauge_of_the_specimen(ready):
    load = path_of([40, 80, 104, 0])
    strain = steel_strain(load)
    bending = 0.1 * load * PER_KN
    desk = put_through(ready, load, strain + bending, strain - bending)
    by = {(one.kind, one.name): one for one in gauge_look.of_specimen(gauge_look.every_event(desk))}
    both = by["yield", "strain"]
    assert (both.first.label, both.last.label, both.gauges) == ("G-T", "G-U", 2)


def test_a_gauge_that_isnt_there_is_named_with_those_that_are(ready):
    load = path_of([40])
    desk = put_through(ready, load, load * PER_KN)
    with pytest.raises(InputError, match="one of G-T, G-U, G-T with G-U"):
        gauge_look.look_at(desk, "G-X")


def test_nothing_is_told_before_anything_is_reduced(ready):
    with pytest.raises(InputError, match="reduced: none is yet"):
        gauge_look.look_at(Desk(ready.store, Book.read(ready.store)), "G-T")
