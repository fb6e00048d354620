"""Plans whose load presses, bends or twists: records typed as on the forms, strains by hand."""

import math
from dataclasses import replace

import numpy as np
import pytest

from gaugewright.calc.uncertainty import Uncertain
from gaugewright.errors import InputError
from gaugewright.records.gauges import Gauge
from gaugewright.records.identity import working_context
from gaugewright.records.member import Held, LoadPoint, Member
from gaugewright.records.planning import AcrossForce, BarLoading
from gaugewright.records.specimen import Bar, Question, Station
from gaugewright.records.stated import Stated
from gaugewright.services.campaign import campaigns
from gaugewright.services.campaign.book import Book
from gaugewright.services.entering import entry as plan_entry
from gaugewright.services.entering.kinds import Asking
from gaugewright.services.members.member_statics import statics_at
from gaugewright.services.members.members import member_of
from gaugewright.services.plan.figures import bars_drawn, prediction_figures
from gaugewright.services.plan_parts.parts import Asked, part_lists, planned, readings_asked
from gaugewright.services.section.predictions import (
    crushing_load,
    predicted_plane,
    predicted_strain,
)
from gaugewright.services.showing.listings import Doubted, named
from gaugewright.store.campaign import CampaignStore
from tests.services import beam_records as beam
from tests.services import planned_campaigns as made

INCH = 0.0254
OUTER, WALL, E, NU = 0.1143, 0.0063, 208e9, 0.29
ARM, ACROSS, LENGTH = 0.006, 0.02, 2.4


def typed(store, key, **texts):
    """A record as its form keeps it, what stands in an empty form included."""
    kind = plan_entry.kind_named(key)
    system = campaigns.system_of(store)
    blanks = kind.blanks(Asking(Book.read(store), texts, system))
    return plan_entry.written(store, key, plan_entry.standing_texts(blanks, texts))


def tube(store, kind="bare metal"):
    typed(store, "specimen", label="brace", kind=kind, length="2400")
    metal = {"elastic_modulus": "208", "poisson_ratio": "0.29", "thermal_expansion": "11.8"}
    metal |= {"law": "bilinear", "yield_strength": "355", "hardening_modulus": "1"}
    typed(store, "material", label="S355", **metal)
    measures = {"diameter": "114.3", "wall_thickness": "6.3", "length": "2400"}
    typed(store, "bar", label="T1", specimen="brace", material="S355", **measures)


def places(store, *grids):
    for label, angle, turn in grids:
        station = {"label": label, "bar": "T1", "datum": "lower end"}
        typed(store, "station", **station, distance_planned="1200", angle_planned=str(angle))
        uid = Book.read(store).labelled(Station, label).uid
        store.add(Gauge(label, made_pack(store), uid, math.radians(turn)))


def made_pack(store):
    pack = {"label": "350", "lot": "1", "gauge_resistance": "350", "gauge_factor": "2.08"}
    pack |= {"transverse_sensitivity": "0", "grid_length": "3 mm", "grid_width": "1.6 mm"}
    book = Book.read(store)
    known = [e for e in book.of(plan_entry.KINDS["pack"].record) if e.record.label == "350"]
    return known[0].uid if known else typed(store, "pack", **pack, has_thermal="no")[0].uid


@pytest.fixture(scope="module")
def brace(tmp_path_factory):
    folder = tmp_path_factory.mktemp("plan") / "brace"
    with made.begun(folder, "brace", "si") as store:
        tube(store)
        places(
            store,
            *(("N", 0, 0), ("S", 180, 0), ("E", 90, 0), ("E-2", 90, 90)),
        )
        for label, topology, gauges in (
            ("bending", "half bridge, bending pair", ("N", "S")),
            ("force", "half bridge, Poisson pair", ("E", "E-2")),
        ):
            lead = {"label": f"cable {label}", "wires": "4", "length": "25"}
            typed(store, "lead", **lead, conductor="0.25 mm²")
            arms = {"gauge_1": gauges[0], "gauge_2": gauges[1], "lead": f"cable {label}"}
            typed(store, "circuit", label=label, topology=topology, **arms)
        loading = {"label": "pull", "bar": "T1", "axial_share": "1"}
        loading |= {"eccentricity": "6", "eccentric_towards": "0", "support_near": "0"}
        loading |= {"support_far": "2400", "across.1.distance": "1200"}
        loading |= {"across.1.share": "0.02", "across.1.towards": "180"}
        typed(store, "loading", **loading)
        steps = {"steps.1.label": "half", "steps.1.load": "100"}
        steps |= {"steps.2.label": "whole", "steps.2.load": "200"}
        typed(store, "protocol", label="pull", specimen="brace", **steps)
        stations = tuple(Book.read(store).labelled(Station, one).uid for one in ("N", "S"))
        store.add(Question("moment", "Which moment?", "moment", None, stations, 200e3))
        store.add(Question("bend", "How much does it bend?", "curvature", None, stations, 200e3))
    with CampaignStore.open(folder, working_context(), read_only=True) as store:
        yield Asked(store, Book.read(store), None, "si")


