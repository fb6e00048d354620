"""A recorder of 200 channels at 50 rows a second, followed through trouble, for half a minute."""

import json
import subprocess
import sys
from pathlib import Path

import pytest

BENCHMARK = Path(__file__).parents[2] / "benchmarks" / "follow_speed.py"


@pytest.mark.long
def test_nothing_is_lost_over_a_kill_a_stall_and_a_second_file() -> None:
    """The follower is killed and begun anew, the folder goes away, the recorder changes files."""
    done = subprocess.run(
        [sys.executable, str(BENCHMARK), "30"],
        capture_output=True,
        text=True,
        timeout=240,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    told = json.loads(done.stdout.splitlines()[-1])
    assert told["rows_written"] == told["rows_followed"]
    assert told["rows_written"] > 30 * 50 / 2  # a busy machine's recorder falls behind its clock
    assert told["files"] == 2
    assert told["same_to_the_last_bit"]
    assert told["peak_memory_mb"] < 600
    assert {"next file", "out of reach"} <= set(told["notices"])
