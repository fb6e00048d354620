"""Every stage kind: its derivatives against differences, its formula against resistances."""

import csv
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gaugewright.calc.circuit import Network, VoltageSource, solve, voltage_ratio
from gaugewright.calc.stage_kinds import SLOTS
from gaugewright.calc.stages import KINDS, kind_named
from gaugewright.calc.stages_mechanical import mean_squared_sine
from gaugewright.errors import InputError
from gaugewright.quantities import QUANTITIES

# One plausible number for every parameter and column there is, and nothing at a round place.
NUMBERS = {
    "set_gauge_factor": 2.0,
    "gain": 1.003,
    "scale": 1e-3,
    "poisson_ratio": 0.29,
    "arm_change_zero": 0.0013,
    "gauge_resistance": 119.7,
    "lead_resistance": 1.31,
    "shunt_factor": 1.012,
    "bridge_resistance": 352.3,
    "reading_low": -0.01,
    "reading_high": 0.02,
    "calibration_slope": 0.47,
    "calibration_offset": 2e-6,
    "calibration_square": -0.61,
    "calibration_cube": 2.3,
    "calibration_low": -0.5,
    "calibration_high": 0.6,
    "gauge_factor": 2.11,
    "gauge_factor_slope": 1.1e-4,
    "reference_temperature_degc": 23.5,
    "test_temperature_degc": 31.0,
    "strain_limit": 0.01,
    "law_error": 0.15,
    "installation_factor": 1.004,
    "mean_squared_sine": 0.0013,
    "transverse_sensitivity": 0.012,
    "card_poisson_ratio": 0.285,
    "c0": -31e-6,
    "c1": 2.4e-6,
    "c2": -6.1e-8,
    "c3": 3.2e-10,
    "c4": -4e-13,
    "card_gauge_factor": 2.0,
    "thermal_expansion": 11.7e-6,
    "card_thermal_expansion": 10.8e-6,
    "slope_error": 1e-7,
    "temperature_zero_degc": 21.0,
    "span_low_degc": -10.0,
    "span_high_degc": 90.0,
    "lead_temperature_coefficient": 0.00393,
    "lead_temperature_zero_degc": 19.0,
    "time_first_zero": 100.0,
    "time_last_zero": 5100.0,
    "drift_strain": -14e-6,
    "zero_offset": 3e-6,
    "drift_rate": -2e-9,
    "time_zero": 40.0,
    "leak_strain": 2e-6,
    "net_area": 187e-6,
    "area": 201e-6,
    "initial_strain": -80e-6,
    "elastic_modulus": 203e9,
    "diameter": 20.1e-3,
    "bore": 7.3e-3,
}
COLUMNS = {
    "temperature_degc": np.array([15.0, 22.0, 40.0, 61.0]),
    "dummy_strain": np.array([1e-6, -3e-6, 2e-5, 0.0]),
    "lead_temperature_degc": np.array([12.0, 22.0, 35.0, 50.0]),
    "time": np.array([150.0, 900.0, 2500.0, 5000.0]),
    "reference_strain": np.array([0.0, 1e-6, -2e-6, 4e-6]),
}
X = np.array([-2.1e-3, 4e-4, 1.7e-3, 8.3e-3])


def slope(function, at):
    """Derivative by five-point central differences: error of the order of the step to the 4th."""
    step = 1e-3 * np.where(at == 0, 1.0, np.abs(at))
    near, far = (
        function(at + step) - function(at - step),
        function(at + 2 * step) - function(at - 2 * step),
    )
    return (8 * near - far) / (12 * step)


def numbers_for(kind):
    return {parameter.name: NUMBERS[parameter.name] for parameter in kind.parameters}


def columns_for(kind):
    return {name: COLUMNS[name] for name in kind.columns}


