"""A small campaign on disk and a raw file, for commands to work on."""

from collections.abc import Callable
from pathlib import Path

import pytest

from gaugewright.cli import main
from gaugewright.records.identity import working_context
from gaugewright.store.campaign import CampaignStore, JournalHead

RAW = "Time;Load;SG1\r\n;(kN);(um/m)\r\n" + "".join(
    f"13.10.2026 09:40:{n:02d};{n / 4:.2f};{10.5 * n:.1f}\r\n".replace(".", ",").replace(
        "13,10,2026", "13.10.2026"
    )
    for n in range(40)
)


@pytest.fixture(autouse=True)
def nobodys_settings(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Settings of whoever runs the tests don't count."""
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "no settings"))
    for name in ("LABORATORY", "ZONE", "UNITS", "PERSON"):
        monkeypatch.delenv(f"GAUGEWRIGHT_{name}", raising=False)


@pytest.fixture
def campaign(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Path:
    folder = tmp_path / "beam"
    assert main(["new", str(folder), "--title", "Beam", "--zone", "Europe/Rome"]) == 0
    capsys.readouterr()
    return folder


@pytest.fixture
def raw(tmp_path: Path) -> Path:
    path = tmp_path / "pull1.txt"
    path.write_bytes(RAW.encode("utf-8"))
    return path


@pytest.fixture
def head() -> Callable[[Path], JournalHead]:
    def of(folder: Path) -> JournalHead:
        with CampaignStore.open(folder, working_context(), read_only=True) as store:
            return store.head()

    return of
