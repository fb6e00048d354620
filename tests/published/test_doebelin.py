"""Doebelin and Manik: a quarter bridge, a shunt, and the gauge factor of a wire."""

import pytest

from gaugewright.calc import bridge, gauge, instrument_limits, shunt, steel

SEEN = (
    "typed copy with its printed output: Scilab companion repository Lavitha/Scilab_TBC, set 14, "
    "chapter 4; not the book"
)


@pytest.mark.published(
    where="Doebelin & Manik, Measurement Systems, Example 4.12, p. 172: 120 ohm, k = 2, 30 mA in "
    "the gauge, 7 MPa on steel of 200 GPa; printed 7.2 V, 35 microstrain, 0.0084 ohm, 126 uV",
    seen=SEEN,
)
def test_example_4_12():
    excitation = 2 * 0.030 * 120.0
    assert excitation == pytest.approx(7.2)
    strain = 35e-6
    assert steel.elastic_stress(strain, 200e9) == pytest.approx(7e6)
    change = 2.0 * strain
    assert change * 120.0 == pytest.approx(0.0084)
    # The book takes the straight line; the exact output lies 0.0035 % below it.
    output = bridge.quarter_bridge_ratio(change) * excitation
    assert output * 1e6 == pytest.approx(126, abs=0.5)


@pytest.mark.published(
    where="Doebelin & Manik, Measurement Systems, Example 4.3, p. 176: 120 kohm across one of four "
    "120 ohm arms, amplifier gain 10, output 30 mV; printed excitation 12.012 V",
    seen=SEEN,
)
def test_example_4_3():
    circuit = shunt.QuarterCircuit(120.0, 120.0)
    step = -shunt.shunt_step(circuit, "T1-T2", 120e3)
    # Straight line in the book: ΔR / 4R, which differs from the exact step by 0.05 %.
    assert 0.030 / 10 / step == pytest.approx(12.012, rel=6e-4)
    line = -shunt.shunt_strain(120.0, 120e3, gauge_factor=1.0) / 4
    assert 0.030 / 10 / line == pytest.approx(12.012, abs=0.0005)


@pytest.mark.published(
    where="Doebelin & Manik, Measurement Systems, Example 4.1, p. 163: strain 3 %, resistivity "
    "change 0.3 %, Poisson's ratio 0.3; printed gauge factor 1.7",
    seen=SEEN,
)
def test_example_4_1():
    assert gauge.geometric_gauge_factor(0.3, 0.003 / 0.03) == pytest.approx(1.7)


@pytest.mark.published(
    where="Doebelin & Manik, Measurement Systems, Example 4.12, p. 172: noise of 120 ohm at 300 K "
    "over 100 kHz; printed 0.4458 uV and a ratio of 283 to the signal of 126 uV",
    seen=SEEN,
)
def test_example_4_12_thermal_noise():
    noise = instrument_limits.johnson_noise(120.0, 100e3, 300.0 - 273.15)
    # The book takes 1.38e-23 J/K; the exact constant is larger by 0.047 %, its root by half that.
    assert noise * 1e6 == pytest.approx(0.4458 * (1.380649 / 1.38) ** 0.5, abs=5e-5)
    assert 126e-6 / noise == pytest.approx(283, abs=0.5)
