"""Section, elongation and table of a coupon against a curve that is known in closed form."""

import math

import numpy as np
import pytest

from gaugewright.calc import coupon, coupon_curve, coupon_size
from gaugewright.calc.coupon_modulus import elastic_line
from gaugewright.calc.uncertainty import InputQuantity, Uncertain
from gaugewright.errors import InputError

E, FY = 200e9, 400e6


def known(value: float, doubt: float, name: str) -> Uncertain:
    return Uncertain.from_input(value, InputQuantity(name, doubt))


def invented(strain_at_break: float = 0.2) -> tuple[np.ndarray, np.ndarray]:
    """Elastic to 400 MPa, then rising to 500 MPa at 0.1 and falling to 450 MPa, then broken."""
    strain = np.concatenate(
        [np.linspace(0, FY / E, 400), np.linspace(0.0021, strain_at_break, 600)]
    )
    stress = np.where(
        strain <= FY / E, E * strain, np.interp(strain, [0.002, 0.1, 0.2], [4e8, 5e8, 4.5e8])
    )
    return np.append(strain, strain[-1]), np.append(stress, 0.0)


def inputs() -> coupon.CouponInputs:
    return coupon.CouponInputs("piece", Uncertain.exact(1.0))


def test_area_of_a_round_coupon_doubles_the_relative_doubt_of_its_diameter() -> None:
    area = coupon_size.round_area(known(0.01, 0.00002, "d"))
    assert float(area.value) == pytest.approx(math.pi * 0.005**2)
    share = float(area.standard_uncertainty()) / float(area.value)
    assert share == pytest.approx(2 * 0.002)


def test_area_of_a_flat_coupon_adds_the_relative_doubts_in_squares() -> None:
    area = coupon_size.flat_area(known(0.02, 0.0002, "b"), known(0.006, 0.00012, "t"))
    assert float(area.value) == pytest.approx(120e-6)
    share = float(area.standard_uncertainty()) / float(area.value)
    assert share == pytest.approx(math.hypot(0.01, 0.02))


@pytest.mark.parametrize("size", [0.0, -1.0])
def test_a_size_that_isn_t_positive_is_refused_by_name(size) -> None:
    with pytest.raises(InputError, match=r"^diameter is"):
        coupon_size.round_area(Uncertain.exact(size))
    with pytest.raises(InputError, match=r"^thickness is"):
        coupon_size.flat_area(Uncertain.exact(1.0), Uncertain.exact(size))


def test_elongation_by_marks_and_its_doubt() -> None:
    found = coupon_size.elongation_by_marks(known(0.05, 1e-4, "L0"), known(0.06, 2e-4, "Lu"))
    assert float(found.value) == pytest.approx(0.2)
    # By finite differences of (Lu - L0)/L0, not by the closed form under test.
    moved = [(0.06 / 0.0501 - 1) - 0.2, (0.0602 / 0.05 - 1) - 0.2]
    assert float(found.standard_uncertainty()) == pytest.approx(math.hypot(*moved), rel=5e-3)
    with pytest.raises(InputError):
        coupon_size.elongation_by_marks(Uncertain.exact(0.06), Uncertain.exact(0.05))


def test_elongation_by_an_extensometer_that_stayed_on() -> None:
    strain, stress = invented()
    values = coupon.coupon_values(stress, strain, inputs(), 50e6, 300e6)
    found = coupon_size.elongation_by_extensometer(strain, stress, values, Uncertain.exact(1.0))
    assert float(found.value) == pytest.approx(0.2 - 450e6 / E, abs=1e-6)


@pytest.mark.parametrize("why", ["off before", "not broken"])
def test_no_elongation_without_a_reading_at_fracture_or_without_fracture(why) -> None:
    strain, stress = invented()
    if why == "off before":
        strain[700:] = np.nan
    else:
        strain, stress = strain[:-1], stress[:-1]
    values = coupon.coupon_values(stress, strain, inputs(), 50e6, 300e6)
    exact = Uncertain.exact(1.0)
    assert coupon_size.elongation_by_extensometer(strain, stress, values, exact) is None


def test_table_of_the_curve_rises_from_zero_to_the_greatest_stress_and_follows_the_record() -> None:
    strain, stress = invented()
    shifted = strain + 3e-4  # an extensometer that didn't begin at zero
    line = elastic_line(shifted, stress, 50e6, 300e6)
    points, heights = coupon_curve.tabulated_curve(shifted, stress, line)
    assert (points[0], heights[0]) == (0.0, 0.0)
    assert np.all(np.diff(points) > 0)
    assert points[-1] == pytest.approx(0.1, abs=1e-3)
    at = np.array([0.001, 0.03, 0.09])
    assert np.interp(at, points, heights) == pytest.approx(np.interp(at, strain, stress), rel=1e-3)


def test_a_record_that_ends_within_its_elastic_line_has_no_table() -> None:
    stress = np.linspace(0, 310e6, 400)
    line = elastic_line(stress / E, stress, 50e6, 300e6)
    cut = stress <= 301e6
    with pytest.raises(InputError, match="curve beyond it"):
        coupon_curve.tabulated_curve(stress[cut] / E, stress[cut], line)
