"""Records of a bent member: what they refuse, and that they survive being written down."""

import pytest

from gaugewright.errors import InputError
from gaugewright.records.identity import Uid
from gaugewright.records.member import BarPlace, Concrete, LoadPoint, Member, Outline, OutlineShape
from gaugewright.records.plain import from_plain, to_plain
from gaugewright.records.stated import Stated

BAR = BarPlace(Uid("B1"), Stated(0.4), Stated(0.0), Stated(0.0))
BOX = Outline(OutlineShape.RECTANGLE, Stated(0.45), Stated(0.3))


def member(**changed):
    given = {
        "label": "beam",
        "specimen": Uid("S"),
        "concrete": Uid("C"),
        "outline": BOX,
        "bars": (BAR,),
        "datum": "west support",
        "supports": (Stated(0.0), Stated(3.6)),
        "load_points": (LoadPoint(Stated(1.2), 0.5), LoadPoint(Stated(2.4), 0.5)),
    }
    return Member(**(given | changed))


def test_a_member_is_the_same_after_writing_and_reading():
    tee = Outline(OutlineShape.TEE, Stated(0.5), Stated(0.2), Stated(0.8), Stated(0.1))
    for written in (member(), member(outline=tee, load_per_length=Stated(3e3))):
        assert from_plain(Member, to_plain(written)) == written
    mix = Concrete("mix", Stated(38e6), free_strain=Stated(-1e-4, 2e-5))
    assert from_plain(Concrete, to_plain(mix)) == mix


@pytest.mark.parametrize(
    ("changed", "about"),
    [
        ({"bars": ()}, "bars"),
        ({"bars": (BAR, BAR)}, "bars"),
        ({"bars": (BarPlace(Uid("B"), Stated(0.46), Stated(0), Stated(0)),)}, "depth"),
        ({"supports": (Stated(3.6), Stated(0.0))}, "supports"),
        ({"load_points": ()}, "load_points"),
        ({"datum": " "}, "datum"),
    ],
)
def test_an_impossible_member_is_refused_by_the_field(changed, about):
    with pytest.raises(InputError, match=about):
        member(**changed)


@pytest.mark.parametrize(
    ("shape", "measures", "about"),
    [
        (OutlineShape.RECTANGLE, {}, "width"),
        (OutlineShape.CIRCLE, {"width": Stated(0.3)}, "width"),
        (OutlineShape.TEE, {"width": Stated(0.2), "flange_width": Stated(0.8)}, "flange_depth"),
        (
            OutlineShape.TEE,
            {"width": Stated(0.2), "flange_width": Stated(0.8), "flange_depth": Stated(0.9)},
            "flange_depth",
        ),
    ],
)
def test_an_outline_has_the_measures_of_its_shape_and_no_others(shape, measures, about):
    with pytest.raises(InputError, match=about):
        Outline(shape, Stated(0.45), **measures)
