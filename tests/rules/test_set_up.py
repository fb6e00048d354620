"""Set-up, the browser rule and the CI script do what README says, on a fresh machine too."""

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from tools import repository, set_up, system


def program(folder: Path, name: str, text: str = "exit 0") -> Path:
    """A shell script that stands in for a program."""
    path = folder / name
    path.write_text(f"#!/bin/sh\n{text}\n")
    path.chmod(0o755)
    return path


def test_the_chromium_that_was_named_comes_before_path(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    named = program(tmp_path, "mine")
    program(tmp_path, "chromium")
    monkeypatch.setenv("PATH", str(tmp_path))
    monkeypatch.setenv("GAUGEWRIGHT_CHROMIUM", str(named))
    assert system.chromium_path() == str(named)


def test_a_named_chromium_that_is_not_there_is_not_replaced_by_another(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    program(tmp_path, "chromium")
    monkeypatch.setenv("PATH", str(tmp_path))
    monkeypatch.setenv("GAUGEWRIGHT_CHROMIUM", str(tmp_path / "gone"))
    assert system.chromium_path() is None


@pytest.mark.parametrize(("browser", "wanted"), [("1", True), ("0", False), ("firefox", True)])
def test_chromium_is_wanted_unless_the_browser_tests_are_left_out(
    browser: str, wanted: bool, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("GAUGEWRIGHT_CHROMIUM", raising=False)
    monkeypatch.setenv("PATH", str(tmp_path))
    monkeypatch.setenv("BROWSER", browser)
    assert ("chromium" in system.missing_for_tests()) is wanted


def test_who_may_not_install_is_told_the_command(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    program(tmp_path, "apt-get", "exit 99")
    monkeypatch.setenv("PATH", str(tmp_path))
    monkeypatch.setattr(os, "geteuid", lambda: 1000)
    assert not system.install({"chromium": "pages are opened in it"})
    said = capsys.readouterr().out
    assert "chromium: pages are opened in it" in said
    assert "sudo apt-get install --yes --no-install-recommends chromium" in said


def browser_tests(**environment: str) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", "tests/browser"]
    return subprocess.run(
        command,
        cwd=repository.ROOT,
        env={**os.environ, **environment},
        capture_output=True,
        text=True,
    )


@pytest.mark.full
def test_without_chromium_the_browser_tests_fail_with_the_line_that_installs_it() -> None:
    done = browser_tests(GAUGEWRIGHT_CHROMIUM="no-such-chromium", BROWSER="1")
    assert done.returncode == 1
    assert "install it with: sudo apt-get install chromium" in done.stdout
    assert "passed" not in done.stdout


def test_leaving_the_browser_out_is_said_at_the_end() -> None:
    done = browser_tests(GAUGEWRIGHT_CHROMIUM="no-such-chromium", BROWSER="0")
    assert "browser tests NOT run" in done.stdout
    assert re.search(r"\d+ deselected", done.stdout)
    assert not re.search(r"passed|failed|error", done.stdout)


@pytest.mark.parametrize("broken", ["", "test", "check", "test-full"])
def test_ci_fails_when_one_ring_fails_and_runs_them_all(broken: str, tmp_path: Path) -> None:
    program(
        tmp_path,
        "make",
        f'echo "ran $*"; for w in "$@"; do last=$w; done; [ "$last" != "{broken}" ]',
    )
    path = f"{tmp_path}{os.pathsep}{os.environ['PATH']}"
    done = subprocess.run(
        ["bash", repository.ROOT / ".ci" / "run"],
        env={**os.environ, "PATH": path, "CI": "true"},
        capture_output=True,
        text=True,
    )
    assert (done.returncode != 0) is bool(broken)
    assert [f"make {ring}: " in done.stdout for ring in ("test", "check", "test-full")] == [
        True
    ] * 3
    assert done.stdout.count("FAILED") == bool(broken)
    assert "budget 360 s" in done.stdout


def test_ci_runs_the_test_command_that_readme_gives() -> None:
    readme = (repository.ROOT / "README.md").read_text(encoding="utf-8")
    ci = (repository.ROOT / ".ci" / "run").read_text(encoding="utf-8")
    assert "```sh\nmake test\n```" in readme
    assert re.search(r"^ring .* make test$", ci, re.MULTILINE)


@pytest.mark.full
def test_a_fresh_clone_sets_itself_up_with_plain_pip(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    clone = tmp_path / "clone"
    subprocess.run(["git", "clone", "--quiet", repository.ROOT, clone], check=True)
    without_uv = [
        folder
        for folder in os.environ["PATH"].split(os.pathsep)
        if not shutil.which("uv", path=folder)
    ]
    monkeypatch.setenv("PATH", os.pathsep.join(without_uv))
    command = [sys.executable, clone / "tools" / "set_up.py"]
    first = subprocess.run(command, capture_output=True, text=True)
    assert first.returncode == 0, first.stdout + first.stderr
    again = subprocess.run(command, capture_output=True, text=True)
    assert (again.returncode, again.stdout) == (0, "")
    python = set_up.python_of(clone / ".venv")
    where = subprocess.run(
        [python, "-c", "import gaugewright; print(gaugewright.__file__)"],
        capture_output=True,
        text=True,
        check=True,
    )
    assert Path(where.stdout.strip()).is_relative_to(clone)
