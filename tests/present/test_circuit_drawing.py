"""Circuits and sections drawn: every word is there, nothing lies outside, places are known."""

import re

import pytest

from gaugewright.errors import InputError
from gaugewright.present.circuit_drawing import (
    SHUNT_PLACES,
    Arm,
    Quarter,
    bridge_of_arms,
    quarter_bridge,
    wires_of_gauge,
)
from gaugewright.present.flat_drawing import FlatDrawn, bar_with_flat

PARTS = Quarter("120 Ω", "1.1 Ω", "1.2 Ω", "1.3 Ω", "350 Ω", "2.5 V", "r", "59.88 kΩ")


def inside(svg: str) -> bool:
    """Whether every coordinate lies within the sheet."""
    box = re.search(r'viewBox="0 0 ([\d.]+) ([\d.]+)"', svg)
    assert box is not None
    width, height = float(box[1]), float(box[2])
    x = [float(n) for n in re.findall(r' (?:x|x1|x2|cx)="(-?[\d.]+)"', svg)]
    y = [float(n) for n in re.findall(r' (?:y|y1|y2|cy)="(-?[\d.]+)"', svg)]
    pairs = re.findall(r"[ML](-?[\d.]+) (-?[\d.]+)", svg)
    x += [float(one) for one, _ in pairs]
    y += [float(other) for _, other in pairs]
    return 0 <= min(x) <= max(x) <= width and 0 <= min(y) <= max(y) <= height


@pytest.mark.parametrize("place", SHUNT_PLACES)
def test_a_quarter_bridge_says_every_value_wherever_the_resistor_is(place: str) -> None:
    parts = Quarter(*[getattr(PARTS, f) for f in list(PARTS.__slots__)[:8]], shunts=(place,))
    svg = quarter_bridge(parts, "Quarter bridge")
    for words in ("120 Ω", "1.1 Ω", "1.2 Ω", "1.3 Ω", "350 Ω", "2.5 V", "59.88 kΩ"):
        assert f">{words}</text>" in svg
    assert inside(svg)
    assert svg.count("ln-next") == 2  # its wires and its box


def test_an_unknown_place_draws_all_of_them() -> None:
    svg = quarter_bridge(Quarter(shunt="?", shunts=SHUNT_PLACES), "Quarter bridge")
    assert svg.count("ln-next") == 2 * len(SHUNT_PLACES)
    assert svg.count(">?</text>") == 1


def test_with_two_wires_there_is_no_third_and_terminals_b_and_c_are_one() -> None:
    svg = quarter_bridge(Quarter(shunts=("A-C", "A-B"), is_two_wire=True), "Two wires")
    assert ">C</text>" not in svg
    assert svg.count("ln-next") == 2
    assert inside(svg)


def test_a_place_that_isnt_there_is_refused() -> None:
    with pytest.raises(InputError, match="position"):
        quarter_bridge(Quarter(shunts=("somewhere",)), "Quarter bridge")


def test_readings_stand_between_the_leads_they_were_taken_at() -> None:
    svg = wires_of_gauge(PARTS, ("122.7 Ω", "open", "2.7 Ω"), "Leads")
    place = {
        words: float(y) for y, words in re.findall(r'y="([\d.]+)">(122.7 Ω|open|2.7 Ω)</text>', svg)
    }
    assert place["2.7 Ω"] < place["122.7 Ω"] < place["open"]  # B-C above, A-C below
    assert inside(svg)


def test_a_bridge_tells_grids_from_fixed_arms() -> None:
    arms = (Arm("+ε", True), Arm("−νε", True), Arm("fixed", False), Arm("fixed", False))
    svg = bridge_of_arms(arms, "5 V", "r", "Bridge")
    assert svg.count("ln-thick") == 2
    assert svg.count(">fixed</text>") == 2
    assert inside(svg)


@pytest.mark.parametrize("depth", [0.0, 0.0365, 0.25, 0.5])
@pytest.mark.parametrize("flats", [1, 2])
def test_a_flat_is_drawn_to_scale(depth: float, flats: int) -> None:
    drawn = FlatDrawn(depth, 0.01, flats, "core 16 mm", "flat 6 mm", "0.58 mm deep", "centre")
    svg = bar_with_flat(drawn, "Section")
    assert inside(svg)
    outline = re.search(r'class="fill-steel" d="([^"]+)"', svg)
    assert outline is not None
    y = [float(other) for _, other in re.findall(r"[ML](-?[\d.]+) (-?[\d.]+)", outline[1])]
    # 240 pixels are the diameter: what is left is the diameter less one depth, or two.
    assert max(y) - min(y) == pytest.approx(240 * (1 - flats * depth), abs=0.2)


def test_a_flat_deeper_than_half_the_bar_is_refused() -> None:
    with pytest.raises(InputError, match="depth"):
        bar_with_flat(FlatDrawn(0.6, 0, 1, "", "", "", ""), "Section")


def test_a_fourth_wire_is_drawn_from_the_tab_of_lead_a() -> None:
    three = quarter_bridge(Quarter(lead_a="1.0 Ω"), "three wires")
    four = quarter_bridge(Quarter(lead_a="1.0 Ω", lead_d="1.1 Ω"), "four wires")
    assert ">D<" not in three
    assert ">D<" in four
    assert "1.1 Ω" in four
