"""How far is the work? Shown on standard error from counts of what is done, never from a timer."""

import sys
from types import TracebackType
from typing import Self, TextIO

from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, TaskID, TextColumn
from rich.progress import Progress as Bars

__all__ = ["Progress"]

STEPS = 4  # lines a piece of work writes at most where nobody watches


class Progress:
    """Call it with ``(done, total, what)``: a bar on a terminal, a few plain lines elsewhere."""

    def __init__(self, stream: TextIO | None = None) -> None:
        self._stream = sys.stderr if stream is None else stream
        self._console = Console(file=self._stream)
        self._bars: Bars | None = None
        self._tasks: dict[str, TaskID] = {}
        self._said: dict[str, int] = {}

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
        if self._bars is None:
            self._line(done, total, what)
            return
        if what not in self._tasks:
            self._tasks[what] = self._bars.add_task(what, total=total or None)
        self._bars.update(self._tasks[what], completed=done, total=total or None)

    def _line(self, done: int, total: int, what: str) -> None:
        step = STEPS * done // total if total > 0 else -1
        if self._said.get(what) == step:
            return
        self._said[what] = step
        count = f"{done} of {total}" if total > 0 else f"{done}"
        print(f"{what}: {count}", file=self._stream, flush=True)
