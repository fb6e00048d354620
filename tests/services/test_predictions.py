"""Predicted strains of gauges against closed forms, fresh draws and what the records lack."""

from dataclasses import replace

import numpy as np
import pytest

from gaugewright.calc import cracked_section
from gaugewright.errors import InputError
from gaugewright.records import Entry
from gaugewright.records.gauges import Gauge
from gaugewright.records.identity import Uid
from gaugewright.records.member import Member
from gaugewright.records.proof import ZeroKind
from gaugewright.services.campaign.book import Book
from gaugewright.services.section.predictions import predicted_strain
from tests.services import beam_records as beam

GRID = 0.008  # from the axis of a bar of 16 mm without a flat
LOADS = np.array([0.0, 20e3, 60e3, 100e3])


def predicted(book, label, load=LOADS, **words):
    return predicted_strain(book, book.labelled(Gauge, label), np.asarray(load, float), **words)


def closed_form(kind):
    """Strain per moment at a depth of the elastic section, by its closed form."""
    shape = cracked_section.rectangle(beam.WIDTH, beam.HEIGHT)
    bars = ([beam.UPPER, beam.LOWER], [2 * beam.AREA, 2 * beam.AREA], beam.STEEL / beam.CONCRETE)
    section = kind(shape, *bars)
    return lambda depth: (
        section.curvature(1.0, beam.CONCRETE) * (depth - section.neutral_axis_depth)
    )


@pytest.mark.parametrize(
    ("label", "depth"),
    [("L1-T", beam.LOWER - GRID), ("L2-U", beam.LOWER + GRID), ("C1-T", beam.UPPER - GRID)],
)
def test_elastic_curves_are_the_closed_forms_at_the_depth_of_the_grid(label, depth):
    found = predicted(beam.beam_book(), label)
    moment = LOADS / 2 * beam.SHEAR_SPAN
    for curve, kind in (
        (found.uncracked, cracked_section.uncracked),
        (found.cracked, cracked_section.cracked),
    ):
        # The section is cut into 120 layers; the closed form isn't.
        expected = moment * closed_form(kind)(depth)
        assert curve.value == pytest.approx(expected, rel=5e-3, abs=1e-9)


def test_it_cracks_where_the_lower_face_reaches_the_tensile_strength():
    found = predicted(beam.beam_book(), "L1-T")
    shape = cracked_section.rectangle(beam.WIDTH, beam.HEIGHT)
    bars = ([beam.UPPER, beam.LOWER], [2 * beam.AREA, 2 * beam.AREA], beam.STEEL / beam.CONCRETE)
    moment = cracked_section.cracking_moment(cracked_section.uncracked(shape, *bars), beam.TENSION)
    assert found.cracking_load.value == pytest.approx(2 * moment / beam.SHEAR_SPAN, rel=1e-3)


def test_first_loading_follows_the_uncracked_curve_and_then_jumps_to_the_cracked_one():
    book = beam.beam_book()
    crack = float(predicted(book, "L1-U").cracking_load.value)
    found = predicted(book, "L1-U", [0.9 * crack, 1.6 * crack])
    assert found.first_loading.value[0] == pytest.approx(found.uncracked.value[0], rel=0.03)
    assert found.first_loading.value[1] == pytest.approx(found.cracked.value[1], rel=0.05)


def test_a_flat_reads_more_than_its_bar_by_the_area_it_took_and_yields_earlier():
    plain, flat = (predicted(beam.beam_book(flat=on), "L1-U") for on in (False, True))
    # Two segments of a circle, 5 mm chord on 16 mm, by their own formula.
    half = np.arcsin(5 / 16)
    cut = 2 * 64e-6 * (half - np.sin(half) * np.cos(half))
    share = 1 - cut / beam.AREA
    depth = beam.LOWER + 0.5 * np.sqrt(0.016**2 - 0.005**2)
    slope = closed_form(cracked_section.cracked)
    expected = slope(depth) / slope(beam.LOWER + GRID) / share
    assert flat.cracked.value[2] / plain.cracked.value[2] == pytest.approx(expected, rel=1e-3)
    assert flat.yield_load.value < plain.yield_load.value


def test_yield_comes_where_the_curve_passes_the_yield_strain():
    book = beam.beam_book()
    load = float(predicted(book, "L1-U").yield_load.value)
    curve = predicted(book, "L1-U", [load]).first_loading
    assert curve.value[0] == pytest.approx(beam.YIELD / beam.STEEL, rel=1e-3)


def test_own_weight_is_left_out_when_counted_from_a_zero_before_the_test():
    book = beam.beam_book(load_per_length=beam.one_sigma(3.3e3, 0.0))
    whole = predicted(book, "L1-T", since=ZeroKind.BEFORE_POUR)
    since = predicted(book, "L1-T")
    moment = 3.3e3 * beam.SPAN**2 / 8
    expected = moment * closed_form(cracked_section.uncracked)(beam.LOWER - GRID)
    for curve in ("uncracked", "cracked", "first_loading"):
        offset = getattr(whole, curve).value - getattr(since, curve).value
        assert offset == pytest.approx(np.full(LOADS.size, expected), rel=5e-3)


