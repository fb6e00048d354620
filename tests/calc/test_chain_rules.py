"""Chains that are refused, and the sentence that says why."""

import math

import pytest

from gaugewright.calc.chain import Chain, Influence, Stage
from gaugewright.calc.uncertainty import InputQuantity
from gaugewright.errors import Faults, InputError

of = Stage.of
READING = of("reading in ratio@1", scale=1e-3, gain=1.0)
QUARTER = of("quarter bridge@1")
ZERO = of("reference zero@1", arm_change_zero=0.0)
LEAD = of("lead loss, three wires@1", gauge_resistance=120.0, lead_resistance=1.0)
TWO_WIRES = of("lead loss, two wires@1", gauge_resistance=120.0, lead_resistance=1.0)
SHUNT = of("shunt scaling@1", shunt_factor=1.01)
FACTOR = of(
    "gauge factor, one temperature@1",
    gauge_factor=2.1,
    gauge_factor_slope=0.0,
    reference_temperature_degc=20.0,
    test_temperature_degc=20.0,
)
LIMIT = of("large strain, not declared@1", strain_limit=0.01)
CALIBRATION = of("calibration@1", calibration_slope=0.47, calibration_offset=0.0)
FORCE = of("calibration to force@1", calibration_slope=2e7, calibration_offset=0.0)
FLAT = of("flat to bar@1", net_area=1.8e-4, area=2.0e-4)
ALIGNMENT = of("alignment@1", poisson_ratio=0.3, mean_squared_sine=0.001)
THERMAL = of(
    "thermal output@1",
    **dict.fromkeys(("c0", "c1", "c2", "c3", "c4", "slope_error"), 0.0),
    card_gauge_factor=2.0,
    gauge_factor=2.1,
    thermal_expansion=11e-6,
    card_thermal_expansion=11e-6,
    temperature_zero_degc=20.0,
    span_low_degc=0.0,
    span_high_degc=60.0,
)
DUMMY = of("dummy@1")
START = (READING, QUARTER, ZERO)
WHOLE = (*START, LEAD, FACTOR, LIMIT)


def test_a_sound_chain_is_taken():
    assert Chain(WHOLE).quantity == "strain"
    assert Chain(()).stages == ()
    assert len(Chain((*START, CALIBRATION)).stages) == 4


@pytest.mark.parametrize(
    ("stages", "words"),
    [
        ((READING, ZERO, QUARTER), r"'quarter bridge@1'; it must be before 'reference zero@1'"),
        ((*WHOLE, LIMIT), r"'large strain, not declared@1'; it must be in the chain once"),
        ((*START, LEAD, SHUNT, FACTOR, LIMIT), "lead loss or shunt scaling, never both"),
        ((*START, LEAD, TWO_WIRES, FACTOR, LIMIT), "never both: they make good the same loss"),
        ((*START, LEAD, CALIBRATION), "lead loss.*it must be off with 'calibration@1'"),
        ((*START, SHUNT, CALIBRATION), "shunt scaling.*it must be off with 'calibration@1'"),
        ((*START, CALIBRATION, FLAT), "flat to bar.*it must be off with 'calibration@1'"),
        ((*START, CALIBRATION, ALIGNMENT), "alignment.*it must be off with 'calibration@1'"),
        ((*START, CALIBRATION, FACTOR, LIMIT), "gauge factor or calibration, never both"),
        ((*START, FORCE, of("zero stability@1", zero_offset=0.0)), "after a calibration to force"),
        ((*WHOLE, THERMAL, DUMMY), "thermal output or dummy, never both"),
        ((READING, QUARTER, LEAD, FACTOR, LIMIT), "lead loss.*it must be after a declared zero"),
        ((READING, ZERO, FACTOR, LIMIT), "reference zero@1'; it must be after the bridge"),
        ((QUARTER, ZERO), "quarter bridge@1'; it must be after a stage that says what the reading"),
        ((*START, LEAD, LIMIT), "large strain.*it must be after a gauge factor or a calibration"),
        ((*START, LEAD, FACTOR), "large strain is not given; it must be declared"),
        (
            (
                *START,
                FACTOR,
                LIMIT,
                of(
                    "lead temperature, two wires@1",
                    lead_resistance=1.0,
                    lead_temperature_coefficient=0.0039,
                    gauge_factor=2.1,
                    gauge_resistance=120.0,
                    lead_temperature_zero_degc=20.0,
                ),
            ),
            "after lead loss or shunt scaling",
        ),
        (
            (READING, of("half bridge, bending pair@1"), ZERO),
            "reference zero@1'; it must be 'reference zero, difference', the zero of 'half bridge",
        ),
        (
            (
                of("reading in strain, linearising instrument@1", set_gauge_factor=2.0, gain=1.0),
                QUARTER,
                ZERO,
            ),
            "the reading is the change of the arm already",
        ),
        (
            (
                *WHOLE,
                of("drift, reference channel@1"),
                of(
                    "drift, between two zeros@1",
                    time_first_zero=0.0,
                    time_last_zero=1.0,
                    drift_strain=0.0,
                ),
            ),
            "one drift correction",
        ),
    ],
)
def test_a_chain_that_contradicts_itself_is_refused(stages, words):
    with pytest.raises(InputError, match=words):
        Chain(stages)