@pytest.mark.parametrize("name", KINDS)
def test_derivatives_agree_with_differences(name):
    kind = kind_named(name)
    p, c = numbers_for(kind), columns_for(kind)
    by_value, by_name = kind.partials(X, p, c)
    np.testing.assert_allclose(by_value, slope(lambda x: kind.value(x, p, c), X), rtol=1e-7)
    assert set(by_name) == set(kind.uncertain_names)
    for moved, partial in by_name.items():
        if moved in c:
            expected = slope(lambda v: kind.value(X, p, c | {moved: v}), c[moved])  # noqa: B023
        else:
            expected = slope(lambda v: kind.value(X, p | {moved: v}, c), np.full(4, p[moved]))  # noqa: B023
        noise = (
            1e-13
            * np.max(np.abs(kind.value(X, p, c)))
            / abs(np.min(np.abs(c.get(moved, p.get(moved)))) or 1)
        )
        np.testing.assert_allclose(
            np.broadcast_to(partial, X.shape), expected, rtol=2e-7, atol=1e4 * noise, err_msg=moved
        )


@pytest.mark.parametrize("name", KINDS)
def test_a_missing_sample_stays_in_its_place_and_alone(name):
    kind = kind_named(name)
    p, c = numbers_for(kind), columns_for(kind)
    holed = X.copy()
    holed[1] = np.nan
    value = kind.value(holed, p, c)
    assert np.isnan(value).tolist() == [False, True, False, False]
    for column in c:
        missing = c[column].copy()
        missing[2] = np.nan
        assert np.isnan(kind.value(X, p, c | {column: missing})).tolist() == [
            False,
            False,
            True,
            False,
        ]


@pytest.mark.parametrize("name", KINDS)
def test_parameters_carry_the_units_of_the_quantities(name):
    kind = kind_named(name)
    assert kind.slot in SLOTS
    assert kind.role == "element-wise"
    for parameter in kind.parameters:
        if parameter.name in QUANTITIES:
            assert QUANTITIES[parameter.name].unit == parameter.unit
    for column in kind.columns:
        assert column in QUANTITIES


def test_an_unknown_kind_is_refused_with_the_ones_there_are():
    with pytest.raises(InputError, match=r"quarter bridge@1.*later version"):
        kind_named("quarter bridge@99")


def divider(upper, lower):
    return lower / (upper + lower)


changes = st.floats(-0.2, 0.2)
poisson = st.floats(0.0, 0.5)


@given(changes)
def test_quarter_bridge_undoes_its_resistances(x):
    r = divider(1.0, 1 + x) - 0.5
    found = kind_named("quarter bridge@1").value(np.array([r]), {}, {})
    assert found.item() == pytest.approx(x, abs=1e-12)


@given(changes)
def test_bending_bridges_undo_their_resistances(x):
    r = divider(1 - x, 1 + x) - 0.5
    assert kind_named("half bridge, bending pair@1").value(
        np.array([r]), {}, {}
    ).item() == pytest.approx(x, abs=1e-12)
    r = divider(1 - x, 1 + x) - divider(1 + x, 1 - x)
    assert kind_named("full bridge, bending@1").value(
        np.array([r]), {}, {}
    ).item() == pytest.approx(x, abs=1e-12)


@given(changes, poisson)
def test_poisson_bridges_undo_their_resistances(x, nu):
    p = {"poisson_ratio": nu}
    r = divider(1 - nu * x, 1 + x) - 0.5
    found = kind_named("half bridge, Poisson pair@1").value(np.array([r]), p, {})
    assert found.item() == pytest.approx(x, abs=1e-12)
    r = divider(1 - nu * x, 1 + x) - divider(1 + x, 1 - nu * x)
    found = kind_named("full bridge, Poisson pairs@1").value(np.array([r]), p, {})
    assert found.item() == pytest.approx(x, abs=1e-12)


@given(changes)
def test_opposite_pair_undoes_its_resistances(x):
    r = divider(1.0, 1 + x) - divider(1 + x, 1.0)
    found = kind_named("half bridge, opposite pair@1").value(np.array([r]), {}, {})
    assert found.item() == pytest.approx(x, abs=1e-12)


