"""The chain as a whole: composition, cutting, uncertainty against Monte Carlo, round trips."""

import json
import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gaugewright.calc.chain import Chain, Influence, Stage
from gaugewright.calc.chain_rows import Shared
from gaugewright.calc.joint import covariance
from gaugewright.calc.monte_carlo import (
    first_order_agrees,
    monte_carlo,
    numerical_tolerance,
)
from gaugewright.calc.uncertainty import InputQuantity, Uncertain
from gaugewright.errors import InputError

of = Stage.of
INPUTS = (
    InputQuantity("gain", 0.001, basis="stated", meaning="gain of the instrument"),
    InputQuantity("gauge factor, lot", 0.008, distribution="rectangular", basis="stated"),
    InputQuantity("gauge factor, own", 0.003),
    InputQuantity("lead", 0.1, degrees_of_freedom=4, distribution="t"),
    InputQuantity("technique", 0.015, basis="assumed"),
    InputQuantity("thermometer", 0.3),
    InputQuantity("slope", 0.75e-6, distribution="triangular"),
    InputQuantity("zero", 4e-6),
)
INFLUENCES = (
    Influence("gain", "gain"),
    Influence("gauge_factor", "gauge factor, lot"),
    Influence("gauge_factor", "gauge factor, own"),
    Influence("lead_resistance", "lead"),
    Influence("installation_factor", "technique"),
    Influence("temperature_degc", "thermometer"),
    Influence("temperature_zero_degc", "thermometer"),
    Influence("slope_error", "slope"),
    Influence("zero_offset", "zero"),
)
STAGES = (
    of("reading in strain, linear instrument@1", set_gauge_factor=2.0, gain=1.0),
    of("quarter bridge@1"),
    of("reference zero@1", arm_change_zero=0.0),
    of("lead loss, three wires@1", gauge_resistance=119.8, lead_resistance=1.35),
    of(
        "gauge factor@1",
        gauge_factor=2.12,
        gauge_factor_slope=1e-4,
        reference_temperature_degc=24.0,
    ),
    of("large strain, not declared@1", strain_limit=0.01),
    of("installation@1", installation_factor=1.0),
    of("alignment@1", poisson_ratio=0.3, mean_squared_sine=0.0012),
    of(
        "transverse, uniaxial@1",
        transverse_sensitivity=0.01,
        poisson_ratio=0.3,
        card_poisson_ratio=0.285,
    ),
    of(
        "thermal output@1",
        c0=-30e-6,
        c1=2e-6,
        c2=-5e-8,
        c3=2e-10,
        c4=0.0,
        card_gauge_factor=2.0,
        gauge_factor=2.12,
        thermal_expansion=11.5e-6,
        card_thermal_expansion=11e-6,
        slope_error=0.0,
        temperature_zero_degc=22.0,
        span_low_degc=0.0,
        span_high_degc=80.0,
    ),
    of("zero stability@1", zero_offset=0.0),
    of("insulation@1", leak_strain=0.0),
    of("flat to bar@1", net_area=189e-6, area=201e-6),
    of("initial strain@1", initial_strain=-45e-6),
)
CHAIN = Chain.of(STAGES, INPUTS, INFLUENCES)
SMALL = Chain(STAGES[:3])


def by_hand(reading, temperature):
    """The same reduction written as one person would on paper, from the job's formulas."""
    v = reading * 2.0 / 4
    arm = 4 * v / (1 - 2 * v)
    grid = arm * (119.8 + 1.35) / 119.8
    strain = grid / (2.12 * (1 + 1e-4 * (temperature - 24.0)))
    strain = strain / (1 - 1.3 * 0.0012)
    strain = strain * (1 - 0.285 * 0.01) / (1 - 0.3 * 0.01)
    curve = np.polynomial.Polynomial([-30e-6, 2e-6, -5e-8, 2e-10])
    card = (curve(temperature) - curve(22.0)) * 2.0 / 2.12
    strain = strain - (card + (11.5e-6 - 11e-6) * (temperature - 22.0))
    return strain * 189 / 201 - 45e-6


def test_the_chain_does_what_is_done_on_paper():
    reading = np.linspace(-2e-3, 3e-3, 11)
    temperature = np.linspace(10.0, 40.0, 11)
    ours = CHAIN.strain(reading, {"temperature_degc": temperature})
    np.testing.assert_allclose(ours, by_hand(reading, temperature), rtol=1e-12, atol=1e-17)


