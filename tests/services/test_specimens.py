"""Strand, tube, load cell and plate: from records and readings to the number, by hand."""

import importlib.util
import json
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest

from gaugewright.cli import main
from gaugewright.errors import InputError
from gaugewright.records.electrical import (
    Arm,
    BridgeCircuit,
    Channel,
    ChannelSetting,
    Connection,
    Lead,
    ReadingKind,
    Topology,
)
from gaugewright.records.gauges import Gauge, ThermalOutput
from gaugewright.records.proof import ZeroKind
from gaugewright.records.specimen import SpecimenKind, Station, SteelLaw
from gaugewright.records.stated import Meaning, Stated
from gaugewright.services.campaign.book import Book
from gaugewright.services.reducing import reduction
from gaugewright.services.specimen.specimens import specimen_values
from gaugewright.services.strain.strains import Desk
from gaugewright.services.zeros import zeros

_spec = importlib.util.spec_from_file_location("tiny", Path(__file__).with_name("conftest.py"))
_tiny = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(_tiny)
BEGINS, exact = _tiny.BEGINS, _tiny.exact
TEST_BEGINS = BEGINS + timedelta(hours=1)
K, OHM = 2.0, 350.0


def nodal_mv_per_v(changes, lead_ohm=0.0):
    """Output of four arms by Kirchhoff's current law at both signal corners, solved as a system.

    Arms 1 and 4 leave excitation -, 2 and 3 excitation +; 1 and 2 meet in signal +, 3 and 4 in
    signal -. Wires of the supply stand in series with the bridge.
    """
    found = []
    for row in np.atleast_2d(changes):
        one, two, three, four = 1 / (OHM * (1 + np.asarray(row)))
        if lead_ohm:
            supply = 1 / lead_ohm
            # Unknown: top, bottom, signal +, signal -; 1 V and 0 V behind the wires.
            conductance = np.array(
                [
                    [supply + two + three, 0, -two, -three],
                    [0, supply + one + four, -one, -four],
                    [-two, -one, one + two, 0],
                    [-three, -four, 0, three + four],
                ]
            )
            corners = np.linalg.solve(conductance, [supply, 0, 0, 0])[2:]
        else:
            corners = np.linalg.solve([[one + two, 0], [0, three + four]], [two, three])
        found.append(1e3 * (corners[0] - corners[1]))
    return np.asarray(found)


def quarter_mv_per_v(strain):
    """A quarter bridge is the same system with one arm that changes."""
    rows = np.zeros((np.size(strain), 4))
    # A rise of arm 1 must raise the signal; its share is taken against an equal neighbour.
    rows[:, 0] = K * np.asarray(strain)
    return nodal_mv_per_v(rows)


def kind_of(tiny, kind, **bar):
    specimen = tiny.store.entry(tiny.uid["specimen"])
    tiny.store.revise(
        specimen.uid, specimen.version, replace(specimen.record, kind=kind), reason="is one"
    )
    if bar:
        entry = tiny.store.entry(tiny.uid["bar"])
        tiny.store.revise(entry.uid, entry.version, replace(entry.record, **bar), reason="is one")


def changed(tiny, key, **fields):
    entry = tiny.store.entry(tiny.uid[key])
    tiny.store.revise(entry.uid, entry.version, replace(entry.record, **fields), reason="is so")


def bridged(tiny, topology, angles, signs, label="FB"):
    """Four more grids at one station, wired as one bridge with wires of no resistance."""
    station = tiny.add("station FB", Station("ring", tiny.uid["bar"], "end", 0.5))
    gauges = [
        tiny.add(f"{label}{n}", Gauge(f"{label}{n}", tiny.uid["pack"], station, angle))
        for n, angle in enumerate(angles, 1)
    ]
    changed(tiny, "T", gauges=(tiny.uid["G-T"], tiny.uid["G-U"], *gauges))
    lead = tiny.add("lead FB", Lead("short cable", 6, 1.0, exact(0.0), 20.0))
    arms = tuple(Arm(n, sign, g) for n, (sign, g) in enumerate(zip(signs, gauges, strict=True), 1))
    circuit = tiny.add("circuit FB", BridgeCircuit(label, topology, arms, lead))
    channel = tiny.add("channel FB", Channel(label, tiny.uid["recorder"], 9, label))
    setting = tiny.add("setting FB", ChannelSetting(channel, ReadingKind.RATIO, "mV/V", 2.5))
    begins = BEGINS - timedelta(hours=1)
    tiny.add("connection FB", Connection(circuit, channel, setting, begins))


