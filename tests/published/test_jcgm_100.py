"""JCGM 100:2008, Guide to the expression of uncertainty in measurement: its worked examples."""

import math

import numpy as np
import pytest

from gaugewright.calc.evaluation import (
    coverage_factor,
    mean_of_readings,
    scatter_between_and_within,
)
from gaugewright.calc.joint import correlation, jointly_uncertain
from gaugewright.calc.polynomial_fit import polynomial_fit
from gaugewright.calc.uncertainty import InputQuantity, Uncertain
from gaugewright.present.numbers import shown

SEEN_H1 = "typed copy: tests and example of the open library GTC, not the guide itself"
SEEN_H2 = "typed copy: test data of the open program suncal, not the guide itself"


def part(value, name, u, freedom=math.inf):
    return Uncertain.from_input(value, InputQuantity(name, u, freedom))


def end_gauge():
    """Length in nanometres; θ enters only through δα, whose estimate is 0."""
    standard = part(50_000_623.0, "standard", 25.0, 18)
    difference = (
        part(215.0, "repeated", 5.8, 24)
        + part(0.0, "comparator, random", 3.9, 5)
        + part(0.0, "comparator, systematic", 6.7, 8)
    )
    expansion = part(0.0, "difference of expansion", 1e-6 / math.sqrt(3), 50)
    temperature = part(0.0, "difference of temperature", 0.05 / math.sqrt(3), 2)
    change = expansion * -0.1 + 11.5e-6 * temperature
    return standard + difference - standard * change, difference


@pytest.mark.published(
    where="JCGM 100:2008, H.1.6 and Table H.1: length 50 000 838 nm, u_c = 32 nm (31.66 unrounded)",
    seen=SEEN_H1,
)
def test_h1_length_and_combined_uncertainty():
    length, _ = end_gauge()
    assert length.value.item() == 50_000_838
    assert length.standard_uncertainty().item() == pytest.approx(31.66, abs=0.01)


@pytest.mark.published(
    where="JCGM 100:2008, H.1.6: effective degrees of freedom 16, cut from 16.75", seen=SEEN_H1
)
def test_h1_effective_degrees_of_freedom():
    length, _ = end_gauge()
    assert length.effective_degrees_of_freedom().item() == pytest.approx(16.75, abs=0.01)


@pytest.mark.published(
    where="JCGM 100:2008, H.1.3.2: u(d) = 9.7 nm. Degrees of freedom printed 25.6, which comes "
    "from the rounded 9.7; unrounded parts give 25.45",
    seen=SEEN_H1,
)
def test_h1_difference_of_the_gauges():
    _, difference = end_gauge()
    assert difference.standard_uncertainty().item() == pytest.approx(9.7, abs=0.05)
    assert difference.effective_degrees_of_freedom().item() == pytest.approx(25.4473, abs=1e-4)
    weight = 5.8**4 / 24 + 3.9**4 / 5 + 6.7**4 / 8
    assert 9.7**4 / weight == pytest.approx(25.6, abs=0.05)


@pytest.mark.published(
    where="JCGM 100:2008, H.1.6: t99(16) = 2.92, U99 = 93 nm (from 2.92 times the rounded 32 nm)",
    seen="t and U from memory, inputs in typed copy",
)
def test_h1_expanded_uncertainty():
    length, _ = end_gauge()
    factor = coverage_factor(16, 0.99).item()
    assert factor == pytest.approx(2.92, abs=0.005)
    # The guide multiplies rounded numbers: 31.66 in place of 32 makes 92.5.
    assert factor * round(length.standard_uncertainty().item()) == pytest.approx(93, abs=0.5)


@pytest.mark.published(
    where="JCGM 100:2008, Table H.1: components 25, 16.6, 6.7, 5.8, 3.9 and 2.9 nm", seen=SEEN_H1
)
def test_h1_budget():
    length, _ = end_gauge()
    found = [line.contribution for line in length.budget().lines]
    assert found == pytest.approx([25, 16.599, 6.7, 5.8, 3.9, 2.88679], abs=1e-3)


VOLTS = [5.007, 4.994, 5.005, 4.990, 4.999]
AMPERES = [0.019663, 0.019639, 0.019640, 0.019685, 0.019678]
RADIANS = [1.0456, 1.0438, 1.0468, 1.0428, 1.0433]