def test_alternatives_may_stay_in_the_chain_switched_off_with_a_reason():
    off = Stage(SHUNT.kind, False, "no shunt was read", SHUNT.parameters)
    chain = Chain((*START, LEAD, off, FACTOR, LIMIT))
    with pytest.raises(InputError, match="never both"):
        chain.step_on(SHUNT.kind)
    swapped = Chain.from_plain(chain.as_plain()).stages
    assert swapped == chain.stages


def test_what_others_need_can_not_be_switched_off():
    with pytest.raises(InputError, match="after a declared zero"):
        Chain(WHOLE).step_off("reference zero@1", "try")


def test_a_linearising_instrument_needs_no_bridge():
    first = of("reading in strain, linearising instrument@1", set_gauge_factor=2.0, gain=1.0)
    chain = Chain((first, ZERO, FACTOR, LIMIT))
    assert chain.strain(1e-3, {}).item() == pytest.approx(2e-3 / 2.1)


def test_a_resistance_needs_no_bridge():
    first = of("reading in resistance@1", gauge_resistance=120.0, gain=1.0)
    zeroed = Chain((first, ZERO, FACTOR, LIMIT)).zeroed(120.3, {})
    found = zeroed.strain(120.3 * 1.0021, {}).item()
    assert found == pytest.approx(0.001, rel=1e-10)


def test_off_without_a_reason_is_refused():
    with pytest.raises(InputError, match=r"^shunt scaling@1: reason is empty.*say why"):
        Stage(SHUNT.kind, False, "", SHUNT.parameters)


@pytest.mark.parametrize(
    ("stage", "words"),
    [
        (of("shunt scaling@1"), r"^shunt scaling@1: shunt_factor is not given; it must"),
        (of("shunt scaling@1", shunt_factor=math.nan), r"shunt_factor is nan.*positive number"),
        (of("shunt scaling@1", shunt_factor=math.inf), r"shunt_factor is inf"),
        (of("shunt scaling@1", shunt_factor=-1.0), r"shunt_factor is -1.0"),
        (of("quarter bridge@1", gauge_factor=2.0), r"gauge_factor is 2.0.*no such parameter"),
    ],
)
def test_a_parameter_that_is_missing_wrong_or_unknown_is_named(stage, words):
    stages = (READING, stage) if "bridge" in stage.kind else (*START, stage)
    with pytest.raises(InputError, match=words):
        Chain(stages)


def test_a_parameter_given_twice_is_refused():
    with pytest.raises(InputError, match="given once each"):
        Stage("shunt scaling@1", True, "", (("shunt_factor", 1.0), ("shunt_factor", 2.0)))


