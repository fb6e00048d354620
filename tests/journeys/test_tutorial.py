"""The tutorial's commands run on the demo, one after the other, and print what it promises."""

import re
import shlex
from pathlib import Path

import pytest

from gaugewright.cli import main
from tools import repository

TEXT = (repository.ROOT / "docs" / "tutorials" / "demo.md").read_text(encoding="utf-8")
BLOCKS = re.findall(r"```console\n(.*?)```", TEXT, re.S)


def plain(text: str) -> str:
    """Words alone: columns and lines of a terminal may be wider or narrower."""
    return " ".join(text.replace("\N{NO-BREAK SPACE}", " ").split())


@pytest.mark.full
@pytest.mark.long
def test_every_command_runs_and_prints_what_is_promised(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    # The whole demo, as a reader makes it: the shorter one of other tests has other numbers.
    monkeypatch.chdir(tmp_path)
    assert main(["demo", "demo-campaign"]) == 0
    capsys.readouterr()
    assert len(BLOCKS) == 9
    for block in BLOCKS:
        printed = ""
        for line in block.splitlines():
            if line.startswith("$ "):
                assert main(shlex.split(line)[2:]) == 0, line
                printed = plain(capsys.readouterr().out)
            else:
                assert plain(line) in printed, f"{line!r} isn't in {printed[:2000]!r}"
