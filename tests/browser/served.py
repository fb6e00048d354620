"""The app as a person gets it: served by its command, opened by its printed address."""

import os
import re
import signal
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path

import axe_playwright_python
from playwright.sync_api import Browser, BrowserContext, Page

__all__ = ["MODES", "SIZES", "Laptop", "Served", "at_work", "barriers", "opened", "serving"]

SIZES = {"desk": (1440, 900), "tablet": (1024, 768), "phone": (390, 844)}
MODES = {"day": "light", "night": "dark"}
ADDRESS = re.compile(r"(http://127\.0\.0\.1:\d+)(/\?key=\S+)")
AXE = Path(axe_playwright_python.__file__).with_name("axe.min.js")


@dataclass(frozen=True, slots=True)
class Served:
    """A running app: where it is and the address that lets one browser in."""

    base: str
    address: str
    process: "subprocess.Popen[str]"


@contextmanager
def serving(home: Path, *more: str, port: int = 0) -> Iterator[Served]:
    """Run ``gaugewright serve`` in a process of its own and stop it as a person would."""
    command = [sys.executable, "-m", "gaugewright", "serve", str(home), "--port", str(port), *more]
    environment = {**os.environ, "XDG_CONFIG_HOME": str(home / "no settings")}
    with subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, env=environment
    ) as process:
        assert process.stdout is not None
        watch = threading.Timer(55, process.kill)  # below the time limit of a test
        watch.start()
        try:
            told = ""
            while (found := ADDRESS.search(told)) is None:
                line = process.stdout.readline()
                assert line, f"it ended without an address: {told}"
                told += line
            watch.cancel()
            yield Served(found[1], found[1] + found[2], process)
        finally:
            watch.cancel()
            if process.poll() is None:
                process.send_signal(signal.SIGINT)


class Laptop:
    """The app in a process of its own, which can be killed and come back at its address."""

    def __init__(self, home: Path) -> None:
        self.home = home
        self._stack = ExitStack()
        self.served: Served = self._stack.enter_context(serving(home))
        self.base = self.served.base

    def kill(self) -> None:
        """As when the power goes: no word, no tidying up."""
        self.served.process.send_signal(signal.SIGKILL)
        self.served.process.wait(timeout=20)

    def start(self) -> None:
        port = int(self.base.rpartition(":")[2])
        self.served = self._stack.enter_context(serving(self.home, port=port))
        assert self.served.base == self.base

    def close(self) -> None:
        self._stack.close()


@contextmanager
def at_work(home: Path, chromium: Browser) -> Iterator[tuple[Served, Path]]:
    """The app on a folder with the demo, and the cookie of a browser whose person is chosen."""
    with serving(home) as app:
        state = home / "state.json"
        with opened(chromium) as (page, _):
            page.goto(app.address)
            page.goto(app.base + "/people")
            page.get_by_role("button", name="Choose Ines Example").click()
            page.context.storage_state(path=state)
        yield app, state


@contextmanager
def opened(
    chromium: Browser, size: str = "desk", mode: str = "day", state: Path | None = None
) -> Iterator[tuple[Page, list[str]]]:
    """A page of a size and a paper, and what goes wrong on it: errors, and what is asked elsewhere.

    ``state`` is a file with the cookie of a paired browser.
    """
    width, height = SIZES[size]
    context: BrowserContext = chromium.new_context(
        viewport={"width": width, "height": height},
        color_scheme="dark" if MODES[mode] == "dark" else "light",
        storage_state=state,
    )
    context.set_default_timeout(10_000)  # ms; all that is opened is on this machine
    page = context.new_page()
    wrong: list[str] = []
    page.on("pageerror", lambda error: wrong.append(f"error: {error}"))
    page.on(
        "console",
        lambda told: (
            wrong.append(f"{told.type}: {told.text}") if told.type in ("error", "warning") else None
        ),
    )
    page.on(
        "request",
        lambda asked: (
            wrong.append(f"asked elsewhere: {asked.url}")
            if not asked.url.startswith("http://127.0.0.1:")
            else None
        ),
    )
    try:
        yield page, wrong
    finally:
        context.close()


def barriers(page: Page) -> list[str]:
    """What axe finds on a page that keeps somebody out, each with the element it is on."""
    # Evaluated from outside the page: its own policy lets no script in.
    page.evaluate(AXE.read_text(encoding="utf-8"))
    found = page.evaluate("axe.run(document, {resultTypes: ['violations']})")
    return [
        f"{fault['id']}: {node['target']} {node['failureSummary']}"
        for fault in found["violations"]
        for node in fault["nodes"]
    ]
