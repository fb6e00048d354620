"""The simulated installation and recorder: signs, sizes and honest draws."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gaugewright.records.stated import Meaning, Stated
from gaugewright.sources.simulated.installation import TrueGauge, TrueLead, drawn, stream
from gaugewright.sources.simulated.instrument import (
    Completion,
    Digitiser,
    WiredBridge,
    bridge_ratio,
    plug_insulation,
    plug_resistances,
)

EXACT = Completion(120.0, 1000.0, 1000.0, 1e12)
DRY = (1e12, 1e12)


def gauge(**changes: object) -> TrueGauge:
    given_: dict[str, object] = {
        "resistance": 120.0,
        "gauge_factor": 2.0,
        "gauge_factor_slope": 0.0,
        "transverse": 0.0,
        "card_poisson": 0.285,
        "card_temperature_degc": 23.0,
        "transfer": 1.0,
        "angle_error": 0.0,
        "thermal_coefficients": (0.0,),
        "thermal_gauge_factor": 2.0,
        "thermal_slope_error": 0.0,
        "card_expansion": 11e-6,
        "curvature": 0.0,
    }
    return TrueGauge(**{**given_, **changes})  # type: ignore[arg-type]


def wired(grid: float, wire: float = 0.0, **changes: object) -> WiredBridge:
    given_: dict[str, object] = {
        "grid": grid,
        "wires": np.full(3, max(wire, 1e-9)),
        "leaks": DRY,
        "completion": EXACT,
    }
    return WiredBridge(**{**given_, **changes})  # type: ignore[arg-type]


@given(strain=st.floats(-0.01, 0.02), wire=st.floats(0.0, 5.0))
def test_a_quarter_bridge_reads_as_its_voltage_divider_and_tension_raises_it(
    strain: float, wire: float
) -> None:
    grid = 120.0 * (1 + 2.0 * strain)
    active, other = grid + wire, 120.0 + wire  # wires A and B lie in neighbouring arms
    found = float(bridge_ratio(wired(grid, wire)))
    assert found == pytest.approx(active / (active + other) - 0.5, abs=2e-10)
    assert strain == 0 or abs(strain) < 1e-6 or np.sign(found) == np.sign(strain)


def test_a_half_bridge_reads_the_first_grid_up_and_the_second_down() -> None:
    up, down = (
        float(bridge_ratio(wired(one, second_grid=two)))
        for one, two in ((120.24, 120.0), (120.0, 120.24))
    )
    assert up == pytest.approx(120.24 / 240.24 - 0.5, abs=1e-9)
    assert down == pytest.approx(-up, rel=1e-3)
    assert up > 0


def test_an_open_grid_goes_up_a_crush_goes_down_off_the_scale() -> None:
    assert float(bridge_ratio(wired(1e12, 1.0))) == pytest.approx(0.5, abs=1e-3)
    assert float(bridge_ratio(wired(120.0, 1.0, crush=(0.01, 0.5)))) < -0.48


def test_pairs_at_the_plug_are_grid_and_wires() -> None:
    pairs = plug_resistances(wired(120.5, 1.3))
    assert pairs == pytest.approx({"A-B": 123.1, "A-C": 123.1, "B-C": 2.6}, rel=1e-6)
    half = plug_resistances(wired(120.5, 1.3, second_grid=119.5))
    assert half == pytest.approx({"A-B": 242.6, "A-C": 123.1, "B-C": 122.1}, rel=1e-6)


def test_an_open_lead_leaves_only_the_pair_without_it() -> None:
    pairs = plug_resistances(wired(120.5, 1.3, wires=np.array([1.3, 1e12, 1.3])))
    assert pairs["A-C"] == pytest.approx(123.1, rel=1e-6)
    assert min(pairs["A-B"], pairs["B-C"]) > 1e9


def test_insulation_is_both_leaks_side_by_side_and_a_leak_lowers_the_reading() -> None:
    leaking = wired(120.0, 1.0, leaks=(3e6, 6e6))
    assert plug_insulation(leaking) == pytest.approx(2e6, rel=1e-4)
    assert plug_insulation(wired(120.0, second_grid=120.0, leaks=(3e6, 6e6))) == pytest.approx(
        2e6, rel=1e-3
    )
    # 9 Mohm across 120 ohm: a quarter of its share, downwards.
    step = float(bridge_ratio(leaking) - bridge_ratio(wired(120.0, 1.0)))
    assert step == pytest.approx(-120.0 / 9e6 / 4, rel=0.03)


def test_a_gauge_of_one_factor_turns_strain_into_resistance() -> None:
    assert float(gauge().resistance_at(1e-3, -3e-4, 23.0, 11e-6)) == pytest.approx(120.24)


def test_warm_metal_that_expands_more_than_the_card_raises_the_reading() -> None:
    # 10 K on 12e-6 against 11e-6 per kelvin: 10 millionths of strain.
    ohm = float(gauge().resistance_at(0.0, 0.0, 33.0, 12e-6))
    assert (ohm / 120.0 - 1) / 2.0 == pytest.approx(1e-5, rel=1e-9)


def test_transverse_strain_reads_nothing_new_on_the_metal_of_the_card() -> None:
    ohm = float(gauge(transverse=0.02).resistance_at(1e-3, -0.285e-3, 23.0, 11e-6))
    assert ohm == pytest.approx(120.24, rel=1e-12)


def test_a_crooked_gauge_reads_low() -> None:
    ohm = float(gauge(angle_error=np.radians(10)).resistance_at(1e-3, -0.3e-3, 23.0, 11e-6))
    assert (ohm / 120.0 - 1) / 2e-3 == pytest.approx(1 - 1.3 * np.sin(np.radians(10)) ** 2)


def test_copper_gains_four_tenths_of_a_percent_a_kelvin() -> None:
    lead = TrueLead((2.0, 2.0, 2.0), 20.0, (1.0, 1.1, 1.0))
    assert lead.at(10.0).tolist() == pytest.approx([2.0786, 2.08646, 2.0786])


@pytest.mark.parametrize(
    ("meaning", "sigma"),
    [
        (Meaning.ONE_SIGMA, 1.0),
        (Meaning.TWO_SIGMA, 1 / 2),
        (Meaning.THREE_SIGMA, 1 / 3),
        (Meaning.LIMIT, 1 / np.sqrt(3)),
        (Meaning.UNKNOWN, 1 / np.sqrt(3)),
        (Meaning.TRIANGULAR, 1 / np.sqrt(6)),
    ],
)
def test_draws_spread_as_the_statement_means(meaning: Meaning, sigma: float) -> None:
    rng = stream(1, meaning.value)
    values = np.array([drawn(Stated(5.0, 0.3, meaning), rng) for _ in range(20_000)])
    # 4 standard errors of a mean and of a standard deviation of 20 000 draws.
    assert values.mean() == pytest.approx(5.0, abs=4 * 0.3 * sigma / np.sqrt(20_000))
    assert values.std() == pytest.approx(0.3 * sigma, rel=4 / np.sqrt(2 * 20_000))
    if sigma in (1 / np.sqrt(3), 1 / np.sqrt(6)):
        assert np.abs(values - 5.0).max() <= 0.3


def test_a_value_stated_without_doubt_is_itself() -> None:
    assert drawn(Stated(5.0), stream(1, "x")) == 5.0


def test_streams_of_two_names_differ_and_one_name_repeats() -> None:
    first, same, other = (stream(7, name).uniform() for name in ("a", "a", "b"))
    assert first == same != other


def test_the_converter_keeps_to_its_steps_and_says_where_it_ends() -> None:
    converter = Digitiser(1.0, 0.0, 0.0, 0.0, 0.5, 2.0)
    read, beyond = converter.read(np.array([0.6, 9.0, -9.0]), np.arange(3.0), stream(1, "n"))
    assert read.tolist() == [0.5, 2.0, -2.0]
    assert beyond.tolist() == [0.0, 1.0, -1.0]