@pytest.mark.parametrize("name", [n for n, k in KINDS.items() if k.slot == "bridge"])
def test_a_ratio_that_no_resistance_gives_is_missing(name):
    kind = kind_named(name)
    limit = 0.5 if ("quarter" in name or ("half" in name and "opposite" not in name)) else 1.0
    ratio = np.array([limit, -limit, 1.1 * limit, np.inf, 0.0])
    value = kind.value(ratio, numbers_for(kind), {})
    assert np.isnan(value).tolist() == [True, True, True, True, False]
    assert np.isnan(kind.partials(ratio, numbers_for(kind), {})[0]).tolist() == [True] * 4 + [False]


TABLE = Path(__file__).parents[1] / "data" / "circuit_cases.csv"
TWO_OR_THREE_WIRES = [
    case
    for case in csv.DictReader(TABLE.read_text(encoding="utf-8").splitlines())
    if case["family"] in ("quarter two-wire", "quarter three-wire")
    and case["resistance_law"] == "linear"
    and not case["shunt_across"]
    and not case["R_input_ohm"]
]


def test_there_are_wired_cases():
    assert len(TWO_OR_THREE_WIRES) >= 10


@pytest.mark.parametrize("case", TWO_OR_THREE_WIRES, ids=lambda case: case["case_id"])
def test_the_electrical_stages_find_the_strain_of_wired_circuits(case):
    """Ratio from an outside simulator; the zero from the network solver, strain taken out."""
    factor, strain = float(case["gauge_factor"]), float(case["strain_ue"]) * 1e-6
    grid = float(case["R_G1_ohm"]) / (1 + factor * strain)
    elements = [text.split() for text in case["elements"].split(";")]
    network = Network(
        tuple((name, first, second) for name, first, second, _ in elements),
        (VoltageSource("VX", "EP", "EN", 1.0),),
        "EN",
    )
    ohms = np.array([grid if e[0] == "RG" else float(e[3]) for e in elements])
    ends = (case["out_plus"], case["out_minus"], case["ref_plus"], case["ref_minus"])
    at_zero = float(np.ravel(voltage_ratio(solve(network, ohms), *ends))[0])
    if case["excitation"] != "voltage":
        pytest.skip("constant current has another bridge equation")
    quarter = kind_named("quarter bridge@1")
    x, x0 = (
        quarter.value(np.array([r]), {}, {}).item()
        for r in (float(case["v_ratio_exact_V_per_V"]), at_zero)
    )
    p = {"gauge_resistance": grid, "lead_resistance": float(case["r_A_ohm"])}
    wires = "two" if case["family"] == "quarter two-wire" else "three"
    relative = kind_named("reference zero@1").value(np.array([x]), {"arm_change_zero": x0}, {})
    change = kind_named(f"lead loss, {wires} wires@1").value(relative, p, {})
    # The internal half is not exactly a half; what that leaves is of second order.
    half = float(case["R_half_lower_ohm"]) / (
        float(case["R_half_upper_ohm"]) + float(case["R_half_lower_ohm"])
    )
    left = 4.5 * abs(half - 0.5) * abs(strain)
    assert change.item() / factor == pytest.approx(strain, abs=left + 1e-10)


@given(st.floats(-0.05, 0.2))
def test_a_constant_volume_grid_reads_the_hyperbolic_tangent_of_the_logarithmic_strain(strain):
    # With k = 2 a straight-line instrument set to 2 shows tanh(ln(1 + ε)): job of the stages
    # is to lead from there back to ε.
    shown = np.array([np.tanh(np.log1p(strain))])
    r = kind_named("reading in strain, linear instrument@1").value(
        shown, {"set_gauge_factor": 2.0, "gain": 1.0}, {}
    )
    x = kind_named("quarter bridge@1").value(r, {}, {})
    law = kind_named("large strain, constant-volume grid@1")
    found = law.value(x / 2.0, {"gauge_factor": 2.0, "law_error": 0.0}, {})
    assert found.item() == pytest.approx(strain, abs=1e-12)


