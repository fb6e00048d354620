"""What holds for every test: time limits by mark, and what leaving out the browser means."""

import os

import pytest

LONG_S = 300
WITHOUT_BROWSER = os.environ.get("BROWSER") == "0"


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