def test_shrinkage_pushes_the_bars_and_lowers_the_cracking_load():
    shrunk = beam.beam_book(concrete={"free_strain": beam.one_sigma(-150e-6, 0.0)})
    whole = predicted(shrunk, "L1-T", since=ZeroKind.BEFORE_POUR)
    assert -150e-6 < whole.uncracked.value[0] < -100e-6
    assert whole.cracking_load.value < predicted(beam.beam_book(), "L1-T").cracking_load.value


def drawn_books(rng, count, doubt):
    """Books whose every doubtful number is drawn anew about what the records say."""
    book = beam.beam_book(doubt=doubt)

    def redrawn(value):
        if isinstance(value, tuple):
            return tuple(redrawn(part) for part in value)
        if not hasattr(value, "__dataclass_fields__"):
            return value
        if "plus_minus" in value.__dataclass_fields__:
            spread = value.plus_minus or 0.0
            drawn = value.value + spread * rng.standard_normal()
            return replace(value, value=drawn, plus_minus=0.0)
        fields = {name: redrawn(getattr(value, name)) for name in value.__dataclass_fields__}
        return type(value)(**fields)

    for _ in range(count):
        yield Book(replace(entry, record=redrawn(entry.record)) for entry in book.every())


def test_the_doubt_of_a_prediction_is_the_scatter_of_predictions_from_drawn_records():
    load, doubt = [20e3, 60e3], 0.01
    told = predicted(beam.beam_book(doubt=doubt), "L1-U", load)
    rng = np.random.default_rng(5)
    found = [predicted(book, "L1-U", load) for book in drawn_books(rng, 60, doubt)]
    for curve, numbers in (
        (told.uncracked, [one.uncracked.value for one in found]),
        (told.cracked, [one.cracked.value for one in found]),
        (told.cracking_load, [one.cracking_load.value for one in found]),
        (told.yield_load, [one.yield_load.value for one in found]),
    ):
        # 60 draws know a standard deviation to 9 %: three of these.
        ratio = np.std(np.array(numbers), axis=0, ddof=1) / curve.standard_uncertainty()
        assert np.all(np.abs(np.log(ratio)) < 0.3)


def test_what_nobody_measured_is_told_and_its_doubt_is_assumed():
    book = beam.beam_book(leave_out=("elastic_modulus", "free_strain"))
    found = predicted(book, "L1-T")
    words = " ".join(found.assumed)
    assert "concrete modulus: not measured" in words
    assert "shrinkage" in words
    basis = {q.basis for q in found.uncracked.inputs.values() if "concrete_modulus" in q.name}
    assert basis == {"assumed"}


def test_no_member_says_what_to_write_down():
    with pytest.raises(InputError, match="outline, concrete, the place of every bar"):
        predicted(beam.beam_book(leave_out=("member",)), "L1-T")


def test_a_gauge_across_its_bar_and_a_lifted_beam_are_refused():
    book = beam.beam_book()
    gauge = book.labelled(Gauge, "L1-T")
    turned = replace(gauge, record=replace(gauge.record, angle_to_axis=1.57))
    with pytest.raises(InputError, match="along the bar"):
        predicted_strain(book, turned, LOADS)
    with pytest.raises(InputError, match="lower face pulled"):
        predicted(book, "L1-T", [-200e3])


def test_a_bar_without_an_area_is_named():
    book = beam.beam_book()
    bare = [
        replace(e, record=replace(e.record, area=None)) if e.uid == "C2" else e
        for e in book.every()
    ]
    with pytest.raises(InputError, match="area of C2"):
        predicted(Book(bare), "L1-T")


def test_beyond_the_last_state_there_is_no_prediction():
    book = beam.beam_book()
    last = predicted(book, "L1-T").crushing_load
    found = predicted(book, "L1-T", [0.99 * last, 1.01 * last])
    assert np.isnan(found.first_loading.value).tolist() == [False, True]


def test_every_bar_counts():
    book = beam.beam_book()
    member = book.of(Member)[0]
    fewer = replace(member.record, bars=member.record.bars[:1] + member.record.bars[2:])
    changed = [e if e.uid != "member" else replace(member, record=fewer) for e in book.every()]
    assert isinstance(changed[0], Entry)
    ratio = (
        predicted(Book(changed), "L1-T").cracked.value[2] / predicted(book, "L1-T").cracked.value[2]
    )
    assert 1.8 < ratio < 2.0  # half the steel, a little more lever
    assert Uid("L2") not in [place.bar for place in fewer.bars]
