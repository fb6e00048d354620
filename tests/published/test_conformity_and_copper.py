"""Guard bands and conformance probability of JCGM 106; copper that grows warm by a textbook."""

import math

import pytest

from gaugewright.calc import between_gates, conformity


@pytest.mark.published(
    where="JCGM 106:2012, 7.3, example of the breakdown voltage of a diode: best estimate "
    "-5.47 V, standard uncertainty 0.05 V, upper limit -5.40 V: probability of conformity 0.92",
    seen="from memory",
)
def test_one_limit():
    found = conformity.conformance_probability(-5.47, 0.05, -math.inf, -5.40)
    assert found == pytest.approx(0.92, abs=0.005)


@pytest.mark.published(
    where="JCGM 106:2012, 7.4, example of an oil's viscosity: best estimate 13.6, standard "
    "uncertainty 1.8, limits 12.5 and 16.3 mm²/s: probability of conformity 0.66",
    seen="from memory",
)
def test_two_limits():
    found = conformity.conformance_probability(13.6, 1.8, 12.5, 16.3)
    assert found == pytest.approx(0.66, abs=0.005)


@pytest.mark.published(
    where="JCGM 106:2012, 7.3, table 1: with one limit, probabilities of 0.80, 0.90, 0.95, 0.99 "
    "and 0.999 stand 0.84, 1.28, 1.64, 2.33 and 3.09 standard uncertainties inside",
    seen="from memory; the same numbers stand in every table of the normal distribution",
)
@pytest.mark.parametrize(
    ("probability", "away"),
    [(0.80, 0.84), (0.90, 1.28), (0.95, 1.64), (0.99, 2.33), (0.999, 3.09)],
)
def test_standard_uncertainties_inside(probability, away):
    found = conformity.conformance_probability(10.0 - away, 1.0, -math.inf, 10.0)
    # Half a digit of the printed distance moves the probability by at most the density there.
    density = math.exp(-(away**2) / 2) / math.sqrt(2 * math.pi)
    assert abs(found - probability) <= 0.0055 * density


@pytest.mark.published(
    where="JCGM 106:2012, 8.3.2, guard band of twice the standard uncertainty: on the acceptance "
    "limit itself at least 97.7 % of the probability lies inside",
    seen="from memory",
)
def test_guard_band_of_the_expanded_uncertainty():
    limit, spread = 1500.2, 0.04
    edge = limit - 2 * spread
    assert conformity.guarded(edge - 1e-9, 2 * spread, 1499.8, limit) == conformity.INSIDE
    assert conformity.guarded(edge + 1e-9, 2 * spread, 1499.8, limit) == conformity.UNDECIDED
    assert conformity.guarded(limit + 2 * spread + 1e-9, 2 * spread, 1499.8, limit) == (
        conformity.OUTSIDE
    )
    inside = conformity.conformance_probability(edge, spread, -math.inf, limit)
    assert inside == pytest.approx(0.977, abs=0.0005)


@pytest.mark.published(
    where="Introductory textbooks of circuits: (234.5 + T1)/R1 = (234.5 + T2)/R2 for copper; "
    "50 ohm at 20 degC are 65.72 ohm at 100 degC, and 10 ohm at 0 degC are 8.29 ohm at -40 degC",
    seen="rule at realnfo.com, page on the inferred absolute temperature; numbers from memory",
)
@pytest.mark.parametrize(
    ("first", "cold", "warm", "printed"), [(50.0, 20.0, 100.0, 65.72), (10.0, 0.0, -40.0, 8.29)]
)
def test_copper_between_two_temperatures(first, cold, warm, printed):
    found = first + between_gates.wires_warmed(first, cold, warm).item()
    assert found == pytest.approx(printed, abs=0.0055)


@pytest.mark.published(
    where="Two resistors in parallel: a leak of 1, 10 and 100 Mohm across a grid of 120 ohm feigns "
    "-60, -6 and -0.6 microstrain, across 350 ohm -175, -17.5 and -1.75, at a gauge factor of 2",
    seen="worked by hand from R_g/(F R_p)",
)
@pytest.mark.parametrize(
    ("grid", "leak", "microstrain"),
    [(120, 1e6, -60), (120, 1e7, -6), (120, 1e8, -0.6), (350, 1e6, -175), (350, 1e8, -1.75)],
)
def test_strain_a_leak_feigns(grid, leak, microstrain):
    found = between_gates.leak_strain(leak, grid, 2.0).item() * 1e6
    assert found == pytest.approx(microstrain, rel=5e-4)
