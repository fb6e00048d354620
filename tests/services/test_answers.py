"""Worked answers against numbers from elsewhere, and what they say about their own doubt."""

import itertools
import math

import numpy as np
import pytest
from hypothesis import given as drawn
from hypothesis import strategies as st

from gaugewright.calc.uncertainty import InputQuantity, Uncertain
from gaugewright.errors import Faults, InputError
from gaugewright.present.units_shown import unit_shown
from gaugewright.services.answering.answers import answered
from gaugewright.services.answering.asks import SI_UNITS, TOOLS
from gaugewright.services.answering.parts import Answer, propagated

WIRE = "1.339"  # ohm: 10 m of copper of 0.1288 mm², 1.724e-8 ohm m


def value(answer: Answer, label: str) -> float:
    return next(each.value for each in answer.numbers if each.label.startswith(label))


def doubt(answer: Answer, label: str) -> float:
    found = next(each.plus_minus for each in answer.numbers if each.label.startswith(label))
    assert found is not None
    return found


# Nothing of installation, angle or sideways: the bridge and its wires alone.
BARE = {
    "installation": "0",
    "gauge_factor": "2",
    "misalignment": "0",
    "transverse_sensitivity": "0",
}

PLAIN = {"misalignment": "0", "transverse_sensitivity": "0"}


class TestReading:
    @pytest.mark.parametrize(
        ("ratio", "strain"), [("1.0", 2004.008), ("2.5", 5025.126), ("-2.5", -4975.124)]
    )
    def test_a_quarter_bridge_is_undone_exactly(self, ratio: str, strain: float) -> None:
        # kε = 4r/(1 - 2r) by hand, k = 2: 0.004/(0.998) = 0.004008016, halved.
        found = answered("reading", {**BARE, "reading": ratio})
        assert value(found, "Strain of the bar") == pytest.approx(strain * 1e-6, abs=1e-9)

    @pytest.mark.parametrize(
        ("circuit", "ratio"),
        [("half-bending", "1"), ("full-bending", "2"), ("half-poisson", "0.649545318")],
    )
    def test_other_circuits_give_the_strain_that_makes_their_ratio(
        self, circuit: str, ratio: str
    ) -> None:
        # k = 2 and ε = 0.001: x/2, x, and 2(1+ν)/(4 + 2x(1-ν))x by voltage division.
        typed = {**BARE, "reading": ratio, "circuit": circuit, "poisson_ratio": "0.3"}
        found = answered("reading", typed)
        assert value(found, "Strain of the bar") == pytest.approx(1e-3, rel=1e-6)

    def test_a_channel_that_shows_strain_is_undone_by_the_factor_set_in_it(self) -> None:
        # 1000 µε by the straight line at k = 2 is 0.5 mV/V, which is 4r/(1-2r)/k' at k' = 2.1.
        typed = {
            **BARE,
            "gauge_factor": "2.1",
            "reading": "1000",
            "shows": "strain",
            "set_gauge_factor": "2",
        }
        by_hand = 4 * 0.5e-3 / (1 - 2 * 0.5e-3) / 2.1
        assert value(answered("reading", typed), "Strain") == pytest.approx(by_hand, rel=1e-12)

    def test_wires_are_put_back_once_or_twice(self) -> None:
        # 120 ohm with 1 ohm: three wires leave 120/121 of the change, two wires 120/122.
        for wiring, share in (("three-wire", 120 / 121), ("two-wire", 120 / 122)):
            typed = {**BARE, "reading": "1", "circuit": wiring, "lead_resistance": "1"}
            found = answered("reading", typed)
            assert value(found, "Wires take") == pytest.approx(1 - share, rel=1e-12)
            bare = 2004.008016e-6
            assert value(found, "Strain") == pytest.approx(bare / share, rel=1e-9)

    def test_the_doubt_of_gauge_factor_and_installation_goes_through(self) -> None:
        # ± 1 % as a limit is 0.577 % standard; 1.5 % installation: sqrt of squares, times 1.96.
        found = answered("reading", {"reading": "1", **PLAIN, "gauge_factor": "2 ± 1 %"})
        strain = value(found, "Strain of the bar")
        by_hand = 1.959964 * math.hypot(0.01 / math.sqrt(3), 0.015) * strain
        assert doubt(found, "Strain of the bar") == pytest.approx(by_hand, rel=1e-4)
        cause = next(each.cause for each in found.numbers if each.label == "Strain of the bar")
        assert "installation" in cause
        assert "assumed" in cause

    @pytest.mark.parametrize(("suffix", "divisor"), [("k=2", 2), ("k=1", 1), ("", math.sqrt(3))])
    def test_a_doubt_counts_by_its_meaning(self, suffix: str, divisor: float) -> None:
        typed = {
            "reading": "1",
            "gauge_factor": f"2.00 +- 0.02 {suffix}",
            "installation": "0",
            **PLAIN,
        }
        found = answered("reading", typed)
        share = doubt(found, "Strain of the bar") / value(found, "Strain of the bar")
        assert share == pytest.approx(1.959964 * 0.01 / divisor, rel=1e-3)

    def test_a_decimal_comma_is_the_same_number(self) -> None:
        one = answered("reading", {"reading": "2,5", "gauge_factor": "2,08"})
        other = answered("reading", {"reading": "2.5 mV/V", "gauge_factor": "2.08"})
        assert value(one, "Strain") == value(other, "Strain")

    def test_what_was_not_typed_is_named_as_assumed(self) -> None:
        found = answered("reading", {"reading": "1", "gauge_factor": "2"})
        assert any(line.startswith("Scatter of installation") for line in found.assumed)
        assert any(line.startswith("Angle between grid and bar: 0 ± 2 °") for line in found.assumed)
        assert not any(line.startswith("Gauge factor stated at") for line in found.assumed)
        assert not any(line.startswith("Gauge resistance") for line in found.assumed)

    def test_a_number_no_resistance_gives_is_refused(self) -> None:
        with pytest.raises(InputError, match="some resistance gives"):
            answered("reading", {"reading": "600", "gauge_factor": "2"})

    def test_every_missing_value_is_named_at_once(self) -> None:
        with pytest.raises(Faults) as caught:
            answered("reading", {})
        assert {fault.name for fault in caught.value.faults} == {"reading", "gauge_factor"}  # type: ignore[attr-defined]


