"""Evaluation of pulled coupons: straight, kinked and coarse records, drops, and uncertainties."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gaugewright.calc import coupon, coupon_modulus, coupon_points
from gaugewright.calc.uncertainty import InputQuantity, Uncertain
from gaugewright.errors import InputError

E, AREA = 200e9, 200e-6
RANGE = (50e6, 250e6)
VALUES = (
    *("elastic_modulus", "proof_strength", "tensile_strength", "axis_offset"),
    *("total_extension", "plastic_extension"),
)


def rounded(origin: float = 0.0, proof: float = 450e6) -> tuple[np.ndarray, np.ndarray]:
    """Strain and stress with a round knee: ε = σ/E + 0.002 (σ/R_p0.2)^15, up to a flat top."""
    stress = np.concatenate([np.linspace(0, 560e6, 6000), np.linspace(560e6, 500e6, 500)])
    extension = stress / E + 0.002 * (stress / proof) ** 15
    extension[6000:] = extension[5999] + np.linspace(1e-4, 0.05, 500)
    return extension + origin, stress


def given_inputs(**changes) -> coupon.CouponInputs:
    area = Uncertain.from_input(AREA, InputQuantity("area", 0.4e-6))
    force = Uncertain.from_input(1.0, InputQuantity("force", 0.003))
    extension = Uncertain.from_input(1.0, InputQuantity("extensometer", 0.005))
    return (
        coupon.CouponInputs("C1", **({"area": area} | changes))
        if changes
        else (coupon.CouponInputs("C1", area, force, extension))
    )


@given(st.floats(-0.002, 0.002), st.floats(420e6, 520e6))
def test_a_round_knee_gives_back_what_it_was_made_of(origin, proof) -> None:
    strain, stress = rounded(origin, proof)
    found = coupon.coupon_values(stress * AREA, strain, given_inputs(), 20e6, 120e6)
    assert found.elastic_modulus.value == pytest.approx(E, rel=1e-4)
    assert found.axis_offset.value == pytest.approx(origin, abs=1e-7)
    assert found.proof_strength.value == pytest.approx(proof, rel=1e-4)
    assert found.tensile_strength.value == pytest.approx(560e6, rel=1e-9)
    assert found.total_extension.value == pytest.approx(strain[5999] - origin, abs=1e-4)
    plastic = strain[5999] - origin - 560e6 / E
    assert found.plastic_extension.value == pytest.approx(plastic, abs=1e-4)
    assert found.upper_yield_strength is None
    assert "no drop" in found.missing["upper_yield_strength"]


def moved(name: str, size: float) -> tuple[float, ...]:
    """Values when the factors of force and strain, or the area, are truly a little different."""
    strain, stress = rounded(3e-4)
    factors = {"area": AREA, "force_factor": 1.0, "strain_factor": 1.0}
    factors[name] *= 1 + size
    inputs = given_inputs(**{key: Uncertain.exact(value) for key, value in factors.items()})
    found = coupon.coupon_values(stress * AREA, strain, inputs, *RANGE)
    return tuple(float(getattr(found, key).value) for key in VALUES)


@pytest.mark.parametrize(
    ("name", "cause"),
    [("area", "area"), ("force_factor", "force"), ("strain_factor", "extensometer")],
)
def test_every_value_moves_with_each_cause_as_its_sensitivity_says(name, cause) -> None:
    strain, stress = rounded(3e-4)
    found = coupon.coupon_values(stress * AREA, strain, given_inputs(), *RANGE)
    scale = AREA if name == "area" else 1.0
    up, down = moved(name, 1e-4), moved(name, -1e-4)
    for key, high, low in zip(VALUES, up, down, strict=True):
        value = getattr(found, key)
        slope = float(value.sensitivities.get(cause, np.zeros(()))) * scale
        expected = (high - low) / 2e-4
        assert slope == pytest.approx(expected, rel=0.02, abs=2e-6 * abs(value.value) + 1e-5)


@pytest.mark.parametrize("name", ["area", "force_factor", "strain_factor"])
def test_a_modulus_from_elsewhere_does_not_move_with_this_test(name) -> None:
    strain, stress = rounded(3e-4)
    factors = {"area": AREA, "force_factor": 1.0, "strain_factor": 1.0}
    proofs = {}
    for size in (-1e-4, 0.0, 1e-4):
        changed = factors | {name: factors[name] * (1 + size)}
        inputs = given_inputs(
            **{
                key: Uncertain.from_input(value, InputQuantity(key, 1e-9))
                for key, value in changed.items()
            }
        )
        proofs[size] = coupon.coupon_values(
            stress * AREA, strain, inputs, *RANGE, modulus=Uncertain.exact(E)
        ).proof_strength
    slope = float(proofs[0.0].sensitivities[name]) * factors[name]
    expected = (proofs[1e-4].value - proofs[-1e-4].value) / 2e-4
    assert slope == pytest.approx(float(expected), rel=0.02, abs=1e3)


@pytest.mark.full
def test_scatter_of_repeated_fits_is_what_the_fit_says() -> None:
    random = np.random.default_rng(3)
    stress = np.linspace(0, 330e6, 440)
    fits = []
    for _ in range(400):
        noisy = stress + random.normal(0, 1e6, stress.size)
        line = coupon_modulus.elastic_line(stress / E, noisy, 5e6, 305e6)
        fits.append((line.elastic_modulus, line.modulus_uncertainty, line.scatter))
    slopes, said, scatter = np.array(fits).T
    assert np.std(slopes) == pytest.approx(np.mean(said), rel=0.15)
    assert np.mean(scatter) == pytest.approx(1e6, rel=0.05)
    assert np.mean(slopes) == pytest.approx(E, rel=0.002)


def test_noise_that_persists_makes_the_slope_less_certain() -> None:
    stress = np.linspace(0, 300e6, 400)
    quick = stress + 1e6 * np.random.default_rng(1).normal(size=400)
    slow = stress + 1.4e6 * np.sin(np.arange(400) / 12)
    lines = [coupon_modulus.elastic_line(stress / E, s, 20e6, 280e6) for s in (quick, slow)]
    assert lines[0].scatter == pytest.approx(lines[1].scatter, rel=0.1)
    assert lines[1].modulus_uncertainty > 3 * lines[0].modulus_uncertainty


def kinked() -> tuple[np.ndarray, np.ndarray]:
    stress = np.linspace(0, 300e6, 600)
    return stress / E + 1e-4 * np.clip((stress - 100e6) / 40e6, 0, 1), stress


def test_a_kinked_line_is_refused_with_its_slopes() -> None:
    strain, stress = kinked()
    line = coupon_modulus.elastic_line(strain, stress, 60e6, 220e6)
    assert line.local_moduli / 1e9 == pytest.approx([200, 400 / 3, 200, 200], rel=0.05)
    with pytest.raises(
        InputError, match=r"^elastic_modulus is .* by fit'; .* line is kinked: 200, 13"
    ):
        coupon_modulus.refuse_doubtful(line)
    found = coupon.coupon_values(stress * AREA, strain, given_inputs(), 60e6, 220e6)
    assert found.elastic_modulus is None
    assert found.proof_strength is None
    assert "kinked" in found.missing["proof_strength"]
    assert found.tensile_strength.value == pytest.approx(300e6)
    below = coupon_modulus.elastic_line(strain, stress, 20e6, 90e6)
    assert coupon_modulus.doubts(below) == ()


def test_a_bent_line_is_told_from_a_kinked_one() -> None:
    stress = np.linspace(0, 300e6, 600)
    strain = stress / E + 0.0008 * (stress / 300e6) ** 3
    line = coupon_modulus.elastic_line(strain, stress, 20e6, 280e6)
    assert any("bends steadily" in doubt for doubt in coupon_modulus.doubts(line))


def test_coarse_strain_and_few_samples_are_refused() -> None:
    stress = np.linspace(0, 300e6, 400)
    coarse = coupon_modulus.elastic_line((stress / E).round(5), stress, 50e6, 150e6)
    assert coarse.strain_step == pytest.approx(1e-5)
    assert any("steps of 1e-05" in doubt for doubt in coupon_modulus.doubts(coarse))
    few = coupon_modulus.elastic_line(stress[::20] / E, stress[::20], 50e6, 250e6)
    assert any("only 13 samples" in doubt for doubt in coupon_modulus.doubts(few))


def test_a_metal_is_believed_only_within_what_was_said_of_it() -> None:
    strain, stress = rounded()
    line = coupon_modulus.elastic_line(strain, stress, *RANGE)
    limits = coupon_modulus.ModulusLimits(plausible=(60e9, 80e9))
    assert coupon_modulus.doubts(line) == ()
    assert "outside the 60 to 80 GPa" in coupon_modulus.doubts(line, limits)[0]


def with_drop() -> tuple[np.ndarray, np.ndarray]:
    """Up to 420 MPa, down to 395, along 400, a dip to 398, hardening to 550, by strain."""
    strain = np.linspace(0, 0.08, 8001)
    corners = [0, 0.0021, 0.0023, 0.0035, 0.008, 0.009, 0.012, 0.08]
    heights = [0, 420e6, 395e6, 400e6, 398e6, 400e6, 400e6, 550e6]
    return strain, np.interp(strain, corners, heights)


def test_upper_and_lower_yield_with_the_transient_left_out() -> None:
    strain, stress = with_drop()
    upper = coupon_points.upper_yield(strain, stress)
    assert upper.stress == pytest.approx(420e6)
    assert upper.strain == pytest.approx(0.0021)
    assert coupon_points.lower_yield(strain, stress, upper, 0.0).stress == pytest.approx(395e6)
    lower = coupon_points.lower_yield(strain, stress, upper, 0.0014)
    assert lower.stress == pytest.approx(398e6)
    assert lower.strain == pytest.approx(0.008)


def test_a_drop_too_small_too_short_or_after_the_maximum_is_no_yield() -> None:
    strain, stress = with_drop()
    assert coupon_points.upper_yield(strain, stress, least_drop=0.07) is None
    assert coupon_points.upper_yield(strain, stress, least_extension=0.05) is None
    dipped = np.linspace(0, 500e6, 1000)
    dipped[500:503] -= 30e6
    assert coupon_points.upper_yield(np.linspace(0, 0.1, 1000), dipped) is None
    necking = np.concatenate([np.linspace(0, 500e6, 500), np.linspace(500e6, 300e6, 500)])
    assert coupon_points.upper_yield(np.linspace(0, 0.1, 1000), necking) is None


def test_the_extensometer_ends_where_its_column_stays_empty() -> None:
    assert coupon_points.extensometer_rows([0.0, np.nan, 0.1, np.nan, np.nan]) == 3
    assert coupon_points.extensometer_rows([np.nan, np.nan]) == 0
    strain, stress = rounded()
    strain[5500:] = np.nan
    found = coupon.coupon_values(stress * AREA, strain, given_inputs(), *RANGE)
    assert found.extensometer_rows == 5500
    assert found.total_extension is None
    assert "off at maximum force" in found.missing["total_extension"]


def test_an_extensometer_off_before_the_proof_strength_is_said() -> None:
    strain, stress = rounded()
    strain[3500:] = np.nan
    found = coupon.coupon_values(stress * AREA, strain, given_inputs(), *RANGE)
    assert found.proof_strength is None
    assert found.missing["proof_strength"].endswith("ends before the proof strength")


def test_the_top_of_a_flat_curve_is_its_middle_with_its_width() -> None:
    strain = np.linspace(0, 0.1, 1001)
    stress = np.interp(strain, [0, 0.05, 0.07, 0.1], [0, 500e6, 500e6, 490e6])
    top = coupon_points.greatest_stress(strain, stress)
    assert top.strain == pytest.approx(0.06, abs=1e-4)  # a sample's width
    assert top.half_width == pytest.approx(0.01, abs=1e-4)


def test_noise_of_readings_is_found_on_a_slope() -> None:
    noise = np.random.default_rng(2).normal(0, 0.1e6, 25)
    assert coupon_points.reading_noise(np.arange(25) * 2e6 + noise, 12) == pytest.approx(
        0.1e6, rel=0.5
    )
    assert coupon_points.reading_noise(np.arange(25) * 2e6, 12) == pytest.approx(0, abs=1e-3)
    assert coupon_points.reading_noise([1e6, 2e6], 0) == 0.0


def test_records_that_do_not_fit_the_question_are_refused_by_name() -> None:
    strain, stress = rounded()
    with pytest.raises(InputError, match=r"^highest_stress is .* reached by the record"):
        coupon_modulus.elastic_line(strain, stress, 50e6, 700e6)
    with pytest.raises(InputError, match=r"^lowest_stress is .* below the highest"):
        coupon_modulus.elastic_line(strain, stress, 250e6, 50e6)
    with pytest.raises(InputError, match=r"with 2 samples between them"):
        coupon_modulus.elastic_line([0.0, 0.001, 0.002, 0.003], [0, 200e6, 250e6, 300e6], 1e6, 3e8)
    with pytest.raises(InputError, match=r"^strain is 'of shape \(3,\)'"):
        coupon_modulus.elastic_line([0.0, 1.0, 2.0], [0.0, 1.0], 0.1, 0.9)
    with pytest.raises(InputError, match=r"^area is -1"):
        coupon.CouponInputs("C1", Uncertain.exact(-1.0))
    assert math.isclose(coupon_points.resilience(500e6, 200e9), 625e3)
    with pytest.raises(InputError, match=r"^final_length over original_length - 1 is -0\.1"):
        coupon_points.elongation_after_fracture(0.1, 0.09)
    with pytest.raises(InputError, match=r"^reduction of area is -1"):
        coupon_points.reduction_of_area(1e-4, 2e-4)
