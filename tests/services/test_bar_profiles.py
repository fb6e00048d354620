"""A bar in concrete through records, readings and services, against a bar integrated elsewhere."""

import importlib.util
import itertools
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from gaugewright.errors import InputError
from gaugewright.records.electrical import (
    Arm,
    BridgeCircuit,
    Channel,
    ChannelSetting,
    Connection,
    ReadingKind,
    Topology,
)
from gaugewright.records.gauges import Gauge, ThermalOutput
from gaugewright.records.identity import seeded_context
from gaugewright.records.proof import Limit, ZeroKind
from gaugewright.records.readings import Finding, LoadStep, Severity
from gaugewright.records.sensors import TemperaturePoint
from gaugewright.records.specimen import Bar, Campaign, Material, Station, SteelLaw
from gaugewright.records.stated import Meaning, Stated
from gaugewright.services.along_bars import profiles as bar_profiles
from gaugewright.services.along_bars import slip as bar_slip
from gaugewright.services.campaign.book import Book
from gaugewright.services.loading import moments
from gaugewright.services.reducing import reduction
from gaugewright.services.strain.strains import Desk
from gaugewright.services.zeros import zeros
from gaugewright.store.campaign import CampaignStore
from tests.calc import bonded_bar

_spec = importlib.util.spec_from_file_location("tiny", Path(__file__).with_name("conftest.py"))
_tiny = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(_tiny)
BEGINS, exact, divider = _tiny.BEGINS, _tiny.exact, _tiny.divider_mv_per_v
TEST = BEGINS + timedelta(hours=1)
PLACES = np.linspace(0.0, 0.45, 10)
SCATTER, FACTOR, PLACE = 0.01, 0.005, 0.001  # standard uncertainties, as the records state them
TRUTH = bonded_bar.pulled_bar(0.45, 6e-5)


def row_of_gauges(tiny, *, doubted):
    """A second bar with one gauge at every place, zeroed; places as built."""
    store = tiny.store
    steel = tiny.add(
        "elastic",
        Material(
            "elastic steel", SteelLaw.ELASTIC, exact(bonded_bar.MODULUS), exact(12e-6), exact(0.3)
        ),
    )
    bar = tiny.add(
        "row",
        Bar(
            "B",
            tiny.uid["specimen"],
            steel,
            "d16",
            exact(bonded_bar.DIAMETER),
            exact(bonded_bar.AREA),
        ),
    )
    pack = store.entry(tiny.uid["pack"])
    curve = ThermalOutput((0.0, 0.0), 2.0, 12e-6, 0.0, 60.0, exact(0.0))
    factor = Stated(2.0, 4 * FACTOR, Meaning.TWO_SIGMA) if doubted else exact(2.0)
    revised = replace(pack.record, thermal_output=curve, gauge_factor=factor, lot_share=1.0)
    store.revise(pack.uid, pack.version, revised, reason="typed in")
    gauges = []
    for n, place in enumerate(PLACES):
        built = Stated(place, 2 * PLACE, Meaning.TWO_SIGMA) if doubted else exact(place)
        station = tiny.add(
            f"station B{n}", Station(f"B{n}", bar, "end", float(place), distance_built=built)
        )
        gauges.append(tiny.add(f"B{n}", Gauge(f"B{n}", pack.uid, station)))
        circuit = tiny.add(
            f"circuit B{n}",
            BridgeCircuit(
                f"B{n}", Topology.QUARTER_THREE_WIRE, (Arm(1, 1, gauges[-1]),), tiny.uid["lead"]
            ),
        )
        channel = tiny.add(f"channel B{n}", Channel(f"B{n}", tiny.uid["recorder"], 10 + n, f"B{n}"))
        setting = tiny.add(f"setting B{n}", ChannelSetting(channel, ReadingKind.RATIO, "mV/V", 2.5))
        tiny.add(
            f"connection B{n}", Connection(circuit, channel, setting, BEGINS - timedelta(hours=1))
        )
    point = store.entry(tiny.uid["T"])
    more = replace(point.record, gauges=(*point.record.gauges, *gauges))
    assert isinstance(more, TemperaturePoint)
    store.revise(point.uid, point.version, more, reason="stands for the row too")
    if doubted:
        _allow(store, "installation scatter", SCATTER)
    # The row has no pairs of its own: nothing of the bar bends here.
    _allow(store, "local bending share", 0.0)


