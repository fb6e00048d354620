"""Strain predicted for a gauge, from records alone, against a printed section."""

import math

import numpy as np
import pytest

from gaugewright.records import Entry
from gaugewright.records.gauges import Gauge
from gaugewright.records.identity import Uid
from gaugewright.records.member import BarPlace, Concrete, Member, Outline, OutlineShape
from gaugewright.records.specimen import Bar, Station
from gaugewright.services.campaign.book import Book
from gaugewright.services.section.predictions import predicted_strain
from tests.services import beam_records as beam


def stated(value):
    return beam.one_sigma(value, 0.0)


def warner_book():
    """Records of Example 3.1, its three bars as one each, a gauge level with a bar's axis."""
    at = beam.beam_book().of(Member)[0].at
    names = ("L1", "L2", "L3")
    records = {entry.uid: entry.record for entry in beam.beam_book().every()}
    records = {uid: record for uid, record in records.items() if uid in ("steel", "beam")}
    for name in names:
        records[name] = Bar(
            name, Uid("beam"), Uid("steel"), "", stated(0.0239), stated(450e-6), 3.6
        )
    side = math.pi / 2
    records["at G"] = Station("G", Uid("L2"), "end", 1.8, side, stated(1.8))
    records["G"] = Gauge("G", Uid("pack"), Uid("at G"))
    records["mix"] = Concrete("mix", stated(32e6), stated(30.1e9), stated(1.0e6), stated(0.0))
    records["member"] = Member(
        "beam",
        Uid("beam"),
        Uid("mix"),
        Outline(OutlineShape.RECTANGLE, stated(0.45), stated(0.30)),
        tuple(BarPlace(Uid(name), stated(0.39), stated(0.0), stated(0.0)) for name in names),
        "support",
        (stated(0.0), stated(3.6)),
        beam.beam_book().of(Member)[0].record.load_points,
    )
    return Book(Entry(Uid(u), 1, at, None, "", False, record) for u, record in records.items())


@pytest.mark.published(
    where="R. F. Warner, S. J. Foster, A. E. Kilpatrick, Reinforced Concrete Basics (Pearson, "
    "2007), Example 3.1: 300 x 450 mm, 3 bars of 450 mm² at 390 mm, 30.1 and 200 GPa; printed 213 "
    "MPa in the bars at 100 kN m, cracking moment 11.4 kN m for 1.0 MPa",
    seen="typed copy: tests of the public repository robbievanleeuwen/concrete-properties at "
    "085f596, test_reinforced_concrete_basics.py, within its own 1 %; not the book",
)
def test_example_3_1_as_a_gauge_on_its_bar_would_read_it():
    book = warner_book()
    load = 2 * 100e3 / beam.SHEAR_SPAN  # four-point bending, half of it on each shear span
    found = predicted_strain(book, book.labelled(Gauge, "G"), np.array([load]))
    assert found.cracked.value[0] * 200e3 == pytest.approx(213, rel=0.01)
    cracking = float(found.cracking_load.value) * beam.SHEAR_SPAN / 2 / 1e3
    assert cracking == pytest.approx(11.4, rel=0.01)
