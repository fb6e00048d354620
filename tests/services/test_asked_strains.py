"""Strain at the load that a question names, against bars whose strain is known by N / (E A)."""

import math
from types import SimpleNamespace

import numpy as np
import pytest

from gaugewright.records.specimen import Question
from gaugewright.services.campaign.book import Book
from gaugewright.services.handover import answers
from gaugewright.services.loading.asked_strains import strain_where_load_passes

STIFFNESS = 200e9 * math.pi * 0.02**2 / 4  # N per strain: a 20 mm bar of steel


@pytest.mark.parametrize("way", [1.0, -1.0], ids=["tension", "compression"])
@pytest.mark.parametrize("asked", [60e3, -60e3], ids=["pulled", "pressed"])
def test_a_bar_that_follows_hooke_has_load_over_stiffness(way, asked) -> None:
    load = math.copysign(1.0, asked) * np.linspace(0.0, 100e3, 401)
    found = strain_where_load_passes(load, way * load / STIFFNESS, asked)
    assert found.strain == pytest.approx(way * asked / STIFFNESS, rel=1e-9)
    assert found.slope == pytest.approx(way * STIFFNESS, rel=1e-9)
    assert abs(found.load - asked) < 2e3
    assert (found.first, found.last) == (236, 241)


def test_a_bar_that_cracked_below_the_load_is_told_as_it_is_after_cracking() -> None:
    load = np.linspace(0.0, 100e3, 401)
    strain = np.where(load < 25e3, load / (8 * STIFFNESS), load / STIFFNESS)
    found = strain_where_load_passes(load, strain, 60e3)
    assert found.strain == pytest.approx(60e3 / STIFFNESS, rel=1e-9)


def test_what_is_in_the_way_is_told_in_words() -> None:
    load = np.linspace(0.0, 50e3, 101)
    assert "highest load is 50 kN" in strain_where_load_passes(load, load / STIFFNESS, 60e3)
    nothing = np.full(101, np.nan)
    assert "no load was recorded" in strain_where_load_passes(nothing, load, 60e3)
    assert "no reading of it" in strain_where_load_passes(2 * load, nothing, 60e3)


@pytest.mark.parametrize(
    ("quantity", "load", "stations", "do"),
    [
        ("strain", 60e3, (), "names no stations"),
        ("strain", None, ("s",), "names no load"),
        ("force", 60e3, ("s",), "Mark when the load was held"),
        ("yield load", None, ("s",), "have a zero"),
    ],
)
def test_a_question_without_a_number_says_what_to_do(quantity, load, stations, do) -> None:
    question = Question("q", "What is it?", quantity, None, stations, load)
    page = SimpleNamespace(book=Book(()))
    assert do in answers._no_answer(page, question, []).sentence
