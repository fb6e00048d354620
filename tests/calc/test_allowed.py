"""Refusals: one by one, and several told together."""

import numpy as np
import pytest

from gaugewright.calc import allowed
from gaugewright.errors import Faults, InputError, InputFaults


def looked_at(first, second, third):
    with allowed.Together("setting") as given:
        kept = given.positive("a", first), given.within("b", second, (0.0, 0.5), "measure again")
        given.holds("c", third, "yes", if_=third == "yes")
        kept = (*kept, given.not_negative("d", 0.0))
    return [values.tolist() for values in kept]


def test_accepted_settings_come_back_as_they_were_with_limits_included():
    assert looked_at([1.0, 2.0], [0.0, 0.5], "yes") == [[1.0, 2.0], [0.0, 0.5], 0.0]


def test_one_fault_is_raised_as_itself():
    with pytest.raises(InputError, match=r"^b is nan; it must be from 0 to 0.5; measure again$"):
        looked_at(1.0, np.nan, "yes")


def test_several_faults_are_a_list_with_name_value_and_allowed():
    with pytest.raises(Faults) as caught:
        looked_at([1.0, -2.0], 0.6, "no")
    found = [(fault.name, fault.value, fault.allowed) for fault in caught.value.faults]
    assert found == [
        ("a", -2.0, "a positive number"),
        ("b", 0.6, "from 0 to 0.5"),
        ("c", "no", "yes"),
    ]
    assert str(caught.value).startswith("setting: 3 things to mend\n  a is -2.0")


def broken():
    with allowed.Together("setting") as given:
        given.positive("a", -1.0)
        raise ZeroDivisionError("of another kind")


def test_another_error_in_the_block_is_not_hidden_by_the_faults_before_it():
    with pytest.raises(ZeroDivisionError, match="of another kind"):
        broken()


def test_who_expects_one_refused_setting_is_told_of_several_too():
    with pytest.raises(InputError) as caught:
        looked_at(-1.0, 0.6, "yes")
    assert isinstance(caught.value, Faults)
    assert (caught.value.name, caught.value.value) == ("a", -1.0)
    assert str(caught.value).startswith("setting: 2 things to mend")


def test_lists_inside_a_list_are_told_as_one():
    inner = InputFaults("inner", [InputError("x", 1, "2"), InputError("y", 1, "3")])
    outer = InputFaults("outer", [inner, InputError("z", 1, "4")])
    assert [fault.name for fault in outer.faults] == ["x", "y", "z"]