def cell(listing, row, head):
    place = [column.head for column in listing.columns].index(head)
    return next(one for one in listing.rows if one[0] == row)[place]


AREA = math.pi / 4 * (OUTER**2 - (OUTER - 2 * WALL) ** 2)
SECOND = math.pi / 64 * (OUTER**4 - (OUTER - 2 * WALL) ** 4)
# Bending towards the top: the pin beside the axis, less the force across that pulls the bottom.
PER_LOAD = ARM - ACROSS * LENGTH / 4


def test_a_tube_pulled_beside_its_axis_and_pushed_across_bends_as_by_hand(brace):
    listing = named(part_lists(brace, "prediction"), "prediction")
    pull = 200e3 / (E * AREA)
    bend = 200e3 * PER_LOAD * OUTER / 2 / (E * SECOND)
    wanted = {"N": pull + bend, "S": pull - bend, "E": pull, "E-2": -NU * pull}
    for gauge, strain in wanted.items():
        found = cell(listing, gauge, "at 200 kN")
        assert isinstance(found, Doubted)
        assert found.value == pytest.approx(strain, rel=1e-9)
        assert found.expanded > 0


def test_each_bridge_puts_out_what_its_arms_do_with_their_signs(brace):
    listing = named(part_lists(brace, "prediction"), "outputs")
    bend = 200e3 * PER_LOAD * OUTER / 2 / (E * SECOND)
    pull = 200e3 / (E * AREA)
    # Voltage division, written out: two arms with grids, two fixed ones.
    for label, first, second in (
        ("bending", pull + bend, pull - bend),
        ("force", pull, -NU * pull),
    ):
        up, down = 1 + 2.08 * first, 1 + 2.08 * second
        ratio = up / (up + down) - 0.5
        assert cell(listing, label, "at 200 kN") == pytest.approx(ratio, rel=1e-9)
    assert cell(listing, "bending", "told") == "half bridge, bending pair: +N, −S"
    ranges = named(part_lists(brace, "prediction"), "loads-and-ranges")
    assert cell(ranges, "N", "lowest strain") == pytest.approx(min(bend, 0.0), rel=1e-9)
    assert cell(ranges, "N", "highest strain") == pytest.approx(max(bend, 0.0), rel=1e-9)


def test_a_bent_tube_yields_where_it_is_stressed_most(brace):
    listing = named(part_lists(brace, "prediction"), "loads-and-ranges")
    worst = 1 / AREA + abs(PER_LOAD) * OUTER / 2 / SECOND
    for gauge in ("N", "S", "E"):
        found = cell(listing, gauge, "yields at")
        assert found.value == pytest.approx(355e6 / worst, rel=1e-9)
    far = part_lists(Asked(brace.store, brace.book, None, "si", {"loads": "900"}), "prediction")
    assert cell(named(far, "prediction"), "N", "at 900 kN") is None
    assert "first yield" in str(cell(named(far, "prediction"), "N", "told"))


def test_a_moment_is_answered_by_the_bending_bridge(brace):
    one, bend = planned(brace).every()
    assert one.predicted == pytest.approx(200e3 * PER_LOAD, rel=1e-6)
    assert one.answer.resolution > 0
    # Curvature is M / (E I), also of bare metal that no member describes.
    assert bend.predicted == pytest.approx(200e3 * PER_LOAD / (E * SECOND), rel=1e-6)
    assert bend.answer.resolution > 0


