"""Two recorders of the demo writing its test again, now: a process that a test stirs by files.

Run with a folder that holds ``plan.json``. It writes into ``one/`` and ``other/`` what the demo's
recorders wrote, stamped anew: the beginning at once, as if it had gone on for minutes, then row
by row as time goes by, every row in two pieces. Files beside the plan stir it: ``goes-on`` ends
the hold, ``open`` takes the first gauge of ``one`` off the scale, ``next`` lets ``one`` go on in a
second file, ``end`` ends it; then ``written.json`` tells the rows written.
"""

import json
import os
import sys
import time
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

LAST_DIGITS = (
    0,
    3,
    1,
    4,
    2,
)  # of what stands still: to the last digit the same, it would be frozen


@dataclass
class Recorder:
    """Files of one recorder: its head, its rows without stamps, and how it writes a stamp.

    ``place`` is the folder opened by number: it writes on while the folder is moved away.
    """

    place: int
    head: str
    rows: list[str]
    rate: float
    off_s: float
    zone: str
    pattern: str
    separator: str
    number: int = 0
    done: int = 0
    written: list[int] = field(default_factory=list)
    file: int = -1

    def begin_file(self) -> None:
        if self.file >= 0:
            os.close(self.file)
        self.number += 1
        name = f"part{self.number}.csv"
        self.file = os.open(name, os.O_WRONLY | os.O_CREAT, 0o644, dir_fd=self.place)
        os.write(self.file, self.head.encode("latin-1"))
        self.written.append(0)

    def row(self, at: float, place: int, still: int, spoil: int | None) -> str:
        """One row, as read at an instant; ``still`` counts how long the specimen stood."""
        true = datetime.fromtimestamp(at, ZoneInfo("UTC")) + timedelta(seconds=self.off_s)
        stamp = true.astimezone(ZoneInfo(self.zone)).strftime(self.pattern)[:-3]
        cells = self.rows[place].split(self.separator)
        if still:
            cells = [_stirred(cell, LAST_DIGITS[(still + n) % 5]) for n, cell in enumerate(cells)]
        if spoil is not None:
            cells[spoil] = "OVERRANGE"
        ending = "Z" if self.zone == "UTC" else ""
        return self.separator.join([stamp + ending, *cells]) + "\n"

    def write(self, text: str, rows: int) -> None:
        data = text.encode("latin-1")
        half = len(data) * 2 // 3
        os.write(self.file, data[:half])
        time.sleep(0.01)
        os.write(self.file, data[half:])
        self.written[-1] += rows


def _stirred(cell: str, digit: int) -> str:
    """A number with another last digit; what is no number stays."""
    return cell[:-1] + str(digit) if cell[-1:].isdigit() and cell != "-32000,0" else cell


def main(room: Path) -> None:
    plan = json.loads((room / "plan.json").read_text())
    began = time.time() - plan["history_s"]
    recorders = []
    for name in ("one", "other"):
        told = plan[name]
        (room / name).mkdir()
        place = os.open(room / name, os.O_RDONLY)
        recorders.append(Recorder(place, told.pop("head"), told.pop("rows"), **told))
        recorders[-1].begin_file()
    reached = plan["hold_at_s"]
    going_on = 0.0
    last = time.time()
    while not (room / "end").exists():
        now = time.time()
        if (room / "goes-on").exists():
            going_on += now - last
        last = now
        if (room / "next").exists() and recorders[0].number == 1:
            recorders[0].begin_file()
        spoil = 4 if (room / "open").exists() else None
        for one in recorders:
            due = int((now - began) * one.rate) + 1
            texts = []
            for number in range(one.done, due):
                second = number / one.rate
                moved = min(second, reached + going_on)
                place = min(int(moved * one.rate), len(one.rows) - 1)
                still = int((second - moved) * one.rate)
                spoiled = spoil if one is recorders[0] and number >= due - 10 else None
                texts.append(one.row(began + second, place, still, spoiled))
            if texts:
                one.write("".join(texts), len(texts))
                one.done = due
        time.sleep(0.05)
    (room / "written.json").write_text(json.dumps([one.written for one in recorders]))


if __name__ == "__main__":
    main(Path(sys.argv[1]))