@pytest.fixture
def lab(tiny):
    """The pulled bar's records with a thermal output of nothing."""
    none = ThermalOutput((0.0, 0.0), K, 12e-6, 0.0, 60.0, exact(0.0))
    changed(tiny, "pack", thermal_output=none)
    changed(tiny, "steel", law=SteelLaw.ELASTIC)
    changed(tiny, "lead", resistance=exact(0.0))
    return tiny


def read(tiny, columns, load_kn, names):
    """Zeros from a minute unloaded, then the test."""
    lively = 1e-6 * (-1.0) ** np.arange(60)
    flat = np.zeros(60)
    warm = {"P": load_kn, "T": np.full(len(load_kn), 20.0)}
    cold = {"P": flat, **{name: flat + 20 for name in warm if name != "P"}}
    tiny.record("zero", BEGINS, {**dict.fromkeys(columns, lively), **cold})
    for name in names:
        zeros.take_zero(
            tiny.store,
            kind=ZeroKind.BEFORE_TEST,
            connection=tiny.uid[f"connection {name}"],
            recording=tiny.uid["zero"],
            begins=BEGINS,
            ends=BEGINS + timedelta(seconds=60),
        )
    tiny.record("test", TEST_BEGINS, {**columns, **warm})


def values(tiny, label=None):
    found = specimen_values(Desk(tiny.store, Book.read(tiny.store)), label)
    return {(one.subject, one.words): one for one in found}


def test_a_strand_is_worth_what_its_pull_says(lab):
    # 7 wires of 140 mm², 195 GPa over a length; the gauge's own wire stretches 0.97 as much.
    kind_of(lab, SpecimenKind.STRAND, area=Stated(140e-6, 0.4e-6, Meaning.ONE_SIGMA), diameter=None)
    load = np.concatenate([np.linspace(1.0, 80.0, 400), np.linspace(80.0, 5.0, 100)])
    wire = 0.97 * load * 1e3 / (195e9 * 140e-6)
    loose = wire - 12e-6  # seating: the origin isn't zero
    columns = {"G-T": quarter_mv_per_v(loose), "G-U": quarter_mv_per_v(1.01 * loose)}
    changed(lab, "P", gain=Stated(1.0, 0.004, Meaning.ONE_SIGMA))
    read(lab, columns, load, ("G-T", "G-U"))
    found = values(lab, "bar")
    slope = found["G-T", "force per strain, for strain through the same chain"]
    assert slope.value.value == pytest.approx(195e9 * 140e-6 / 0.97, rel=1e-5)
    # The load cell's gain is all that is in doubt of it.
    assert slope.value.standard_uncertainty() / slope.value.value == pytest.approx(0.004, rel=1e-2)
    modulus = found["G-T", "apparent modulus"].value
    assert modulus.value == pytest.approx(195e9 / 0.97, rel=1e-5)
    parts = {name.split("@")[0]: abs(float(p)) for name, p in modulus.contributions().items()}
    assert parts["load_gain"] / modulus.value == pytest.approx(0.004, rel=1e-2)
    assert parts["area"] / modulus.value == pytest.approx(0.4 / 140, rel=1e-2)
    other = found["G-U", "apparent modulus"].value
    assert other.value == pytest.approx(195e9 / 0.97 / 1.01, rel=1e-5)


def shaft(torque, outer, inner, modulus, nu):
    """Strain at +45 degrees by shear stress T r / J with J summed over thin rings."""
    edges = np.linspace(inner / 2, outer / 2, 20_001)
    middle = (edges[1:] + edges[:-1]) / 2
    polar = np.sum(2 * np.pi * middle**3 * np.diff(edges))
    shear = torque * (outer / 2) / polar
    # Pure shear: ±τ along ±45 degrees, so ε = (τ + ν τ) / E.
    return shear * (1 + nu) / modulus


TUBE = {
    "diameter": Stated(60e-3, 0.02e-3, Meaning.ONE_SIGMA),
    "wall_thickness": Stated(4e-3, 0.05e-3, Meaning.ONE_SIGMA),
}


