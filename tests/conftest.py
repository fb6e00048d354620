"""What holds for every test: time limits by mark, no network, what BROWSER=0 means."""

import ipaddress
import os
import socket
from pathlib import Path
from typing import Any

import hypothesis
import pytest

LONG_S = 300
WITHOUT_BROWSER = os.environ.get("BROWSER") == "0"

# A slow moment of a shared machine is no fault of the code; CI gives one answer for one commit.
hypothesis.settings.register_profile(
    "repository",
    deadline=None,
    derandomize=os.environ.get("CI") == "true",
    print_blob=True,
    max_examples=40,
)
# By hand, after a change of calc: pytest --hypothesis-profile=thorough tests/calc
hypothesis.settings.register_profile("thorough", deadline=None, print_blob=True, max_examples=400)
hypothesis.settings.load_profile("repository")


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    for item in items:
        if any(item.get_closest_marker(mark) for mark in ("long", "full", "bare")):
            item.add_marker(pytest.mark.timeout(LONG_S), append=False)
    if WITHOUT_BROWSER:
        left_out = [item for item in items if item.get_closest_marker("browser")]
        config.hook.pytest_deselected(items=left_out)
        items[:] = [item for item in items if not item.get_closest_marker("browser")]


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    if WITHOUT_BROWSER:
        terminalreporter.write_line("browser tests NOT run")


def is_this_machine(address: Any) -> bool:
    if not isinstance(address, tuple):
        return True  # a socket in the file system
    host = address[0]
    if host == "localhost":
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False


@pytest.fixture(scope="session")
def demo_campaign(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo with short recordings, made once; a test that writes works on a copy."""
    from gaugewright.services.demo import demo

    return demo.run(tmp_path_factory.mktemp("demo") / "demo", duration_scale=0.05).campaign


@pytest.fixture(autouse=True, scope="session")
def no_network() -> Any:
    """Only this machine can be reached: a test that needs more fails by name."""
    connect = socket.socket.connect

    def connect_here(self: socket.socket, address: Any) -> None:
        if not is_this_machine(address):
            raise OSError(f"tests have no network; something wanted to reach {address}")
        connect(self, address)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(socket.socket, "connect", connect_here)
        yield
