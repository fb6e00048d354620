"""What the simulated world may know."""

import ast
from pathlib import Path

import pytest

import gaugewright.sources

SOURCES = Path(gaugewright.sources.__path__[0])
WORLD = sorted(
    path for name in ("simulated", "demo_campaign") for path in (SOURCES / name).rglob("*.py")
)
ALLOWED = {
    "gaugewright.calc.circuit",
    "gaugewright.calc.steel",
    "gaugewright.calc.concrete",
}


def imported(path: Path) -> set[str]:
    names: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            names |= {f"{node.module}.{alias.name}" for alias in node.names}
    return names


def test_there_is_a_world_to_look_at() -> None:
    assert len(WORLD) > 12


@pytest.mark.parametrize("path", WORLD, ids=lambda path: f"{path.parent.name}.{path.stem}")
def test_the_world_knows_the_circuit_solver_and_no_closed_form(path: Path) -> None:
    calc = {name for name in imported(path) if name.startswith("gaugewright.calc")}
    assert {n for n in calc if not any(n.startswith(allowed) for allowed in ALLOWED)} == set()


@pytest.mark.parametrize("path", WORLD, ids=lambda path: f"{path.parent.name}.{path.stem}")
def test_the_world_knows_nothing_of_services_or_store(path: Path) -> None:
    parts = ("gaugewright.services", "gaugewright.store", "gaugewright.present")
    assert {name for name in imported(path) if name.startswith(parts)} == set()