# Exact solve of the network by an independent nodal solver: 120 ohm, 10 m of wire with
# 1.339 ohm, 59 880 ohm for a nominal 1000 µε at k = 2, straight-line channel; whole µε.
SHUNT_SOLVED = {
    "T1-T2": -990,
    "A-C": -1034,
    "A-B": -1012,
    "completion-B": 990,
    "completion-C": 1034,
}
SHUNT_TYPED = {
    "shunt_resistance": "59.88",
    "gauge_resistance": "120",
    "gauge_factor": "2",
    "lead_resistance": WIRE,
    "shows": "strain",
    "set_gauge_factor": "2",
}


class TestShunt:
    @pytest.mark.parametrize(("place", "step"), SHUNT_SOLVED.items())
    def test_each_place_gives_its_own_step(self, place: str, step: float) -> None:
        found = answered("shunt", {**SHUNT_TYPED, "position": place})
        assert value(found, "Step to expect") == pytest.approx(step * 1e-6, abs=0.51e-6)

    def test_an_unknown_place_gives_an_interval_and_forbids_scaling(self) -> None:
        found = answered("shunt", SHUNT_TYPED)
        assert value(found, "Lowest") == pytest.approx(-1034e-6, abs=0.51e-6)
        assert value(found, "Highest") == pytest.approx(1034e-6, abs=0.51e-6)
        assert "no reading may be scaled" in found.sentence

    def test_without_wires_a_resistor_across_the_grid_stands_for_its_textbook_strain(self) -> None:
        # 120 ohm and 100 kohm at k = 2.1: 120 / (2.1 (120 + 100 000)) = 570.7437 µε.
        typed = {
            "shunt_resistance": "100",
            "gauge_resistance": "120",
            "gauge_factor": "2.1",
            "position": "T1-T2",
        }
        found = answered("shunt", typed)
        assert value(found, "Stands for") == pytest.approx(-570.743679e-6, rel=1e-8)

    def test_a_step_found_is_traced_to_its_place(self) -> None:
        typed = {**SHUNT_TYPED, "shunt_resistance": "59.88 ± 0.1 %", "found": "-1034"}
        assert any("at A-C" in line for line in answered("shunt", typed).cautions)
        wrong = answered("shunt", {**typed, "found": "-700"})
        assert any("none of the places" in line for line in wrong.cautions)

    def test_a_channel_that_shows_strain_needs_its_factor(self) -> None:
        typed = {name: text for name, text in SHUNT_TYPED.items() if name != "set_gauge_factor"}
        with pytest.raises(InputError, match="set_gauge_factor"):
            answered("shunt", typed)


