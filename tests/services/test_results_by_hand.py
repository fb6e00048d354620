"""Yield loads, bar forces and findings of a pulled bar, against hand calculation."""

import importlib.util
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import numpy as np
import polars as pl
import pytest

from gaugewright.errors import Faults, InputError
from gaugewright.records.electrical import BridgeCircuit, Channel, Connection
from gaugewright.records.gauges import Gauge, ThermalOutput
from gaugewright.records.proof import (
    Censor,
    Gate,
    GateCheck,
    GateReading,
    Limit,
    Meter,
    Person,
    Verdict,
    ZeroKind,
)
from gaugewright.records.readings import Decision, Finding, LoadStep, Recording
from gaugewright.records.results import Result
from gaugewright.records.stated import Meaning, State, Stated
from gaugewright.services.campaign import states
from gaugewright.services.campaign.book import Book
from gaugewright.services.reducing import reduction
from gaugewright.services.reviewing import pairs, review
from gaugewright.services.showing.page import Page
from gaugewright.services.strain.strain_files import write_strains
from gaugewright.services.strain.strains import Desk
from gaugewright.services.tracing.evidence import short_id, trail_of
from gaugewright.services.work.jobs import Cancelled
from gaugewright.services.zeros import zeros

_spec = importlib.util.spec_from_file_location("tiny", Path(__file__).with_name("conftest.py"))
_tiny = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(_tiny)
BEGINS, divider_mv_per_v = _tiny.BEGINS, _tiny.divider_mv_per_v
TEST_BEGINS = BEGINS + timedelta(hours=1)
YIELD = 500e6 / 200e9


@pytest.fixture
def ready(tiny):
    """Bar with zeros taken, thermal output of nothing, and no flats."""
    pack = tiny.store.entry(tiny.uid["pack"])
    curve = ThermalOutput((0.0, 0.0), 2.0, 12e-6, 0.0, 60.0, Stated(0.0, 0.0, Meaning.LIMIT))
    tiny.store.revise(
        pack.uid, pack.version, replace(pack.record, thermal_output=curve), reason="typed in"
    )
    flat = np.zeros(60)
    lively = 1e-6 * (-1.0) ** np.arange(60)  # a reading that repeats itself would be told frozen
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


def pulled(tiny, load_kn, upper, under):
    """Recording of the pull."""
    tiny.record(
        "test",
        TEST_BEGINS,
        {
            "G-T": divider_mv_per_v(upper),
            "G-U": divider_mv_per_v(under),
            "P": load_kn,
            "T": np.full(len(load_kn), 20.0),
        },
    )


def ramp(to_kn=90.0, rows=900):
    """Load of a steady pull, and the strain of an unbent bar of 200 mm² under it."""
    load = np.linspace(0.0, to_kn, rows)
    return load, load * 1e3 / (200e9 * 200e-6)


def test_a_straight_pull_yields_at_strength_times_area(ready):
    load, strain = ramp(110.0, 1101)
    pulled(ready, load, strain, strain)
    rows = {row.label: row for row in reduction.reduce(ready.store).yields}
    assert set(rows) == {"G-T", "G-U", "G-T with G-U"}
    # f_y A = 500 MPa · 200 mm² = 100 kN; nothing is doubted, so the clock and noise are all.
    for row in rows.values():
        assert row.load_n == pytest.approx(100e3, rel=2e-4)


def test_local_bending_moves_each_gauge_and_leaves_the_pair(ready):
    load, strain = ramp(115.0, 1151)
    pulled(ready, load, strain * 1.1, strain * 0.9)
    rows = {row.label: row for row in reduction.reduce(ready.store).yields}
    assert rows["G-T"].load_n == pytest.approx(100e3 / 1.1, rel=3e-4)
    assert rows["G-U"].load_n == pytest.approx(100e3 / 0.9, rel=3e-4)
    assert rows["G-T with G-U"].load_n == pytest.approx(100e3, rel=3e-4)


