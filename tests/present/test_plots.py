import re
from dataclasses import replace
from itertools import pairwise
from xml.etree import ElementTree

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from gaugewright.errors import InputError
from gaugewright.present.axes import round_ticks
from gaugewright.present.plots import Axis, Curve, Plot, Point, Void, drawn
from gaugewright.present.svg import Mark, Text, rendered

SVG = "{http://www.w3.org/2000/svg}"
X = np.linspace(0.0, 2000.0, 50)
PLOT = Plot(
    Axis("strain in the bar", "µε"),
    Axis("load", "kN"),
    "Load against strain",
    (Curve("G14 & <neighbours>", X, X / 16, "a", np.full(50, 20.0), "x"),),
)


def parsed(text: str) -> ElementTree.Element:
    return ElementTree.fromstring(text)


def words(text: str) -> list[str]:
    return [element.text or "" for element in parsed(text).iter(f"{SVG}text")]


@given(
    a=st.floats(-1e9, 1e9),
    b=st.floats(-1e9, 1e9),
    about=st.integers(1, 12),
)
def test_ticks_enclose_the_range_in_even_steps(a, b, about):
    ticks = round_ticks(a, b, about)
    span = ticks[-1] - ticks[0]
    assert ticks[0] <= min(a, b) + 1e-6 * span
    assert ticks[-1] >= max(a, b) - 1e-6 * span
    assert len(ticks) >= 2
    assert np.allclose(np.diff(ticks), (ticks[-1] - ticks[0]) / (len(ticks) - 1), rtol=1e-6)


def test_axes_and_curves_are_named_beside_them_with_units():
    said = words(drawn(PLOT))
    assert "strain in the bar, µε" in said
    assert "load, kN" in said
    assert "G14 & <neighbours>" in said
    assert "2\u202f000" in said


def test_a_gap_is_not_drawn_as_a_line():
    y = X / 16
    y[20:25] = np.nan
    plot = replace(PLOT, curves=(Curve("G14", X, y),))
    line = next(e for e in parsed(drawn(plot)).iter(f"{SVG}path") if e.attrib.get("class") == "sa")
    assert line.attrib["d"].count("M") == 2


def test_a_lone_sample_between_gaps_is_still_seen():
    y = np.full(50, np.nan)
    y[10] = 5.0
    plot = replace(PLOT, curves=(Curve("G14", X, y),))
    assert sum(1 for _ in parsed(drawn(plot)).iter(f"{SVG}circle")) == 1


def test_the_band_is_as_wide_as_the_uncertainty_says():
    plot = replace(PLOT, curves=(Curve("G14", X, X / 16, "a", np.full(50, 200.0), "x"),))
    svg = parsed(drawn(plot))
    band = next(e for e in svg.iter(f"{SVG}path") if e.attrib.get("class") == "band")
    line = next(e for e in svg.iter(f"{SVG}path") if e.attrib.get("class") == "sa")
    pairs = re.findall(r"[ML]([\d.]+) ([\d.]+)", band.attrib["d"])
    points = re.findall(r"[ML]([\d.]+) ([\d.]+)", line.attrib["d"])
    middle = len(points) // 2
    width = float(pairs[-1 - middle][0]) - float(pairs[middle][0])
    per_unit = (float(points[-1][0]) - float(points[0][0])) / 2000.0
    assert width == pytest.approx(400.0 * per_unit, abs=0.05)


def test_a_lost_gauge_is_drawn_as_missing_with_its_reason():
    plot = replace(PLOT, voids=(Void(1000.0, "G12 lost"),))
    assert "G12 lost" in words(drawn(plot))


def test_the_web_drawing_has_no_inline_styles_and_paper_no_classes():
    web, paper = drawn(PLOT, where="web"), drawn(PLOT, where="paper")
    assert "style=" not in web
    assert "fill=" not in web
    assert "class=" not in paper
    # a family name with a figure in it must be quoted, or no text is drawn
    assert "font-family=\"'Source Sans 3'\"" in paper


def test_a_label_never_becomes_markup():
    hostile = '"><script>alert(1)</script>'
    plot = replace(PLOT, alt=hostile, curves=(Curve(hostile, X, X),))
    svg = parsed(drawn(plot))
    assert svg.attrib["aria-label"] == hostile
    assert not list(svg.iter(f"{SVG}script"))


def test_whiskers_and_guides_of_a_point_lie_inside_the_sheet():
    point = Point(1990.0, 124.0, "yield begins", 150.0, 8.0, guides=True, hollow=True)
    svg = parsed(drawn(replace(PLOT, points=(point,)), 400, 300))
    for line in svg.iter(f"{SVG}line"):
        assert -5 <= float(line.attrib["x1"]) <= 405
        assert -5 <= float(line.attrib["y1"]) <= 305


def test_nothing_measured_is_refused_with_the_name_of_the_axis():
    plot = replace(PLOT, curves=(Curve("G14", X, np.full(50, np.nan)),))
    with pytest.raises(InputError, match="load is"):
        drawn(plot)


