"""Builds the next section of CHANGELOG.md from the files in ``changes`` and removes them.

``python -m tools.changelog 0.2.0 2027-01-31``
"""

import re
import sys
from pathlib import Path

from tools.repository import ROOT

HEADINGS = {
    "result": "Results that come out differently",
    "added": "Added",
    "changed": "Changed",
    "fixed": "Fixed",
}
FRAGMENT = re.compile(r"(?P<what>[a-z0-9-]+)\.(?P<kind>result|added|changed|fixed)\.md")


def fragments(folder: Path) -> list[tuple[str, Path]]:
    """Files that wait in a folder, each with its kind, in the order of their names."""
    found = []
    for path in sorted(folder.iterdir()):
        match = FRAGMENT.fullmatch(path.name)
        if match:
            found.append((match["kind"], path))
    return found


def section(version: str, day: str, waiting: list[tuple[str, Path]]) -> str:
    """Text of one release: changed results first, since they concern what was reported."""
    text = f"## {version} ({day})\n\n"
    for kind, heading in HEADINGS.items():
        lines = [path.read_text(encoding="utf-8").strip() for k, path in waiting if k == kind]
        if lines:
            points = "".join("- " + line.replace("\n", "\n  ") + "\n" for line in lines)
            text += f"### {heading}\n\n{points}\n"
    return text


def release(root: Path, version: str, day: str) -> int:
    """Put the section before the older ones and remove its files; the number of files used."""
    waiting = fragments(root / "changes")
    changelog = root / "CHANGELOG.md"
    opening, *older = re.split(r"^(?=## )", changelog.read_text(encoding="utf-8"), flags=re.M)
    opening = opening.replace("Nothing has been released yet.\n", "").rstrip() + "\n\n"
    text = opening + section(version, day, waiting) + "".join(older)
    changelog.write_text(text.rstrip() + "\n", encoding="utf-8")
    for _, path in waiting:
        path.unlink()
    return len(waiting)


def main(arguments: list[str]) -> int:
    """Build a release's section."""
    if len(arguments) != 2:
        print("give the version and the day: python -m tools.changelog 0.2.0 2027-01-31")
        return 2
    used = release(ROOT, *arguments)
    print(f"CHANGELOG.md has a section for {arguments[0]} from {used} files")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
