"""Readings between wires against the solved cable, and bounds against every cable they allow."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gaugewright.calc import leads
from gaugewright.calc.circuit import Network, resistance_between
from gaugewright.calc.joint import correlation
from gaugewright.calc.pair_readings import (
    WIRINGS,
    Beyond,
    gauge_resistance,
    lead_alike,
    solved_pairs,
)
from gaugewright.calc.uncertainty import InputQuantity, Uncertain
from gaugewright.errors import Faults, InputError

GRID = st.floats(100.0, 1000.0)
LEAD = st.floats(0.01, 20.0)
CABLES = {
    "two leads": Network(
        (("lead_a", "A", "1"), ("gauge_resistance", "1", "2"), ("lead_b", "2", "B")), ground="A"
    ),
    "three leads": Network(
        (
            *(("lead_a", "A", "1"), ("gauge_resistance", "1", "2")),
            *(("lead_b", "2", "B"), ("lead_c", "2", "C")),
        ),
        ground="A",
    ),
    "four leads": Network(
        (
            *(("lead_a", "A", "1"), ("lead_d", "D", "1"), ("gauge_resistance", "1", "2")),
            *(("lead_b", "2", "B"), ("lead_c", "2", "C")),
        ),
        ground="A",
    ),
}
# Bridge of four equal arms: R between the supply corners and between the signal corners.
ARMS = tuple(
    (name, *ends)
    for name, ends in zip("1234", (("S", "E"), ("F", "S"), ("F", "T"), ("T", "E")), strict=True)
)
SIX = Network(
    (
        *ARMS,
        *(("supply_plus", "P", "F"), ("sense_plus", "KP", "F"), ("supply_minus", "N", "E")),
        *(("sense_minus", "KN", "E"), ("signal_plus", "SP", "S"), ("signal_minus", "SN", "T")),
    ),
    ground="N",
)


def reading(pair, ohm, u=0.03):
    return Uncertain.from_input(ohm, InputQuantity(f"digit of {pair}", u))


def read(network, pairs, ohms):
    found = {}
    for pair in pairs:
        first, second = pair.split("-")
        found[pair] = reading(pair, resistance_between(network, first, second, ohms).item())
    return found


@pytest.mark.parametrize("wiring", CABLES)
@settings(max_examples=25)
@given(data=st.data())
def test_what_the_readings_determine_is_what_is_in_the_cable(wiring, data):
    cable = CABLES[wiring]
    truth = {n: data.draw(GRID if n == "gauge_resistance" else LEAD) for n in cable.names}
    found = solved_pairs(wiring, read(cable, WIRINGS[wiring].pairs, list(truth.values())))
    for name, part in found.parts.items():
        assert part.value == pytest.approx(truth[name], abs=1e-8)
    for names, part in found.sums.items():
        assert part.value == pytest.approx(sum(truth[n] for n in names), abs=1e-8)
    for name, (low, high) in found.bounds.items():
        assert low <= truth[name] <= high
    assert max(abs(rest) for rest in found.residuals.values()) < 1e-8


@settings(max_examples=15)
@given(GRID, st.tuples(LEAD, LEAD, LEAD, LEAD, LEAD, LEAD))
def test_six_leads_give_every_supply_and_sense_wire_and_the_bridge(arm, wires):
    found = solved_pairs(
        "six leads", read(SIX, WIRINGS["six leads"].pairs, [arm] * 4 + list(wires))
    )
    for name, ohm in zip(SIX.names[4:8], wires, strict=False):
        assert found.parts[name].value == pytest.approx(ohm, abs=1e-8)
    assert found.parts["bridge_resistance"].value == pytest.approx(arm, rel=1e-9)
    signal = found.sums[("signal_resistance", "signal_plus", "signal_minus")]
    assert signal.value == pytest.approx(arm + wires[4] + wires[5], rel=1e-9)


@settings(max_examples=15)
@given(GRID, st.tuples(LEAD, LEAD, LEAD, LEAD, LEAD, LEAD))
def test_four_equal_arms_tell_the_signal_wires_apart_too(arm, wires):
    wiring = "six leads, equal arms"
    found = solved_pairs(wiring, read(SIX, WIRINGS[wiring].pairs, [arm] * 4 + list(wires)))
    for name, ohm in zip(SIX.names[4:], wires, strict=True):
        assert found.parts[name].value == pytest.approx(ohm, abs=1e-8)
    assert 4 * found.parts["quarter_of_arm"].value == pytest.approx(arm, rel=1e-9)
    assert max(abs(left) for left in found.residuals.values()) < 1e-8
    # Eleven readings of 0.03 ohm say a signal wire better than one of them, not ten times so.
    doubt = found.parts["signal_plus"].standard_uncertainty()
    assert 0.003 < doubt < 0.03


@pytest.mark.parametrize("arm", range(4))
def test_an_arm_off_by_a_thousandth_moves_the_signal_wires_and_shows_in_the_residuals(arm):
    wiring, ohms = "six leads, equal arms", np.array([350.0] * 4 + [1.0] * 6)
    ohms[arm] *= 1.001
    found = solved_pairs(wiring, read(SIX, WIRINGS[wiring].pairs, ohms.tolist()))
    moved = [abs(found.parts[f"signal_{end}"].value - 1.0) for end in ("plus", "minus")]
    assert 0.01 < max(moved) < 0.35
    assert max(abs(left) for left in found.residuals.values()) > 0.01


def test_what_can_not_be_told_apart_is_left_together_and_named():
    two = solved_pairs("two leads", {"A-B": reading("A-B", 122.7)})
    assert two.parts == {}
    assert list(two.sums) == [("gauge_resistance", "lead_a", "lead_b")]
    three = solved_pairs(
        "three leads", {p: reading(p, r) for p, r in (("A-B", 122), ("A-C", 122), ("B-C", 2))}
    )
    assert set(three.parts) == {"lead_b", "lead_c"}
    assert list(three.sums) == [("gauge_resistance", "lead_a")]
    assert "grid and lead A" in three.never_apart


@settings(max_examples=25)
@given(GRID, LEAD, LEAD, LEAD, st.floats(0.001, 0.5))
def test_three_leads_agree_with_the_closed_form_and_its_uncertainty(grid, a, b, c, u):
    pairs = {"A-B": grid + a + b, "A-C": grid + a + c, "B-C": b + c}
    found = solved_pairs("three leads", {p: reading(p, r, u) for p, r in pairs.items()})
    closed = leads.three_lead_solution(*pairs.values())
    assert found.parts["lead_b"].value == pytest.approx(closed.lead_b, abs=1e-9)
    assert found.parts["lead_c"].value == pytest.approx(closed.lead_c, abs=1e-9)
    spread = found.parts["lead_b"].standard_uncertainty()
    assert spread == pytest.approx(u * np.sqrt(3) / 2)
    together = found.sums[("gauge_resistance", "lead_a")]
    assert together.value == pytest.approx(closed.gauge_and_lead_a, rel=1e-12)
    # b and c come from the same three readings, one with the other sign.
    r = correlation(found.parts["lead_b"], found.parts["lead_c"])
    assert r == pytest.approx(-1 / 3)


def test_four_leads_need_no_assumption_and_a_reading_too_many_shows_a_wrong_one():
    truth = {"A-B": 121.5, "A-C": 121.6, "D-B": 121.4, "D-C": 121.5, "A-D": 1.3, "B-C": 1.5}
    found = solved_pairs("four leads", {p: reading(p, r) for p, r in truth.items()})
    assert found.parts["gauge_resistance"].value == pytest.approx(120.1, abs=1e-9)
    wrong = truth | {"D-C": 121.9}
    residuals = solved_pairs(
        "four leads", {p: reading(p, r, 0.2) for p, r in wrong.items()}
    ).residuals
    assert max(abs(rest) for rest in residuals.values()) == pytest.approx(0.1, abs=1e-9)


def test_a_meter_error_in_all_readings_stays_shared():
    gain = InputQuantity("meter gain", 0.01)
    pairs = {"A-B": 122.7, "A-C": 122.7, "B-C": 2.7}
    found = solved_pairs(
        "three leads", {p: Uncertain.from_input(r, gain, r) for p, r in pairs.items()}
    )
    for part in (*found.parts.values(), *found.sums.values()):
        assert part.standard_uncertainty() == pytest.approx(0.01 * part.value)


def test_lead_a_comes_from_a_record_or_from_an_assumption_that_says_so():
    found = solved_pairs(
        "three leads", {p: reading(p, r) for p, r in (("A-B", 123), ("A-C", 123), ("B-C", 2))}
    )
    recorded = gauge_resistance(found, Uncertain.from_input(1.5, InputQuantity("record", 0.01)))
    assert recorded.value == pytest.approx(120.5)
    alike = gauge_resistance(found, lead_alike(found, 0.05, "lead alike@g1"))
    assert alike.value == pytest.approx(121.0)
    assumed = [line.input for line in alike.budget().assumed]
    assert assumed == ["lead alike@g1"]


def test_an_open_pair_is_a_bound_and_the_others_still_tell_what_they_can():
    open_b = solved_pairs(
        "three leads",
        {"A-B": Beyond(2e9), "A-C": reading("A-C", 122.7), "B-C": Beyond(2e9)},
    )
    assert open_b.bounds["lead_b"][0] > 1.9e9
    assert open_b.bounds["lead_c"][1] < 123
    assert open_b.sums[("gauge_resistance", "lead_a", "lead_c")].value == 122.7
    both = solved_pairs(
        "three leads",
        {"A-B": Beyond(2e9), "A-C": Beyond(2e9), "B-C": reading("B-C", 2.68)},
    )
    # Open grid or open lead A: from here nobody can say which.
    assert both.bounds["gauge_resistance"] == (0.0, np.inf)
    assert both.bounds["lead_a"] == (0.0, np.inf)
    assert both.bounds["lead_b"][1] == pytest.approx(2.68, abs=0.2)


@settings(max_examples=25)
@given(GRID, LEAD, LEAD, LEAD, st.floats(10.0, 1000.0))
def test_bounds_hold_the_truth_whatever_the_meter_could_not_show(grid, a, b, c, end):
    truth = {"gauge_resistance": grid, "lead_a": a, "lead_b": b, "lead_c": c}
    pairs = {"A-B": grid + a + b, "A-C": grid + a + c, "B-C": b + c}
    found = solved_pairs(
        "three leads",
        {p: reading(p, r) if r <= end else Beyond(end) for p, r in pairs.items()},
    )
    for name, (low, high) in found.bounds.items():
        assert low - 1e-6 <= truth[name] <= high + 1e-6


def test_readings_that_contradict_each_other_are_refused():
    with pytest.raises(InputError, match="possible together"):
        solved_pairs(
            "three leads",
            {"A-B": reading("A-B", 122.7), "A-C": reading("A-C", 122.7), "B-C": Beyond(2e9)},
        )


def test_every_fault_is_told_at_once():
    with pytest.raises(Faults) as caught:
        solved_pairs(
            "three leads",
            {
                "A-D": reading("A-D", 1.0),
                "A-B": reading("A-B", -1.0),
                "A-C": Uncertain.noisy(120.0, 0.1),
                "B-C": reading("B-C", np.nan),
            },
        )
    assert [f.name for f in caught.value.faults] == ["pair", "A-B", "A-C", "B-C"]
    with pytest.raises(InputError, match="one of two leads"):
        solved_pairs("five leads", {})
    with pytest.raises(InputError, match="one pair at least"):
        solved_pairs("two leads", {})
    with pytest.raises(InputError, match="meter's range"):
        Beyond(0.0)
    lone = solved_pairs("three leads", {"A-B": reading("A-B", 122.7)})
    with pytest.raises(InputError, match="incomplete"):
        lead_alike(lone, 0.1, "alike")
    with pytest.raises(InputError, match="incomplete"):
        gauge_resistance(lone, Uncertain.exact(1.0))
