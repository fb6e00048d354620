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


def test_the_gauge_comes_first_among_what_has_the_same_label(tiny):
    kinds = [kind for label, kind in found(tiny, "G-T") if label == "G-T"]
    assert kinds == ["gauge", "station", "bridge circuit", "channel"]


@pytest.mark.parametrize("typed", ["g-t", " G-T ", "G -T"])
def test_case_and_blanks_dont_matter(tiny, typed):
    assert found(tiny, typed)[0] == ("G-T", "gauge")


@pytest.mark.parametrize(
    ("typed", "kind", "gauges"),
    [
        ("S", "bar", ("G-T", "G-U")),
        ("G-U", "station", ("G-U",)),
        ("G-U", "bridge circuit", ("G-U",)),
        ("G-U", "channel", ("G-U",)),
        ("pack", "gauge pack", ("G-T", "G-U")),
        ("cell", "sensor", ()),
    ],
)
def test_what_carries_or_reads_gauges_leads_to_them(tiny, typed, kind, gauges):
    hits = by_label(Book.read(tiny.store), typed)
    assert [one.gauges for one in hits if one.kind == kind and one.label == typed] == [gauges]


def test_nothing_found_is_no_error_and_nothing_typed_is_one(tiny):
    assert found(tiny, "no such thing") == []
    with pytest.raises(InputError, match=r"^label is ' '"):
        found(tiny, " ")


def test_a_label_that_very_many_have_is_cut_at_what_a_page_holds(tiny):
    with tiny.store.several():
        for number in range(MOST + 5):
            tiny.add(f"many {number}", Specimen(f"many {number}", SpecimenKind.DUMMY))
    assert len(found(tiny, "many")) == MOST
