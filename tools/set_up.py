"""How does a fresh checkout get its environment in ``.venv``?

Runs before anything is installed: standard library only. Uses uv when it is on PATH,
else venv and pip. Every download is checked against the hashes in the lock file.
"""

import hashlib
import os
import shutil
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
LOCK = ROOT / "requirements.lock.txt"
OLDEST = (3, 11)


class SetUpError(Exception):
    """The environment can't be made; the sentence says what to do."""


def _run(*command: str | Path) -> None:
    words = [str(word) for word in command]
    if subprocess.run(words, cwd=ROOT, stdin=subprocess.DEVNULL).returncode != 0:
        raise SetUpError(f"'{' '.join(words)}' failed; its own words are above")


def python_of(environment: Path) -> Path:
    """Interpreter inside an environment."""
    folder = environment / ("Scripts" if os.name == "nt" else "bin")
    return folder / ("python.exe" if os.name == "nt" else "python")


def _base_python() -> Path:
    """Interpreter that environments are made from, also when this one lives in one."""
    name = (
        "python.exe"
        if os.name == "nt"
        else f"bin/python{sys.version_info[0]}.{sys.version_info[1]}"
    )
    base = Path(sys.base_prefix) / name
    return base if base.is_file() else Path(sys.executable)


def _has(python: Path, module: str) -> bool:
    command = [str(python), "-c", f"import {module}"]
    return subprocess.run(command, stderr=subprocess.DEVNULL).returncode == 0


def make_environment(environment: Path) -> None:
    """Make an empty environment; one that stands in its place is removed."""
    shutil.rmtree(environment, ignore_errors=True)
    uv = shutil.which("uv")
    base = _base_python()
    if uv:
        _run(uv, "venv", "--quiet", "--python", base, environment)
    elif _has(base, "ensurepip"):
        _run(base, "-m", "venv", environment)
    elif _has(base, "venv, pip"):
        _run(base, "-m", "venv", "--without-pip", environment)
    else:
        raise SetUpError(
            "this Python can't make an environment; run 'make system' as root, "
            "which installs python3-venv, or put uv on PATH"
        )


def install(environment: Path, *arguments: str | Path) -> None:
    """Install into an environment with uv, its own pip or the system's pip."""
    python = python_of(environment)
    uv = shutil.which("uv")
    if uv:
        _run(uv, "pip", "install", "--quiet", "--python", python, *arguments)
    else:
        pip: list[str | Path] = [python, "-m", "pip"]
        if not _has(python, "pip"):
            pip = [_base_python(), "-m", "pip", "--python", python]
        _run(*pip, "--quiet", "--disable-pip-version-check", "install", *arguments)


def works(environment: Path) -> bool:
    """Whether the environment's interpreter starts."""
    try:
        return subprocess.run([python_of(environment), "-c", ""]).returncode == 0
    except OSError:
        return False


def _fingerprint() -> str:
    """What the environment was made from: when this changes it is brought up to date."""
    digest = hashlib.sha256()
    for part in (LOCK.read_bytes(), (ROOT / "pyproject.toml").read_bytes(), str(ROOT).encode()):
        digest.update(hashlib.sha256(part).digest())
    return digest.hexdigest()


def set_up(environment: Path) -> None:
    """Bring an environment to what the lock file says, or do nothing when it is there."""
    stamp = environment / "set-up.stamp"
    usable = works(environment)
    if usable and stamp.is_file() and stamp.read_text() == _fingerprint():
        return
    print(f"setting up {environment.name}: about half a minute with uv, some with pip", flush=True)
    if not usable:
        make_environment(environment)
    install(environment, "--require-hashes", "-r", LOCK)
    # The build tools are in the lock file too: isolation would fetch them unchecked.
    install(environment, "--no-deps", "--no-build-isolation", "-e", ROOT)
    stamp.write_text(_fingerprint())


def main() -> int:
    """Set up ``.venv`` beside the Makefile."""
    if sys.version_info[:2] < OLDEST:
        found = ".".join(map(str, sys.version_info[:2]))
        print(f"Python {found} is too old: 3.11 or newer is needed; try make PYTHON=python3.12")
        return 1
    sys.path.insert(0, str(ROOT))
    from tools import system

    lacking = system.missing_for_python()
    if lacking and not system.install(lacking):
        return 1
    try:
        set_up(ROOT / ".venv")
    except SetUpError as error:
        print(f"set-up: {error}", file=sys.stderr)
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
