"""Metals with every law: read again as written, refused with all that is wrong, old ones opened."""

import json

import pytest

from gaugewright.errors import Faults, InputError
from gaugewright.records.plain import canonical_text, from_plain, to_plain
from gaugewright.records.specimen import Bar, Material, SteelLaw
from gaugewright.records.stated import Meaning, Stated
from gaugewright.records.steel import CouponCurve, CyclicProperties

BASE = {
    "label": "steel",
    "elastic_modulus": Stated(200e9, 1e9, Meaning.ONE_SIGMA),
    "thermal_expansion": Stated(12e-6),
    "poisson_ratio": Stated(0.3),
}
CURVE = CouponCurve(
    (0.0, 0.0025, 0.05), (0.0, 500e6, 600e6), False, Stated(0.0, 0.01, Meaning.ONE_SIGMA), 0.05
)
CYCLIC = CyclicProperties(
    Stated(0.01), Stated(18.0), Stated(0.925), Stated(0.15), misfit=Stated(0.0, 18e6)
)
LAWS = {
    SteelLaw.ELASTIC: {},
    SteelLaw.BILINEAR: {"hardening_modulus": Stated(2e9)},
    SteelLaw.MANDER: {"hardening_onset_modulus": Stated(6e9)},
    SteelLaw.PARK: {},
    SteelLaw.RAMBERG_OSGOOD: {"exponent": Stated(14.0)},
    SteelLaw.COUPON_CURVE: {"curve": CURVE, "coupon_rate": Stated(2.5e-4)},
    SteelLaw.CYCLIC: {"cyclic": CYCLIC},
}
STRENGTHS = {
    "yield_strength": Stated(500e6),
    "tensile_strength": Stated(620e6),
    "hardening_strain": Stated(0.012),
    "ultimate_strain": Stated(0.11),
}


@pytest.mark.parametrize("law", SteelLaw)
def test_a_metal_of_each_law_comes_back_as_it_was(law):
    record = Material(law=law, **BASE, **STRENGTHS, **LAWS[law])
    again = from_plain(Material, json.loads(canonical_text(to_plain(record))))
    assert again == record


def test_a_metal_written_before_these_laws_still_opens():
    old = to_plain(Material(law=SteelLaw.BILINEAR, yield_strength=Stated(500e6), **BASE))
    later = (
        *("hardening_strain", "hardening_onset_modulus", "ultimate_strain", "exponent"),
        *("curve", "cyclic", "coupon_rate"),
    )
    for name in later:
        del old[name]
    opened = from_plain(Material, old)
    assert opened.law is SteelLaw.BILINEAR
    assert opened.curve is None


@pytest.mark.parametrize("law", [law for law in SteelLaw if law is not SteelLaw.ELASTIC])
def test_a_law_without_its_numbers_is_refused_by_name(law):
    with pytest.raises((InputError, Faults), match="yield_strength"):
        Material(law=law, **BASE)


def test_a_curve_is_refused_with_all_that_is_wrong():
    with pytest.raises(Faults) as told:
        CouponCurve((0.001, 0.001, 0.01), (1e6, 2e6), uniform_elongation=-1.0)
    assert {fault.name for fault in told.value.faults} == {
        "curve",
        "curve strain",
        "curve stress",
        "uniform_elongation",
    }
    with pytest.raises(InputError, match="curve stress is nan"):
        CouponCurve((0.0, 0.001), (0.0, float("nan")))


def test_cyclic_properties_are_refused_with_all_that_is_wrong():
    with pytest.raises(Faults) as told:
        CyclicProperties(Stated(1.0), Stated(0.0), Stated(0.9), Stated(0.15), Stated(-0.1))
    assert {fault.name for fault in told.value.faults} == {
        "hardening_share",
        "curvature_exponent",
        "compression_growth",
    }


def test_a_wall_must_leave_a_bore():
    given = {"label": "T", "specimen": "s", "material": "m", "wall_thickness": Stated(0.03)}
    with pytest.raises(InputError, match="below half the diameter"):
        Bar(diameter=Stated(0.06), **given)
    with pytest.raises(InputError, match="wall_thickness"):
        Bar(**given)