class TestExcitation:
    def test_a_density_of_ones_own_gives_the_textbook_voltage(self) -> None:
        # 2 sqrt(1000 W/m² x 6 mm x 3 mm x R) by hand: 2.9394 V at 120 ohm, 5.0200 V at 350 ohm.
        for ohm, volts in (("120", 2.9393877), ("350", 5.0199602)):
            typed = {
                "gauge_resistance": ohm,
                "grid_length": "6",
                "grid_width": "3",
                "metal": "own",
                "power_density": "1",
            }
            found = answered("excitation", typed)
            assert found.numbers[0].value == pytest.approx(volts, rel=1e-7)

    @pytest.mark.parametrize(
        ("metal", "low", "high"),
        [("bar", 2.546, 4.157), ("thin", 1.859, 2.546), ("concrete", 0.329, 1.315)],
    )
    def test_the_table_gives_a_cautious_and_a_bold_voltage(
        self, metal: str, low: float, high: float
    ) -> None:
        # 3 mm x 1.5 mm, 120 ohm: 2 sqrt(p 4.5e-6 120) at 3, 8, 1.6, 0.05 and 0.8 kW/m².
        typed = {"gauge_resistance": "120", "grid_length": "3", "grid_width": "1.5", "metal": metal}
        found = answered("excitation", typed)
        assert [each.value for each in found.numbers] == pytest.approx([low, high], abs=6e-4)
        assert "no source" in " ".join(found.sources)

    def test_an_excitation_in_use_is_judged(self) -> None:
        # 2.5² / 480 = 13.0208 mW on 4.5 mm²; 1 µε gives 2.5 V x 2e-6 / 4 = 1.25 µV.
        typed = {"gauge_resistance": "120", "grid_length": "3", "grid_width": "1.5"}
        found = answered("excitation", {**typed, "excitation": "2.5"})
        assert value(found, "Heat") == pytest.approx(13.0208333e-3, rel=1e-8)
        assert value(found, "Per area") == pytest.approx(13.0208333e-3 / 4.5e-6, rel=1e-8)
        assert value(found, "Signal") == pytest.approx(1.25e-6, rel=1e-5)
        hot = answered("excitation", {**typed, "excitation": "5"})
        assert any("lower it" in line for line in hot.cautions)

    def test_a_density_without_saying_so_is_refused(self) -> None:
        typed = {"gauge_resistance": "120", "grid_length": "3", "grid_width": "1", "metal": "own"}
        with pytest.raises(InputError, match="power_density"):
            answered("excitation", typed)


