"""Numbers worked by hand from named closed forms: they pin signs, factors and units.

None is printed in a source; each comes from the formula named beside it, worked apart from this
package. The formulas are those of Dally & Riley, Experimental Stress Analysis, of EN 1992-1-1 and
of the others named (from memory).
"""

import numpy as np
import pytest

from gaugewright.calc import (
    bar,
    bridge,
    gauge,
    heating,
    leads,
    rosette,
    shunt,
    steel,
    steel_curves,
)

MICRO = 1e-6


@pytest.mark.parametrize(
    ("microstrain", "mv_per_v"),
    [(1000, 0.4995005), (5000, 2.4875622), (10000, 4.950495), (-10000, -5.0505051)],
)
def test_quarter_bridge_output(microstrain, mv_per_v):
    ratio = bridge.quarter_bridge_ratio(2 * microstrain * MICRO)
    assert ratio * 1e3 == pytest.approx(mv_per_v, abs=1e-6)


@pytest.mark.parametrize(
    ("mv_per_v", "microstrain"), [(1.0, 2004.008), (2.5, 5025.126), (-2.5, -4975.124)]
)
def test_quarter_bridge_strain(mv_per_v, microstrain):
    strain = bridge.quarter_bridge_strain(mv_per_v * 1e-3, 2.0)
    assert strain / MICRO == pytest.approx(microstrain, abs=1e-3)


def test_half_and_full_bridges_at_1000_microstrain():
    change = 2 * 1000 * MICRO
    assert bridge.half_bridge_bending_ratio(change) * 1e3 == pytest.approx(1.0, abs=1e-12)
    full = bridge.four_arm_ratio([change, -change, change, -change])
    assert full * 1e3 == pytest.approx(2.0, abs=1e-12)
    poisson = bridge.half_bridge_poisson_ratio(change, 0.3)
    assert poisson * 1e3 == pytest.approx(0.6495453, abs=1e-6)


@pytest.mark.parametrize(("ohm", "resistor"), [(120.0, 59880.0), (350.0, 174650.0)])
def test_resistor_for_1000_microstrain(ohm, resistor):
    assert shunt.shunt_resistance_for(-1000 * MICRO, ohm, 2.0) == pytest.approx(resistor, abs=0.5)


@pytest.mark.parametrize(
    ("ohm", "resistor", "factor", "microstrain"),
    [(120, 59880, 2.0, 1000), (350, 349650, 2.0, 500), (120, 100e3, 2.1, 570.7437)],
)
def test_strain_simulated_by_a_resistor(ohm, resistor, factor, microstrain):
    strain = shunt.shunt_strain(ohm, resistor, factor)
    assert strain / MICRO == pytest.approx(-microstrain, abs=1e-3)


@pytest.mark.parametrize(
    ("ohm", "wires", "share"), [(120, 2, 0.9836066), (120, 1, 0.9917355), (350, 2, 0.9943182)]
)
def test_lead_loss_of_one_ohm_a_wire(ohm, wires, share):
    assert leads.lead_sensitivity(ohm, 1.0, wires) == pytest.approx(share, abs=1e-6)


def test_two_wire_leads_that_warm_up():
    change = 0.59 - 0.55
    corrected = leads.two_wire_lead_strain(change, 120.0, 2.0)
    raw = leads.two_wire_lead_strain(change, 120.0, 2.0, lead_resistance=0.55)
    assert corrected / MICRO == pytest.approx(333.33, abs=0.01)
    assert raw / MICRO == pytest.approx(330.31, abs=0.01)


def test_ten_metres_of_two_wire_copper_over_ten_degrees():
    area = np.pi * leads.wire_diameter(24) ** 2 / 4
    cold, warm = leads.lead_resistance(10.0, area, [20.0, 30.0])
    assert cold / 10 == pytest.approx(0.08422, abs=1e-5)
    strain = leads.two_wire_lead_strain(warm - cold, 120.0, 2.0)
    assert strain / MICRO == pytest.approx(275.8, abs=0.2)


@pytest.mark.parametrize("megohm", [1, 10, 100, 1000])
@pytest.mark.parametrize(("ohm", "at_one"), [(120.0, -59.9928), (350.0, -174.9388)])
def test_leak_across_the_grid(megohm, ohm, at_one):
    strain = shunt.shunt_strain(ohm, megohm * 1e6, 2.0) / MICRO
    assert strain == pytest.approx(at_one / megohm, rel=4e-4)


def test_a_gauge_at_the_edge_of_its_tolerance_leaves_a_bridge_off_balance():
    # 0.3 % of 120 ohm, as the tolerance of a resistance is stated: 0.36 ohm.
    output = bridge.quarter_bridge_ratio(0.36 / 120)
    assert output * 1e3 == pytest.approx(0.75, abs=0.002)
    assert bridge.quarter_bridge_strain(output, 2.0) / MICRO == pytest.approx(1500, abs=1e-6)