readings = st.floats(-4e-3, 4e-3) | st.just(math.nan) | st.floats(-0.5, 0.5)
temperatures = st.floats(-20.0, 100.0) | st.just(math.nan)


@given(st.lists(st.tuples(readings, temperatures), max_size=60), st.data())
def test_cutting_the_rows_anywhere_changes_no_bit(rows, data):
    reading = np.array([r for r, _ in rows])
    temperature = np.array([t for _, t in rows])
    whole = CHAIN.strain(reading, {"temperature_degc": temperature})
    cuts = sorted(data.draw(st.lists(st.integers(0, len(rows)), max_size=5)))
    parts = [
        CHAIN.strain(reading[a:b], {"temperature_degc": temperature[a:b]})
        for a, b in zip([0, *cuts], [*cuts, len(rows)], strict=True)
    ]
    assert np.concatenate(parts).tobytes() == whole.tobytes()


@pytest.mark.parametrize("law", ["constant gauge factor", "constant-volume grid"])
def test_long_records_are_the_same_whole_in_blocks_and_with_gaps_between_rows(law):
    stages = list(STAGES)
    stages[5] = of(f"large strain, {law}@1", gauge_factor=2.12, law_error=0.1)
    chain = Chain(tuple(stages))
    generator = np.random.default_rng(3)
    reading, warm = generator.uniform(-0.02, 0.1, 70_001), generator.uniform(1, 79, 70_001)
    whole = chain.strain(reading, {"temperature_degc": warm})
    for size in (1, 7, 4096, 65_536):
        rows = slice(65_530, 65_530 + 4 * size) if size < 10 else slice(size, None)
        part = chain.strain(reading[rows], {"temperature_degc": warm[rows]})
        assert part.tobytes() == whole[rows].tobytes()
    # Every third row, not contiguous in memory, and the last row alone as a plain number.
    part = chain.strain(reading[::3], {"temperature_degc": warm[::3]})
    assert part.tobytes() == whole[::3].tobytes()
    assert chain.strain(reading[-1], {"temperature_degc": warm[-1]}).item() == whole[-1]


def test_one_number_serves_as_a_column_and_the_shape_is_kept():
    reading = np.full((2, 3), 1e-3)
    strain = CHAIN.strain(reading, {"temperature_degc": 25.0})
    assert strain.shape == (2, 3)
    assert strain.ravel().tolist() == [CHAIN.strain(1e-3, {"temperature_degc": 25.0}).item()] * 6


def test_no_rows_give_no_rows():
    assert CHAIN.strain([], {"temperature_degc": []}).shape == (0,)
    assert CHAIN.uncertain([], {"temperature_degc": []}).standard_uncertainty().shape == (0,)
    assert CHAIN.stopped([], {"temperature_degc": []}) == ()


def test_what_was_given_is_left_as_it_was():
    reading, temperature = np.full(5, 1e-3), np.full(5, 25.0)
    Chain(()).strain(reading, {})[:] = 7.0
    CHAIN.strain(reading, {"temperature_degc": temperature})
    CHAIN.disturbed(reading, {"temperature_degc": temperature}, {"thermometer": np.ones(5)})
    assert (reading == 1e-3).all()
    assert (temperature == 25.0).all()


def test_the_trail_leads_from_the_reading_to_the_strain():
    reading, columns = np.array([1e-3, np.nan]), {"temperature_degc": np.array([25.0, 30.0])}
    trail = CHAIN.trail(reading, columns)
    assert [step.kind for step in trail] == [stage.kind for stage in STAGES]
    for step, following in pairwise(trail):
        assert step.after is following.before
    assert trail[0].before.tobytes() == reading.tobytes()
    assert trail[-1].after.tobytes() == CHAIN.strain(reading, columns).tobytes()


def test_what_stops_a_value_is_named_with_its_rows():
    reading = np.array([1e-3, 1.1, 1e-3, 1e-3, 1e-3, 0.05, np.nan])
    temperature = np.array([25.0, 25.0, -5.0, 99.0, np.nan, 25.0, 25.0])
    stopped = CHAIN.stopped(reading, {"temperature_degc": temperature})
    assert [(s.kind, s.first_row, s.last_row) for s in stopped] == [
        ("quarter bridge@1", 1, 1),
        ("gauge factor@1", 4, 4),
        ("large strain, not declared@1", 5, 5),
        ("thermal output@1", 2, 3),
    ]
    assert all(s.why for s in stopped)


