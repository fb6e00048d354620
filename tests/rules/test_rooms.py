"""Rooms of services lean on each other one way only: none needs itself through another."""

import ast
from graphlib import CycleError, TopologicalSorter
from pathlib import Path

import pytest

from tools import repository

SERVICES = repository.SOURCE / "services"


def rooms_needed(text: str) -> set[str]:
    """Rooms that a module's imports name, at its top or within a function."""
    named = [
        node.module.split(".")
        for node in ast.walk(ast.parse(text))
        if isinstance(node, ast.ImportFrom) and node.module
    ]
    return {parts[2] for parts in named if parts[:2] == ["gaugewright", "services"] and parts[2:]}


def needs(folder: Path) -> dict[str, set[str]]:
    found: dict[str, set[str]] = {}
    for path in folder.glob("*/*.py"):
        room = path.parent.name
        found.setdefault(room, set()).update(rooms_needed(path.read_text("utf-8")) - {room})
    return found


def test_rooms_form_no_circle() -> None:
    order = list(TopologicalSorter(needs(SERVICES)).static_order())
    assert len(order) > 30


def test_a_circle_is_seen(tmp_path: Path) -> None:
    for room, other in (("one", "two"), ("two", "three"), ("three", "one")):
        (tmp_path / room).mkdir()
        told = f"def later():\n    from gaugewright.services.{other}.part import thing\n"
        (tmp_path / room / "part.py").write_text(told)
    with pytest.raises(CycleError):
        list(TopologicalSorter(needs(tmp_path)).static_order())


@pytest.mark.parametrize("room", sorted(p.name for p in SERVICES.iterdir() if p.is_dir()))
def test_each_room_says_what_it_is_for(room: str) -> None:
    if room != "__pycache__":
        text = (SERVICES / room / "__init__.py").read_text("utf-8")
        assert ast.get_docstring(ast.parse(text))