def _allow(store, label, value):
    (limit,) = [entry for entry in store.entries(Limit) if entry.record.label == label]
    store.revise(
        limit.uid, limit.version, replace(limit.record, value=value), reason="of this test"
    )


def read(tiny, strains, *, noise=0.0, warm=20.0, seed=5, lost=(), since=(ZeroKind.BEFORE_TEST,)):
    """Zero and a hold of a minute, through the divider; named gauges write nothing in the hold."""
    random = np.random.default_rng(seed)
    rows = 60

    def column(strain):
        lively = 2e-7 * (-1.0) ** np.arange(rows)
        return divider(strain + lively + random.normal(0.0, noise, rows))

    still = {f"B{n}": column(0.0) for n in range(PLACES.size)}
    idle = {name: column(0.0) for name in ("G-T", "G-U")}
    tiny.record("zero", BEGINS, {**still, **idle, "P": np.zeros(rows), "T": np.full(rows, 20.0)})
    for kind, name in itertools.product(since, still):
        zeros.take_zero(
            tiny.store,
            kind=kind,
            connection=tiny.uid[f"connection {name}"],
            recording=tiny.uid["zero"],
            begins=BEGINS,
            ends=BEGINS + timedelta(seconds=rows),
        )
    held = {f"B{n}": column(strain) for n, strain in enumerate(strains)}
    for name in lost:
        held[name] = np.full(rows, np.nan)
    tiny.record("test", TEST, {**held, **idle, "P": np.full(rows, 50.0), "T": np.full(rows, warm)})
    tiny.add("hold", LoadStep("hold", TEST, TEST + timedelta(seconds=rows), 50e3))
    reduction.reduce(tiny.store)


def looked_at(tiny, zero=ZeroKind.BEFORE_TEST, **words):
    """Desk and profile of the row in the hold."""
    desk = Desk(tiny.store, Book.read(tiny.store))
    bar = desk.book.labelled(Bar, "B")
    moment = moments.moment_named(desk, "hold")
    return desk, bar_profiles.bar_profile(desk, bar, moment, zero, **words)


def true_strain(places=PLACES):
    return TRUTH.at("force", places) / (bonded_bar.MODULUS * bonded_bar.AREA)


def test_bond_stress_and_slip_are_those_of_the_bar_integrated_elsewhere(tiny):
    row_of_gauges(tiny, doubted=False)
    read(tiny, true_strain())
    _, profile = looked_at(tiny)
    assert [step.stress.value.item() for step in profile.steps] == pytest.approx(
        np.diff(TRUTH.at("force", PLACES)) / (np.diff(PLACES) * bonded_bar.PERIMETER), rel=2e-3
    )
    inner = profile.bond.places[6:-6]
    assert profile.bond.value.value[6:-6] == pytest.approx(TRUTH.at("bond", inner), rel=0.05)
    known = bar_slip.KnownSlip(0.0, float(TRUTH.slip[0]), 2e-6)
    slip = bar_slip.slip_along(profile, known)
    assert slip.value.value == pytest.approx(TRUTH.at("slip", slip.places), abs=2e-6)


def test_300_microstrain_over_50_mm_of_a_16_mm_bar_are_4_8_mpa(tiny):
    # E φ Δε / 4 Δx, by equilibrium; the area here is that of the round bar.
    row_of_gauges(tiny, doubted=False)
    read(tiny, 300e-6 * np.arange(PLACES.size))
    _, profile = looked_at(tiny)
    found = [step.stress.value.item() for step in profile.steps]
    assert found == pytest.approx([4.8e6] * 9, rel=1e-3)


def test_slip_takes_the_expansion_of_a_warmer_bar_and_stress_does_not(tiny):
    row_of_gauges(tiny, doubted=False)
    read(tiny, true_strain(), warm=50.0)
    _, profile = looked_at(tiny)
    slip = bar_slip.slip_along(profile, None)
    # 12 µε/K by 30 K over 0.45 m is 0.162 mm on top of what stress does.
    moved = TRUTH.slip[-1] - TRUTH.slip[0]
    assert slip.value.value[-1] == pytest.approx(moved + 12e-6 * 30 * 0.45, abs=2e-6)
    assert profile.stations[-1].strain.value == pytest.approx(true_strain()[-1], rel=1e-3)


