"""Does the tool work on this machine, and is a campaign what was written into it?"""

import platform
import re
import sqlite3
import sys
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from importlib import metadata
from pathlib import Path
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import numpy as np

from gaugewright import __version__
from gaugewright.calc import circuit
from gaugewright.errors import GaugewrightError, StoreError
from gaugewright.report import glyphs
from gaugewright.services.campaign import campaigns
from gaugewright.settings import Settings
from gaugewright.sources import plugins

__all__ = ["Check", "campaign", "installation"]

OLDEST_PYTHON = (3, 11)
OLDEST_SQLITE = (3, 35, 0)  # the first that returns what it wrote from one statement


@dataclass(frozen=True, slots=True)
class Check:
    """One thing looked at: whether it is as it must be, and what was found or what to do."""

    name: str
    passed: bool
    sentence: str


def installation() -> tuple[Check, ...]:
    """Look at everything the package needs from the machine it runs on."""
    checks: tuple[Callable[[], Check], ...] = (
        _python,
        _packages,
        _fonts,
        _circuit,
        _database,
        _zones,
        _permission,
    )
    return (*(check() for check in checks), *_plug_ins())


def campaign(folder: Path, settings: Settings) -> tuple[Check, ...]:
    """Verify a campaign: journal, originals and readings against their checksums.

    Raises
    ------
    InputError
        If the folder holds no campaign.
    """
    name = f"campaign {folder}"
    try:
        with campaigns.opened(folder, settings, read_only=True) as store:
            problems = store.problems()
            head = store.head()
    except StoreError as error:
        return (Check(name, False, str(error)),)
    if problems:
        return tuple(Check(f"{name}, {p.place}", False, p.sentence) for p in problems)
    return (Check(name, True, f"nothing missing or changed; journal {head.seq}, {head.sha256}"),)


def _python() -> Check:
    found = f"gaugewright {__version__}, Python {platform.python_version()}, {platform.platform()}"
    passed = sys.version_info[:2] >= OLDEST_PYTHON
    wanted = ".".join(map(str, OLDEST_PYTHON))
    return Check("versions", passed, found if passed else f"{found}; Python {wanted} is needed")


def _packages() -> Check:
    """Every package that an installation needs, by the metadata it was installed with."""
    found: list[str] = []
    missing: list[str] = []
    for line in metadata.requires("gaugewright") or ():
        if "extra ==" in line:
            continue
        name = re.split(r"[^A-Za-z0-9._-]", line, maxsplit=1)[0]
        try:
            found.append(f"{name} {metadata.version(name)}")
        except metadata.PackageNotFoundError:
            missing.append(name)
    if missing:
        return Check("packages", False, f"missing: {', '.join(missing)}; install gaugewright again")
    return Check("packages", bool(found), ", ".join(found) or "the list of packages is missing")


def _circuit() -> Check:
    """Quarter bridge by the network solver against its closed form x / (4 + 2x)."""
    network = circuit.Network(
        (("gauge", "N", "A"), ("low", "N", "B"), ("high", "A", "P"), ("upper", "B", "P")),
        (circuit.VoltageSource("supply", "P", "N", 1.0),),
        "N",
    )
    change = np.array([-0.02, 1e-6, 0.004, 0.1])
    arms = np.full((change.size, 4), 120.0)
    arms[:, 0] *= 1 + change
    solved = circuit.solve(network, arms)
    found = solved.voltage("A") - solved.voltage("B")
    worst = float(np.max(np.abs(found - change / (4 + 2 * change))))
    passed = worst < 1e-12
    sentence = f"network solver and closed form differ by at most {worst:.1e} V/V"
    return Check("circuit", passed, sentence if passed else f"{sentence}; 1e-12 is allowed")


def _database() -> Check:
    found = f"SQLite {sqlite3.sqlite_version}"
    passed = sqlite3.sqlite_version_info >= OLDEST_SQLITE
    wanted = ".".join(map(str, OLDEST_SQLITE))
    return Check("database", passed, found if passed else f"{found}; {wanted} or newer is needed")


def _zones() -> Check:
    """One zone whose summer and winter time are known."""
    try:
        zone = ZoneInfo("Europe/Rome")
    except ZoneInfoNotFoundError:
        return Check("time zones", False, "no zone data; install the package tzdata")
    summer = datetime(2026, 7, 1, 12, tzinfo=UTC).astimezone(zone).hour
    winter = datetime(2026, 1, 1, 12, tzinfo=UTC).astimezone(zone).hour
    passed = (summer, winter) == (14, 13)
    found = f"noon UTC in Rome is {summer} h in July and {winter} h in January of 2026"
    return Check("time zones", passed, found if passed else f"{found}; it must be 14 and 13")


def _permission() -> Check:
    here = Path.cwd()
    try:
        with tempfile.TemporaryFile(dir=here) as file:
            file.write(b"written")
    except OSError as error:
        problem = f"{here}: {error.strerror or error}; work in a folder you may write in"
        return Check("permission to write", False, problem)
    return Check("permission to write", True, f"{here} can be written in")


def _fonts() -> Check:
    """The shipped faces are readable and have the signs of the trade."""
    needed = "µεΩ°±−²³ΔσναβØ≤≥"
    try:
        covered = glyphs.covered()
    except (GaugewrightError, OSError) as error:
        return Check("fonts", False, f"{error}; install gaugewright again")
    missing = [sign for sign in needed if ord(sign) not in covered]
    if missing:
        return Check("fonts", False, f"no glyph for {' '.join(missing)}; install gaugewright again")
    found = f"{', '.join(glyphs.FAMILIES)}: {len(covered)} characters"
    return Check("fonts", True, found)


def _plug_ins() -> list[Check]:
    """Load every plug-in; one that can't be loaded is named here and never stops the rest."""
    found = plugins.installed()
    checks = [Check(f"plug-in {each.name}", False, each.what) for each in found.problems]
    labels = ", ".join(importer.label for importer in found.importers)
    return [Check("importers", bool(found.importers), labels or "none; install again"), *checks]