def test_the_doubt_between_the_two_laws_leads_from_one_to_the_other():
    constant = kind_named("large strain, constant gauge factor@1")
    volume = kind_named("large strain, constant-volume grid@1")
    x = np.array([-0.02, 0.0, 0.02, 0.1])

    def law(kind, error):
        return kind.value(x, {"gauge_factor": 2.1, "law_error": error}, {})

    np.testing.assert_allclose(law(constant, 1.0), law(volume, 0.0), rtol=1e-15, atol=1e-17)
    np.testing.assert_allclose(law(volume, 1.0), law(constant, 0.0), rtol=1e-14, atol=1e-17)
    assert law(constant, 0.0).tolist() == x.tolist()


def test_beyond_the_limit_nothing_is_shown_until_a_law_is_declared():
    kind = kind_named("large strain, not declared@1")
    value = kind.value(np.array([0.01, 0.0100001, -0.01, -0.02]), {"strain_limit": 0.01}, {})
    assert np.isnan(value).tolist() == [False, True, False, True]


@given(st.floats(-0.2, 0.2), poisson)
def test_alignment_undoes_the_rotation_of_strain(angle, nu):
    # Mohr: mean plus deviator times cos 2φ, no sine squared in it.
    along = 1e-3
    mean, deviator = along * (1 - nu) / 2, along * (1 + nu) / 2
    read = mean + deviator * np.cos(2 * angle)
    found = kind_named("alignment@1").value(
        np.array([read]), {"poisson_ratio": nu, "mean_squared_sine": np.sin(angle) ** 2}, {}
    )
    assert found.item() == pytest.approx(along, rel=1e-12)


def test_scattered_angles_have_the_moments_that_are_said():
    angles = np.random.default_rng(7).normal(0.0, 0.02, 400_000)
    mean, u = mean_squared_sine(0.02)
    assert np.mean(np.sin(angles) ** 2) == pytest.approx(mean, rel=0.01)
    assert np.std(np.sin(angles) ** 2) == pytest.approx(u, rel=0.02)
    assert mean_squared_sine(0.0) == (0.0, 0.0)
    with pytest.raises(InputError, match=r"^misalignment"):
        mean_squared_sine(0.5)


@given(st.floats(-0.05, 0.05), poisson, poisson)
def test_transverse_undoes_a_gauge_that_feels_across(side, nu, card):
    # Gauge factor from the card's beam: k = k_a (1 - ν0 Kt); the bar's own lateral strain is -ν ε.
    along = 1e-3
    read = (along + side * (-nu * along)) / (1 - card * side)
    p = {"transverse_sensitivity": side, "poisson_ratio": nu, "card_poisson_ratio": card}
    found = kind_named("transverse, uniaxial@1").value(np.array([read]), p, {})
    assert found.item() == pytest.approx(along, rel=1e-12)


def test_thermal_output_leaves_nothing_of_an_unloaded_bar():
    kind = kind_named("thermal output@1")
    p = numbers_for(kind) | {"slope_error": 0.0}
    curve = np.polynomial.Polynomial([p[f"c{i}"] for i in range(5)])
    T, T0 = COLUMNS["temperature_degc"], p["temperature_zero_degc"]
    # What the grid does by itself, as relative change of resistance, plus the other metal.
    change = (curve(T) - curve(T0)) * p["card_gauge_factor"]
    metal = (p["thermal_expansion"] - p["card_thermal_expansion"]) * (T - T0)
    shown = change / p["gauge_factor"] + metal
    np.testing.assert_allclose(kind.value(shown, p, {"temperature_degc": T}), 0.0, atol=1e-18)


def test_thermal_output_is_never_extrapolated():
    kind = kind_named("thermal output@1")
    temperature = np.array([-10.0, -10.01, 90.0, 90.01])
    value = kind.value(np.zeros(4), numbers_for(kind), {"temperature_degc": temperature})
    assert np.isnan(value).tolist() == [False, True, False, True]


