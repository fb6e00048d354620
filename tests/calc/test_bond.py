"""Bond stress, slip and laws against a bar integrated by another hand, and equilibrium."""

import numpy as np
import pytest

from gaugewright.calc import bond
from gaugewright.calc.smooth_field import FieldPoint, smooth_field
from gaugewright.calc.uncertainty import InputQuantity, Uncertain
from gaugewright.errors import InputError
from tests.calc import bonded_bar

PERIMETER = Uncertain.exact(bonded_bar.PERIMETER)


def named(value, doubt, name):
    return Uncertain.from_input(value, InputQuantity(name, doubt))


def points(places, values, noise=0.0):
    return [
        FieldPoint(f"s{i}", Uncertain.exact(x), Uncertain.noisy(y, noise))
        for i, (x, y) in enumerate(zip(places, values, strict=True))
    ]


def test_worked_by_equilibrium_between_two_stations():
    # 16 mm, 200 GPa, 300 microstrain over 50 mm: E d Δε / 4 Δx = 4.8 MPa.
    force = 200e9 * bonded_bar.AREA
    (step,) = bond.bond_between_stations(
        points([0.1, 0.15], [force * 500e-6, force * 800e-6]), PERIMETER
    )
    assert step.stress.value == pytest.approx(4.8e6)
    # A groove of 6 x 5 mm takes 30 mm² and leaves the perimeter: 4.0838 MPa.
    less = 200e9 * (bonded_bar.AREA - 30e-6)
    (step,) = bond.bond_between_stations(points([0.0, 0.05], [0.0, less * 300e-6]), PERIMETER)
    assert step.stress.value == pytest.approx(4.0838e6, abs=50)


def test_what_two_forces_share_leaves_their_difference_with_its_own_share():
    gain = InputQuantity("gain", 0.01)
    along = [
        FieldPoint("a", Uncertain.exact(0.0), Uncertain.from_input(50e3, gain, 50e3)),
        FieldPoint("b", Uncertain.exact(0.1), Uncertain.from_input(52e3, gain, 52e3)),
    ]
    (step,) = bond.bond_between_stations(along, PERIMETER)
    assert step.stress.standard_uncertainty() == pytest.approx(0.01 * step.stress.value)


def test_differences_span_a_lost_station_and_say_so():
    places, values = [0.3, 0.0, 0.1, 0.2], [9.0, 0.0, np.nan, 4.0]
    first, second = bond.bond_between_stations(points(places, values, 0.1), PERIMETER)
    assert first.between == ("s1", "s3")
    assert first.over == ("s2",)
    assert (first.first, first.last) == (0.0, 0.2)
    assert second.over == ()
    assert first.stress.value == pytest.approx(4.0 / 0.2 / bonded_bar.PERIMETER)
    with pytest.raises(InputError, match="distance"):
        bond.bond_between_stations(points([0.0, 0.0], [1.0, 2.0]), PERIMETER)


def test_bond_and_slip_of_a_bar_integrated_elsewhere():
    truth, places = bonded_bar.pulled_bar(), np.linspace(0, 0.6, 16)
    forces = truth.at("force", places)
    at = np.linspace(0.05, 0.55, 11)
    field = smooth_field(points(places, forces, 100.0), "force")
    expected = truth.at("bond", at)
    for found in (
        bond.bond_at(field, at, PERIMETER),
        bond.bond_at(field, at, PERIMETER, half_width=0.12),
    ):
        assert found.value == pytest.approx(expected, rel=0.05)
        assert np.all(np.abs(found.value - expected) <= found.expanded(0.999))
    strain = smooth_field(
        points(places, forces / (bonded_bar.MODULUS * bonded_bar.AREA), 1e-6), "strain"
    )
    start = named(float(truth.slip[0]), 2e-6, "slip at the free end")
    slip = bond.slip_from(strain, at, start=0.0, slip_there=start)
    assert slip.value == pytest.approx(truth.at("slip", at), abs=2e-6)
    assert np.all(slip.standard_uncertainty() >= 2e-6)
    # Bond stress against slip of the gauges gives back the law that made the bar.
    assert bond.bond_at(field, at, PERIMETER).value == pytest.approx(
        bonded_bar.shear(slip.value), rel=0.05
    )


def test_concrete_that_stretches_takes_slip_away():
    strain = smooth_field(points([0, 0.1, 0.2, 0.3], np.full(4, 1e-3), 1e-6), "strain")
    still = named(0.0, 1e-6, "middle")
    stiff = bond.slip_from(strain, [0.0, 0.25], start=0.1, slip_there=still)
    soft = bond.slip_from(
        strain, [0.0, 0.25], start=0.1, slip_there=still, concrete_strain=named(1e-4, 2e-5, "c")
    )
    assert stiff.value == pytest.approx([-1e-4, 1.5e-4])
    assert soft.value == pytest.approx([-0.9e-4, 1.35e-4])
    assert np.abs(soft.contributions()["c"]) == pytest.approx([2e-6, 3e-6])


def test_initial_shrinkage_is_in_the_mean_and_in_what_the_concrete_carries():
    places = np.linspace(0, 0.6, 31)
    strains = 1e-3 + 3e-4 * np.cos(2 * np.pi * places / 0.2)
    strain = smooth_field(points(places, strains, 2e-6), "strain")
    initial = named(-80e-6, 15e-6, "shrinkage")
    mean = bond.mean_strain(strain, 0.0, 0.6, initial_strain=initial, crack_spacing=0.2)
    # Whole waves have no mean.
    assert mean.value == pytest.approx(1e-3 - 80e-6, abs=3e-6)
    assert abs(mean.value - 920e-6) <= mean.expanded()
    assert mean.contributions()["shrinkage"] == pytest.approx(15e-6)
    modulus, area = named(200e9, 2e9, "E"), Uncertain.exact(bonded_bar.AREA)
    left = bond.concrete_share(Uncertain.exact(50e3), mean, modulus, area)
    assert left.value == pytest.approx(50e3 - 200e9 * bonded_bar.AREA * mean.value)
    assert abs(left.contributions()["E"]) == pytest.approx(2e9 * bonded_bar.AREA * mean.value)
    # Neglected shrinkage takes from the concrete what it takes from strain.
    without = bond.mean_strain(strain, 0.0, 0.6, initial_strain=Uncertain.exact(0.0))
    neglected = bond.concrete_share(Uncertain.exact(50e3), without, modulus, area)
    assert left.value - neglected.value == pytest.approx(200e9 * bonded_bar.AREA * 80e-6)
    with pytest.raises(InputError, match="last"):
        bond.mean_strain(strain, 0.0, 0.3, initial_strain=initial, crack_spacing=0.2)


def test_the_local_law_is_odd_unbroken_and_falls_to_its_rest():
    law = bond.BondLaw(10e6, 1e-3, 2e-3, 8e-3)
    slip = np.linspace(-10e-3, 10e-3, 4001)
    found = bond.local_bond_stress(slip, law)
    assert found == pytest.approx(-found[::-1])
    assert np.abs(np.diff(found[slip > 1e-4])).max() < 0.01 * 10e6
    assert bond.local_bond_stress(5e-3, law) == pytest.approx(10e6 * (1 - 0.6 / 2))
    assert bond.local_bond_stress(0.0, law) == 0.0
    assert np.isnan(bond.local_bond_stress(np.nan, law))
    with pytest.raises(InputError, match="third_slip"):
        bond.bond_law_fib2010_other(30e6, 3.6e-3)
