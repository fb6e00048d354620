"""The page of proofs is true: every closed form stands in it, with a test that really calls it."""

import ast
import re

import pytest

from tools import repository

PAGE = repository.ROOT / "docs" / "explanations" / "closed-forms.md"
TESTS = repository.ROOT / "tests" / "calc"
MODULES = (
    *("bridge", "active_arms", "far_bridge", "indication", "shunt", "shunt_reading", "leads"),
    *("warm_leads", "pair_readings"),
)
ROW = re.compile(r"^\| (\w+\.\w+) \| ([^|]+) \| ([^|]+) \| ([^|]+) \|$", re.MULTILINE)
PROOFS = ROW.findall(PAGE.read_text(encoding="utf-8"))


def public(module):
    tree = ast.parse((repository.SOURCE / "calc" / f"{module}.py").read_text(encoding="utf-8"))
    for node in tree.body:
        if isinstance(node, ast.FunctionDef) and not node.name.startswith("_"):
            yield f"{module}.{node.name}"


def test_every_closed_form_has_its_proof_and_no_other_stands_there():
    wanted = {name for module in MODULES for name in public(module)}
    assert {proof[0] for proof in PROOFS} == wanted
    assert len(PROOFS) == len(wanted)


@pytest.mark.parametrize(("name", "against", "span", "test"), PROOFS)
def test_the_test_is_there_calls_it_and_knows_the_circuit(name, against, span, test):
    assert span.strip()
    if test == "published wire tables":
        text = (repository.ROOT / "tests/published/test_wire_tables.py").read_text(encoding="utf-8")
        assert name in text
        return
    file, _, title = test.partition(": ")
    text = (TESTS / f"{file}.py").read_text(encoding="utf-8")
    functions = {n.name: n for n in ast.parse(text).body if isinstance(n, ast.FunctionDef)}
    proof = functions[f"test_{title}"]
    # What the test calls, its own helpers of the same file followed.
    reached, left = set(), [proof]
    while left:
        for node in ast.walk(left.pop()):
            word = getattr(node, "attr", getattr(node, "id", None))
            if word in functions and word not in reached:
                left.append(functions[word])
            reached.add(word)
    assert name.partition(".")[2] in reached
    if "circuit" in against:
        assert reached & {"solve", "resistance_between"}, "it must solve a circuit"
    assert against == "definition" or any(
        "given" in ast.unparse(decorator) for decorator in proof.decorator_list
    ), "a property test is wanted"
