"""A label, or a part of one, leads to what people call so and to its gauges."""

import pytest

from gaugewright.errors import InputError
from gaugewright.records.gauges import Gauge
from gaugewright.records.specimen import Specimen, SpecimenKind
from gaugewright.services.campaign import finding_by_label
from gaugewright.services.campaign.book import Book
from gaugewright.services.campaign.finding_by_label import MOST, by_label, near_labels


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


def gauge(tiny, label):
    return next(g for g in Book.read(tiny.store).of(Gauge) if g.record.label == label)


@pytest.mark.parametrize("change", [str.upper, str.lower, lambda end: f" {end[:2]}-{end[2:]}"])
def test_a_gauge_is_found_by_the_last_four_characters_of_its_number(tiny, change):
    end = gauge(tiny, "G-T").uid[-4:]
    hits = [hit for hit in by_label(Book.read(tiny.store), change(end)) if hit.by_number]
    assert "G-T" in {hit.label for hit in hits}
    assert {hit.end for hit in hits} == {end}


def test_more_of_the_number_finds_it_too_and_three_characters_are_a_label_only(tiny):
    number = gauge(tiny, "G-T").uid
    (hit,) = by_label(Book.read(tiny.store), number)
    assert (hit.label, hit.by_number) == ("G-T", True)
    assert not [hit for hit in by_label(Book.read(tiny.store), number[-3:]) if hit.by_number]


def test_what_is_called_exactly_so_comes_before_a_number_that_ends_so(tiny):
    end = gauge(tiny, "G-T").uid[-4:]
    tiny.add(end, Specimen(end, SpecimenKind.DUMMY))
    assert [hit.by_number for hit in by_label(Book.read(tiny.store), end)[:2]] == [False, True]


def test_letters_that_numbers_leave_out_are_read_as_the_digits_they_look_like():
    assert finding_by_label._ends_so("01ABCD01", "cdoi")
    assert finding_by_label._ends_so("01ABCD01", "CDOL")
    assert not finding_by_label._ends_so("01ABCD01", "CDOO")


def test_gauges_most_like_what_was_typed_are_offered(tiny):
    book = Book.read(tiny.store)
    assert set(near_labels(book, "GTT")) == {"G-T"}
    assert near_labels(book, "zzzz") == ()