def test_the_value_with_uncertainty_is_the_value_to_the_last_bit():
    reading = np.linspace(-2e-3, 3e-3, 301)
    columns = {"temperature_degc": np.linspace(10.0, 40.0, 301)}
    value = CHAIN.uncertain(reading, columns, noise=1e-6).value
    assert value.tobytes() == CHAIN.strain(reading, columns).tobytes()


@settings(deadline=None)
@given(st.floats(-3e-3, 3e-3), st.floats(5.0, 60.0))
def test_sensitivities_agree_with_small_disturbances(reading, temperature):
    columns = {"temperature_degc": temperature}
    found = CHAIN.uncertain(reading, columns)
    for quantity in INPUTS:
        step = 1e-3 * quantity.standard_uncertainty
        up, down = (CHAIN.disturbed(reading, columns, {quantity.name: s}) for s in (step, -step))
        expected = (up - down).item() / (2 * step)
        close = pytest.approx(expected, rel=1e-5, abs=1e-16 / step)
        assert found.sensitivities[quantity.name].item() == close


def test_noise_passes_with_the_slope_of_the_chain():
    columns = {"temperature_degc": 25.0}
    quiet = Chain(tuple(Stage(s.kind, s.on, s.reason, s.parameters) for s in STAGES))
    found = quiet.uncertain(1e-3, columns, noise=2e-6).standard_uncertainty().item()
    up, down = (quiet.strain(1e-3 + step, columns).item() for step in (1e-6, -1e-6))
    assert found == pytest.approx(abs(up - down), rel=1e-6)


@pytest.mark.parametrize("reading", [1.5e-3, -0.8e-3])
def test_monte_carlo_of_the_whole_chain_confirms_the_linear_budget(reading):
    columns = {"temperature_degc": 31.0}
    normal = tuple(
        InputQuantity(q.name, q.standard_uncertainty) for q in INPUTS
    )  # all normal: intervals may then be compared end by end
    chain = Chain.of(STAGES, normal, INFLUENCES)
    linear = chain.uncertain(reading, columns)
    u = linear.standard_uncertainty().item()
    delta = numerical_tolerance(u, digits=2)
    referee = monte_carlo(
        lambda shifts: chain.disturbed(reading, columns, shifts),
        chain.inputs,
        np.random.default_rng(20261125),
        tolerance=delta / 2,
    )
    assert referee.standard_uncertainty == pytest.approx(u, rel=0.01)
    agreement = first_order_agrees(
        linear.value.item(), linear.expanded().item(), referee, tolerance=delta
    )
    assert agreement.agrees, agreement


def test_a_zero_from_a_reading_reads_nothing_at_the_zero():
    chain = CHAIN.zeroed(3.1e-4, {})
    trail = chain.trail(3.1e-4, {"temperature_degc": 22.0})
    assert {step.kind: step.after.item() for step in trail}["reference zero@1"] == 0.0


def test_a_gain_that_is_wrong_in_zero_and_reading_counts_on_their_difference_only():
    chain = CHAIN.zeroed(1e-3, {})
    columns = {"temperature_degc": 22.0}
    at_zero = chain.uncertain(1e-3, columns)
    assert at_zero.contributions()["gain"].item() == pytest.approx(0.0, abs=1e-12)
    later = chain.uncertain(2e-3, columns).contributions()["gain"].item()
    step = chain.strain(2e-3, columns) - chain.strain(1e-3, columns)
    # First order in the strain itself: the bridge is bent by one part in a thousand.
    assert abs(later) == pytest.approx(0.001 * step.item(), rel=5e-3)


def test_a_later_zero_takes_the_place_of_an_earlier_one():
    own = InputQuantity("first zero", 1e-6)
    first = CHAIN.zeroed(Uncertain.from_input(9e-4, own), {})
    again, once = first.zeroed(3.1e-4, {}), CHAIN.zeroed(3.1e-4, {})
    assert again.stages == once.stages


def test_a_zero_keeps_what_disturbs_the_other_numbers_of_its_stage():
    poisson = (Influence("poisson_ratio", "nu"),)
    chain = Chain(
        (
            of("reading in ratio@1", scale=1.0, gain=1.0),
            of("half bridge, Poisson pair@1", poisson_ratio=0.3),
            of(
                "reference zero, Poisson pair@1",
                arm_change_zero=0.0,
                poisson_ratio=0.3,
                influences=poisson,
            ),
        ),
        (InputQuantity("nu", 0.01),),
    ).zeroed(2e-4, {})
    reference = chain.stages[2]
    assert poisson[0] in reference.influences
    assert dict(reference.parameters)["poisson_ratio"] == 0.3
    # The zero owes to Poisson's ratio as well: x0 = 4r/((1 + ν) - 2(1 - ν)r), by hand.
    r = 2e-4
    slope = -4 * r * (1 + 2 * r) / (1.3 - 2 * 0.7 * r) ** 2
    carried = {i.parameter: i.coefficient for i in reference.influences}
    assert carried["arm_change_zero"] == pytest.approx(slope, rel=1e-12)


