"""Which outside packages each part may use, and what the simulated world may not know."""

import functools
import itertools
import re
import tomllib

import grimp
import pytest

from tools import repository

# A part that needs another package adds it here with its reason, or does without.
ALLOWED: dict[str, set[str]] = {
    "__init__": set(),
    "__main__": set(),
    "errors": set(),
    "extras": set(),  # imports what it is asked for, by name
    "quantities": {"numpy"},
    "units": {"numpy"},
    "settings": {"platformdirs"},  # the user's settings folder on each system
    "calc": {"numpy", "scipy"},
    "records": set(),
    "present": {"numpy"},
    "store": {"alembic", "filelock", "numpy", "polars", "sqlalchemy", "zstandard"},
    "sources": {"numpy", "openpyxl", "polars", "scipy"},
    "report": {"jinja2", "typst"},
    "services": {"numpy", "polars", "scipy"},
    "web": {"fastapi", "jinja2", "pydantic", "segno", "starlette", "uvicorn"},
    "cli": {"rich", "typer"},
}
ONLY_IN: dict[str, dict[str, set[str]]] = {
    "calc": {"kernels.py": {"numba"}},
    "services": {"photos.py": {"PIL"}, "tag_codes.py": {"segno"}},
}

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


# Names that differ from the package that brings them.
BROUGHT_BY = {"serial": "pyserial", "paho": "paho-mqtt", "google": "ortools", "PIL": "pillow"}


def declared() -> set[str]:
    text = (repository.ROOT / "pyproject.toml").read_text(encoding="utf-8")
    project = tomllib.loads(text)["project"]
    extras = itertools.chain.from_iterable(project["optional-dependencies"].values())
    return {
        re.split(r"[\[><=~! ;]", line)[0].lower() for line in [*project["dependencies"], *extras]
    }


def test_every_package_that_is_imported_is_declared() -> None:
    found = {
        BROUGHT_BY.get(name, name).lower(): repository.module_name(path)
        for path in repository.source_files()
        for name in repository.outside_packages(path)
    }
    assert {name: where for name, where in found.items() if name not in declared()} == {}


def test_every_package_a_part_may_use_is_declared() -> None:
    allowed = set().union(
        *ALLOWED.values(), *(s for part in ONLY_IN.values() for s in part.values())
    )
    assert {BROUGHT_BY.get(name, name).lower() for name in allowed} - declared() == set()
