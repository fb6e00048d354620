from xml.etree import ElementTree

import pytest

from gaugewright.errors import InputError
from gaugewright.present.drawings import BarDrawn, GaugeDrawn, gauge_map

SVG = "{http://www.w3.org/2000/svg}"


def texts(svg: str) -> dict[str, tuple[float, float]]:
    found = ElementTree.fromstring(svg).iter(f"{SVG}text")
    return {e.text or "": (float(e.attrib["x"]), float(e.attrib["y"])) for e in found}


def test_distances_on_paper_are_in_proportion():
    bar = BarDrawn(
        "bar 1",
        (
            GaugeDrawn("A", 1.0, "sound"),
            GaugeDrawn("B", 1.5, "watch"),
            GaugeDrawn("C", 2.0, "lost"),
        ),
    )
    at = texts(gauge_map((bar,), "map"))
    assert at["B"][0] - at["A"][0] == pytest.approx(at["C"][0] - at["B"][0], abs=0.02)


def test_labels_of_crowded_gauges_do_not_touch():
    gauges = tuple(GaugeDrawn(f"G{n:03d}", 1 + 0.004 * n, "sound") for n in range(60))
    at = texts(gauge_map((BarDrawn("bar 1", gauges),), "map"))
    places = [at[g.label] for g in gauges]
    for n, (x1, y1) in enumerate(places):
        for x2, y2 in places[n + 1 :]:
            assert abs(y1 - y2) > 10 or abs(x1 - x2) > 25


def test_the_ruler_follows_the_units_shown():
    bar = BarDrawn("bar 1", (GaugeDrawn("A", 0.254, "sound"), GaugeDrawn("B", 0.508, "sound")))
    assert "x from the datum, in" in texts(gauge_map((bar,), "map", system="us"))
    assert "10" in texts(gauge_map((bar,), "map", system="us"))
    assert "x from the datum, mm" in texts(gauge_map((bar,), "map"))


def test_one_gauge_alone_can_be_drawn():
    assert "A" in texts(gauge_map((BarDrawn("bar 1", (GaugeDrawn("A", 0.0, "not yet"),)),), "map"))


def test_no_gauge_is_refused_and_says_what_to_do():
    with pytest.raises(InputError, match="place a gauge first"):
        gauge_map((BarDrawn("bar 1", ()),), "map")


def test_a_distance_that_is_no_number_is_refused():
    with pytest.raises(InputError, match="distance"):
        gauge_map((BarDrawn("bar 1", (GaugeDrawn("A", float("nan"), "sound"),)),), "map")


def test_on_a_narrow_sheet_gauges_are_called_by_what_follows_their_bar() -> None:
    gauges = (GaugeDrawn("L3-R1-S", 0.5, "sound"), GaugeDrawn("other", 0.7, "sound"))
    bar = (BarDrawn("L3", gauges),)
    wide, narrow = gauge_map(bar, "map", width=800), gauge_map(bar, "map", width=350)
    assert ">L3-R1-S<" in wide
    assert ">R1-S<" in narrow
    assert ">L3-R1-S<" not in narrow
    assert ">other<" in narrow
