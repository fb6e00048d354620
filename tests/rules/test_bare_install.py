"""A fresh environment with the core packages alone imports everything and starts.

The package is built and installed as a person would get it, so that a template or a default
left out of it fails here.
"""

import re
import subprocess
import sys
from importlib import metadata
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

from tools import repository, set_up

pytestmark = pytest.mark.bare

IMPORT_EVERYTHING = """
import importlib, pkgutil, gaugewright
names = [m.name for m in pkgutil.walk_packages(gaugewright.__path__, "gaugewright.")]
for name in names:
    # One starts the program, the others run inside Alembic only.
    if not name.endswith("__main__") and ".migrations." not in name:
        importlib.import_module(name)
print(len(names))
"""


def core_closure() -> set[str]:
    """Names of the core packages and of all they need, by what is installed here."""
    closure: set[str] = set()
    looked_at: set[tuple[str, str]] = set()
    waiting = [("gaugewright", "")]
    while waiting:
        name, extra = waiting.pop()
        if (name, extra) in looked_at:
            continue
        looked_at.add((name, extra))
        for requirement in map(Requirement, metadata.requires(name) or []):
            if requirement.marker and not requirement.marker.evaluate({"extra": extra}):
                continue
            needed = canonicalize_name(requirement.name)
            closure.add(needed)
            waiting += [(needed, wanted) for wanted in {"", *requirement.extras}]
    return closure


def pins_of(names: set[str]) -> str:
    """Lines of the lock file for the named packages, hashes included."""
    text = (repository.ROOT / "requirements.lock.txt").read_text(encoding="utf-8")
    blocks = re.split(r"\n(?=[a-z0-9])", text)
    return "\n".join(b for b in blocks if re.split(r"==", b)[0].strip() in names) + "\n"


@pytest.fixture(scope="module")
def package_files() -> list[Path]:
    """Files of the package when it was built, relative to it."""
    source = repository.SOURCE
    tracked = repository.tracked_files()
    return [path.relative_to(source) for path in tracked if path.is_relative_to(source)]


@pytest.fixture(scope="module")
def bare_environment(tmp_path_factory: pytest.TempPathFactory, package_files: list[Path]) -> Path:
    folder = tmp_path_factory.mktemp("bare")
    pins = folder / "core.txt"
    pins.write_text(pins_of(core_closure()), encoding="utf-8")
    build = [sys.executable, "-m", "hatchling", "build", "--target", "wheel", "--directory", folder]
    subprocess.run(build, cwd=repository.ROOT, check=True, capture_output=True)
    environment = folder / "environment"
    set_up.make_environment(environment)
    set_up.install(environment, "--require-hashes", "-r", pins)
    set_up.install(environment, "--no-deps", next(folder.glob("*.whl")))
    return environment


def run(environment: Path, *arguments: str) -> str:
    # -I: neither this checkout nor the person's settings reach the fresh environment.
    command = [set_up.python_of(environment), "-I", *arguments]
    done = subprocess.run(command, cwd=environment, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    return done.stdout


def test_every_module_imports(bare_environment: Path) -> None:
    assert int(run(bare_environment, "-c", IMPORT_EVERYTHING)) > 10


def test_the_command_line_starts(bare_environment: Path) -> None:
    command = set_up.python_of(bare_environment).parent / "gaugewright"
    done = subprocess.run([command, "--help"], capture_output=True, text=True, cwd="/")
    assert done.returncode == 0, done.stderr
    assert "Usage" in done.stdout


def test_no_optional_or_development_package_came_along(bare_environment: Path) -> None:
    text = "import importlib.metadata as m; print(*(d.name for d in m.distributions()))"
    names = {canonicalize_name(name) for name in run(bare_environment, "-c", text).split()}
    assert names & {"numba", "pytest", "ruff", "sphinx", "ortools", "pymodbus"} == set()


def test_every_file_of_the_package_is_installed(
    bare_environment: Path, package_files: list[Path]
) -> None:
    where = "import gaugewright, pathlib; print(pathlib.Path(gaugewright.__file__).parent)"
    installed = Path(run(bare_environment, "-c", where).strip())
    assert [str(name) for name in package_files if not (installed / name).is_file()] == []