def test_yield_that_is_not_reached_is_said_so_with_the_numbers(ready):
    load, strain = ramp(80.0)
    pulled(ready, load, strain, strain)
    rows = reduction.reduce(ready.store).yields
    assert all(row.load_n is None for row in rows)
    assert "highest strain 2000 µε, yield begins at 2500 µε" in rows[0].note


def test_bar_force_of_a_pair_is_the_pull(ready, add_step):
    load = np.concatenate([np.linspace(0, 60, 300), np.full(300, 60.0)])
    strain = load * 1e3 / (200e9 * 200e-6)
    pulled(ready, load, strain * 1.2, strain * 0.8)
    add_step(ready, "60 kN", 0, 600, 60e3)
    done = reduction.reduce(ready.store)
    force = next(e.record for e in done.results if e.record.quantity == "force")
    assert force.value == pytest.approx(60e3, rel=2e-5)
    assert force.label == "bar force G-T with G-U at 60 kN"


def test_a_flat_takes_its_segment_from_the_force(ready, add_flat, add_step):
    # A flat 6 mm wide on 16 mm: depth 0.584 mm, segment 2.359 mm² by strips of 1e-5 mm.
    y = np.linspace(np.sqrt(8.0**2 - 3.0**2), 8.0, 200_001)
    segment = np.trapezoid(2 * np.sqrt(np.clip(64.0 - y**2, 0, None)), y) * 1e-6
    for label in ("G-T", "G-U"):
        add_flat(ready, label, 0.006, opposite=True)
    strain = np.concatenate([np.linspace(0, 1e-3, 100), np.full(300, 1e-3)])
    pulled(ready, np.full(400, 40.0), strain, strain)
    add_step(ready, "40 kN", 0, 400, 40e3)
    done = reduction.reduce(ready.store)
    force = next(e.record for e in done.results if e.record.quantity == "force")
    assert force.value == pytest.approx(200e9 * 1e-3 * (200e-6 - 2 * segment), rel=2e-5)


def test_reducing_twice_writes_nothing_new(ready):
    load, strain = ramp(110.0, 1101)
    pulled(ready, load, strain, strain)
    reduction.reduce(ready.store)
    head = ready.store.head()
    reduction.reduce(ready.store)
    assert ready.store.head() == head


def test_what_a_later_reduction_does_not_find_is_taken_back_and_still_followed(ready, add_step):
    load = np.concatenate([np.linspace(0, 60, 300), np.full(300, 60.0)])
    strain = load * 1e3 / (200e9 * 200e-6)
    pulled(ready, load, strain, strain)
    step = add_step(ready, "60 kN", 0, 600, 60e3)
    reduction.reduce(ready.store)
    book = Book.read(ready.store)
    old = next(e for e in book.of(Result) if e.record.label.endswith("G-T with G-U at 60 kN"))
    named = book.entry(step, LoadStep)
    renamed = replace(named.record, label="hold")
    ready.store.revise(step, named.version, renamed, reason="called so in the log")
    done = reduction.reduce(ready.store)
    page = Page.of(Desk(ready.store, Book.read(ready.store)))
    assert {e.uid for e in page.book.of(Result)} == {e.uid for e in done.results}
    assert old.uid not in {e.uid for e in done.results}
    trail = trail_of(page, short_id(old.uid))
    assert trail.result.record == old.record
    assert trail.steps[0].rows[0][-1].endswith("; taken back since")
    with pytest.raises(InputError, match="an id or label of one result"):
        trail_of(page, old.record.label)


def test_what_was_not_stated_is_marked_assumed(ready):
    load, strain = ramp(110.0, 1101)
    pulled(ready, load, strain, strain)
    for limit in ready.store.entries(Limit):
        if limit.record.label == "installation scatter":
            changed = replace(limit.record, value=0.015)
            ready.store.revise(limit.uid, limit.version, changed, reason="as usual")
    reduction.reduce(ready.store)
    pair = next(
        e.record for e in ready.store.entries(Result) if e.record.label.endswith("with G-U")
    )
    assert pair.main_cause == "installation of this gauge (assumed)"
    # Two gauges, each 1.5 % by installation alone: 1.5 %/√2 of the pair's load, k = 1.96.
    assert pair.expanded_uncertainty == pytest.approx(1.96 * 0.015 / 2**0.5 * 100e3, rel=0.01)


