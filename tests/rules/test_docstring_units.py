"""Every number in a public calculation says its unit, and says what quantities.py says."""

import ast
import re

import pytest

from gaugewright.quantities import QUANTITIES
from tools import repository

NUMBERS = re.compile(r"\b(float|complex|ArrayLike|FloatArray|NDArray\[np\.(float|complex)\w*\])")
NO_NUMBER = re.compile(r"\b(Callable|Mapping|dict)\b")
UNITS = {quantity.unit for quantity in QUANTITIES.values()}


def is_numeric(annotation: ast.expr | None) -> bool:
    """Whether an annotation names a number or numbers; lists of positions and masks aren't."""
    if annotation is None:
        return False
    text = ast.unparse(annotation)
    alone = {part.strip() for part in text.split("|")}
    return "int" in alone or bool(NUMBERS.search(text) and not NO_NUMBER.search(text))


def parameter_faults(function: repository.Callable) -> list[str]:
    section = repository.docstring_section(function.docstring, "Parameters")
    said = {name: entry for entry in repository.documented(section) for name in entry.names}
    faults = []
    taken = {argument.arg for argument in function.arguments}
    extra = function.node.args
    taken |= {argument.arg for argument in (extra.vararg, extra.kwarg) if argument}
    faults += [f"{name} is documented but not a parameter" for name in said if name not in taken]
    for argument in function.arguments:
        name = argument.arg
        if not is_numeric(argument.annotation):
            continue
        if name not in said:
            faults.append(f"{name} isn't in the docstring's Parameters")
        elif name not in QUANTITIES:
            faults.append(f"{name} isn't in QUANTITIES")
        elif said[name].unit != QUANTITIES[name].unit:
            wanted = QUANTITIES[name].unit
            faults.append(f"{name} ends with [{said[name].unit}]; quantities.py says [{wanted}]")
    return faults


def return_faults(function: repository.Callable) -> list[str]:
    if not is_numeric(function.node.returns):
        return []
    section = repository.docstring_section(function.docstring, "Returns")
    if not section:
        # A property or a short method says it in its first paragraph.
        unit = re.search(r"\[([^\[\]]+)\]\.$", function.docstring.partition("\n\n")[0])
        known = unit is not None and unit.group(1) in UNITS
        return [] if known else ["has neither Returns nor a first paragraph that ends with a unit"]
    entries = repository.documented(section)
    faults = []
    for entry in entries:
        if entry.unit not in UNITS:
            faults.append(f"return '{entry.text[:40]}...' ends with [{entry.unit}], not a unit")
        faults += [
            f"return {name} ends with [{entry.unit}]; quantities.py says [{QUANTITIES[name].unit}]"
            for name in entry.names
            if name in QUANTITIES and QUANTITIES[name].unit != entry.unit
        ]
    return faults


CALCULATIONS = [
    function
    for path in sorted((repository.SOURCE / "calc").rglob("*.py"))
    for function in repository.public_callables(path)
]


def test_there_are_calculations_to_look_at() -> None:
    assert CALCULATIONS


@pytest.mark.parametrize("function", CALCULATIONS, ids=lambda function: function.place)
def test_every_number_ends_with_its_unit(function: repository.Callable) -> None:
    assert parameter_faults(function) + return_faults(function) == []


SAMPLE = '''
def bridge(ratio: ArrayLike, gauge_factor: float, note: str) -> FloatArray:
    """Sample.

    Parameters
    ----------
    ratio : array
        Output over excitation [V/V].
    gauge_factor : float
        Of the gauge{unit}.
    note : str
        Kept.

    Returns
    -------
    strain : array
        As read [1].
    """
'''


@pytest.mark.parametrize(
    ("unit", "faults"),
    [
        (" [1]", ["ratio isn't in QUANTITIES"]),
        (
            "",
            [
                "ratio isn't in QUANTITIES",
                "gauge_factor ends with [None]; quantities.py says [1]",
            ],
        ),
    ],
)
def test_the_rule_itself_finds_a_missing_unit_and_an_unknown_name(
    unit: str, faults: list[str]
) -> None:
    node = ast.parse(SAMPLE.replace("{unit}", unit)).body[0]
    assert isinstance(node, ast.FunctionDef)
    text = ast.get_docstring(node) or ""
    function = repository.Callable(repository.ROOT / "sample.py", "bridge", node, text)
    assert parameter_faults(function) + return_faults(function) == faults