class TestFlat:
    @pytest.mark.parametrize(
        ("diameter", "width", "depth_mm", "lost"),
        [
            ("10", "5", 0.67, 2.9),
            ("16", "6", 0.58, 1.2),
            ("25", "8", 0.66, 0.7),
            ("12", "8", 1.53, 7.4),
        ],
    )
    def test_depth_and_loss_of_a_measured_width(
        self, diameter: str, width: str, depth_mm: float, lost: float
    ) -> None:
        # Segment of a circle, reckoned by hand: h = d/2 (1 - sqrt(1 - (w/d)²)), (θ - sin θ)/2π.
        found = answered("flat", {"diameter": diameter, "flat_width": width})
        assert value(found, "Depth") == pytest.approx(depth_mm * 1e-3, abs=0.005e-3)
        assert value(found, "Area lost") == pytest.approx(lost / 100, abs=0.0005)

    def test_a_millimetre_off_sixteen(self) -> None:
        # Quadrature of the section: 195.83 mm² left, centre off by 0.19777 mm, 2.6023 % lost.
        found = answered("flat", {"diameter": "16", "flat_depth": "1"})
        assert value(found, "Width") == pytest.approx(7.746e-3, abs=0.5e-6)
        assert value(found, "Area left") == pytest.approx(195.829741e-6, abs=0.01e-6)
        assert value(found, "Centre") == pytest.approx(0.197773e-3, abs=0.1e-6)
        assert value(found, "Area lost") == pytest.approx(0.026023, abs=5e-6)

    @pytest.mark.parametrize(
        ("diameter", "width", "more"), [("20", "5", 0.017), ("16", "6", 0.056), ("10", "5", 0.138)]
    )
    def test_a_bar_free_to_bend_strains_the_flat_more(
        self, diameter: str, width: str, more: float
    ) -> None:
        found = answered("flat", {"diameter": diameter, "flat_width": width})
        assert value(found, "Stress at the gauge, bar free") == pytest.approx(more, abs=0.0006)

    def test_opposite_flats_leave_the_centre_alone(self) -> None:
        found = answered("flat", {"diameter": "16", "flat_width": "6", "flats": "2"})
        assert not any(each.label.startswith("Centre") for each in found.numbers)
        one = answered("flat", {"diameter": "16", "flat_width": "6"})
        assert value(found, "Area lost") == pytest.approx(2 * value(one, "Area lost"), rel=1e-12)

    def test_bond_lost_by_a_wrap_and_by_a_patch(self) -> None:
        # 20 mm of 400 mm is 5 % all round; 10 mm of the girth π 16 mm is 19.9 % of that.
        typed = {
            "diameter": "16",
            "flat_width": "4",
            "covered_length": "20",
            "bonded_length": "400",
        }
        assert value(answered("flat", typed), "Bond lost") == pytest.approx(0.05)
        patch = answered("flat", {**typed, "covered_width": "10"})
        assert value(patch, "Bond lost") == pytest.approx(0.05 * 10 / (math.pi * 16))

    def test_the_doubt_of_the_width_goes_through(self) -> None:
        # dA/dw = (w²/4)/sqrt(r² - w²/4) = 9/7.416 mm at w = 6, r = 8; 0.1 mm standard (k=2).
        found = answered("flat", {"diameter": "16", "flat_width": "6 ± 0.2 k=2"})
        by_hand = 1.959964 * 0.1e-3 * (9e-6 / 7.416198e-3)
        assert doubt(found, "Area left") == pytest.approx(by_hand, rel=2e-3)

    @pytest.mark.parametrize("typed", [{}, {"flat_width": "6", "flat_depth": "1"}])
    def test_just_one_of_width_and_depth_is_wanted(self, typed: dict[str, str]) -> None:
        with pytest.raises(InputError, match="flat_width"):
            answered("flat", {"diameter": "16", **typed})

    def test_inches_are_read_and_shown(self) -> None:
        found = answered("flat", {"diameter": "5/8 in", "flat_width": "0.25"}, "us")
        assert value(found, "Depth") == pytest.approx(
            0.0254 * (0.3125 - math.sqrt(0.3125**2 - 0.125**2)), rel=1e-12
        )
        assert next(each for each in found.numbers if "Depth" in each.label).shown.unit == "in"