def test_the_uncertainty_of_the_zero_reading_is_carried_along():
    own = InputQuantity("zero reading", 1e-6, degrees_of_freedom=9)
    chain = CHAIN.zeroed(Uncertain.from_input(1e-4, own), {})
    assert own in chain.inputs
    found = chain.uncertain(1.1e-3, {"temperature_degc": 25.0}).contributions()["zero reading"]
    up, down = (
        CHAIN.zeroed(1e-4 + s, {}).strain(1.1e-3, {"temperature_degc": 25.0}).item()
        for s in (1e-6, -1e-6)
    )
    assert found.item() == pytest.approx((up - down) / 2, rel=1e-6)
    with pytest.raises(InputError, match=r"^reading"):
        CHAIN.zeroed(2.0, {})


def test_two_gauges_of_one_lot_share_the_lot_and_the_thermometer_only():
    def gauge(own):
        inputs = tuple(q for q in INPUTS if q.name in ("gauge factor, lot", "thermometer"))
        part = InputQuantity(own, 0.003)
        influences = [i for i in INFLUENCES if i.input_name in {q.name for q in inputs}]
        return Chain.of(STAGES, (*inputs, part), (*influences, Influence("gauge_factor", own)))

    columns = {"temperature_degc": 25.0}
    first, second = (gauge(name).uncertain(1e-3, columns) for name in ("one", "two"))
    shared = covariance(first, second).item()
    expected = sum(
        first.contributions()[name].item() * second.contributions()[name].item()
        for name in ("gauge factor, lot", "thermometer")
    )
    assert shared == pytest.approx(expected, rel=1e-12)
    difference = (first - second).standard_uncertainty().item()
    own = first.contributions()["one"].item()
    assert difference == pytest.approx(math.sqrt(2) * abs(own), rel=1e-6)


def test_a_chain_survives_json_with_sorted_keys():
    plain = json.loads(json.dumps(CHAIN.as_plain(), sort_keys=True, allow_nan=False))
    assert Chain.from_plain(plain) == CHAIN
    off = CHAIN.step_off("transverse, uniaxial@1", "negligible here")
    assert Chain.from_plain(json.loads(json.dumps(off.as_plain()))) == off


@pytest.mark.parametrize("key", ["stages", "inputs"])
def test_a_chain_that_lost_a_part_is_refused(key):
    plain = CHAIN.as_plain()
    del plain[key]
    with pytest.raises(InputError, match=r"^chain is"):
        Chain.from_plain(plain)


def test_a_stage_of_a_later_version_is_refused():
    plain = CHAIN.as_plain()
    plain["stages"][1]["kind"] = "quarter bridge@2"
    with pytest.raises(InputError, match="later version"):
        Chain.from_plain(plain)


def test_a_stage_that_is_off_changes_nothing_and_keeps_its_reason():
    off = CHAIN.step_off("flat to bar@1", "strain wanted at the gauge")
    columns = {"temperature_degc": 25.0}
    at_gauge = (CHAIN.strain(1e-3, columns).item() + 45e-6) * 201 / 189 - 45e-6
    assert off.strain(1e-3, columns).item() == pytest.approx(at_gauge, rel=1e-12)
    assert off.stage("flat to bar@1").reason == "strain wanted at the gauge"
    assert off.step_on("flat to bar@1") == CHAIN
    with pytest.raises(InputError, match="say why"):
        CHAIN.step_off("flat to bar@1", " ")
    with pytest.raises(InputError, match=r"^kind is 'dummy@1'"):
        CHAIN.step_off("dummy@1", "none")


def test_influences_of_a_stage_that_is_off_do_not_count():
    off = CHAIN.step_off("installation@1", "calibrated")
    assert "technique" not in off.uncertain(1e-3, {"temperature_degc": 25.0}).inputs


def test_only_the_columns_of_stages_that_are_on_are_needed():
    assert CHAIN.columns == ("temperature_degc",)
    assert SMALL.columns == ()
    assert SMALL.strain(0.0, {}).item() == 0.0


