"""Takes the pictures of the README from the app itself, on a demo campaign.

``python -m tools.pictures demo-campaign`` serves a copy of that demo, opens three pages in
Chromium and writes them into docs/pictures; a picture over 200 kB is refused.
"""

import os
import re
import shutil
import signal
import subprocess
import sys
import tempfile
from pathlib import Path

from playwright.sync_api import Browser, sync_playwright

from tools import repository, system

FOLDER = repository.ROOT / "docs" / "pictures"
MOST = 200_000  # bytes
SIZE = {"width": 1280, "height": 800}
# File, address below the campaign, paper, part of the page that is scrolled to.
PICTURES = (
    ("overview.png", "", "light", ""),
    ("gauge.png", "gauges/L1-M-T", "light", ""),
    ("section.png", "results/sections/H3%20at%201.80%20m", "dark", "figure"),
)
ADDRESS = re.compile(r"(http://127\.0\.0\.1:\d+)/\?key=\S+")
FLAGS = ["--disable-gpu", "--disable-quic", "--disable-background-networking", "--no-first-run"]


def taken(browser: Browser, address: str, base: str) -> None:
    """Open each page as a person at work sees it and keep what is on the screen."""
    context = browser.new_context(viewport=SIZE)  # type: ignore[arg-type]
    page = context.new_page()
    page.goto(address)
    page.goto(f"{base}/people")
    page.get_by_role("button", name="Choose Ines Example").click()
    for name, place, paper, part in PICTURES:
        page.emulate_media(color_scheme="dark" if paper == "dark" else "light")
        page.goto(f"{base}/c/demo/{place}")
        page.locator("[data-loading]").first.wait_for(state="detached", timeout=120_000)
        if part:
            page.locator(part).first.scroll_into_view_if_needed()
        path = FOLDER / name
        page.screenshot(path=path)
        size = path.stat().st_size
        print(f"{path.relative_to(repository.ROOT)}: {size / 1000:.0f} kB")
        if size > MOST:
            raise SystemExit(f"{name} is larger than {MOST / 1000:.0f} kB: show less of the page")
    context.close()


def main(arguments: list[str]) -> int:
    """Take the pictures on a copy of the demo that is named."""
    chromium = system.chromium_path()
    if len(arguments) != 1 or chromium is None:
        print("name a demo campaign; Chromium must be there: make system", file=sys.stderr)
        return 2
    FOLDER.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as kept:
        home = Path(kept)
        shutil.copytree(arguments[0], home / "demo")
        command = [sys.executable, "-m", "gaugewright", "serve", kept, "--port", "0"]
        environment = {**os.environ, "XDG_CONFIG_HOME": str(home / "no settings")}
        with subprocess.Popen(
            command, stdout=subprocess.PIPE, text=True, env=environment
        ) as process:
            try:
                assert process.stdout is not None
                lines = iter(process.stdout.readline, "")
                found = next(m for m in map(ADDRESS.search, lines) if m)
                root = ["--no-sandbox"] if os.geteuid() == 0 else []
                with sync_playwright() as playwright:
                    browser = playwright.chromium.launch(
                        executable_path=chromium, args=[*FLAGS, *root]
                    )
                    taken(browser, found[0], found[1])
                    browser.close()
            finally:
                process.send_signal(signal.SIGINT)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