def test_torque_of_a_tube_by_a_full_bridge(lab, add_step):
    kind_of(lab, SpecimenKind.TUBE, **TUBE)
    bridged(
        lab, Topology.FULL_TORSION, (np.pi / 4, -np.pi / 4, np.pi / 4, -np.pi / 4), (1, -1, 1, -1)
    )
    strain = shaft(1500.0, 60e-3, 52e-3, 200e9, 0.3)
    ramp = np.concatenate([np.linspace(0, strain, 100), np.full(300, strain)])
    # Bending and pull come in alike arms of two sides and go out of the bridge.
    bend, pull = 150e-6, 80e-6
    rows = K * np.stack(
        [ramp + bend + pull, -ramp + bend + pull, ramp - bend + pull, -ramp - bend + pull], 1
    )
    read(lab, {"FB": nodal_mv_per_v(rows) - nodal_mv_per_v(rows[:1])}, np.full(400, 1.5), ("FB",))
    add_step(lab, "1.5 kN m", 100, 400, 1.5e3)
    desk = Desk(lab.store, Book.read(lab.store))
    circuit = desk.book.entry(lab.uid["circuit FB"], BridgeCircuit)
    built = desk.strain(circuit, ZeroKind.BEFORE_TEST).pieces[0].built
    stage = next(stage for stage in built.chain.stages if stage.kind == "torque@1")
    assert dict(stage.parameters)["bore"] == pytest.approx(52e-3)
    found = values(lab)
    assert found["FB", "shear strain of the surface"].value.value == pytest.approx(
        2 * strain, rel=1e-3
    )
    torque = found["FB", "torque"].value
    assert torque.value == pytest.approx(1500.0, rel=1e-3)
    # Torque per strain up and down by one standard uncertainty, from the same rings.
    whole = 1500.0 * shaft(1, 60e-3, 52e-3, 1, 0)
    wall = whole * (1 / shaft(1, 60e-3, 51.9e-3, 1, 0) - 1 / shaft(1, 60e-3, 52.1e-3, 1, 0)) / 2
    outside = (
        whole
        * (1 / shaft(1, 60.02e-3, 52.02e-3, 1, 0) - 1 / shaft(1, 59.98e-3, 51.98e-3, 1, 0))
        / 2
    )
    parts = {name.split("@")[0]: float(p) for name, p in torque.contributions().items()}
    assert parts["wall_thickness"] == pytest.approx(wall, rel=2e-3)
    assert parts["diameter"] == pytest.approx(outside, rel=2e-3)


def test_torque_of_a_tube_by_two_grids_at_45_degrees(lab, add_step):
    kind_of(lab, SpecimenKind.TUBE, **TUBE)
    changed(lab, "G-T", angle_to_axis=np.pi / 4)
    changed(lab, "G-U", angle_to_axis=-np.pi / 4, station=lab.uid["station G-T"], opposite=None)
    strain = shaft(800.0, 60e-3, 52e-3, 200e9, 0.3)
    ramp = np.concatenate([np.linspace(0, strain, 100), np.full(300, strain)])
    axial = 50e-6 * ramp / strain  # a pull of the tube strains both alike
    columns = {"G-T": quarter_mv_per_v(ramp + axial), "G-U": quarter_mv_per_v(-ramp + axial)}
    read(lab, columns, np.full(400, 0.8), ("G-T", "G-U"))
    add_step(lab, "800 N m", 100, 400, 800.0)
    assert values(lab)["G-T with G-U", "torque"].value.value == pytest.approx(800.0, rel=1e-4)