def resistance_and_reactance():
    readings = np.array([VOLTS, AMPERES, RADIANS])
    v, i, phi = jointly_uncertain(readings.mean(1), np.cov(readings) / 5, "five sets")
    cosine = phi.mapped(np.cos(phi.value), -np.sin(phi.value))
    sine = phi.mapped(np.sin(phi.value), np.cos(phi.value))
    return v / i * cosine, v / i * sine, v / i


@pytest.mark.published(
    where="JCGM 100:2008, Table H.2: means 4.9990 V, 19.6610 mA, 1.04446 rad; s of the means "
    "0.0032 V, 0.0095 mA, 0.00075 rad",
    seen=SEEN_H2,
)
@pytest.mark.parametrize(
    ("readings", "mean", "u", "half_digit"),
    [
        (VOLTS, 4.9990, 0.0032, 5e-5),
        (AMPERES, 19.6610e-3, 0.0095e-3, 5e-8),
        (RADIANS, 1.04446, 0.00075, 5e-6),
    ],
)
def test_h2_means(readings, mean, u, half_digit):
    found = mean_of_readings(readings)
    assert found.mean == pytest.approx(mean, abs=half_digit)
    assert found.standard_uncertainty == pytest.approx(u, abs=half_digit)
    assert found.degrees_of_freedom == 4


@pytest.mark.published(
    where="JCGM 100:2008, Table H.2: r(V,I) = -0.36, r(V,φ) = 0.86, r(I,φ) = -0.65", seen=SEEN_H2
)
def test_h2_correlations_of_the_readings():
    readings = np.array([VOLTS, AMPERES, RADIANS])
    v, i, phi = jointly_uncertain(readings.mean(1), np.cov(readings) / 5, "five sets")
    found = [correlation(*pair).item() for pair in ((v, i), (v, phi), (i, phi))]
    assert found == pytest.approx([-0.36, 0.86, -0.65], abs=0.005)


@pytest.mark.published(
    where="JCGM 100:2008, Tables H.3 and H.4: R = 127.732 Ω, X = 219.847 Ω, Z = 254.260 Ω; "
    "u = 0.071, 0.295 (H.3; 0.296 in H.4) and 0.236 Ω",
    seen=SEEN_H2,
)
def test_h2_resistance_reactance_impedance():
    found = resistance_and_reactance()
    values = [quantity.value.item() for quantity in found]
    assert values == pytest.approx([127.732, 219.847, 254.260], abs=6e-4)
    u = [quantity.standard_uncertainty().item() for quantity in found]
    # 0.2956 Ω: the guide prints 0.295 from rounded correlations and 0.296 from the five sets.
    assert u == pytest.approx([0.071, 0.296, 0.236], abs=5e-4)


@pytest.mark.published(
    where="JCGM 100:2008, Table H.3: r(R,X) = -0.588, r(R,Z) = -0.485, r(X,Z) = 0.993",
    seen="from memory",
)
def test_h2_correlations_of_the_results():
    r, x, z = resistance_and_reactance()
    found = [correlation(*pair).item() for pair in ((r, x), (r, z), (x, z))]
    assert found == pytest.approx([-0.588, -0.485, 0.993], abs=6e-4)


THERMOMETER = np.array(
    [
        (21.521, -0.171),
        (22.012, -0.169),
        (22.512, -0.166),
        (23.003, -0.159),
        (23.507, -0.164),
        (23.999, -0.165),
        (24.513, -0.156),
        (25.002, -0.157),
        (25.503, -0.159),
        (26.010, -0.161),
        (26.511, -0.160),
    ]
)