@pytest.mark.parametrize(
    "changed",
    [{"temperature_zero_degc": 91.0}, {"span_high_degc": -20.0}, {"temperature_zero_degc": -11.0}],
)
def test_a_zero_outside_the_card_s_span_is_refused(changed):
    kind = kind_named("thermal output@1")
    with pytest.raises(InputError):
        kind.check(numbers_for(kind) | changed)


@pytest.mark.parametrize("limit", ["span_low_degc", "span_high_degc"])
def test_a_zero_on_the_limit_of_the_card_s_span_is_taken(limit):
    kind = kind_named("thermal output@1")
    p = numbers_for(kind)
    kind.check(p | {"temperature_zero_degc": p[limit]})


def test_two_wire_leads_that_warm_leave_nothing():
    kind = kind_named("lead temperature, two wires@1")
    p = numbers_for(kind)
    warm = COLUMNS["lead_temperature_degc"]
    lead = p["lead_resistance"] * (1 + 0.00393 * (warm - p["lead_temperature_zero_degc"]))
    arm = p["gauge_resistance"] + 2 * p["lead_resistance"]
    x = (p["gauge_resistance"] + 2 * lead) / arm - 1
    strain = kind_named("lead loss, two wires@1").value(x, p, {}) / p["gauge_factor"]
    left = kind.value(strain, p, {"lead_temperature_degc": warm})
    np.testing.assert_allclose(left, 0.0, atol=1e-16)


def test_drift_is_taken_off_between_the_zeros_and_nowhere_else():
    kind = kind_named("drift, between two zeros@1")
    p = {"time_first_zero": 0.0, "time_last_zero": 10.0, "drift_strain": 20e-6}
    value = kind.value(np.zeros(5), p, {"time": np.array([-0.1, 0.0, 5.0, 10.0, 10.1])})
    assert np.isnan(value).tolist() == [True, False, False, False, True]
    assert value[1:4] == pytest.approx([0.0, -10e-6, -20e-6], abs=1e-18)
    with pytest.raises(InputError, match=r"^time_last_zero"):
        kind.check(p | {"time_last_zero": 0.0})


def test_a_zero_of_any_size_is_gone_at_the_zero():
    for kind in ("reference zero@1", "reference zero, difference@1"):
        value = kind_named(kind).value(np.array([0.013]), {"arm_change_zero": 0.013}, {})
        assert value.item() == 0.0


def test_the_lead_resistance_of_a_leadless_gauge_changes_nothing():
    for wires in ("two", "three"):
        kind = kind_named(f"lead loss, {wires} wires@1")
        p = {"gauge_resistance": 120.0, "lead_resistance": 0.0}
        assert kind.value(X, p, {}).tolist() == X.tolist()


ARMS = {
    "quarter bridge@1": (1.0, 0.0, 0.0, 0.0),
    "half bridge, bending pair@1": (1.0, -1.0, 0.0, 0.0),
    "half bridge, Poisson pair@1": (1.0, -0.29, 0.0, 0.0),
    "full bridge, bending@1": (1.0, -1.0, 1.0, -1.0),
    "full bridge, Poisson pairs@1": (1.0, -0.29, 1.0, -0.29),
    "half bridge, opposite pair@1": (1.0, 0.0, 1.0, 0.0),
}


@pytest.mark.parametrize("name", ARMS)
@pytest.mark.parametrize("mismatched", [0, 1])
def test_each_bridge_has_the_zero_that_its_mismatched_arms_need(name, mismatched):
    """Arms that differ by 2 per mille from the start, then a change of 1 per mille."""
    mismatch, change = 2e-3, 1e-3
    p = {"poisson_ratio": 0.29} if "Poisson" in name else {}

    def apparent(x):
        arms = [1 + weight * x for weight in ARMS[name]]
        arms[mismatched] *= 1 + mismatch
        ratio = divider(arms[1], arms[0]) - divider(arms[2], arms[3])
        return kind_named(name).value(np.array([ratio]), p, {})

    numbers = {"arm_change_zero": apparent(0.0).item(), "poisson_ratio": 0.29}
    found = {}
    for zero, kind in KINDS.items():
        if kind.slot == "reference":
            value = kind.value(apparent(change), numbers, {}).item()
            found[zero] = abs(value / change - 1)
    words = {"bending": ", difference", "Poisson": ", Poisson pair"}
    best = "".join(["reference zero", *(z for word, z in words.items() if word in name), "@1"])
    assert min(found, key=found.__getitem__) == best
    assert found[best] < 5e-6
    assert max(found.values()) > 1e-4