def test_without_readings_every_missing_thing_is_told(tiny):
    with pytest.raises(Faults, match="nothing could be reduced"):
        reduction.reduce(tiny.store)


def test_what_is_missing_between_a_recording_and_a_number_is_named(tiny):
    tiny.record("test", TEST_BEGINS, {"G-T": np.zeros(5), "P": np.zeros(5)})
    for kind, name in (
        (Connection, "connections"),
        (Channel, "channels"),
        (BridgeCircuit, "circuits"),
        (Gauge, "gauges"),
    ):
        for entry in tiny.store.entries(kind):
            tiny.store.withdraw(entry.uid, entry.version, reason="never was")
        with pytest.raises(Faults, match=f"{name} is 'none'; it must be entered"):
            reduction.reduce(tiny.store)


def test_an_open_grid_is_found_lost_and_gets_no_part_in_pairs(ready):
    load, strain = ramp(110.0, 1101)
    upper = strain.copy()
    reading = divider_mv_per_v(upper)
    reading[700:] = np.inf
    ready.record(
        "test",
        TEST_BEGINS,
        {"G-T": reading, "G-U": divider_mv_per_v(strain), "P": load, "T": np.full(1101, 20.0)},
    )
    found = review.find(ready.store)
    assert [(e.record.code, e.record.severity.value) for e in found] == [("over-range", "lost")]
    assert found[0].record.first_row == 700
    labels = {row.label for row in reduction.reduce(ready.store).yields}
    assert labels == {"G-T", "G-U"}


def test_a_frozen_channel_is_found_and_a_repeat_of_a_few_scans_is_not(ready):
    load, strain = ramp(60.0)
    stuck = strain.copy()
    stuck[400:] = stuck[400]
    brief = strain.copy()
    brief[100:130] = brief[100]
    pulled(ready, load, stuck, brief)
    found = review.find(ready.store)
    assert [(e.record.code, e.record.first_row) for e in found] == [("frozen", 400)]


def test_channels_written_twice_are_found_from_where_both_were_read_and_it_can_be_stopped(ready):
    ready.store.add(Limit("shared noise", "shared noise", 0.5, "1", "of this test"))
    noise = np.random.default_rng(3).normal(0.0, 1e-6, 3000)
    pulled(ready, np.zeros(3000), noise, noise)
    connection = ready.store.entry(ready.uid["connection G-U"])
    late = replace(connection.record, begins=TEST_BEGINS + timedelta(seconds=500))
    ready.store.revise(connection.uid, connection.version, late, reason="plugged in late")
    desk = Desk(ready.store, Book.read(ready.store))
    watched = tuple(review.everybody(desk))
    found = list(pairs.twins(desk, watched))
    assert {each.subject for each in found} == {ready.uid["G-T"], ready.uid["G-U"]}
    assert all(each.measured == pytest.approx(1.0) for each in found)

    class Stopped(tuple):
        def __iter__(self):
            raise Cancelled("stopped")

    with pytest.raises(Cancelled):
        list(pairs.twins(desk, Stopped(watched)))


def test_looking_again_finds_nothing_new_and_a_rejected_finding_counts_no_more(ready):
    load, strain = ramp(60.0)
    stuck = strain.copy()
    stuck[400:] = stuck[400]
    pulled(ready, load, stuck, strain)
    first = review.find(ready.store)
    again = review.find(ready.store)
    assert [e.uid for e in again] == [e.uid for e in first]
    review.decide(
        ready.store, first[0].uid, first[0].version, Decision.REJECTED, "the load was held"
    )
    book = Book.read(ready.store)
    assert states.state_of_gauge(book, book.labelled(Gauge, "G-T")) is not State.LOST
    assert len(ready.store.history(first[0].uid)) == 2
    assert ready.store.entries(Finding)[0].record.reason == "the load was held"