def test_a_torsion_tube_wants_to_know_its_arm_and_then_twists(tmp_path):
    with made.begun(tmp_path / "shaft", "shaft", "si") as store:
        tube(store, "torsion tube")
        places(store, ("P", 0, 45), ("M", 0, -45))
        steps = {"steps.1.label": "whole", "steps.1.load": "10"}
        typed(store, "protocol", label="twist", specimen="brace", **steps)
        book = Book.read(store)
        (listing, *_) = part_lists(Asked(store, book, None, "si"), "prediction")
        assert "isn't pulled" in str(cell(listing, "P", "told"))
        loading = {"label": "twist", "bar": "T1", "axial_share": "0", "torque_arm": "500"}
        typed(store, "loading", **loading)
        (listing, *_) = part_lists(Asked(store, Book.read(store), None, "si"), "prediction")
        shear = 10e3 * 0.5 * OUTER / 2 / (2 * SECOND) * 2 * (1 + NU) / E
        assert cell(listing, "P", "at 10 kN").value == pytest.approx(shear / 2, rel=1e-9)
        assert cell(listing, "M", "at 10 kN").value == pytest.approx(-shear / 2, rel=1e-9)


def column(**changed):
    """The beam of the records, standing: pressed 60 mm above its middle."""
    book = beam.beam_book(doubt=0.01, **changed)
    return book


PRESSED = {
    "load_points": (),
    "axial_share": -1.0,
    "eccentricity": beam.one_sigma(-0.06, 0.002),
    "load_per_length": None,
}


def strains(book, load, labels=("L1-T", "C1-T")):
    return [
        predicted_strain(book, book.labelled(Gauge, one), np.array([load])).first_loading
        for one in labels
    ]


def test_a_pressed_column_is_load_over_area_and_moment_over_inertia_while_it_is_whole():
    book = column(**PRESSED)
    load = 100e3
    beside = beam.STEEL / beam.CONCRETE - 1
    area = beam.WIDTH * beam.HEIGHT + 4 * beside * beam.AREA
    depths = np.array([beam.LOWER, beam.LOWER, beam.UPPER, beam.UPPER])
    middle = (beam.WIDTH * beam.HEIGHT**2 / 2 + beside * beam.AREA * depths.sum()) / area
    second = beam.WIDTH * beam.HEIGHT**3 / 12
    second += beam.WIDTH * beam.HEIGHT * (beam.HEIGHT / 2 - middle) ** 2
    second += beside * beam.AREA * np.sum((depths - middle) ** 2)
    arm = 0.06 + middle - beam.HEIGHT / 2
    for label, depth in (("L1-T", beam.LOWER - 0.008), ("C1-T", beam.UPPER - 0.008)):
        found = predicted_strain(book, book.labelled(Gauge, label), np.array([load]))
        wanted = load / beam.CONCRETE * (-1 / area + arm * (depth - middle) / second)
        assert found.uncracked.value[0] == pytest.approx(wanted, rel=2e-3)
        # Concrete pressed to a fifth of its strength is softer than at nothing.
        assert found.first_loading.value[0] == pytest.approx(wanted, rel=0.08)
        assert found.first_loading.standard_uncertainty()[0] > 0
        assert math.isnan(found.cracked.value[0])


def test_pressed_on_the_other_side_the_column_is_the_same_upside_down():
    above = column(**PRESSED)
    below = column(**PRESSED | {"eccentricity": beam.one_sigma(0.06, 0.002)})
    for load in (100e3, 600e3):
        low, high = strains(above, load, ("L1-U", "C1-T"))
        # Bars lie as deep from either face: what the lower ones did, the upper ones do.
        high_now, low_now = strains(below, load, ("C1-T", "L1-U"))
        assert high_now.value[0] == pytest.approx(low.value[0], rel=1e-6)
        assert low_now.value[0] == pytest.approx(high.value[0], rel=1e-6)


def test_a_force_that_stays_closes_the_crack_for_longer():
    free = column(axial_force=None)
    held = column(axial_force=beam.one_sigma(-400e3, 4e3))
    gauge = "L1-T"
    cracks = [
        float(predicted_strain(b, b.labelled(Gauge, gauge), np.array([10e3])).cracking_load.value)
        for b in (free, held)
    ]
    whole = beam.WIDTH * beam.HEIGHT
    # M/W = ft + N/A, by the gross section; the bars add a little to both.
    later = 400e3 / whole * (beam.WIDTH * beam.HEIGHT**2 / 6) / (beam.SHEAR_SPAN / 2)
    assert cracks[1] - cracks[0] == pytest.approx(later, rel=0.08)
    book = held
    member = member_of(book, book.labelled(Bar, "L1"))
    assert crushing_load(book, member) > crushing_load(
        free, member_of(free, free.labelled(Bar, "L1"))
    )