def test_a_lost_station_widens_the_interval_and_is_never_filled_in(tiny, tmp_path):
    row_of_gauges(tiny, doubted=True)
    read(tiny, true_strain(), noise=1e-6)
    _, whole = looked_at(tiny)
    tiny.store.add(
        Finding(
            "open-circuit",
            tiny.uid["B5"],
            tiny.uid["test"],
            0,
            59,
            1.0,
            "1",
            0.5,
            "of this test",
            "It reads nothing.",
            Severity.LOST,
        )
    )
    _, broken = looked_at(tiny)
    assert [station.label for station in broken.lost] == ["B5"]
    assert broken.stations[5].strain is None
    (over,) = [step for step in broken.steps if step.over]
    assert over.over == ("B5",)
    assert (over.first, over.last) == (PLACES[4], PLACES[6])
    near = int(np.abs(whole.force.places - PLACES[5]).argmin())
    wider = broken.force.value.expanded()[near] / whole.force.value.expanded()[near]
    assert wider > 1.2


def test_without_enough_stations_only_neighbours_are_compared_and_that_is_said(tiny):
    row_of_gauges(tiny, doubted=False)
    read(tiny, true_strain(), lost=[f"B{n}" for n in range(3, 10)])
    _, profile = looked_at(tiny)
    assert len(profile.steps) == 2
    assert profile.bond is None
    assert any("neighbours only" in words for words in profile.missing)
    with pytest.raises(InputError, match="total strain along the bar"):
        bar_slip.slip_along(profile, None)


def test_a_mean_needs_a_zero_without_stress_and_a_law_a_known_slip(tiny):
    row_of_gauges(tiny, doubted=False)
    read(tiny, true_strain())
    desk, profile = looked_at(tiny)
    with pytest.raises(InputError, match="looks like tension stiffening"):
        bar_slip.averages(desk, profile.bar, profile.moment)
    assert any("left out" in words for words in profile.told)
    law = bar_slip.law_named("good", 36e6, 10e-3)
    with pytest.raises(InputError, match="known at one place"):
        bar_slip.beside_law(profile, None, law)
    beside = bar_slip.beside_law(profile, bar_slip.KnownSlip(0.0, float(TRUTH.slip[0]), 2e-6), law)
    for one in beside:
        # 2.5 √36 = 15 MPa at 1 mm, power 0.4 before: by hand.
        assert one.law == pytest.approx(15e6 * (one.slip / 1e-3) ** 0.4, rel=1e-9)
        assert one.law_low <= one.law <= one.law_high


def test_a_tie_leaves_its_concrete_what_the_bar_does_not_carry_on_the_mean(tiny):
    row_of_gauges(tiny, doubted=False)
    read(tiny, 200e-6 * np.arange(PLACES.size), since=(ZeroKind.BARE_BAR, ZeroKind.BEFORE_TEST))
    desk, profile = looked_at(tiny, ZeroKind.BARE_BAR)
    whole = bar_slip.averages(desk, profile.bar, profile.moment, is_tie=True)
    # The mean of a straight line is that of its ends: 900 µε, and the cell has 50 kN.
    assert whole.strain.value == pytest.approx(900e-6, rel=1e-3)
    carried = 50e3 - bonded_bar.MODULUS * bonded_bar.AREA * 900e-6
    assert whole.concrete.value == pytest.approx(carried, rel=5e-3)
    assert whole.highest_at == "B9"
    part = bar_slip.averages(
        desk, profile.bar, profile.moment, first=0.1, last=0.32, crack_spacing=0.1
    )
    assert part.strain.value == pytest.approx(840e-6, rel=1e-3)
    assert part.concrete is None
    with pytest.raises(InputError, match=r"beyond 0\.4 m"):
        bar_slip.averages(
            desk, profile.bar, profile.moment, first=0.1, last=0.32, crack_spacing=0.15
        )


