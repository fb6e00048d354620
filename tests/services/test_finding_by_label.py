"""A label, or a part of one, leads to what people call so and to its gauges."""

import pytest

from gaugewright.errors import InputError
from gaugewright.records.specimen import Specimen, SpecimenKind
from gaugewright.services.book import Book
from gaugewright.services.finding_by_label import MOST, by_label


def found(tiny, typed):
    return [(one.label, one.kind) for one in by_label(Book.read(tiny.store), typed)]


def test_the_whole_label_comes_before_labels_that_begin_so_or_hold_it(tiny):
    for label in ("xS", "Sx"):
        tiny.add(label, Specimen(label, SpecimenKind.DUMMY))
    labels = [label for label, _ in found(tiny, "S")]
    assert labels[0] == "S"  # the bar
    assert labels.index("Sx") < labels.index("xS")


def test_a_gauge_is_told_once_and_not_again_as_its_station_circuit_and_channel(tiny):
    assert [kind for label, kind in found(tiny, "G-T") if label == "G-T"] == ["gauge"]


def test_the_label_as_typed_comes_before_one_that_differs_by_a_hyphen(tiny):
    tiny.add("GT", Specimen("GT", SpecimenKind.DUMMY))
    assert found(tiny, "GT")[:2] == [("GT", "specimen"), ("G-T", "gauge")]
    assert found(tiny, "G-T")[:2] == [("G-T", "gauge"), ("GT", "specimen")]


@pytest.mark.parametrize("typed", ["g-t", " G-T ", "G -T", "gt", "g\N{EN DASH}t"])
def test_case_blanks_and_hyphens_dont_matter(tiny, typed):
    assert found(tiny, typed)[0] == ("G-T", "gauge")


@pytest.mark.parametrize(
    ("typed", "kind", "gauges"),
    [
        ("S", "bar", ("G-T", "G-U")),
        ("pack", "gauge pack", ("G-T", "G-U")),
        ("cell", "sensor", ()),
    ],
)
def test_what_carries_or_reads_gauges_leads_to_them(tiny, typed, kind, gauges):
    hits = by_label(Book.read(tiny.store), typed)
    assert [one.gauges for one in hits if one.kind == kind and one.label == typed] == [gauges]


def test_nothing_found_is_no_error_and_nothing_typed_is_one(tiny):
    assert found(tiny, "no such thing") == []
    assert found(tiny, "-") == []
    with pytest.raises(InputError, match=r"^label is ' '"):
        found(tiny, " ")


def test_a_label_that_very_many_have_is_cut_at_what_a_page_holds(tiny):
    with tiny.store.several():
        for number in range(MOST + 5):
            tiny.add(f"many {number}", Specimen(f"many {number}", SpecimenKind.DUMMY))
    assert len(found(tiny, "many")) == MOST