def test_a_million_samples_make_a_small_drawing_with_the_peak_in_it():
    y = np.zeros(1_000_000)
    y[777_777] = 42.0
    plot = replace(PLOT, curves=(Curve("G14", np.arange(1e6), y),))
    text = drawn(plot)
    assert len(text) < 60_000
    assert "42" not in words(text)  # the peak is drawn, not written
    path = next(e for e in parsed(text).iter(f"{SVG}path") if e.attrib.get("class") == "sa")
    heights = [float(v) for _, v in re.findall(r"[ML]([\d.]+) ([\d.]+)", path.attrib["d"])]
    base = max(heights)
    assert min(heights) < 0.5 * base


def test_a_curve_with_unequal_rows_is_refused():
    with pytest.raises(InputError, match="curve G14"):
        Curve("G14", X, X[:-1])


@pytest.mark.parametrize("state", ["sound", "watch", "repair", "doubtful", "lost", "not yet"])
@pytest.mark.parametrize("where", ["web", "paper"])
def test_every_state_has_a_mark(state, where):
    assert len(list(parsed(rendered([Mark(state, 9, 9)], 18, 18, state, where)).iter())) > 1


def test_an_unknown_state_or_kind_is_refused():
    with pytest.raises(InputError, match="state is 'fine'"):
        rendered([Mark("fine", 9, 9)], 18, 18, "x")
    with pytest.raises(InputError, match="kind of text"):
        rendered([Text("loud", 0, 0, "x")], 18, 18, "x")


@example(low=1e5, span=1.31e-6)
@example(low=1e5, span=1.1e-4)
@given(low=st.floats(-1e6, 1e6), span=st.floats(0, 1e6))
def test_every_axis_holds_its_data_and_has_two_round_numbers_or_more(low, span):
    x = np.array([low, low + span])
    plot = Plot(Axis("x", ""), Axis("y", ""), "line", (Curve("", x, x),))
    svg = parsed(drawn(plot))
    line = next(e for e in svg.iter(f"{SVG}path") if e.attrib.get("class") == "sa")
    for across, down in re.findall(r"[ML]([\d.]+) ([\d.]+)", line.attrib["d"]):
        assert 14 <= float(across) <= 704.01
        assert 35.9 <= float(down) <= 388.01
    faint = [e for e in svg.iter(f"{SVG}text") if "tx-faint" in e.attrib["class"]]
    assert len(faint) >= 4


def test_data_that_jut_out_a_little_cost_no_whole_step():
    x = np.array([-20.0, 0.0, 2000.0])
    said = words(drawn(replace(PLOT, curves=(Curve("G14", x, x),))))
    assert "0" in said
    assert not any(text.startswith("\N{MINUS SIGN}") for text in said)


def test_a_curve_that_leaves_the_range_asked_for_ends_at_the_frame_and_says_how_far_it_goes():
    x = np.array([0.0, 500.0, 1000.0, 3000.0])
    plot = replace(
        PLOT,
        x=replace(PLOT.x, highest=1600.0),
        curves=(Curve("G14", x, np.array([0.0, 50.0, 100.0, 100.0])),),
    )
    text = drawn(plot, 640, 360)
    line = next(e for e in parsed(text).iter(f"{SVG}path") if e.attrib.get("class") == "sa")
    drawn_x = [float(a) for a in re.findall(r"[ML ]?(-?[\d.]+)[ ,]-?[\d.]+", line.attrib["d"])]
    across = [e.attrib for e in parsed(text).iter() if e.attrib.get("class") == "axis"]
    assert max(drawn_x) == pytest.approx(max(float(a["x2"]) for a in across), abs=0.2)
    assert "goes on to 3\u202f000 µε" in words(text)


@pytest.mark.parametrize("width", [358, 640, 1100])
@pytest.mark.parametrize("first", [0.0, 123_456.25, -98_765_432.5])
def test_numbers_below_a_close_up_lie_inside_the_sheet_and_not_on_each_other(first, width):
    x = first + np.linspace(0.0, 0.013, 50)
    text = drawn(replace(PLOT, curves=(Curve("G14", x, x - first),)), width, 300)
    below = [
        (float(e.attrib["x"]), len(e.text or ""))
        for e in parsed(text).iter(f"{SVG}text")
        if "mid" in e.attrib.get("class", "")
    ]
    assert len(below) > 1
    # A digit is about half as wide as it is high, and these are 13 pixels high.
    ends = [(at - 6.5 * signs / 2, at + 6.5 * signs / 2) for at, signs in below]
    assert max(end for _, end in ends) <= width
    assert all(one[1] < other[0] for one, other in pairwise(sorted(ends)))


def test_a_band_that_comes_back_over_itself_runs_round_in_one_sense() -> None:
    """Every piece of the band has the same sign of area, so nothing is cut out of it."""
    load = np.concatenate([np.linspace(*legs, 30) for legs in ((0, 9), (9, 3), (3, 10))])
    curve = Curve("", load * 1.1, load, "a", np.full(load.size, 0.8), "x")
    svg = drawn(Plot(Axis("x", ""), Axis("y", ""), "a loop", (curve,)))
    path = re.search(r'class="band" d="([^"]+)"', svg)
    assert path is not None
    areas = []
    for piece in path[1].split("Z"):
        corners = np.array(re.findall(r"(-?[0-9.]+)[ ,](-?[0-9.]+)", piece), dtype=float)
        if len(corners) < 3:
            continue
        x, y = corners.T
        areas.append(float(np.sum(x * np.roll(y, -1) - y * np.roll(x, -1))))
    assert len(areas) == 3
    assert len({np.sign(area) for area in areas}) == 1