def test_transverse_sensitivity_across_uniaxial_stress():
    true = -0.285 * 1000 * MICRO
    read = gauge.transverse_indication(true, 1000 * MICRO, 0.01, 0.285)
    assert (read / true - 1) * 100 == pytest.approx(-3.233, abs=0.01)
    assert gauge.uniaxial_strain(1.0, 0.02, 0.285, 0.285) == pytest.approx(1.0, abs=1e-12)


@pytest.mark.parametrize(("ohm", "volts"), [(120.0, 2.939), (350.0, 5.02)])
def test_excitation_for_a_kilowatt_per_square_metre(ohm, volts):
    found = heating.excitation_for_power_density(1000.0, 6e-3 * 3e-3, ohm)
    assert found == pytest.approx(volts, abs=0.001)


@pytest.mark.parametrize(("volts", "ohm", "milliwatts"), [(2.5, 120, 13.021), (5, 350, 17.857)])
def test_power_in_a_gauge(volts, ohm, milliwatts):
    assert heating.gauge_power(volts, ohm) * 1e3 == pytest.approx(milliwatts, abs=0.001)


def test_gauge_factor_fifty_degrees_up():
    found = gauge.gauge_factor_at(2.10, 0.009 / 100, 74.0, 24.0)
    assert found == pytest.approx(2.10945, abs=1e-6)


def test_inclined_branch_of_a_design_curve():
    f_yd = 500e6 / 1.15
    slope = steel.hardening_modulus_en1992(200e9, f_yd, 1.08, 0.05)
    found = steel.bilinear_stress([0.001, f_yd / 200e9, 0.01, 0.045], 200e9, f_yd, slope)
    assert found / 1e6 == pytest.approx([200, 434.78261, 440.47431, 465.92885], abs=1e-4)


def test_hardening_by_park_and_paulay():
    found = steel_curves.park_paulay_stress(
        [0.008, 0.03, 0.06, 0.12],
        200e9,
        414e6,
        621e6,
        hardening_strain=0.008,
        ultimate_strain=0.12,
    )
    assert found / 1e6 == pytest.approx([414, 540.4786, 597.7942, 621], abs=1e-3)


def test_ramberg_and_osgood():
    strain = steel_curves.ramberg_osgood_strain([500e6, 400e6, 550e6], 200e9, 500e6, 10.0)
    assert strain == pytest.approx([0.0045, 0.00221475, 0.00793748], abs=1e-7)
    exponent = steel_curves.ramberg_osgood_exponent(500e6, 400e6)
    assert exponent == pytest.approx(13.42513, abs=1e-4)


def test_menegotto_and_pinto_at_the_yield_strain():
    found = steel_curves.menegotto_pinto_stress(0.0025, 200e9, 500e6, 2e9, 20.0)
    assert found / 500e6 == pytest.approx(0.96628, abs=5e-5)


def test_one_millimetre_off_a_sixteen_millimetre_bar():
    section = bar.section_at_flat(16e-3, 1e-3)
    assert bar.flat_width(16e-3, 1e-3) * 1e3 == pytest.approx(7.746, abs=0.001)
    assert section.net_area * 1e6 == pytest.approx(195.83, abs=0.001)
    assert section.lost_share * 100 == pytest.approx(2.6023, abs=0.0005)
    assert section.centroid * 1e3 == pytest.approx(-0.19777, abs=0.0001)
    assert section.second_moment * 1e12 == pytest.approx(2922.29, abs=0.01)


@pytest.mark.parametrize(
    ("diameter_mm", "width_mm", "rise_percent"), [(20, 5, 1.65), (16, 6, 5.6), (10, 5, 13.8)]
)
def test_one_flat_raises_the_stress_of_a_bar_free_to_bend(diameter_mm, width_mm, rise_percent):
    diameter = diameter_mm * 1e-3
    section = bar.section_at_flat(diameter, bar.flat_depth(diameter, width_mm * 1e-3))
    assert (bar.stress_ratio_free(section) - 1) * 100 == pytest.approx(rise_percent, abs=0.05)


@pytest.mark.parametrize(
    ("diameter_mm", "width_mm", "depth_mm", "lost_percent"),
    [(10, 6, 1.0, 5.2), (12, 8, 1.53, 7.4), (16, 5, 0.40, 0.7), (25, 8, 0.66, 0.7)],
)
def test_depth_and_loss_of_common_flats(diameter_mm, width_mm, depth_mm, lost_percent):
    depth = bar.flat_depth(diameter_mm * 1e-3, width_mm * 1e-3)
    assert depth * 1e3 == pytest.approx(depth_mm, abs=0.005)
    section = bar.section_at_flat(diameter_mm * 1e-3, depth)
    assert section.lost_share * 100 == pytest.approx(lost_percent, abs=0.05)


def test_sixty_degree_rosette_of_an_animated_example():
    state = rosette.surface_strain(np.array([800, -200, 625]) * MICRO, np.radians([0, 60, 120]))
    found = np.array([state.strain_x, state.strain_y, state.shear_strain]) / MICRO
    assert found == pytest.approx([800, 16.67, -952.63], abs=0.005)