def test_a_calibration_curve_ends_where_its_readings_ended():
    kind = kind_named("calibration to force, curve@1")
    p = numbers_for(kind) | {"calibration_low": 0.0, "calibration_high": 2e-3}
    x = np.array([-1e-9, 0.0, 2e-3, 2.0001e-3])
    assert np.isnan(kind.value(x, p, {})).tolist() == [True, False, False, True]
    assert np.isnan(kind.partials(x, p, {})[0]).tolist() == [True, False, False, True]
    with pytest.raises(InputError, match="above calibration_low"):
        kind.check(p | {"calibration_high": 0.0})


def test_a_reading_at_the_end_of_the_range_is_no_reading():
    kind = kind_named("range of the instrument@1")
    p = {"reading_low": -2e-3, "reading_high": 2e-3}
    x = np.array([-2e-3, -1.9e-3, np.nan, 1.9e-3, 2e-3, 3e-3])
    kept = kind.value(x, p, {})
    assert np.isnan(kept).tolist() == [True, False, True, False, True, True]
    assert kept[1] == x[1]
    with pytest.raises(InputError, match="above reading_low"):
        kind.check({"reading_low": 0.0, "reading_high": 0.0})


@given(st.floats(-0.004, 0.004), st.floats(0.0, 3.5), st.floats(0.0, 0.5))
def test_supply_wires_are_made_good_behind_a_full_bridge(change, lead, nu):
    network = Network(
        (
            *(("r+", "P", "E+"), ("r-", "E-", "N"), ("1", "S+", "E-"), ("2", "E+", "S+")),
            *(("3", "E+", "S-"), ("4", "S-", "E-")),
        ),
        (VoltageSource("V", "P", "N", 5.0),),
        "N",
    )
    wire = max(lead, 1e-6)
    for name, across in (("full bridge, bending@1", 1.0), ("full bridge, Poisson pairs@1", nu)):
        along, side = 350.0 * (1 + change), 350.0 * (1 - across * change)
        solution = solve(network, [wire, wire, along, side, along, side])
        ratio = voltage_ratio(solution, "S+", "S-", "P", "N")
        x = kind_named(name).value(np.atleast_1d(ratio), {"poisson_ratio": nu}, {})
        corner = (along + side) / 2
        p = {"bridge_resistance": corner, "lead_resistance": wire}
        found = kind_named("lead loss, supply wires@1").value(x, p, {})
        loss = 2 * wire / (corner + 2 * wire)
        left = 1.05 * (1 - across) / 2 * change**2 * loss + 1e-13
        assert found == pytest.approx(change, abs=left)


SPLIT = sorted(name for name, kind in KINDS.items() if kind.split is not None)


@pytest.mark.parametrize("name", SPLIT)
def test_a_formula_in_two_steps_gives_the_same_bits(name):
    kind, rng = KINDS[name], np.random.default_rng(5)
    numbers = {one.name: 0.3 + 0.01 * place for place, one in enumerate(kind.parameters)}
    numbers |= {"span_low_degc": -10.0, "span_high_degc": 60.0}
    columns = {column: rng.normal(25.0, 20.0, 5000) for column in kind.columns}
    reading = rng.normal(0.0, 1e-3, 5000)
    reading[::17] = np.nan
    at_once = kind.value(reading, numbers, columns)
    in_two = kind.split.onto(reading, kind.split.ahead(numbers, columns))
    assert at_once.tobytes() == in_two.tobytes()
    assert np.isfinite(at_once).any()