@pytest.mark.parametrize("columns", [{}, {"temperature": 20.0}])
def test_a_missing_column_is_named(columns):
    with pytest.raises(InputError, match="temperature_degc is missing"):
        CHAIN.strain(1e-3, columns)


def test_a_column_of_another_length_is_refused():
    with pytest.raises(InputError, match=r"^shape of temperature_degc is \(3,\)"):
        CHAIN.strain(np.zeros(2), {"temperature_degc": np.zeros(3)})


def test_an_uncertain_reading_brings_its_own_noise():
    reading = Uncertain.noisy([1e-3], 1e-6)
    columns = {"temperature_degc": 25.0}
    ours = CHAIN.uncertain(reading, columns).standard_uncertainty()
    assert ours == pytest.approx(CHAIN.uncertain([1e-3], columns, 1e-6).standard_uncertainty())
    with pytest.raises(InputError, match=r"^noise"):
        CHAIN.uncertain(reading, columns, noise=1e-6)


def test_what_comes_out_is_strain_or_force():
    assert CHAIN.quantity == "strain"
    force = Chain(
        (*STAGES[:3], of("calibration to force@1", calibration_slope=2e7, calibration_offset=0.0))
    )
    assert force.quantity == "force"
    assert force.strain(1e-3, {}).item() == pytest.approx(2e7 * SMALL.strain(1e-3, {}).item())


def test_an_influence_on_nothing_is_refused():
    with pytest.raises(InputError, match="shunt_factor"):
        Chain.of(STAGES, INPUTS, [Influence("shunt_factor", "gain")])


def test_influences_act_in_every_stage_that_uses_the_parameter_wherever_they_are_named():
    factor = (Influence("gauge_factor", "gauge factor, lot"),)
    columns = {"temperature_degc": 55.0}
    handed_on = Chain.of(STAGES, INPUTS, factor).uncertain(1e-3, columns)
    for named_in in ("gauge factor@1", "thermal output@1"):
        stages = tuple(
            Stage(s.kind, s.on, s.reason, s.parameters, factor if s.kind == named_in else ())
            for s in STAGES
        )
        found = Chain(stages, INPUTS).uncertain(1e-3, columns)
        assert found.sensitivities == handed_on.sensitivities


def test_an_influence_named_in_a_stage_that_is_off_still_disturbs_the_others():
    columns = {"temperature_degc": 22.0}

    def chain(poisson_ratio):
        stages = []
        for stage in STAGES:
            numbers = dict(stage.parameters)
            if "poisson_ratio" in numbers:
                numbers["poisson_ratio"] = poisson_ratio
            named = stage.kind == "transverse, uniaxial@1"
            influences = (Influence("poisson_ratio", "gain"),) if named else ()
            stages.append(of(stage.kind, influences=influences, **numbers))
        return Chain(tuple(stages), INPUTS).step_off("transverse, uniaxial@1", "negligible")

    slope = (chain(0.301).strain(1e-3, columns) - chain(0.299).strain(1e-3, columns)).item() / 0.002
    found = chain(0.3).uncertain(1e-3, columns).sensitivities["gain"].item()
    assert found == pytest.approx(slope, rel=1e-6)


def test_what_channels_share_is_worked_out_once_and_changes_no_bit():
    rng = np.random.default_rng(8)
    warm, reading = rng.normal(25.0, 8.0, 20_000), rng.normal(0.0, 2e-3, 20_000)
    warm[100:140] = np.nan
    columns = {"temperature_degc": warm}
    alone = CHAIN.strain(reading, columns)
    shared = Shared()
    again = [CHAIN.strain(reading, columns, shared=shared) for _ in range(2)]
    other = CHAIN.strain(reading, {"temperature_degc": warm + 1}, shared=shared)
    assert all(one.tobytes() == alone.tobytes() for one in again)
    assert other.tobytes() == CHAIN.strain(reading, {"temperature_degc": warm + 1}).tobytes()


def test_parts_kept_for_other_channels_are_few_and_known_by_their_array():
    asked = []
    shared, step = Shared(at_most=2), next(s for s in CHAIN._ready if s.kind.split)

    def part(column):
        return shared.part(step, (column,), lambda: asked.append(1) or column + 1)

    columns = [np.full(3, float(n)) for n in range(3)]
    assert [part(column)[0] for column in columns] == [1.0, 2.0, 3.0]
    assert part(columns[2])[0] == 3.0
    assert len(asked) == 3
    assert part(columns[0])[0] == 1.0
    assert len(asked) == 4
