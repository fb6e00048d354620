"""The fault finder: what every row of the signature table says, benches of another hand, edges."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gaugewright.calc.diagnosis import Finder
from gaugewright.calc.diagnosis_causes import (
    HEALTHY,
    NONE_OF_THESE,
    Allowances,
    Cause,
    Range,
    Reading,
    ReadingError,
    with_pairs,
)
from gaugewright.calc.diagnosis_circuit import Setup, predicted
from gaugewright.calc.diagnosis_next import next_steps
from gaugewright.errors import InputError
from gaugewright.services.diagnosis.faults_known import fault_book
from tests.calc import bench_scores, benches

pytestmark = pytest.mark.full

BOOK = fault_book()
WIRE = 1.34
SETUP = Setup(120.0, WIRE, 120.0, 59880.0)
OHM = BOOK.meters["A-B"]
MEGOHM = BOOK.meters["insulation"]
OL = np.inf


@pytest.fixture(scope="module")
def finder() -> Finder:
    return Finder(SETUP, BOOK.causes_for(SETUP), BOOK.allowances, BOOK.signs)


def read(p=None, q=None, s=None, insulation=None, **more):
    given_values = {"A-B": p, "A-C": q, "B-C": s, "insulation": insulation, **more}
    found = []
    for what, value in given_values.items():
        if value is None:
            continue
        error = BOOK.meters[what]
        bound = "above" if value >= error.highest else "below" if value <= -error.highest else ""
        limit = np.sign(value) * error.highest if bound else value
        found.append(Reading(what, float(limit), error, bound))
    return found


# The table of signatures, 120 ohm with 10 m of AWG 26 (1.34 ohm a wire): pairs as printed there.
TABLE = [
    ("healthy", (122.7, 122.7, 2.68, OL), {HEALTHY}),
    ("grid open", (OL, OL, 2.68, OL), benches.OPEN_A),
    ("lead A open", (OL, OL, 2.68, OL), benches.OPEN_A),
    ("lead B open", (OL, 122.7, OL, OL), {"lead B open"}),
    ("lead C open", (122.7, OL, OL, OL), {"lead C open"}),
    ("two leads open", (OL, OL, OL, OL), {"two or three leads open"}),
    ("grid shorted", (2.68, 2.68, 2.68, OL), benches.SHORTED),
    ("cable A-B crushed at 0.4", (1.07, 2.68, 2.68, OL), {"crush A to B"}),
    ("cable A-C crushed at 0.4", (2.68, 1.07, 2.68, OL), {"crush A to C"}),
    ("cable B-C crushed at 0.4", (122.28, 122.28, 1.07, OL), {"crush B to C"}),
    ("loops bridged", (98.7, 98.7, 2.68, OL), {"grid partly shorted"}),
    ("path of 10 kohm", (121.26, 121.26, 2.68, OL), {"moisture path across the grid"}),
    ("A and B swapped", (122.7, 2.68, 122.7, OL), {"A and B swapped"}),
    ("A and C swapped", (2.68, 122.7, 122.7, OL), {"A and C swapped"}),
    ("B and C swapped", (122.7, 122.7, 2.68, OL), {HEALTHY}),
    ("5 ohm in A", (127.7, 127.7, 2.68, OL), {"high joint in lead A"}),
    ("5 ohm in B", (127.7, 122.7, 7.68, OL), {"high joint in lead B"}),
    ("5 ohm in C", (122.7, 127.7, 7.68, OL), {"high joint in lead C"}),
    ("5 ohm at tab 2", (127.7, 127.7, 2.68, OL), {"high joint between tab 2 and grid"}),
    ("B 2 m longer", (122.97, 122.7, 2.95, OL), {"lead B longer"}),
    ("350 ohm", (352.7, 352.7, 2.68, OL), {"gauge of 350 Ω where 120 Ω is expected"}),
    ("two in parallel", (62.7, 62.7, 2.68, OL), {"two gauges in parallel"}),
    ("two in series", (242.7, 242.7, 2.68, OL), {"two gauges in series"}),
    ("A leads exchanged", (OL, OL, 2.68, OL), {"leads A of two gauges exchanged"}),
    ("leak at one point", (122.7, 122.7, 2.68, 5e7), {"leak to the bar at tab 1"}),
    (
        "leaks at both ends",
        (120.4, 120.4, 2.68, 2e5),
        {"leaks to the bar at both ends of the grid"},
    ),
]


@pytest.mark.parametrize(("row", "values", "causes"), TABLE, ids=[row[0] for row in TABLE])
def test_every_row_of_the_signature_table_is_in_the_first_group(finder, row, values, causes):
    told = finder.diagnosis(read(*values))
    assert causes & {one.cause.label for one in told.first.causes}, told.first.label


def test_a_shield_on_the_bar_is_seen_by_its_own_reading_only(finder):
    pairs = read(122.7, 122.7, 2.68, OL)
    unseen = {one.cause.label for one in finder.diagnosis(pairs).unseen}
    assert "shield touches the bar" in unseen
    with_shield = finder.diagnosis([*pairs, Reading("shield to bar", 3e5, MEGOHM, "below")])
    assert with_shield.first.causes[0].cause.label == "shield touches the bar"


# What the bridge reads in each row of the table of signatures [V/V], as printed there: "full
# scale" is half the supply less the wires; 1000 µε are 0.5 mV/V at a gauge factor of 2.
READ_BY_BRIDGE = [
    ("healthy", {"at": 0.5}, "ABC", 0.0, 0.00005),
    ("grid open", {"joint_grid": 1e12}, "ABC", 0.500, 0.0005),
    ("lead A open", {"joint_a": 1e12}, "ABC", 0.500, 0.0005),
    ("lead B open", {"joint_b": 1e12}, "ABC", -0.500, 0.0005),
    ("grid shorted", {"across": 1e-6}, "ABC", -0.489, 0.0005),
    ("crush A to B", {"at": 0.4, "short_ab": 1e-6}, "ABC", -0.49, 0.01),
    ("crush A to C", {"at": 0.4, "short_ac": 1e-6}, "ABC", -0.49, 0.01),
    ("crush B to C, about +5000 µε", {"at": 0.4, "short_bc": 1e-6}, "ABC", 0.0025, 0.00005),
    ("loops bridged", {"grid_factor": 0.8}, "ABC", -0.055, 0.0005),
    ("A and B swapped", {"lead_factor": 1.0}, "BAC", -0.494, 0.0005),
    ("A and C swapped", {"lead_factor": 1.0}, "CBA", -0.489, 0.0005),
    ("B and C swapped", {"lead_factor": 1.0}, "ACB", 0.0, 0.00005),
    ("5 ohm in A", {"joint_a": 5.0}, "ABC", 0.0101, 0.00005),
    ("5 ohm in B", {"joint_b": 5.0}, "ABC", -0.0101, 0.00005),
    ("5 ohm in C", {"joint_c": 5.0}, "ABC", 0.0, 0.00005),
    ("5 ohm at tab 2, as in A", {"joint_grid": 5.0}, "ABC", 0.0101, 0.00005),
    ("0.1 ohm in A, +413 µε", {"joint_a": 0.1}, "ABC", 413e-6 / 2, 1e-6),
    ("0.1 ohm in B, -413 µε", {"joint_b": 0.1}, "ABC", -413e-6 / 2, 1e-6),
    ("B 2 m longer, -1100 µε", {"joint_b": 0.27}, "ABC", -1100e-6 / 2, 25e-6),
    ("350 ohm on 120", {"grid_factor": 350 / 120}, "ABC", 0.243, 0.0005),
]


@pytest.mark.parametrize(
    ("elements", "pins", "ratio", "digit"),
    [row[1:] for row in READ_BY_BRIDGE],
    ids=[row[0] for row in READ_BY_BRIDGE],
)
def test_bridge_reads_as_the_nodal_solution_of_the_signature_table(elements, pins, ratio, digit):
    found = predicted(SETUP, {name: np.array([v]) for name, v in elements.items()}, pins)
    assert found["bridge"][0] == pytest.approx(ratio, abs=digit)


def test_signatures_with_full_scale_only_have_its_sign():
    """Two in parallel read down, two in series up; 120 ohm on 350 reads 245 mV/V down."""
    down, up = (
        predicted(SETUP, {"grid_factor": np.array([share])})["bridge"][0] for share in (0.5, 2.0)
    )
    assert down < -0.15 < 0.15 < up
    reverse = Setup(350.0, WIRE, 350.0, 174650.0)
    found = predicted(reverse, {"grid_factor": np.array([120 / 350])})
    assert found["bridge"][0] == pytest.approx(-0.245, abs=0.002)


def test_a_healthy_gauge_of_350_and_one_of_120_in_its_place_are_told():
    reverse = Setup(350.0, WIRE, 350.0, 174650.0)
    told = BOOK.finder(reverse).diagnosis(read(352.7, 352.7, 2.68, OL))
    assert told.first.causes[0].cause.label == HEALTHY
    told = BOOK.finder(reverse).diagnosis(read(122.7, 122.7, 2.68, OL))
    assert told.first.causes[0].cause.label == "gauge of 120 Ω where 350 Ω is expected"


def test_a_shunt_step_is_small_by_the_grid_over_nominal_where_loops_are_bridged():
    """96 of 120 ohm: 0.80 of the expected step, as the table says, to a few per cent of it."""
    sound, short = (
        predicted(SETUP, {"grid_factor": np.array([share])})["shunt step"][0]
        for share in (1.0, 0.8)
    )
    assert short / sound == pytest.approx(0.80, abs=0.02)


def test_the_lead_nearer_in_ohms_names_the_end_of_a_leak(finder):
    readings = read(122.7, 122.7, 2.68, None, **{"A to bar": 30001.3, "B to bar": 30121.3})
    told = finder.diagnosis(readings)
    assert "leak to the bar at tab 1" in {one.cause.label for one in told.first.causes}
    assert "leak to the bar at tab 2" not in {one.cause.label for one in told.first.causes}


@given(
    at=st.floats(0.05, 0.95),
    touch=st.floats(1e-3, 2.0),
    leak=st.floats(1e3, 1e7),
    joint=st.floats(0.0, 50.0),
)
def test_circuit_agrees_with_the_bench_s_own_solver(at, touch, leak, joint):
    bench = benches.Bench(120.0, WIRE, 120.0, [WIRE] * 3, 120.0, 1e12, at=at)
    bench.joint = [joint, 0.0, joint / 2]
    bench.extra = [("XB", "XC", touch), ("T1", "BAR", leak)]
    theirs = bench.truth(59880.0)
    ours = predicted(
        SETUP,
        {
            name: np.array([value])
            for name, value in (
                ("at", at),
                ("short_bc", touch),
                ("leak_tab_1", leak),
                ("joint_a", joint),
                ("joint_c", joint / 2),
                ("insulation", 1e12),
            )
        },
    )
    for what, value in theirs.items():
        # Nodal equations with wires of nothing lose some digits: 1e-7 V/V is 0.2 µε.
        assert ours[what][0] == pytest.approx(value, rel=1e-5, abs=1e-7), what


@pytest.mark.parametrize("at", [0.1, 0.4, 0.85])
@pytest.mark.parametrize("pair", ["A-B", "A-C"])
def test_a_crush_is_located_along_the_cable(finder, pair, at):
    # k = P/(2r): the short itself is nothing, so half of the small pair is the wire up to it.
    small = 2 * at * WIRE
    values = (small, 2.68, 2.68, OL) if pair == "A-B" else (2.68, small, 2.68, OL)
    cause = finder.diagnosis(read(*values)).cause(f"crush {pair[0]} to {pair[2]}")
    place = next(one for one in cause.estimates if one.element == "at")
    assert abs(place.value - at) < 3 * place.standard_uncertainty
    assert place.standard_uncertainty < 0.05


def test_capacitance_tells_how_far_off_a_break_in_lead_a_is(finder):
    error = BOOK.meters["capacitance of A over B"]
    readings = [*read(OL, OL, 2.68, OL), Reading("capacitance of A over B", 0.3, error)]
    told = finder.diagnosis(readings)
    assert told.first.causes[0].cause.label == "lead A open"
    place = next(e for e in told.first.causes[0].estimates if e.element == "at")
    assert place.value == pytest.approx(0.3, abs=3 * place.standard_uncertainty)


def test_evidence_names_the_reading_and_counts_standard_uncertainties(finder):
    told = finder.diagnosis(read(127.7, 122.7, 7.68, OL))
    healthy = told.cause(HEALTHY)
    assert healthy.excluded
    assert healthy.against.what == "B-C"
    # 5 ohm over: two wires known to 5 % (0.13), lengths to 0.02 each, the meter to 0.03.
    expected = 5.0 / np.sqrt(0.134**2 + 2 * 0.02**2 + (0.03**2 + 0.0038**2) / 3)
    assert healthy.against.standard_uncertainties == pytest.approx(expected, rel=0.05)


def test_an_earlier_gate_turns_a_doubt_into_a_fault(finder):
    now = read(123.3, 123.3, 2.68, OL)
    assert finder.diagnosis(now).first.causes[0].cause.label == HEALTHY
    told = finder.diagnosis(now, earlier=[read(122.7, 122.7, 2.68)])
    assert told.known.gates_used == 1
    labels = {one.cause.label for one in told.first.causes}
    assert labels & {"high joint in lead A", "corrosion of tab or foil"}


def test_an_earlier_gate_in_the_cold_is_brought_to_the_temperature_of_now(finder):
    def at(degc, s):
        return [
            Reading(w, v, OHM, "", degc)
            for w, v in (("A-B", 120 + s), ("A-C", 120 + s), ("B-C", s))
        ]

    warmer = 2.68 * (1 + 0.00393 * 30)
    told = finder.diagnosis(at(35.0, warmer), earlier=[at(5.0, 2.68)])
    assert told.first.causes[0].cause.label == HEALTHY


def test_an_earlier_gate_that_no_sound_gauge_gives_is_left_out(finder):
    told = finder.diagnosis(read(122.7, 122.7, 2.68), earlier=[read(140.0, 122.0, 2.0)])
    assert (told.known.gates_used, told.known.gates_left_out) == (0, 1)


def test_a_percentage_is_settled_only_beyond_priors_three_times_either_way(finder):
    told = finder.diagnosis(read(122.7, 122.7, 2.68, 4e8))
    first, second = told.groups[:2]
    assert told.settled == (first.weight > 9 * second.weight)


def test_with_nothing_read_the_priors_stand_and_nothing_is_repaired(finder):
    told = finder.diagnosis([])
    assert told.first.causes[0].cause.label == HEALTHY
    assert not told.repair


def test_signs_alone_lead_to_a_cause_without_a_circuit(finder):
    seen = {"hum at mains frequency": True, "noise when a hand comes near": False}
    told = finder.diagnosis(read(122.7, 122.7, 2.68, OL), seen)
    labels = {one.cause.label for one in told.groups[0].causes + told.groups[1].causes}
    assert "shield or earth" in labels


def test_what_is_offered_next_parts_the_open_grid_from_the_open_lead(finder):
    readings = read(OL, OL, 2.68, OL)
    told = finder.diagnosis(readings)
    steps = next_steps(finder, told, (readings, {}), BOOK.efforts, BOOK.meters)
    assert {"A to tab 1", "capacitance of A over B", "A to B of a neighbour"} & {
        step.what for step in steps[:3]
    }
    rates = [step.bits_per_minute for step in steps]
    assert rates == sorted(rates, reverse=True)
    assert all(step.what not in {one.what for one in readings} for step in steps)


def test_the_same_readings_give_the_same_answer(finder):
    again = Finder(SETUP, BOOK.causes_for(SETUP), BOOK.allowances, BOOK.signs)
    one, other = (f.diagnosis(read(124.1, 122.5, 3.9, 3e8)) for f in (finder, again))
    assert [r.weight for r in one.ranked] == [r.weight for r in other.ranked]


def test_weights_are_shares_of_one(finder):
    told = finder.diagnosis(read(124.1, 122.5, 3.9, 3e8))
    assert sum(one.weight for one in told.ranked) == pytest.approx(1.0)
    assert sum(group.weight for group in told.groups) == pytest.approx(1.0)


def test_two_at_once_are_made_of_the_common_causes_only():
    common = [cause for cause in BOOK.causes if cause.pairs]
    made = with_pairs(BOOK.causes, BOOK.allowances)[len(BOOK.causes) :]
    assert 0 < len(made) <= len(common) * (len(common) - 1) // 2
    first = {cause.label: cause for cause in common}
    for double in made:
        one, two = (first[label] for label in double.parts)
        assert double.prior == pytest.approx(3 * one.prior * two.prior)


@pytest.mark.parametrize(
    ("make", "name"),
    [
        (lambda: Setup(0.0, 1.0, 120.0), "gauge_resistance"),
        (lambda: Range("joint", 1.0, 2.0), "element"),
        (lambda: Range("at", 0.0, 1.0), "low"),
        (lambda: Cause("x", "y", 0.0, "from memory"), "prior of x"),
        (lambda: Reading("A-Z", 1.0, OHM), "what"),
        (lambda: Reading("A-B", OL, OHM), "A-B"),
        (lambda: Reading("insulation", 0.0, MEGOHM), "insulation"),
        (lambda: ReadingError(0.0, 0.0), "reading error"),
        (lambda: predicted(SETUP, {}, "ABC"), "elements"),
        (lambda: predicted(SETUP, {"at": np.ones(1)}, "AAB"), "pins"),
        (lambda: Finder(SETUP, BOOK.causes[:3], Allowances()), "causes"),
    ],
)
def test_what_cannot_be_is_refused_by_name(make, name):
    with pytest.raises(InputError) as refused:
        make()
    assert refused.value.name == name


def test_a_thing_read_twice_and_an_unknown_sign_are_refused(finder):
    with pytest.raises(InputError, match="A-B"):
        finder.diagnosis([*read(122.7), *read(122.7)])
    with pytest.raises(InputError, match="sign"):
        finder.diagnosis(read(122.7), {"purple": True})


def test_readings_of_no_known_cause_are_called_none_of_these(finder):
    told = finder.diagnosis(read(700.0, 122.7, 122.7, OL))
    assert told.ranked[0].cause.label == NONE_OF_THESE
    assert not told.repair


# Seeds of this test were looked at once, when it was written; ranges and priors were settled
# with others.
SEED, COUNT = 20261126, 240


@pytest.fixture(scope="module")
def benched():
    return bench_scores.run(BOOK, SEED, COUNT)


@pytest.mark.long
def test_benches_of_another_hand_find_no_healthy_gauge_to_repair(benched):
    healthy = [one for one in benched if one.case.kind == "healthy"]
    assert len(healthy) > COUNT / 8  # a quarter is drawn healthy
    assert not [one.case for one in healthy if one.repair]


@pytest.mark.long
def test_benches_of_another_hand_name_the_group_of_clear_faults(benched):
    singles = bench_scores.singles(benched)
    clear = [one for one in singles if one.case.clear]
    assert len(clear) > COUNT / 3
    found = bench_scores.share(clear, "by_group")
    assert found > bench_scores.share(clear, "rule")
    # Of 120 or so, 95 % less two standard deviations of a count.
    assert found >= 0.95 - 2 * np.sqrt(0.95 * 0.05 / len(clear))