class TestLeads:
    def test_a_healthy_gauge(self) -> None:
        # r_B = (P + S - Q)/2, R = (P + Q)/2 - S with all wires alike, by hand.
        found = answered("leads", {"pair_ab": "122.9", "pair_ac": "122.6", "pair_bc": "2.9"})
        assert value(found, "Lead B") == pytest.approx(1.6)
        assert value(found, "Lead C") == pytest.approx(1.3)
        assert value(found, "Grid, lead A") == pytest.approx((122.9 + 122.6) / 2 - 2.9)
        assert value(found, "Grid + lead A") == pytest.approx((122.9 + 122.6 - 2.9) / 2)

    def test_a_tenth_of_an_ohm_cant_tell_two_wires_apart(self) -> None:
        # r_B - r_C = P - Q: two digits of 0.1 ohm, 1.96 sqrt(2) 0.1/sqrt(12) = 0.080 ohm.
        found = answered("leads", {"pair_ab": "122.7", "pair_ac": "122.7", "pair_bc": "2.7"})
        assert doubt(found, "B less C") == pytest.approx(0.080, abs=0.0005)

    def test_grid_and_lead_a_are_never_told_apart_and_it_says_so(self) -> None:
        found = answered("leads", {"pair_ab": "122.7", "pair_ac": "122.7", "pair_bc": "2.7"})
        assert any("grid and lead A" in line for line in found.left_out)
        assert any(line.startswith("How alike the wires are") for line in found.assumed)

    @pytest.mark.parametrize(
        ("ab", "ac", "bc", "says"),
        [
            ("open", "> 2000 MΩ", "2.68", "Lead A or the grid is open"),
            ("open", "122.7", "OL", "Lead B is open"),
            ("122.7", "open", "open", "Lead C is open"),
            ("open", "open", "open", "All three are open"),
            ("122.7", "2.68", "122.7", "Leads A and C are the two of one tab"),
            ("2.68", "122.7", "122.7", "Leads A and B are the two of one tab"),
            ("2.68", "2.68", "2.68", "the grid is bridged"),
        ],
    )
    def test_each_pattern_is_named(self, ab: str, ac: str, bc: str, says: str) -> None:
        found = answered("leads", {"pair_ab": ab, "pair_ac": ac, "pair_bc": bc})
        assert says in found.sentence

    @drawn(
        grid=st.floats(50, 1000),
        wires=st.tuples(*[st.floats(0, 10)] * 3),
        order=st.permutations("ABC"),
    )
    def test_whatever_the_leads_are_called_the_wires_are_found(
        self, grid: float, wires: tuple[float, float, float], order: list[str]
    ) -> None:
        alone, first, second = order
        ohm = dict(zip(order, wires, strict=True))
        typed = {}
        for pair in itertools.combinations("ABC", 2):
            reading = sum(ohm[letter] for letter in pair) + (grid if alone in pair else 0.0)
            typed[f"pair_{''.join(pair).lower()}"] = repr(reading)
        found = answered("leads", typed)
        assert value(found, f"Lead {first}") == pytest.approx(ohm[first], abs=1e-9)
        assert value(found, f"Lead {second}") == pytest.approx(ohm[second], abs=1e-9)

    def test_readings_that_cant_be_together_are_refused(self) -> None:
        with pytest.raises(InputError, match="possible together"):
            answered("leads", {"pair_ab": "10", "pair_ac": "200", "pair_bc": "3"})

    def test_a_word_that_is_no_reading_is_refused(self) -> None:
        with pytest.raises(InputError, match="pair_ab"):
            answered("leads", {"pair_ab": "lots", "pair_ac": "1", "pair_bc": "1"})


