"""What temperature, angle, sideways and large strain add to an answer, reckoned by hand."""

import math

import pytest

from gaugewright.errors import InputError
from gaugewright.services.answering.answers import answered
from tests.services.test_answers import BARE, doubt, value

STRAIN = "Strain of the bar"
ONE = 4e-3 / 0.998 / 2  # of 1 mV/V in a quarter bridge at k = 2


def test_thermal_output_is_taken_off_by_the_ratio_of_gauge_factors() -> None:
    # 100 µε drawn at 2.0 are 100 × 2.0/2.1 µε for a gauge of 2.1.
    typed = {**BARE, "gauge_factor": "2.1", "reading": "1", "thermal_output": "100 ± 20 k=2"}
    found = answered("reading", typed)
    assert value(found, STRAIN) == pytest.approx(ONE * 2 / 2.1 - 100e-6 * 2 / 2.1, rel=1e-12)
    assert doubt(found, STRAIN) == pytest.approx(1.959964 * 10e-6 * 2 / 2.1, rel=1e-4)


def test_the_gauge_factor_is_that_of_the_temperature() -> None:
    # 1 % per 100 K over 50 K: half a per cent.
    typed = {**BARE, "reading": "1", "temperature": "73", "gauge_factor_slope": "100"}
    assert value(answered("reading", typed), STRAIN) == pytest.approx(ONE / 1.005, rel=1e-12)


def test_without_a_temperature_its_card_is_assumed_and_said_so() -> None:
    found = answered("reading", {**BARE, "reading": "1"})
    assert any(line.startswith("Temperature of the gauge: that") for line in found.assumed)
    assert any(line.startswith("Thermal output since the zero: 0") for line in found.assumed)


def test_in_a_bending_pair_temperature_goes_out() -> None:
    typed = {**BARE, "reading": "1", "circuit": "half-bending", "thermal_output": "100"}
    assert value(answered("reading", typed), STRAIN) == pytest.approx(1e-3, rel=1e-12)


def test_a_known_angle_is_put_right() -> None:
    # 1 - (1 + ν) sin² 5° = 0.990125 at ν = 0.3.
    typed = {**BARE, "reading": "1", "misalignment": "5", "poisson_ratio": "0.3"}
    share = 1 - 1.3 * math.sin(math.radians(5)) ** 2
    assert value(answered("reading", typed), STRAIN) == pytest.approx(ONE / share, rel=1e-12)


def test_an_unknown_angle_reads_low_on_the_whole_and_its_doubt_is_one_sided() -> None:
    # 0 ± 2° as a limit: u = 2°/√3; the mean of sin² is u², its standard uncertainty √2 u².
    spread = math.radians(2) / math.sqrt(3)
    typed = {**BARE, "reading": "1", "misalignment": "0 ± 2", "poisson_ratio": "0.3"}
    found = answered("reading", typed)
    assert value(found, STRAIN) == pytest.approx(ONE / (1 - 1.3 * spread**2), rel=1e-9)
    (cause,) = next(each for each in found.numbers if each.label == STRAIN).causes
    assert cause.meaning == "angle of the grid"
    assert cause.share == pytest.approx(1)


def test_sideways_strain_after_yield() -> None:
    # K = 1 %, ν0 = 0.285, ν = 0.5: (1 - 0.00285)/(1 - 0.005).
    typed = {**BARE, "reading": "1", "transverse_sensitivity": "1", "poisson_ratio": "0.5"}
    by_hand = ONE * (1 - 0.00285) / (1 - 0.005)
    assert value(answered("reading", typed), STRAIN) == pytest.approx(by_hand, rel=1e-12)


def test_grids_across_a_bar_see_it_by_their_sideways_sensitivity() -> None:
    # Arms along and across with K = 2 %, ν = 0.3: readings by hand, then the divider.
    strain, side, nu, beam, factor = 1e-3, 0.02, 0.3, 0.285, 2.0
    along = factor * strain * (1 - nu * side) / (1 - beam * side)
    across = factor * strain * (side - nu) / (1 - beam * side)
    ratio = (1 + along) / (2 + along + across) - (1 + across) / (2 + along + across)
    typed = {
        **BARE,
        "reading": repr(1e3 * ratio),
        "circuit": "full-axial",
        "transverse_sensitivity": "2",
        "poisson_ratio": "0.3",
    }
    assert value(answered("reading", typed), STRAIN) == pytest.approx(strain, rel=1e-9)


def test_large_strain_stops_until_a_law_is_chosen() -> None:
    with pytest.raises(InputError, match="large_strain_law"):
        answered("reading", {**BARE, "reading": "25"})


def test_two_laws_differ_and_the_difference_is_doubt() -> None:
    # x = 0.1/0.95 = 0.105263: x/2 = 0.052632 by constant factor, √(1+x) - 1 by constant volume.
    change = 0.1 / 0.95
    laws = {
        "constant-factor": change / 2,
        "constant-volume": math.sqrt(1 + change) - 1,
    }
    between = laws["constant-factor"] - laws["constant-volume"]
    for law, by_hand in laws.items():
        found = answered("reading", {**BARE, "reading": "25", "large_strain_law": law})
        assert value(found, STRAIN) == pytest.approx(by_hand, rel=1e-9)
        assert doubt(found, STRAIN) == pytest.approx(1.959964 * between / math.sqrt(3), rel=1e-4)


def test_sensed_supply_needs_no_correction_for_wires() -> None:
    typed = {**BARE, "reading": "2", "circuit": "full-bending", "lead_resistance": "5"}
    sensed = answered("reading", {**typed, "sense": "yes"})
    assert value(sensed, STRAIN) == pytest.approx(1e-3, rel=1e-12)
    # Four wires: the bridge gets 120/130 of the supply.
    plain = answered("reading", typed)
    assert value(plain, STRAIN) == pytest.approx(1e-3 * 130 / 120, rel=1e-12)


def test_causes_are_ranked_and_halving_the_first_leaves_what_it_says() -> None:
    typed = {**BARE, "installation": "1.5", "gauge_factor": "2 ± 1 %", "reading": "1"}
    first, second = answered("reading", typed).numbers[0].causes
    assert (first.meaning, second.meaning) == ("the scatter of installation", "gauge factor")
    left = 1.959964 * ONE * math.hypot(0.0075, 0.01 / math.sqrt(3)) * 1e6
    assert first.half == f"± {left:.0f} µε"
