"""Meaning, unit, formula and source of a quantity are told from the code."""

import inspect

import pytest

from gaugewright.calc import bridge
from gaugewright.errors import InputError
from gaugewright.quantities import QUANTITIES
from gaugewright.services.guides.definitions import EXPLAINED, definition


@pytest.mark.parametrize("name", EXPLAINED)
def test_every_quantity_is_told_whole(name):
    one = definition(name, "si")
    assert one.meaning.endswith(".")
    assert one.formulas or one.found
    for formula in one.formulas:
        module, _, function = formula.calculation.rpartition(".")
        described = inspect.getdoc(
            getattr(__import__(f"gaugewright.{module}", fromlist=["x"]), function)
        )
        assert described
        assert formula.paragraphs[0] == " ".join(
            described.split("\n\n")[0].replace("``", "").split()
        )


def test_meaning_and_symbol_are_those_of_the_list_of_quantities():
    for name in set(EXPLAINED) & set(QUANTITIES) - {"self_heating"}:
        assert definition(name, "si").symbol == QUANTITIES[name].symbol
        assert (
            definition(name, "si").meaning.casefold() == QUANTITIES[name].meaning.casefold() + "."
        )


def test_the_unit_is_the_one_of_the_page():
    assert [definition("force", units).unit for units in ("si", "us")] == ["kN", "kip"]
    assert definition("self_heating", "si").unit == "µε"
    assert definition("gauge_factor", "si").unit == ""


def test_a_formula_stops_before_the_list_of_its_arguments():
    first = definition("strain", "si").formulas[0]
    assert first.calculation == f"calc.bridge.{bridge.quarter_bridge_strain.__name__}"
    assert not any(
        "Parameters" in paragraph or "---" in paragraph for paragraph in first.paragraphs
    )
    assert first.source == "Derived from voltage division in the bridge."


def test_a_quantity_that_nobody_explained_is_refused_by_name():
    with pytest.raises(InputError, match=r"^quantity is 'luck'"):
        definition("luck", "si")