@pytest.mark.parametrize(
    ("held", "at_clamp", "in_middle"),
    [(Held.BOTH_ENDS, -1 / 8, 1 / 8), (Held.PROPPED, -3 / 16, 5 / 32)],
)
def test_clamped_beams_bend_both_ways(held, at_clamp, in_middle):
    book = column(
        held=held,
        load_per_length=None,
        supports=(Stated(0.0), Stated(beam.SPAN)),
        load_points=(beam_point(beam.SPAN / 2),),
    )
    member = member_of(book, book.labelled(Bar, "L1"))
    for place, wanted in ((0.0, at_clamp), (beam.SPAN / 2, in_middle)):
        lever = float(statics_at(member, Uncertain.exact(place)).lever.value)
        assert lever == pytest.approx(wanted * beam.SPAN, rel=1e-9)
    with pytest.raises(InputError, match="clamped ends"):
        statics_at(member, Uncertain.exact(-0.1))


def beam_point(distance):
    return LoadPoint(Stated(distance), 1.0)


def test_a_cantilever_is_pulled_on_top():
    book = column(
        held=Held.ONE_END,
        load_per_length=None,
        supports=(Stated(1.0), Stated(3.4)),
        load_points=(beam_point(3.4),),
    )
    low, high = strains(book, 20e3)
    assert high.value[0] > 0 > low.value[0]


def test_members_and_loadings_that_cannot_be_are_refused():
    record = beam.beam_book().of(Member)[0].record
    with pytest.raises(InputError, match="three or more"):
        replace(record, held=Held.IN_A_ROW)
    with pytest.raises(InputError, match="eccentricity"):
        replace(record, eccentricity=Stated(0.05))
    with pytest.raises(InputError, match="clamps take part"):
        replace(record, held=Held.BOTH_ENDS, axial_share=-1.0, eccentricity=Stated(0.05))
    with pytest.raises(InputError, match="load_points"):
        replace(record, load_points=())
    with pytest.raises(InputError, match="axial_share"):
        BarLoading("x", record.specimen, 0.0)
    with pytest.raises(InputError, match="two places"):
        BarLoading("x", record.specimen, across=(AcrossForce(Stated(1.0), 1.0, 0.0),))


def test_a_bent_tube_is_drawn_against_load_and_round_itself(brace):
    readings = readings_asked(brace)
    assert bars_drawn(readings) == ("T1",)
    over, around = prediction_figures(readings, brace.book, "T1", "si")
    # N and S lie apart; E reads the pull alone; E-2 across it: four lines.
    assert [curve.label for curve in over.plot.curves] == ["N", "S", "E", "E-2"]
    bend = PER_LOAD * OUTER / 2 / (E * SECOND)
    top = over.plot.curves[0]
    assert top.x[-1] * 1e-6 / (top.y[-1] * 1e3) == pytest.approx(1 / (E * AREA) + bend, rel=1e-6)
    ring = around.plot.curves[-1]
    assert ring.x[18] == pytest.approx(90)
    assert ring.y[18] * 1e-6 == pytest.approx(200e3 / (E * AREA), rel=1e-6)
    assert ring.y[0] * 1e-6 == pytest.approx(200e3 * (1 / (E * AREA) + bend), rel=1e-6)


def test_the_plane_over_a_pressed_section_goes_through_what_its_bars_read():
    for sign, label in ((-1, "L1-T"), (1, "C1-T")):
        turned = column(**PRESSED | {"eccentricity": beam.one_sigma(sign * 0.06, 0.002)})
        found = predicted_strain(turned, turned.labelled(Gauge, label), np.array([300e3]))
        member = member_of(turned, turned.labelled(Bar, "L1"))
        top, bend = predicted_plane(turned, member, 1.8, np.array([300e3]))
        depth = float(found.place.depth.value)
        assert top[0] + bend[0] * depth == pytest.approx(found.first_loading.value[0], rel=1e-9)
