"""Which Debian packages does this machine lack, and how are they installed?

Runs before anything is installed: standard library only.
"""

import importlib.util
import os
import shutil
import subprocess
import sys

CHROMIUM_NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")


def chromium_path() -> str | None:
    """Chromium named by ``GAUGEWRIGHT_CHROMIUM``, else the first one on PATH."""
    named = os.environ.get("GAUGEWRIGHT_CHROMIUM")
    if named:
        return shutil.which(named)
    return next((path for name in CHROMIUM_NAMES if (path := shutil.which(name))), None)


def missing_for_python() -> dict[str, str]:
    """Packages without which no environment can be made, each with its reason."""
    if shutil.which("uv") or all(map(importlib.util.find_spec, ("venv", "ensurepip"))):
        return {}
    if importlib.util.find_spec("venv") and importlib.util.find_spec("pip"):
        return {}  # pip of the system can fill an environment that has none
    return {"python3-venv": "this Python can't make an environment"}


def missing_for_tests() -> dict[str, str]:
    """Packages that only tests use, each with its reason."""
    missing = {}
    if os.environ.get("BROWSER") != "0" and chromium_path() is None:
        missing["chromium"] = "the browser tests open pages in it"
    if shutil.which("pdftotext") is None:
        missing["poppler-utils"] = "tests read the PDF report with it"
    return missing


def install(packages: dict[str, str]) -> bool:
    """Say what is missing and install it; False when that can't be done here."""
    for package, reason in packages.items():
        print(f"missing Debian package {package}: {reason}", flush=True)
    command = "apt-get install --yes --no-install-recommends " + " ".join(packages)
    if shutil.which("apt-get") is None:
        print("no apt-get here: install what these packages hold in this system's own way")
        return False
    if os.geteuid() != 0:
        print(f"not root, so nothing was installed; run: sudo {command}")
        return False
    print(f"installing: {command}", flush=True)
    environment = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
    for step in (["apt-get", "update", "--quiet"], [*command.split(), "--quiet"]):
        if subprocess.run(step, env=environment, stdin=subprocess.DEVNULL).returncode != 0:
            print(f"'{' '.join(step)}' failed; its own words are above")
            return False
    return True


def main() -> int:
    """Install everything that is missing, or say that nothing is."""
    missing = missing_for_python() | missing_for_tests()
    if not missing:
        print("system: nothing to install")
        return 0
    return 0 if install(missing) else 1


if __name__ == "__main__":
    sys.exit(main())
