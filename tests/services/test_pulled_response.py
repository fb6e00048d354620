"""A tie: a cast member that is pulled along its middle, by hand and through the same doors."""

import math

import numpy as np
import pytest

from gaugewright.errors import InputError
from gaugewright.records.gauges import Gauge
from gaugewright.records.proof import ZeroKind
from gaugewright.services.section.predictions import crushing_load, predicted_strain
from tests.services import beam_records as beam

TIE = {"load_points": (), "axial_share": 1.0, "load_per_length": None}


def predicted(book, loads, **asked):
    gauge = book.labelled(Gauge, "L1-T")
    return predicted_strain(book, gauge, np.asarray(loads, dtype=float), **asked)


def test_past_cracking_the_bars_carry_all_and_yield_where_their_area_says():
    book = beam.beam_book(doubt=0.01, **TIE)
    steel = 4 * beam.AREA
    strong = predicted(book, [1.0])
    assert strong.yield_load is not None
    metal = strong.member.law_of_bar(0)
    strength = float(metal.numbers[1].value)
    assert strong.yield_load.value == pytest.approx(strength * steel, rel=2e-3)
    load = 0.9 * strength * steel
    assert load > strong.cracking_load.value
    at = predicted(book, [load, 2 * strength * steel], since=ZeroKind.BEFORE_POUR)
    assert at.first_loading.value[0] == pytest.approx(load / beam.STEEL / steel, rel=1e-2)
    assert at.first_loading.standard_uncertainty()[0] > 0
    assert math.isnan(at.first_loading.value[1])
    assert strength * steel * 0.999 < crushing_load(book, at.member) < 2 * strength * steel


@pytest.mark.parametrize(
    "changed",
    [
        {"eccentricity": beam.one_sigma(0.02, 0.001)},
        {"axial_force": beam.one_sigma(-1e4, 1e2)},
    ],
)
def test_a_pull_that_bends_is_refused_with_what_to_do(changed):
    book = beam.beam_book(**TIE, **changed)
    with pytest.raises(InputError, match="central and alone"):
        predicted(book, [1e4])