@pytest.mark.published(
    where="JCGM 100:2008, H.3.3 and H.3.4: line through 11 corrections about 20 degC, "
    "s = 0.0035 degC, -0.1712 (0.0029) degC and 0.00218 (0.00067), r = -0.930; at 30 degC "
    "-0.1494 (0.0041) degC",
    seen="data in typed copy, results from memory",
)
def test_h3_a_fitted_line_keeps_the_correlation_of_its_coefficients():
    line = polynomial_fit(THERMOMETER[:, 0] - 20.0, THERMOMETER[:, 1], 1)
    assert line.residual_deviation == pytest.approx(0.0035, abs=5e-5)
    offset, slope = jointly_uncertain(line.coefficients, line.covariances, "line")
    assert offset.value.item() == pytest.approx(-0.1712, abs=5e-5)
    assert slope.value.item() == pytest.approx(0.00218, abs=5e-6)
    assert offset.standard_uncertainty().item() == pytest.approx(0.0029, abs=5e-5)
    assert slope.standard_uncertainty().item() == pytest.approx(0.00067, abs=5e-6)
    assert correlation(offset, slope).item() == pytest.approx(-0.930, abs=5e-4)
    at_30 = offset + slope * 10.0
    assert at_30.value.item() == pytest.approx(-0.1494, abs=5e-5)
    assert at_30.standard_uncertainty().item() == pytest.approx(0.0041, abs=5e-5)
    assert line.deviation_of_curve(10.0) == pytest.approx(0.0041, abs=5e-5)


@pytest.mark.published(
    where="JCGM 100:2008, H.5 and Table H.9: ten days of five readings, mean 10.000 097 V, "
    "s of day means 57 µV, pooled s 85 µV, F = 2.25",
    seen="results in typed copy (tests of suncal); the ten day means and deviations from memory",
)
def test_h5_scatter_between_days_and_within():
    means = np.array([172, 116, 13, 144, 106, 31, 60, 125, 163, 41]) * 1e-6 + 10.0
    deviations = np.array([60, 77, 111, 101, 67, 93, 80, 73, 88, 86]) * 1e-6
    found = scatter_between_and_within(means, deviations, group_size=5)
    assert found.mean == pytest.approx(10.000097, abs=5e-7)
    assert np.std(means, ddof=1) == pytest.approx(57e-6, abs=0.5e-6)
    assert found.within == pytest.approx(85e-6, abs=0.5e-6)
    # The guide divides the rounded 57² by 85²/5; unrounded it is 2.26.
    assert found.ratio == pytest.approx(2.25, abs=0.02)
    assert (found.degrees_of_freedom_between, found.degrees_of_freedom_within) == (9, 40)


@pytest.mark.published(
    where="JCGM 100:2008, Table G.2: t for fractions and degrees of freedom", seen=SEEN_H2
)
@pytest.mark.parametrize(
    ("coverage", "freedom", "printed"),
    [
        (0.6827, 1, 1.84),
        (0.95, 1, 12.71),
        (0.9973, 5, 5.51),
        (0.90, 20, 1.72),
        (0.99, 11, 3.11),
        (0.9973, 2, 19.21),
    ],
)
def test_table_g2(coverage, freedom, printed):
    assert coverage_factor(freedom, coverage).item() == pytest.approx(printed, abs=5.5e-3)


@pytest.mark.published(
    where="JCGM 100:2008 (GUM), 7.2.6: y = 10.057 62 ohm with u_c = 27 mohm is rounded to "
    "10.058 ohm",
    seen="from memory",
)
def test_the_value_is_rounded_to_the_place_of_its_uncertainty():
    assert shown(10.05762, 0.027).value == "10.058"


@pytest.mark.published(
    where="JCGM 100:2008 (GUM), 7.2.2: m_S = 100.021 47 g with u_c = 0.35 mg",
    seen="from memory",
)
def test_the_mass_of_the_guide_s_example_keeps_its_digits():
    number = shown(100.02147, 0.00035)
    assert (number.value, number.plus_minus) == ("100.02147", "0.00035")


@pytest.mark.published(
    where="JCGM 100:2008 (GUM), 7.2.6: u(x_i) = 28.05 kHz should be rounded down to 28 kHz",
    seen="from memory",
)
def test_an_uncertainty_just_over_two_digits_goes_down():
    assert shown(1000.0, 28.05).plus_minus == "28"


@pytest.mark.published(
    where="JCGM 100:2008 (GUM), 7.2.6: u_c = 10.47 mohm might be rounded up to 11 mohm",
    seen="from memory",
)
def test_where_the_guide_allows_rounding_up_this_rounds_to_the_nearest():
    # The guide says "might" and leaves it to judgement; here it is always the nearest, 4.5 % less.
    assert shown(0.0, 10.47).plus_minus == "10"