def test_a_gauge_whose_last_gate_failed_is_told(ready):
    person = ready.add("person", Person("p", "Nobody Real (invented)"))
    meter = ready.add("meter", Meter("m", "ohm", 0.01, 0.0))
    reading = GateReading("A-B", None, Censor.OPEN, meter, "open", 20.0, BEGINS, BEGINS)
    ready.store.add(
        GateCheck(
            ready.uid["G-T"],
            Gate.BEFORE_TEST,
            (reading,),
            Verdict.FAIL,
            "A-B is open",
            (),
            person,
        )
    )
    load, strain = ramp(60.0)
    pulled(ready, load, strain, strain)
    found = review.find(ready.store)
    assert [(e.record.code, e.record.severity.value) for e in found] == [("gate failed", "lost")]


def test_excluded_rows_have_no_strain_anywhere_and_come_back_when_undone(ready):
    load, strain = ramp(60.0)
    stuck = strain.copy()
    stuck[400:600] = stuck[400]
    pulled(ready, load, stuck, strain)
    found = review.find(ready.store)[0]
    desk = Desk(ready.store, Book.read(ready.store))
    recording = desk.book.labelled(Recording, "test")
    before = write_strains(desk, recording, ZeroKind.BEFORE_TEST)
    excluded = review.decide(
        ready.store, found.uid, found.version, Decision.EXCLUDED, "recorder hung"
    )
    desk = Desk(ready.store, Book.read(ready.store))
    seen = desk.strain(desk.book.labelled(BridgeCircuit, "G-T"), ZeroKind.BEFORE_TEST).strain[-900:]
    key = write_strains(desk, recording, ZeroKind.BEFORE_TEST)
    written = pl.read_parquet(ready.store.derived(key) / "*.parquet")["strain_G-T_1"].to_numpy()
    for column in (seen, written):
        assert np.flatnonzero(np.isnan(column)).tolist() == list(range(400, 600))
    review.decide(
        ready.store, excluded.uid, excluded.version, Decision.REJECTED, "it was a hold after all"
    )
    desk = Desk(ready.store, Book.read(ready.store))
    assert key != before
    assert write_strains(desk, recording, ZeroKind.BEFORE_TEST) == before


def test_a_gauge_that_cant_be_believed_gets_no_yield_load(ready):
    load, strain = ramp(110.0, 1101)
    reading = divider_mv_per_v(strain)
    reading[1050:] = np.inf
    ready.record(
        "test",
        TEST_BEGINS,
        {"G-T": reading, "G-U": divider_mv_per_v(strain), "P": load, "T": np.full(1101, 20.0)},
    )
    review.find(ready.store)
    rows = {row.label: row for row in reduction.reduce(ready.store).yields}
    assert (rows["G-T"].load_n, rows["G-T"].note) == (None, "lost: no value is given")
    assert rows["G-U"].load_n == pytest.approx(100e3, rel=2e-4)


def test_a_bar_in_compression_is_not_said_to_have_stayed_below_yield(ready):
    load, strain = ramp(80.0)
    pulled(ready, load, -strain, -strain)
    rows = reduction.reduce(ready.store).yields
    assert all(row.note.startswith("in compression, down to -2000 µε") for row in rows)


def test_a_connection_that_cant_be_reduced_is_told_with_what_is_missing(ready):
    load, strain = ramp(110.0, 1101)
    pulled(ready, load, strain, strain)
    point = ready.store.entry(ready.uid["T"])
    ready.store.revise(
        point.uid,
        point.version,
        replace(point.record, gauges=(ready.uid["G-T"],)),
        reason="stands for one gauge only",
    )
    assert review.find(ready.store) == ()
    done = reduction.reduce(ready.store)
    assert {row.label for row in done.yields} == {"G-T"}
    assert reduction.unreduced(done).startswith("1 connection(s) not reduced: G-U")
    assert "temperature point of G-U" in reduction.unreduced(done)
