"""What stands in this checkout, read from its files: sources, imports, docstrings, marks."""

import ast
import re
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
SOURCE = ROOT / "src" / "gaugewright"
TESTS = ROOT / "tests"

_IN_BRACKETS = re.compile(r"\[([^\[\]]+)\]\.?$")
_SECTION = re.compile(r"^(\w[\w ]*)\n-{3,}\n", re.MULTILINE)


def tracked_files() -> list[Path]:
    """Files that git tracks or would take at the next add.

    Raises
    ------
    RuntimeError
        Outside a git checkout: what is published can't be known there.
    """
    command = ["git", "-c", f"safe.directory={ROOT}", "ls-files", "-z", "--cached", "--others"]
    listed = subprocess.run(
        [*command, "--exclude-standard"], cwd=ROOT, capture_output=True, check=False
    )
    if listed.returncode != 0:
        raise RuntimeError("this isn't a git checkout: " + listed.stderr.decode().strip())
    names = listed.stdout.decode().split("\0")
    return sorted(path for name in set(names) if name and (path := ROOT / name).is_file())


def source_files() -> list[Path]:
    """Python files of the package."""
    return sorted(SOURCE.rglob("*.py"))


@cache
def tree_of(path: Path) -> ast.Module:
    """Syntax tree of a file, read once."""
    return ast.parse(path.read_text(encoding="utf-8"), filename=str(path))


def module_name(path: Path) -> str:
    """Dotted name of a file of the package."""
    parts = path.relative_to(SOURCE.parent).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def layer_of(path: Path) -> str:
    """First name below the package: a folder such as ``calc`` or a file such as ``errors``."""
    inside = path.relative_to(SOURCE)
    return inside.parts[0] if len(inside.parts) > 1 else inside.stem


def imported_names(tree: ast.AST) -> Iterator[tuple[str, int]]:
    """Dotted names that are imported anywhere in a file, each with its line."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            for alias in node.names:
                yield alias.name, node.lineno
        elif isinstance(node, ast.ImportFrom) and node.module:
            yield node.module, node.lineno
            for alias in node.names:
                yield f"{node.module}.{alias.name}", node.lineno


def outside_packages(path: Path) -> dict[str, int]:
    """Top-level packages imported that are neither ours nor Python's, each with its line."""
    ours_or_python = {"gaugewright", *sys.stdlib_module_names}
    return {
        top: line
        for name, line in imported_names(tree_of(path))
        if (top := name.partition(".")[0]) not in ours_or_python
    }


@dataclass(frozen=True, slots=True)
class Callable:
    """A public function or method as written: where, its arguments, what it returns."""

    path: Path
    name: str
    node: ast.FunctionDef
    docstring: str

    @property
    def place(self) -> str:
        """File, line and name for a message."""
        return f"{self.path.relative_to(ROOT)}:{self.node.lineno} {self.name}"

    @property
    def arguments(self) -> list[ast.arg]:
        """Arguments without self and cls."""
        every = self.node.args
        listed = [*every.posonlyargs, *every.args, *every.kwonlyargs]
        return [argument for argument in listed if argument.arg not in {"self", "cls"}]


def public_callables(path: Path) -> Iterator[Callable]:
    """Public functions, and public methods of public classes, of one file."""
    for node in tree_of(path).body:
        if isinstance(node, ast.FunctionDef) and not node.name.startswith("_"):
            yield Callable(path, node.name, node, ast.get_docstring(node) or "")
        elif isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
            for inner in node.body:
                if isinstance(inner, ast.FunctionDef) and not inner.name.startswith("_"):
                    text = ast.get_docstring(inner) or ""
                    yield Callable(path, f"{node.name}.{inner.name}", inner, text)


def docstring_section(docstring: str, title: str) -> str:
    """Text under one numpydoc heading, or "" when it isn't there."""
    pieces = _SECTION.split(docstring)
    sections = dict(zip(pieces[1::2], pieces[2::2], strict=True))
    return sections.get(title, "")


@dataclass(frozen=True, slots=True)
class Documented:
    """One entry under Parameters or Returns: its names, its text, the unit that ends it."""

    names: tuple[str, ...]
    text: str
    unit: str | None


def documented(section: str) -> list[Documented]:
    """Entries of a Parameters or Returns section; a Returns entry may have no name."""
    entries = []
    for block in re.split(r"\n(?=\S)", section.strip("\n")):
        head, _, body = block.partition("\n")
        if not head.strip():
            continue
        names, colon, _ = head.partition(" : ")
        text = " ".join(body.split())
        unit = _IN_BRACKETS.search(text)
        entries.append(
            Documented(
                names=tuple(name.strip(" *") for name in names.split(",")) if colon else (),
                text=text,
                unit=unit.group(1) if unit else None,
            )
        )
    return entries


def constant_text(node: ast.AST | None, names: dict[str, ast.expr]) -> str | None:
    """Text that an expression of literals and module-level names stands for, else None."""
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        return node.value
    if isinstance(node, ast.Name) and node.id in names:
        return constant_text(names[node.id], names)
    if isinstance(node, ast.FormattedValue):
        return constant_text(node.value, names)
    pieces: list[ast.expr] = []
    if isinstance(node, ast.JoinedStr):
        pieces = list(node.values)
    elif isinstance(node, ast.BinOp) and isinstance(node.op, ast.Add):
        pieces = [node.left, node.right]
    texts = [constant_text(piece, names) for piece in pieces]
    return "".join(text for text in texts if text) if texts and None not in texts else None


@dataclass(frozen=True, slots=True)
class PublishedTest:
    """A test against a printed value: where it is printed and which copy was read."""

    path: Path
    name: str
    marked: bool
    where: str
    seen: str


def published_tests() -> Iterator[PublishedTest]:
    """Every test under tests/published, marked or not."""
    for path in sorted((TESTS / "published").rglob("test_*.py")):
        tree = tree_of(path)
        names = {
            target.id: node.value
            for node in tree.body
            if isinstance(node, ast.Assign)
            for target in node.targets
            if isinstance(target, ast.Name)
        }
        for node in ast.walk(tree):
            if isinstance(node, ast.FunctionDef) and node.name.startswith("test_"):
                yield _published_test(path, node, names)


def _published_test(
    path: Path, function: ast.FunctionDef, names: dict[str, ast.expr]
) -> PublishedTest:
    marks = [*function.decorator_list, *([names["pytestmark"]] if "pytestmark" in names else [])]
    for mark in marks:
        resolved = names.get(mark.id, mark) if isinstance(mark, ast.Name) else mark
        if not isinstance(resolved, ast.Call) or not isinstance(resolved.func, ast.Attribute):
            continue
        if resolved.func.attr == "published":
            words = {word.arg: constant_text(word.value, names) for word in resolved.keywords}
            where, seen = words.get("where") or "", words.get("seen") or ""
            return PublishedTest(path, function.name, True, where.strip(), seen.strip())
    return PublishedTest(path, function.name, False, "", "")


def classes_of(path: Path) -> list[ast.ClassDef]:
    """Every class written in a file."""
    return [node for node in ast.walk(tree_of(path)) if isinstance(node, ast.ClassDef)]


def base_names(node: ast.ClassDef) -> set[str]:
    """Last names of a class's bases."""
    return {ast.unparse(base).rpartition(".")[2] for base in node.bases}
