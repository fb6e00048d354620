"""What every command does alike: help that teaches, exit codes, one sentence for what is wrong."""

import json
import subprocess
import sys
from pathlib import Path

import pytest
import typer.main

from gaugewright import cli
from gaugewright.cli import main

COMMANDS = ("new", "list", "copy", "import", "reduce", "report", "demo", "selfcheck", "settings")


def visible() -> list[tuple[str, object]]:
    """Every command a person can see, with the words that call it."""
    found: list[tuple[str, object]] = []

    def walk(command: object, words: str) -> None:
        below = getattr(command, "commands", None)
        if not below:
            found.append((words, command))
            return
        for name, child in below.items():
            if not child.hidden:
                walk(child, f"{words} {name}".strip())

    walk(typer.main.get_command(cli.app), "")
    return found


def test_the_job_has_its_commands() -> None:
    assert {words.split()[0] for words, _ in visible()} >= set(COMMANDS)


@pytest.mark.parametrize(("words", "command"), visible(), ids=[words for words, _ in visible()])
def test_help_says_what_when_how_and_what_comes_next(words: str, command: object) -> None:
    does, when, example, after = str(command.help).split("\n\n")  # type: ignore[attr-defined]
    assert does.endswith(".")
    assert when.startswith("When: ")
    assert example.startswith("Example: gaugewright ")
    assert words in example
    assert after.startswith("Next: ")


@pytest.mark.parametrize(("words", "command"), visible(), ids=[words for words, _ in visible()])
def test_every_command_can_answer_in_json_and_explains_each_word_it_takes(
    words: str, command: object
) -> None:
    parameters = command.params  # type: ignore[attr-defined]
    # serve has no result to give: it runs until it is stopped.
    assert words == "serve" or "--json" in {option for p in parameters for option in p.opts}
    assert [p.name for p in parameters if not p.help] == []


def test_help_ends_with_0(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["new", "--help"]) == 0
    assert "Start a campaign." in capsys.readouterr().out


def test_help_answers_without_loading_the_heavy_parts() -> None:
    code = (
        "import sys; from gaugewright.cli import main; main(['import', '--help']);"
        "print(sorted({'polars', 'sqlalchemy', 'scipy', 'typst'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == "[]"


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["begin"], "No such command 'begin'"),
        (["new"], "Missing argument 'CAMPAIGN'"),
        (["new", "here"], "Missing option '--title'"),
        (["list", "--long"], "No such option: --long"),
        (["import", "a", "b", "--level", "high"], "Invalid value for '--level'"),
        (["--set", "units", "settings", "show"], "--set is 'units'; it must be written"),
        (["--set", "units=furlong", "settings", "show"], "it must be one of si, us"),
        (["--set", "unit=si", "settings", "show"], "setting is 'unit'; it must be one of"),
        (["list", "no such folder"], "folder is 'no such folder'"),
    ],
)
def test_what_a_person_got_wrong_ends_with_2_and_one_sentence(
    arguments: list[str], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(arguments) == 2
    printed = capsys.readouterr()
    assert printed.out == ""
    assert said in printed.err
    assert len(printed.err.splitlines()) == 1


@pytest.mark.parametrize("arguments", [[], ["settings"]])
def test_a_command_that_is_missing_shows_the_help_and_ends_with_2(
    arguments: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(arguments) == 2
    assert "Commands:" in capsys.readouterr().err


def test_a_fault_of_ours_ends_with_1_and_says_where_the_rest_stands(tmp_path: Path) -> None:
    # No command has a known fault, so one is added for this process alone.
    code = (
        "import sys; from gaugewright import cli\n"
        "@cli.app.command('fault')\n"
        "def fault() -> None:\n"
        "    raise ZeroDivisionError('planted')\n"
        "sys.exit(cli.main(['fault']))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code],
        capture_output=True,
        text=True,
        env={"TMPDIR": str(tmp_path), "PATH": ""},
    )
    assert done.returncode == 1
    assert len(done.stderr.splitlines()) == 1
    assert "gaugewright has a fault (ZeroDivisionError)" in done.stderr
    [kept] = tmp_path.glob("gaugewright-fault-*.txt")
    assert str(kept) in done.stderr
    assert "planted" in kept.read_text()


def test_a_reader_that_went_away_is_no_fault() -> None:
    done = subprocess.run(
        f"{sys.executable} -m gaugewright settings show --json | true; echo ${{PIPESTATUS[0]}}",
        shell=True,
        executable="/bin/bash",
        capture_output=True,
        text=True,
    )
    assert done.stdout.strip() == "0"
    assert done.stderr == ""


def test_settings_tell_where_each_came_from(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    (tmp_path / "settings.toml").write_text('paper = "letter"\nzone = "Europe/Rome"\n')
    monkeypatch.setenv("GAUGEWRIGHT_LABORATORY", str(tmp_path))
    monkeypatch.setenv("GAUGEWRIGHT_ZONE", "Asia/Tokyo")
    assert main(["--set", "units=us", "settings", "show", "--json"]) == 0
    shown = {s["name"]: s for s in json.loads(capsys.readouterr().out)["settings"]}
    assert (shown["units"]["value"], shown["units"]["origin"]) == ("us", "command line")
    assert (shown["zone"]["value"], shown["zone"]["origin"]) == ("Asia/Tokyo", "environment")
    assert (shown["paper"]["value"], shown["paper"]["origin"]) == ("letter", "laboratory")
    assert (shown["coverage"]["value"], shown["coverage"]["origin"]) == ("0.95", "shipped")


def test_the_module_and_the_program_are_the_same_door() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "gaugewright", "--version"], capture_output=True, text=True
    )
    assert done.returncode == 0
    assert done.stdout.startswith("gaugewright ")