class TestMeter:
    def test_a_tenth_cant_judge_a_twentieth(self) -> None:
        found = answered("meter", {"gauge_resistance": "120", "digit": "0.1"})
        assert value(found, "Doubt of the meter at hand") == pytest.approx(0.080, abs=0.0005)
        assert "cannot tell" in found.sentence

    def test_a_strain_is_so_many_ohms(self) -> None:
        # 120 ohm x 2 x 417 µε = 0.1001 ohm: a digit of 0.1 ohm is 417 µε.
        typed = {"gauge_resistance": "120", "task": "strain", "limit": "417"}
        found = answered("meter", typed)
        assert value(found, "What must be judged") == pytest.approx(0.10008)

    def test_the_digit_it_asks_for_has_the_doubt_it_allows(self) -> None:
        found = answered("meter", {"gauge_resistance": "350", "task": "bonding"})
        # 0.5 % of 350 ohm is 1.75 ohm, a third of it 0.5775 ohm.
        assert value(found, "Doubt it may have") == pytest.approx(0.33 * 1.75)
        digit = value(found, "Last digit it may have")
        assert 1.959964 * digit * math.sqrt(2 / 12) == pytest.approx(0.33 * 1.75, rel=1e-6)


class TestPropagation:
    @drawn(a=st.floats(0.5, 5), b=st.floats(0.5, 5), u=st.floats(1e-4, 1e-2))
    def test_it_agrees_with_derivatives_by_hand(self, a: float, b: float, u: float) -> None:
        first = Uncertain.from_input(a, InputQuantity("a", u))
        second = Uncertain.from_input(b, InputQuantity("b", 2 * u))
        found = propagated(lambda v: v["a"] ** 2 / v["b"], {"a": first, "b": second})
        by_hand = math.hypot(2 * a / b * u, a**2 / b**2 * 2 * u)
        # A difference over ± u of 1/b is off its slope by (u/b)² of it, of a² by nothing.
        assert float(found.standard_uncertainty()) == pytest.approx(by_hand, rel=4.1 * (u / b) ** 2)

    def test_a_cause_that_two_arguments_share_counts_once(self) -> None:
        one = Uncertain.from_input(3.0, InputQuantity("shared", 0.1))
        found = propagated(lambda v: v["a"] - v["b"], {"a": one, "b": one})
        assert float(found.standard_uncertainty()) == pytest.approx(0.0, abs=1e-12)


@pytest.mark.parametrize("tool", TOOLS)
def test_the_example_of_every_tool_is_answered_with_a_drawing_and_its_sources(tool: str) -> None:
    words = TOOLS[tool].example
    typed = {
        name.removeprefix("--").replace("-", "_"): text
        for name, text in zip(words[::2], words[1::2], strict=True)
    }
    found = answered(tool, typed)
    assert found.sentence.endswith(".")
    assert found.numbers
    assert found.sources
    assert found.drawing.startswith("<svg")
    assert "nan" not in found.drawing
    assert all(np.isfinite(each.value) for each in found.numbers)


def test_units_written_out_for_the_command_line_are_those_of_the_pages() -> None:
    asked = {ask.quantity for tool in TOOLS.values() for ask in tool.asks if ask.quantity}
    for quantity in asked:
        assert SI_UNITS.get(quantity, "") == unit_shown(quantity).text, quantity


def test_a_tool_or_a_name_that_isnt_there_is_refused() -> None:
    with pytest.raises(InputError, match="question"):
        answered("weather", {})
    with pytest.raises(InputError, match="colour"):
        answered("flat", {"colour": "red"})


@pytest.mark.parametrize("bad", ["nan", "inf", "1 2 3", "12 apples", "--1", "1e999", "<b>"])
@pytest.mark.parametrize("tool", TOOLS)
def test_no_word_where_a_number_belongs_gets_through(tool: str, bad: str) -> None:
    needed = {ask.name: bad for ask in TOOLS[tool].asks if ask.is_needed}
    with pytest.raises((InputError, Faults)):
        answered(tool, needed)
