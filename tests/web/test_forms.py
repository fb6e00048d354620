"""What is wrong with a form stands beside its fields."""

from gaugewright.errors import Faults, FileError, InputError
from gaugewright.web.forms import told_beside


def test_each_fault_stands_beside_its_field_and_the_rest_apart() -> None:
    early = InputError("time", "25:00", "a time of day")
    late = InputError("begins", "tomorrow", "a time already past")
    other = InputError("plug", "", "one that is marked")
    places = {"time": "begins"}
    wrong, rest = told_beside(
        Faults("zeros", (early, late, other)), ("begins",), lambda name: places.get(name, name)
    )
    assert wrong == {"begins": f"{early}; {late}"}
    assert rest == str(other)


def test_what_names_no_field_stands_apart() -> None:
    error = FileError("a.csv", "it is empty")
    assert told_beside(error, ("begins",)) == ({}, str(error))
    assert told_beside(None, ("begins",)) == ({}, "")