def test_one_quantity_has_one_value_in_the_whole_chain():
    other = dict(THERMAL.parameters) | {"gauge_factor": 2.0}
    with pytest.raises(
        InputError, match=r"gauge_factor is 2.0; it must be 2.1, as in 'gauge factor"
    ):
        Chain((*WHOLE, of("thermal output@1", **other)))


LOT = InputQuantity("lot", 0.01)


def test_one_influence_on_one_parameter_has_one_coefficient():
    influenced = Stage(
        FACTOR.kind, True, "", FACTOR.parameters, (Influence("gauge_factor", "lot"),)
    )
    other = Stage(
        THERMAL.kind, True, "", THERMAL.parameters, (Influence("gauge_factor", "lot", 2.0),)
    )
    with pytest.raises(
        InputError, match=r"coefficient of 'lot' on gauge_factor is 2.0.*1.0, as in"
    ):
        Chain((*START, LEAD, influenced, LIMIT, other), (LOT,))


@pytest.mark.parametrize(
    ("influences", "words"),
    [
        ((Influence("gauge_resistance", "lot"),), "on one of gauge_factor"),
        ((Influence("gauge_factor", "other"),), "one of the chain's inputs"),
        ((Influence("gauge_factor", "lot"), Influence("gauge_factor", "lot")), "given once"),
    ],
)
def test_an_influence_that_fits_nothing_is_refused(influences, words):
    stage = Stage(FACTOR.kind, True, "", FACTOR.parameters, influences)
    with pytest.raises(InputError, match=words):
        Chain((*START, LEAD, stage, LIMIT), (LOT,))


def test_a_choice_can_not_be_uncertain():
    stage = Stage(LIMIT.kind, True, "", LIMIT.parameters, (Influence("strain_limit", "lot"),))
    with pytest.raises(InputError, match="on one of nothing here"):
        Chain((*START, LEAD, FACTOR, stage), (LOT,))


def test_an_input_named_twice_is_refused():
    with pytest.raises(InputError, match=r"^inputs is 'lot'; it must be named once"):
        Chain(WHOLE, (LOT, InputQuantity("lot", 0.02)))


def test_a_coefficient_must_be_a_number():
    with pytest.raises(InputError, match="coefficient on gauge_factor is nan"):
        Influence("gauge_factor", "lot", math.nan)


def test_several_faults_are_told_at_once():
    with pytest.raises(Faults) as caught:
        Chain((of("shunt scaling@1"), of("quarter bridge@3"), of("flat to bar@1", area=-1.0)))
    told = str(caught.value)
    for word in ("shunt_factor", "quarter bridge@3", "net_area", "area is -1.0"):
        assert word in told
    assert len(caught.value.faults) == 4


def test_supply_wires_belong_to_a_full_bridge_only():
    supply = Stage.of("lead loss, supply wires@1", bridge_resistance=350.0, lead_resistance=1.0)
    first = Stage.of("reading in ratio@1", scale=1.0, gain=1.0)
    with pytest.raises(InputError, match="its leads lie in its arms"):
        Chain(
            (
                first,
                Stage.of("quarter bridge@1"),
                Stage.of("reference zero@1", arm_change_zero=0.0),
                supply,
            )
        )
    full = Chain(
        (
            first,
            Stage.of("full bridge, bending@1"),
            Stage.of("reference zero, difference@1", arm_change_zero=0.0),
            supply,
        )
    )
    assert full.strain(1e-3, {}) == pytest.approx(1e-3 * 352 / 350)


def test_clipped_readings_are_left_out_first_and_counted():
    chain = Chain(
        (
            Stage.of("range of the instrument@1", reading_low=-2e-3, reading_high=2e-3),
            Stage.of("reading in ratio@1", scale=1.0, gain=1.0),
            Stage.of("quarter bridge@1"),
        )
    )
    stopped = chain.stopped([0.0, 2e-3, 2e-3, 1e-3], {})
    assert [(s.kind, s.first_row, s.last_row) for s in stopped] == [
        ("range of the instrument@1", 1, 2)
    ]
    with pytest.raises(InputError, match="the order is integrity, reading"):
        Chain(tuple(reversed(chain.stages[:2])))
