"""Rosettes through records, readings and services, against printed examples."""

import importlib.util
import math
from dataclasses import replace
from datetime import timedelta
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
from gaugewright.records.proof import Limit, ZeroKind
from gaugewright.records.readings import LoadStep
from gaugewright.records.specimen import Bar, Material, Station, SteelLaw
from gaugewright.services.campaign.book import Book
from gaugewright.services.loading import moments
from gaugewright.services.reducing import reduction
from gaugewright.services.specimen import rosettes
from gaugewright.services.strain.strains import Desk
from gaugewright.services.zeros import zeros

_spec = importlib.util.spec_from_file_location("tiny", Path(__file__).with_name("conftest.py"))
_tiny = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(_tiny)
BEGINS, exact, divider = _tiny.BEGINS, _tiny.exact, _tiny.divider_mv_per_v
TEST = BEGINS + timedelta(hours=1)
ROWS = 60


def state(tiny, degrees, strains, *, noise=0.0, turned=0.0):
    """State under a rosette whose arms read given strains in a hold, through the divider."""
    steel = tiny.add(
        "plate", Material("plate", SteelLaw.ELASTIC, exact(200e9), exact(12e-6), exact(0.3))
    )
    plate = tiny.add("P", Bar("P", tiny.uid["specimen"], steel))
    pack = tiny.store.entry(tiny.uid["pack"])
    curve = ThermalOutput((0.0, 0.0), 2.0, 12e-6, 0.0, 60.0, exact(0.0))
    record = replace(pack.record, thermal_output=curve)
    tiny.store.revise(pack.uid, pack.version, record, reason="typed in")
    station = tiny.add("station P", Station("P", plate, "corner", 0.1))
    names = [f"P{n}" for n in range(len(degrees))]
    for n, (name, angle) in enumerate(zip(names, degrees, strict=True)):
        _wire(tiny, name, 20 + n, Gauge(name, pack.uid, station, math.radians(angle), group="P"))
    point = tiny.store.entry(tiny.uid["T"])
    more = replace(point.record, gauges=(*point.record.gauges, *(tiny.uid[n] for n in names)))
    tiny.store.revise(point.uid, point.version, more, reason="stands for the plate too")
    for limit in tiny.store.entries(Limit):
        if limit.record.label == "misalignment allowance":
            limit_record = replace(limit.record, value=turned)
            tiny.store.revise(limit.uid, limit.version, limit_record, reason="of this test")
    _read(tiny, names, strains, noise)
    reduction.reduce(tiny.store)
    desk = Desk(tiny.store, Book.read(tiny.store))
    (group,) = rosettes.groups(desk)
    return desk, group, rosettes.rosette_state_at(desk, group, moments.moment_named(desk, "hold"))


def _wire(tiny, name, number, gauge):
    uid = tiny.add(name, gauge)
    circuit = BridgeCircuit(name, Topology.QUARTER_THREE_WIRE, (Arm(1, 1, uid),), tiny.uid["lead"])
    wired = tiny.add(f"circuit {name}", circuit)
    channel = tiny.add(f"channel {name}", Channel(name, tiny.uid["recorder"], number, name))
    setting = tiny.add(f"setting {name}", ChannelSetting(channel, ReadingKind.RATIO, "mV/V", 2.5))
    begins = BEGINS - timedelta(hours=1)
    tiny.add(f"connection {name}", Connection(wired, channel, setting, begins))


def _read(tiny, names, strains, noise):
    random = np.random.default_rng(7)
    lively = 1e-8 * (-1.0) ** np.arange(ROWS)

    def column(strain):
        return divider(strain + lively + random.normal(0.0, noise, ROWS))

    others = {"G-T": column(0.0), "G-U": column(0.0), "T": np.full(ROWS, 20.0)}
    still = {name: column(0.0) for name in names}
    tiny.record("zero", BEGINS, {**still, **others, "P": np.zeros(ROWS)})
    for name in names:
        zeros.take_zero(
            tiny.store,
            kind=ZeroKind.BEFORE_TEST,
            connection=tiny.uid[f"connection {name}"],
            recording=tiny.uid["zero"],
            begins=BEGINS,
            ends=BEGINS + timedelta(seconds=ROWS),
        )
    held = {name: column(strain) for name, strain in zip(names, strains, strict=True)}
    tiny.record("test", TEST, {**held, **others, "P": np.full(ROWS, 50.0)})
    tiny.add("hold", LoadStep("hold", TEST, TEST + timedelta(seconds=ROWS), 50e3))


def micro(value):
    return value.value.item() * 1e6


