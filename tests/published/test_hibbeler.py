"""Hibbeler, Mechanics of Materials: strain transformation, a 60° rosette and unloading."""

import numpy as np
import pytest

from gaugewright.calc import coupon_points, rosette, steel_history

SEEN = (
    "typed copy with its printed output: textbook-companion repository "
    "FOSSEE/Python-Textbook-Companions, chapters 3 and 10; not the book"
)
MICRO = 1e-6


@pytest.mark.published(
    where="R. C. Hibbeler, Mechanics of Materials, Example 10.8, p. 505: grids at 0, 60, 120 deg "
    "read 60, 135, 264 microstrain; printed 60, 246, -149 for the state of strain",
    seen=SEEN,
)
def test_example_10_8_state_of_strain():
    state = rosette.surface_strain(np.array([60, 135, 264]) * MICRO, np.radians([0, 60, 120]))
    found = np.array([state.strain_x, state.strain_y, state.shear_strain]) / MICRO
    assert found == pytest.approx([60, 246, -149], abs=0.5)


@pytest.mark.published(
    where="R. C. Hibbeler, Mechanics of Materials, Example 10.8, p. 505: printed 272 and 33.8 "
    "microstrain, the axis of the smaller at 19.3 deg",
    seen=SEEN,
)
def test_example_10_8_principal_strains():
    found = rosette.delta_rosette(60 * MICRO, 135 * MICRO, 264 * MICRO)
    assert found.first / MICRO == pytest.approx(272, abs=0.5)
    # The exact value is 33.85, halfway between two printed digits.
    assert found.second / MICRO == pytest.approx(33.8, abs=0.06)
    assert np.degrees(found.angle) + 90 == pytest.approx(19.3, abs=0.05)


@pytest.mark.published(
    where="R. C. Hibbeler, Mechanics of Materials, Example 10.1, p. 491: 500, -300, 200 "
    "microstrain turned by -30 deg; printed shear 793 and normal strain -13.4",
    seen=SEEN + "; the first normal strain, 213, from memory",
)
def test_example_10_1_turned_axes():
    state = (500 * MICRO, -300 * MICRO, 200 * MICRO)
    turn = np.radians(-30.0)
    assert rosette.direct_strain(*state, turn) / MICRO == pytest.approx(213, abs=0.5)
    assert rosette.shear_strain(*state, turn) / MICRO == pytest.approx(793, abs=0.5)
    across = rosette.direct_strain(*state, turn + np.pi / 2)
    assert across / MICRO == pytest.approx(-13.4, abs=0.05)


@pytest.mark.published(
    where="R. C. Hibbeler, Mechanics of Materials, Examples 10.2 and 10.3, p. 492: -350, 200, 80 "
    "microstrain; printed 203, -353, 85.9 deg, largest shear 556",
    seen=SEEN,
)
def test_examples_10_2_and_10_3():
    found = rosette.principal(-350 * MICRO, 200 * MICRO, 80 * MICRO)
    assert found.first / MICRO == pytest.approx(203, abs=0.5)
    assert found.second / MICRO == pytest.approx(-353, abs=0.5)
    assert np.degrees(found.angle) == pytest.approx(85.9, abs=0.05)
    assert (found.first - found.second) / MICRO == pytest.approx(556, abs=0.5)


@pytest.mark.published(
    where="R. C. Hibbeler, Mechanics of Materials, Examples 10.4 and 10.5, p. 496: 250, -150, 120 "
    "microstrain; printed 259, -159, 8.35 deg, largest shear 418",
    seen=SEEN,
)
def test_examples_10_4_and_10_5():
    found = rosette.principal(250 * MICRO, -150 * MICRO, 120 * MICRO)
    assert found.first / MICRO == pytest.approx(259, abs=0.5)
    assert found.second / MICRO == pytest.approx(-159, abs=0.5)
    assert np.degrees(found.angle) == pytest.approx(8.35, abs=0.005)
    assert (found.first - found.second) / MICRO == pytest.approx(418, abs=0.5)


@pytest.mark.published(
    where="R. C. Hibbeler, Mechanics of Materials, Example 10.6, p. 498: -300, -100, 100 "
    "microstrain turned 20 deg clockwise; printed -309, -91.3, -52",
    seen=SEEN,
)
def test_example_10_6():
    state, turn = (-300 * MICRO, -100 * MICRO, 100 * MICRO), np.radians(-20.0)
    assert rosette.direct_strain(*state, turn) / MICRO == pytest.approx(-309, abs=0.5)
    across = rosette.direct_strain(*state, turn + np.pi / 2)
    assert across / MICRO == pytest.approx(-91.3, abs=0.05)
    assert rosette.shear_strain(*state, turn) / MICRO == pytest.approx(-52, abs=0.5)


@pytest.mark.published(
    where="R. C. Hibbeler, Mechanics of Materials, Example 10.7, p. 503: -400, 200, 150 "
    "microstrain; printed largest shear 618",
    seen=SEEN,
)
def test_example_10_7():
    found = rosette.principal(-400 * MICRO, 200 * MICRO, 150 * MICRO)
    assert (found.first - found.second) / MICRO == pytest.approx(618, abs=0.5)


@pytest.mark.published(
    where="R. C. Hibbeler, Mechanics of Materials, Example 3.2, p. 95: 450 MPa at 0.006, unloaded "
    "from 600 MPa at 0.023; printed permanent strain 0.015",
    seen=SEEN,
)
def test_example_3_2_permanent_strain():
    left = steel_history.unloaded_strain(0.023, 600e6, elastic_modulus=450e6 / 0.006)
    assert left == pytest.approx(0.015, abs=1e-9)


@pytest.mark.published(
    where="R. C. Hibbeler, Mechanics of Materials, Example 3.2, p. 95: 450 MPa at 0.006, unloaded "
    "from 600 MPa; printed resilience 1.35 and 2.40 MJ/m3",
    seen=SEEN,
)
def test_example_3_2_resilience_before_and_after():
    modulus = 450e6 / 0.006
    found = coupon_points.resilience([450e6, 600e6], modulus) / 1e6
    assert found == pytest.approx([1.35, 2.40], abs=0.005)
