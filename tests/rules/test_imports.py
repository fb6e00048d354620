"""Which outside packages each part may use, and what the simulated world may not know."""

import functools

import grimp
import pytest

from tools import repository

# A part that needs another package adds it here with its reason, or does without.
ALLOWED: dict[str, set[str]] = {
    "__init__": set(),
    "__main__": set(),
    "errors": set(),
    "quantities": {"numpy"},
    "settings": {"platformdirs"},  # the user's settings folder on each system
    "calc": {"numpy", "scipy"},
    "records": set(),
    "present": {"numpy"},
    "store": {"alembic", "filelock", "numpy", "polars", "sqlalchemy", "zstandard"},
    "sources": {"fastexcel", "numpy", "polars", "scipy"},
    "report": {"jinja2", "typst"},
    "services": {"numpy", "polars", "scipy"},
    "web": {"fastapi", "jinja2", "pydantic", "segno", "starlette", "uvicorn"},
    "cli": {"click", "rich", "typer"},
}
ONLY_IN: dict[str, dict[str, set[str]]] = {"calc": {"kernels.py": {"numba"}}}

# These hold what is measured against; the simulated specimen must come by its numbers otherwise.
CLOSED_FORMS = ("bridge", "leads", "chain", "gauge")


@pytest.mark.parametrize("path", repository.source_files(), ids=repository.module_name)
def test_a_part_imports_only_the_packages_it_may(path) -> None:
    layer = repository.layer_of(path)
    allowed = ALLOWED[layer] | ONLY_IN.get(layer, {}).get(path.name, set())
    found = repository.outside_packages(path)
    assert {name: line for name, line in found.items() if name not in allowed} == {}


@functools.cache
def import_graph() -> grimp.ImportGraph:
    return grimp.build_graph("gaugewright")


def test_the_simulated_world_shares_no_closed_form_with_the_reduction() -> None:
    graph = import_graph()
    simulated = {m for m in graph.modules if m.startswith("gaugewright.sources.simulated")}
    closed = {m for name in CLOSED_FORMS if (m := f"gaugewright.calc.{name}") in graph.modules}
    chains = {
        (here, there): chain
        for here in simulated
        for there in closed
        if (chain := graph.find_shortest_chain(importer=here, imported=there))
    }
    assert chains == {}


@pytest.mark.parametrize(
    "path", sorted((repository.SOURCE / "calc").rglob("*.py")), ids=repository.module_name
)
def test_calculations_neither_log_nor_warn(path) -> None:
    imported = {name for name, _ in repository.imported_names(repository.tree_of(path))}
    assert imported & {"logging", "warnings"} == set()
