"""Records of a beam whose every answer can be worked out elsewhere; no readings, no store."""

from datetime import UTC, datetime

import numpy as np

from gaugewright.records import Entry
from gaugewright.records.gauges import Gauge
from gaugewright.records.identity import Uid
from gaugewright.records.member import BarPlace, Concrete, LoadPoint, Member, Outline, OutlineShape
from gaugewright.records.specimen import Bar, Flat, Material, Station, SteelLaw
from gaugewright.records.stated import Meaning, Stated
from gaugewright.services.campaign.book import Book

WIDTH, HEIGHT = 0.30, 0.45
LOWER, UPPER = 0.40, 0.05
AREA = 200e-6
STEEL, YIELD = 200e9, 500e6
CONCRETE, STRENGTH, TENSION = 30e9, 38e6, 2.5e6
SPAN, SHEAR_SPAN = 3.6, 1.2


def one_sigma(value, doubt):
    return Stated(value, doubt, Meaning.ONE_SIGMA)


def beam_book(*, flat=False, doubt=0.0, leave_out=(), **changed):
    """Book of a beam with two lower bars and two upper ones, a gauge on top and under of each.

    ``doubt`` is the relative standard uncertainty of every number of member and steel.
    """

    def stated(value):
        return one_sigma(value, abs(value) * doubt)

    records = {}
    steel = Material(
        "B500",
        SteelLaw.BILINEAR,
        stated(STEEL),
        one_sigma(12e-6, 0.0),
        one_sigma(0.3, 0.0),
        stated(YIELD),
        stated(2e9),
        coupon="C1",
    )
    records["steel"] = steel
    places = []
    for label, depth, across in (
        ("L1", LOWER, -0.1),
        ("L2", LOWER, 0.1),
        ("C1", UPPER, -0.1),
        ("C2", UPPER, 0.1),
    ):
        records[label] = Bar(
            label, Uid("beam"), Uid("steel"), "d16", stated(0.016), stated(AREA), 3.6
        )
        places.append(BarPlace(Uid(label), stated(depth), stated(across), one_sigma(0.0, 0.0)))
        for side, angle in (("T", 0.0), ("U", np.pi)):
            name = f"{label}-{side}"
            records[f"at {name}"] = Station(
                name, Uid(label), "end", 1.8, angle, one_sigma(1.8, 0.002 if doubt else 0.0)
            )
            records[name] = Gauge(name, Uid("pack"), Uid(f"at {name}"))
            if flat:
                records[f"flat {name}"] = Flat(
                    Uid(f"at {name}"), one_sigma(0.005, 0.0), opposite=True
                )
    concrete = {
        "elastic_modulus": stated(CONCRETE),
        "tensile_strength": stated(TENSION),
        "free_strain": stated(0.0),
    }
    concrete = {name: value for name, value in concrete.items() if name not in leave_out}
    records["mix"] = Concrete("mix", stated(STRENGTH), **(concrete | changed.pop("concrete", {})))
    member = {
        "label": "beam",
        "specimen": Uid("beam"),
        "concrete": Uid("mix"),
        "outline": Outline(OutlineShape.RECTANGLE, stated(HEIGHT), stated(WIDTH)),
        "bars": tuple(places),
        "datum": "west support",
        "supports": (one_sigma(0.0, 0.0), one_sigma(SPAN, 0.0)),
        "load_points": tuple(
            LoadPoint(one_sigma(x, 0.0), 0.5) for x in (SHEAR_SPAN, SPAN - SHEAR_SPAN)
        ),
    }
    records["member"] = Member(**(member | changed))
    at = datetime(2026, 5, 4, tzinfo=UTC)
    return Book(
        Entry(Uid(uid), 1, at, None, "", False, record)
        for uid, record in records.items()
        if uid not in leave_out
    )