def test_a_tie_whose_bar_has_yielded_has_no_share_of_concrete(tiny):
    row_of_gauges(tiny, doubted=False)
    steel = tiny.store.entry(tiny.uid["elastic"])
    soft = replace(
        steel.record,
        law=SteelLaw.BILINEAR,
        yield_strength=exact(1500e-6 * bonded_bar.MODULUS),
        hardening_modulus=exact(0.0),
    )
    tiny.store.revise(steel.uid, steel.version, soft, reason="of this test")
    read(tiny, 200e-6 * np.arange(PLACES.size), since=(ZeroKind.BARE_BAR, ZeroKind.BEFORE_TEST))
    desk, profile = looked_at(tiny, ZeroKind.BARE_BAR)
    with pytest.raises(InputError, match="earlier moment"):
        bar_slip.averages(desk, profile.bar, profile.moment, is_tie=True)
    assert bar_slip.averages(desk, profile.bar, profile.moment).strain.value > 0


def test_a_local_polynomial_can_be_asked_for_and_finds_the_same_bond(tiny):
    row_of_gauges(tiny, doubted=False)
    read(tiny, true_strain())
    _, profile = looked_at(tiny, half_width=0.12)
    assert "local polynomial" in profile.estimate
    inner = profile.bond.places[20:-20]
    assert profile.bond.value.value[20:-20] == pytest.approx(TRUTH.at("bond", inner), rel=0.08)
    _, narrow = looked_at(tiny, half_width=0.04)
    assert narrow.bond is None
    assert any("wide enough" in words for words in narrow.missing)
    with pytest.raises(InputError, match="window"):
        looked_at(tiny, half_width=0.0)


def test_an_instant_is_taken_by_its_time_and_nonsense_is_refused(tiny):
    row_of_gauges(tiny, doubted=False)
    read(tiny, true_strain())
    desk, _ = looked_at(tiny)
    at = moments.moment_named(desk, "2026-05-04T09:00:30")
    profile = bar_profiles.bar_profile(desk, desk.book.labelled(Bar, "B"), at, ZeroKind.BEFORE_TEST)
    assert profile.stations[-1].strain.value == pytest.approx(true_strain()[-1], rel=1e-3)
    assert at.load == pytest.approx(50e3)
    with pytest.raises(InputError, match="a load step"):
        moments.moment_named(desk, "tea time")


@pytest.mark.full
@pytest.mark.long
def test_intervals_of_bond_stress_and_slip_hold_the_truth_as_often_as_they_say(tmp_path):
    inside = {"between": [], "bond": [], "slip": []}
    for number in range(40):
        random = np.random.default_rng([20260504, number])
        context = seeded_context(datetime(2026, 5, 4, 7, 0, tzinfo=UTC))
        campaign = Campaign("tiny", "Pulled bar (invented)", "UTC", invented=True)
        with CampaignStore.create(tmp_path / f"c{number}", campaign, context) as store:
            with store.several():
                tiny = _tiny.laid_down(store)
                row_of_gauges(tiny, doubted=True)
            places = PLACES + random.normal(0.0, PLACE, PLACES.size)
            strain = true_strain(np.clip(places, 0.0, 0.45))
            strain = strain * (1 + random.normal(0.0, SCATTER, PLACES.size))
            strain = strain * (1 + random.normal(0.0, FACTOR))
            read(tiny, strain, noise=1e-6, seed=number)
            _, profile = looked_at(tiny)
            _held(profile, inside)
    shares = {name: float(np.mean(found)) for name, found in inside.items()}
    assert 0.92 <= shares["between"] <= 0.98, shares
    # Of what lies between stations it knows least: a real bond stress is smoother than allowed.
    assert shares["bond"] >= 0.94, shares
    assert shares["slip"] >= 0.92, shares


def _held(profile, inside):
    for step in profile.steps:
        ends = np.array([step.first, step.last])
        force = TRUTH.at("force", ends)
        true = (force[1] - force[0]) / ((ends[1] - ends[0]) * bonded_bar.PERIMETER)
        inside["between"].append(abs(step.stress.value - true) <= step.stress.expanded())
    at = slice(10, -10, 20)
    true = TRUTH.at("bond", profile.bond.places[at])
    inside["bond"] += (
        np.abs(profile.bond.value.value[at] - true) <= profile.bond.value.expanded()[at]
    ).tolist()
    slip = bar_slip.slip_along(profile, bar_slip.KnownSlip(0.0, float(TRUTH.slip[0]), 1e-7))
    true = TRUTH.at("slip", slip.places[at])
    inside["slip"] += (np.abs(slip.value.value[at] - true) <= slip.value.expanded()[at]).tolist()
