"""Chromium for tests that open pages: it is there, or the test fails and says how to get it."""

import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, sync_playwright

from tools import repository, system

FLAGS = [
    "--disable-gpu",
    "--disable-quic",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
]
# Chromium refuses to run as root inside its own sandbox.
AS_ROOT = ["--no-sandbox"] if os.geteuid() == 0 else []
HOW = (
    "no Chromium found; install it with: sudo apt-get install chromium "
    "(or name one in GAUGEWRIGHT_CHROMIUM, or leave these tests out with BROWSER=0)"
)


def pytest_itemcollected(item: pytest.Item) -> None:
    if item.path.is_relative_to(Path(__file__).parent):
        item.add_marker("browser")


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    path = system.chromium_path()
    if path is None:
        pytest.fail(HOW, pytrace=False)
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, args=[*FLAGS, *AS_ROOT])
        yield browser
        browser.close()


@pytest.fixture
def page(chromium: Browser) -> Iterator[Page]:
    context = chromium.new_context()
    context.set_default_timeout(10_000)  # ms; all that is opened is on this machine
    yield context.new_page()
    context.close()


@pytest.fixture(scope="session")
def built_docs(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("docs")
    command = [sys.executable, "-m", "sphinx", "-q", "-b", "html", "-d", folder / "trees"]
    subprocess.run([*command, repository.ROOT / "docs", folder / "html"], check=True)
    return folder / "html"
