"""The command that serves the app: what it prints, how it stops, what it refuses."""

import shlex
import subprocess
import sys
from pathlib import Path

import pytest

from tests.browser.served import serving


def test_a_stopped_app_says_that_everything_is_kept(home: Path) -> None:
    with serving(home) as served:
        served.process.send_signal(2)
        told = served.process.communicate(timeout=20)[0]
    assert "Stopped. Everything that was written down is kept." in told
    assert "Traceback" not in told
    assert served.process.returncode == 0


def test_one_campaign_alone_is_told_how_more_are_begun(home: Path) -> None:
    command = [sys.executable, "-m", "gaugewright", "serve", str(home / "beam"), "--port", "0"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        told = ""
        while "Stop with" not in told:
            line = process.stdout.readline()
            assert line, told
            told += line
        process.send_signal(2)
    assert "To begin or copy campaigns, serve the folder above it" in told
    assert f"gaugewright serve {shlex.quote(str(home.resolve()))}\n" in told


def test_a_port_that_is_taken_is_passed_over(home: Path) -> None:
    with serving(home) as first:
        taken = int(first.base.rpartition(":")[2])
        with serving(home, port=taken) as second:
            assert second.base != first.base


def test_a_folder_that_isnt_there_is_refused_in_one_sentence(tmp_path: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "gaugewright", "serve", str(tmp_path / "none")],
        capture_output=True,
        text=True,
        timeout=30,
    )
    assert done.returncode == 2
    assert done.stdout == ""
    assert len(done.stderr.splitlines()) == 1


def test_only_this_machine_is_listened_to_unless_the_network_is_allowed(home: Path) -> None:
    with serving(home) as served:
        port = int(served.base.rpartition(":")[2])
        table = Path("/proc/net/tcp")
        if not table.is_file():
            pytest.skip("this system doesn't list its listening ports in a file")
        listening = [line.split()[1] for line in table.read_text().splitlines()[1:]]
        hosts = {one.partition(":")[0] for one in listening if one.endswith(f":{port:04X}")}
    assert hosts == {"0100007F"}  # 127.0.0.1, lowest byte first


def test_a_port_that_cant_be_one_is_refused(home: Path) -> None:
    command = [sys.executable, "-m", "gaugewright", "serve", str(home), "--port", "70000"]
    done = subprocess.run(command, capture_output=True, text=True, timeout=30)
    assert done.returncode == 2
    assert "from 0 to 65535" in done.stderr