def test_a_load_cell_of_a_bar_with_four_grids(lab, add_step):
    kind_of(
        lab, SpecimenKind.LOAD_CELL, capacity=100e3, area=Stated(500e-6, 1e-6, Meaning.ONE_SIGMA)
    )
    bridged(lab, Topology.FULL_POISSON, (0.0, np.pi / 2, 0.0, np.pi / 2), (1, -1, 1, -1))
    strain = 60e3 / (200e9 * 500e-6)
    ramp = np.concatenate([np.linspace(0, strain, 100), np.full(300, strain)])
    bent = 0.1 * ramp
    near, far = K * (ramp + bent), K * (ramp - bent)
    columns = {"FB": nodal_mv_per_v(np.stack([near, -0.3 * near, far, -0.3 * far], 1))}
    read(lab, columns, np.full(400, 60.0), ("FB",))
    add_step(lab, "60 kN", 100, 400, 60e3)
    found = values(lab)
    force = found["FB", "force from stated properties"].value
    # Bending of 10 % leaves x β² (1 - ν)/2 = 4e-6 of it.
    assert force.value == pytest.approx(60e3, rel=2e-5)
    assert force.standard_uncertainty() / force.value == pytest.approx(1 / 500, rel=2e-2)
    sensitivity = found["FB", "sensitivity at capacity"]
    full = K * 100e3 / (200e9 * 500e-6)
    solved = nodal_mv_per_v([[full, -0.3 * full, full, -0.3 * full]])[0]
    assert 1e3 * sensitivity.value.value == pytest.approx(solved, rel=1e-9)
    assert "moves it by -0.0007 %" in sensitivity.note


def test_plane_stress_of_a_plate_by_a_tee(lab, add_step):
    kind_of(lab, SpecimenKind.PLATE)
    changed(lab, "G-T", group="P1")
    changed(
        lab,
        "G-U",
        group="P1",
        angle_to_axis=np.pi / 2,
        station=lab.uid["station G-T"],
        opposite=None,
    )
    # 120 MPa along and 40 MPa across.
    along, across = (120e6 - 0.3 * 40e6) / 200e9, (40e6 - 0.3 * 120e6) / 200e9
    hold = np.concatenate([np.linspace(0, 1, 100), np.ones(300)])
    columns = {"G-T": quarter_mv_per_v(along * hold), "G-U": quarter_mv_per_v(across * hold)}
    read(lab, columns, np.full(400, 20.0), ("G-T", "G-U"))
    add_step(lab, "20 kN", 100, 400, 20e3)
    reduction.reduce(lab.store)
    found = values(lab)
    assert found["P1", "larger principal stress"].value.value == pytest.approx(120e6, rel=1e-4)
    assert found["P1", "smaller principal stress"].value.value == pytest.approx(40e6, rel=1e-4)
    assert "a tee" in found["P1", "larger principal stress"].note


def test_what_is_missing_is_told_with_the_way_to_supply_it(lab):
    with pytest.raises(InputError, match="none of these kinds"):
        values(lab)
    with pytest.raises(InputError, match="bars and cast members have results of their own"):
        values(lab, "bar")
    kind_of(lab, SpecimenKind.TUBE)
    columns = {"G-T": quarter_mv_per_v(np.zeros(50)), "G-U": quarter_mv_per_v(np.zeros(50))}
    read(lab, columns, np.zeros(50), ("G-T", "G-U"))
    with pytest.raises(InputError, match="wire four grids as a torsion bridge"):
        values(lab)
    kind_of(lab, SpecimenKind.LOAD_CELL)
    with pytest.raises(InputError, match="not a full bridge with Poisson pairs"):
        values(lab)
    kind_of(lab, SpecimenKind.PLATE)
    with pytest.raises(InputError, match="without a rosette"):
        values(lab)


def test_the_command_prints_them_with_doubt_and_cause(lab, capsys):
    kind_of(lab, SpecimenKind.STRAND, area=exact(140e-6), diameter=None)
    load = np.linspace(1.0, 80.0, 400)
    strain = load * 1e3 / (195e9 * 140e-6)
    columns = {"G-T": quarter_mv_per_v(strain), "G-U": quarter_mv_per_v(strain)}
    changed(lab, "P", gain=Stated(1.0, 0.004, Meaning.ONE_SIGMA))
    read(lab, columns, load, ("G-T", "G-U"))
    folder = str(lab.store.folder)
    lab.store.close()
    assert main(["results", "specimen", folder]) == 0
    told = capsys.readouterr().out
    assert "apparent modulus" in told
    assert "gain of the load cell" in told
    assert main(["results", "specimen", folder, "bar", "--json"]) == 0
    plain = json.loads(capsys.readouterr().out)
    assert plain["values"][1]["value"] == pytest.approx(195e9, rel=1e-4)
    assert main(["results", "specimen", folder, "none"]) == 2
    assert "none" in capsys.readouterr().err