def test_a_rectangular_rosette_of_a_textbook(tiny):
    # Popov, Engineering Mechanics of Solids, Ex. 8.8: -500, 200, 300 µε, E 200 GPa, ν 0.3 give
    # 48.35 and -105.49 MPa; his Ex. 8.7: 400 and -600 µε.
    _, group, found = state(tiny, (0, 45, 90), (-500e-6, 200e-6, 300e-6))
    assert group.layout == "rectangular"
    assert micro(found.principal.first) == pytest.approx(400, abs=0.1)
    assert micro(found.principal.second) == pytest.approx(-600, abs=0.1)
    assert found.first_stress.value / 1e6 == pytest.approx(48.35, abs=0.02)
    assert found.second_stress.value / 1e6 == pytest.approx(-105.49, abs=0.02)
    # ε₁ lies 71.57° from x; the shear here is +600, so counter-clockwise.
    assert math.degrees(found.angle.value) == pytest.approx(71.57, abs=0.01)


def test_a_delta_rosette_of_a_textbook(tiny):
    # Hibbeler, Mechanics of Materials, Ex. 10.8: 60, 135, 264 µε give 60, 246, -149.
    _, group, found = state(tiny, (0, 60, 120), (60e-6, 135e-6, 264e-6))
    assert group.layout == "delta"
    surface = found.surface
    got = [micro(v) for v in (surface.strain_x, surface.strain_y, surface.shear_strain)]
    assert got == pytest.approx([60, 246, -149], abs=0.5)


def test_four_arms_are_fitted_and_what_is_left_is_said(tiny):
    # From 400 µε along x and -100 across, the arm at 30° reads 275 µε; here it reads 12 more.
    _, group, found = state(tiny, (0, 30, 90, 135), (400e-6, 287e-6, -100e-6, 150e-6))
    assert group.layout == "4 arms, least squares"
    assert len(found.surface.residuals) == 4
    assert max(abs(micro(each)) for each in found.surface.residuals) > 1


def test_a_tee_gives_stresses_and_no_direction(tiny):
    _, group, found = state(tiny, (0, 90), (400e-6, -100e-6))
    assert group.is_tee
    assert not found.is_determined
    # E (ε1 + ν ε2) / (1 - ν²) = 200 GPa · 370e-6 / 0.91 = 81.32 MPa.
    assert found.first_stress.value / 1e6 == pytest.approx(81.32, abs=0.02)


def test_a_circle_smaller_than_its_doubt_has_no_direction_and_no_result(tiny):
    desk, _, found = state(tiny, (0, 45, 90), (200e-6, 200.4e-6, 200.2e-6), noise=5e-6)
    assert not found.is_determined
    assert math.isnan(found.lower)
    step = desk.book.of(LoadStep)[0]
    assert {r.quantity for r in rosettes.results(desk, step)} == {"principal stress"}


def test_how_the_rosette_was_turned_is_in_the_direction_alone(tiny):
    _, _, found = state(tiny, (0, 45, 90), (-500e-6, 200e-6, 300e-6), turned=0.02)
    assert found.angle.standard_uncertainty() == pytest.approx(0.02, rel=0.01)
    assert found.lower == pytest.approx(1.96 * 0.02, rel=0.01)
    assert not any(name.startswith("turn@") for name in found.first_stress.inputs)


def test_two_arms_that_are_no_tee_are_refused_with_the_reason(tiny):
    with pytest.raises(InputError, match="fewer than three directions"):
        state(tiny, (0, 45), (1e-4, 2e-4))


def test_the_series_holds_the_hold(tiny):
    desk, group, found = state(tiny, (0, 45, 90), (-500e-6, 200e-6, 300e-6))
    series = rosettes.rosette_series(desk, group)
    held = series.load > 25e3
    assert held.any()
    assert series.principal.first.value[held] == pytest.approx(
        float(found.principal.first.value), abs=1e-7
    )


def test_an_arm_that_was_unplugged_is_not_read_on(tiny):
    desk, group, _ = state(tiny, (0, 45, 90), (-500e-6, 200e-6, 300e-6))
    whole = rosettes.rosette_series(desk, group)
    connection = tiny.store.entry(tiny.uid["connection P2"])
    pulled = replace(connection.record, ends=TEST + timedelta(seconds=30))
    tiny.store.revise(connection.uid, connection.version, pulled, reason="pulled out")
    part = rosettes.rosette_series(Desk(tiny.store, Book.read(tiny.store)), group)
    assert part.time[-1] <= whole.time[-1] - 27
    assert part.principal.first.value[-1] == pytest.approx(whole.principal.first.value[-1])
