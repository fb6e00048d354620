"""How far is the work? Shown on standard error from counts of what is done, never from a timer."""

import sys
from types import TracebackType
from typing import Self, TextIO

from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, TaskID, TextColumn
from rich.progress import Progress as Bars

__all__ = ["Progress"]

STEPS = 4  # lines a piece of work writes at most, after its first, where nobody watches


class Progress:
    """Call it with ``(done, total, what)``: a bar on a terminal, a few plain lines elsewhere.

    Work that goes on counting to the same total is one piece, whatever ``what`` names now.
    """

    def __init__(self, stream: TextIO | None = None) -> None:
        self._stream = sys.stderr if stream is None else stream
        self._console = Console(file=self._stream)
        self._bars: Bars | None = None
        self._task: TaskID | None = None
        self._what = ""
        self._done = 0
        self._total = -1  # nothing has begun
        self._step = -1

    def __enter__(self) -> Self:
        if self._console.is_terminal:
            self._bars = Bars(
                TextColumn("{task.description}"),
                BarColumn(),
                MofNCompleteColumn(),
                console=self._console,
            )
            self._bars.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        if self._bars is not None:
            self._bars.stop()

    def __call__(self, done: int, total: int, what: str) -> None:
        """Say that ``done`` of ``total`` pieces of ``what`` are done; a total of 0 is unknown."""
        goes_on = done >= self._done if what == self._what else done > self._done
        is_new = total != self._total or not goes_on
        repeated = (done, total, what) == (self._done, self._total, self._what)
        self._done, self._total, self._what = done, total, what
        if self._bars is not None:
            self._bar(self._bars, is_new)
        elif is_new or not repeated:
            self._line(is_new)

    def _bar(self, bars: Bars, is_new: bool) -> None:
        total = self._total or None
        if is_new or self._task is None:
            self._task = bars.add_task(self._what, total=total)
        bars.update(self._task, description=self._what, completed=self._done, total=total)

    def _line(self, is_new: bool) -> None:
        step = STEPS * self._done // self._total if self._total > 0 else -1
        if not is_new and step == self._step:
            return
        self._step = step
        count = f"{self._done} of {self._total}" if self._total > 0 else f"{self._done}"
        print(f"{self._what}: {count}", file=self._stream, flush=True)
