"""A campaign of one's own, entered by the script of the how-to and taken to its results."""

import os
import subprocess
import sys
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from tools import repository

EXAMPLES = repository.ROOT / "docs" / "how-to" / "examples"
BEGINS = datetime(2026, 5, 4, 8, 0)  # noqa: DTZ001 - the wall clock of Rome, as recorders write it

pytestmark = pytest.mark.long


def mv_per_v(strain, lead_ohm=1.2, ohm=350.0, factor=2.08):
    """Quarter bridge with three wires, by voltage division."""
    active = ohm * (1 + factor * strain) + lead_ohm
    return 1e3 * (active / (active + ohm + lead_ohm) - 0.5)


def written(path: Path, load_kn, strain, begins: datetime) -> None:
    """Recorder's file: semicolons, decimal commas, a units row, one row a second."""
    rng = np.random.default_rng(4)
    lines = ["Time;S1-T;S1-U;Load;Temp", "-;mV/V;mV/V;kN;°C"]
    for n, (load, e) in enumerate(zip(load_kn, strain, strict=True)):
        stamp = f"{begins + timedelta(seconds=n):%d.%m.%Y %H:%M:%S}.000"
        both = [mv_per_v(e * share) + rng.normal(0, 5e-5) for share in (1.05, 0.95)]
        numbers = [f"{both[0]:.5f}", f"{both[1]:.5f}", f"{load:.3f}", "21.0"]
        lines.append(";".join([stamp, *(number.replace(".", ",") for number in numbers)]))
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")


def run(*command: str, folder: Path) -> str:
    """Run a command of the how-to; its output."""
    done = subprocess.run(command, cwd=folder, capture_output=True, text=True, env={**os.environ})
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


def test_the_how_to_leads_from_an_empty_folder_to_a_yield_load(tmp_path) -> None:
    python = sys.executable
    tool = str(Path(python).with_name("gaugewright"))
    flat = np.zeros(130)
    written(tmp_path / "zero.csv", flat, flat, BEGINS)
    load = np.linspace(0, 115, 900)
    # Area at the two flats of 5 mm on 16 mm: 200.4 mm² less two segments of 1.33 mm².
    written(
        tmp_path / "pull.csv", load, load * 1e3 / (200e9 * 197.7e-6), BEGINS + timedelta(hours=1)
    )
    run(python, str(EXAMPLES / "enter_a_campaign.py"), "mine", folder=tmp_path)
    words = [
        "--recorder",
        "recorder",
        "--day-first",
        "--zone",
        "Europe/Rome",
        "--stamps-within",
        "0.5",
        "--yes",
    ]
    for name in ("zero", "pull"):
        run(tool, "import", "mine", f"{name}.csv", "--label", name, *words, folder=tmp_path)
    taken = run(
        python,
        str(EXAMPLES / "take_zeros.py"),
        "mine",
        "zero",
        "2026-05-04T08:00:00+02:00",
        "2026-05-04T08:02:00+02:00",
        folder=tmp_path,
    )
    assert "2 zeros taken" in taken
    told = run(tool, "reduce", "mine", folder=tmp_path)
    # 535 MPa on 197.7 mm² is 105.8 kN.
    row = next(line for line in told.splitlines() if line.startswith("S1-T with S1-U"))
    value = float(row.split("±")[0].split()[-1])
    assert value == pytest.approx(105.8, abs=0.5)
    assert run(tool, "report", "mine", folder=tmp_path)
