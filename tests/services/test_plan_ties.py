"""A plan for a tie: its bar carries all of the pull at a crack, loads and strains by hand."""

from dataclasses import replace

import pytest

from gaugewright.records.identity import working_context
from gaugewright.records.member import (
    BarPlace,
    Concrete,
    Held,
    Member,
    Outline,
    OutlineShape,
)
from gaugewright.records.specimen import Bar, Question, Specimen, SpecimenKind, Station
from gaugewright.services.campaign.book import Book
from gaugewright.services.plan.places import proposed_stations
from gaugewright.services.plan_parts.parts import Asked, part_lists
from gaugewright.services.showing.listings import Doubted, named
from gaugewright.store.campaign import CampaignStore
from tests.services import planned_campaigns as made

AREA, MODULUS, YIELD, LOAD = 3.142e-4, 200e9, 500e6, 60e3


@pytest.fixture(scope="module")
def tie(tmp_path_factory):
    """One bar in the middle of a square of 120 mm, pulled at its ends."""
    folder = tmp_path_factory.mktemp("ties") / "tie"
    with made.begun(folder, "tie", "si") as store:
        specimen = store.add(Specimen("T", SpecimenKind.CAST_MEMBER, length=1.4)).uid
        metal = made.steel(store, MODULUS, YIELD)
        size = (made.limit(0.02), made.limit(AREA), 1.7)
        bar = store.add(Bar("T", specimen, metal, "d20", *size)).uid
        half = made.limit(0.06)
        store.add(
            Member(
                "T",
                specimen,
                store.add(Concrete("mix", made.limit(30e6))).uid,
                Outline(OutlineShape.RECTANGLE, made.limit(0.12), made.limit(0.12)),
                (BarPlace(bar, half, made.limit(0.0), made.limit(0.0)),),
                "left end",
                (),
                (),
                held=Held.AT_ITS_ENDS,
                axial_share=1.0,
            )
        )
        pair = tuple(
            store.add(Station(f"T-{n}", bar, "left end", 0.7, angle)).uid
            for n, angle in enumerate((0.0, 3.14159265))
        )
        store.add(Question("yields", "When does it yield?", "yield load", 5e3, pair))
        store.add(Question("strain", "Strain at 60 kN?", "strain", 30e-6, pair, LOAD))
        store.add(Question("anywhere", "Strain at 60 kN?", "strain", 30e-6, (), LOAD))
    with CampaignStore.open(folder, working_context(), read_only=True) as store:
        yield Asked(store, Book.read(store), None, "si")


def test_a_pulled_member_is_answered_by_what_its_bar_carries_at_a_crack(tie):
    rows = {row[0]: row for row in named(part_lists(tie, "questions"), "resolution").rows}
    heads = [c.head for c in named(part_lists(tie, "questions"), "resolution").columns]
    at = heads.index("predicted")
    told = {label: row[at] for label, row in rows.items()}
    assert float(str(told["yields"]).split()[0]) == pytest.approx(YIELD * AREA / 1e3, rel=5e-3)
    strain = LOAD / AREA / MODULUS
    assert float(str(told["strain"]).split()[0]) == pytest.approx(strain * 1e6, rel=5e-3)


def test_each_gauge_of_a_tie_is_predicted_and_drawn(tie):
    listing = named(part_lists(tie, "prediction"), "prediction")
    column = next(n for n, c in enumerate(listing.columns) if c.head.startswith("at 60 kN"))
    assert len(listing.rows) == 4  # the third question stands at two more places
    for row in listing.rows:
        shown = row[column]
        value = shown.value if isinstance(shown, Doubted) else shown
        assert value == pytest.approx(LOAD / AREA / MODULUS, rel=5e-3)


def test_a_proposed_distance_takes_no_words_that_another_place_has(tie):
    """A bar that begins 100 mm past the member's datum, whose stations say they count from it."""
    book = tie.book
    (member,) = book.of(Member)
    place = replace(member.record.bars[0], begins=made.limit(0.1))
    later = replace(member, record=replace(member.record, bars=(place,)))
    moved = Book([later if e.uid == member.uid else e for e in book.every()])
    question = moved.labelled(Question, "anywhere")
    found = proposed_stations(moved, question)
    assert {s.distance_planned for s in found.stations} == {0.85}
    assert "left end" not in {s.datum for s in found.stations}
    assert "Stations of T are said to count from elsewhere" in found.words
    assert {s.datum for s in proposed_stations(book, question).stations} == {"left end"}
