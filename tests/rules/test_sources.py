"""What no file of the package or the repository may hold."""

import ast
import re
from pathlib import Path

import pytest

from tools import repository

DRAWERS = {"utils", "util", "helpers", "common", "misc", "base", "manager", "lib", "core"}
LONGEST_MODULE = 500
LONGEST_FUNCTION = 40
MOST_POSITIONAL = 5

every_source = pytest.mark.parametrize(
    "path", repository.source_files(), ids=repository.module_name
)


@every_source
def test_no_module_is_a_drawer_where_anything_fits(path: Path) -> None:
    names = {part.removesuffix(".py") for part in path.relative_to(repository.SOURCE).parts}
    assert names & DRAWERS == set()


@every_source
def test_no_module_is_longer_than_500_lines(path: Path) -> None:
    assert len(path.read_text(encoding="utf-8").splitlines()) <= LONGEST_MODULE


def lines_without_docstring(node: ast.FunctionDef | ast.AsyncFunctionDef) -> int:
    body = node.body
    if ast.get_docstring(node) is not None:
        body = body[1:]
    if not body:
        return 0
    return (body[-1].end_lineno or 0) - body[0].lineno + 1


def is_migration(path: Path) -> bool:
    """A step between two schemas lists tables and columns one after the other, however many."""
    return "migrations" in path.parts


def functions_of(path: Path) -> list[ast.FunctionDef | ast.AsyncFunctionDef]:
    tree = repository.tree_of(path)
    kinds = (ast.FunctionDef, ast.AsyncFunctionDef)
    return [node for node in ast.walk(tree) if isinstance(node, kinds)]


@every_source
def test_no_function_is_longer_than_40_lines_without_its_docstring(path: Path) -> None:
    functions = [] if is_migration(path) else functions_of(path)
    lengths = {node.name: lines_without_docstring(node) for node in functions}
    assert {name: n for name, n in lengths.items() if n > LONGEST_FUNCTION} == {}


# Commands and routes are left out: their frameworks call them by name.
@pytest.mark.parametrize(
    "path",
    [p for p in repository.source_files() if repository.layer_of(p) not in {"cli", "web"}],
    ids=repository.module_name,
)
def test_no_function_takes_more_than_five_positional_parameters(path: Path) -> None:
    counts = {
        node.name: len(
            [a for a in node.args.posonlyargs + node.args.args if a.arg not in {"self", "cls"}]
        )
        for node in functions_of(path)
    }
    assert {name: n for name, n in counts.items() if n > MOST_POSITIONAL} == {}


def names_the_bare_exception(node: ast.expr | None) -> bool:
    named = node.elts if isinstance(node, ast.Tuple) else [node]
    bare = {"Exception", "BaseException"}
    return any(isinstance(name, ast.Name) and name.id in bare for name in named)


def undoes_and_goes_on_raising(handler: ast.ExceptHandler) -> bool:
    """`except BaseException: undo(); raise`: the one way to undo after Ctrl-C as well."""
    last = handler.body[-1]
    named = handler.type
    return (
        isinstance(named, ast.Name)
        and named.id == "BaseException"
        and isinstance(last, ast.Raise)
        and last.exc is None
    )


@every_source
def test_nothing_raises_or_catches_the_bare_exception(path: Path) -> None:
    faults = []
    for node in ast.walk(repository.tree_of(path)):
        if isinstance(node, ast.Raise):
            raised = node.exc.func if isinstance(node.exc, ast.Call) else node.exc
            wrong = names_the_bare_exception(raised)
        elif isinstance(node, ast.ExceptHandler):
            wrong = node.type is None or names_the_bare_exception(node.type)
            wrong = wrong and not undoes_and_goes_on_raising(node)
        else:
            continue
        if wrong:
            faults.append(node.lineno)
    assert faults == []


@every_source
def test_input_is_never_checked_with_assert(path: Path) -> None:
    tree = repository.tree_of(path)
    assert [node.lineno for node in ast.walk(tree) if isinstance(node, ast.Assert)] == []


@every_source
def test_a_note_to_come_back_has_a_number(path: Path) -> None:
    notes = re.findall(r"\b(?:TODO|FIXME|XXX)\b(?! #\d).*", path.read_text(encoding="utf-8"))
    assert notes == []


@every_source
def test_every_module_says_what_question_it_answers(path: Path) -> None:
    empty = not path.read_text(encoding="utf-8").strip()
    assert empty or ast.get_docstring(repository.tree_of(path))
