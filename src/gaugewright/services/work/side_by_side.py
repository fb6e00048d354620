"""Work on many things at once, on as many cores as there are, its results in order."""

import os
import sys
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from typing import TypeVar

__all__ = ["side_by_side"]

T = TypeVar("T")
R = TypeVar("R")


def side_by_side(
    work: Callable[[T], R], things: Iterable[T], *, at_once: int | None = None
) -> Iterator[R]:
    """Results in the order of the things; no more is begun than is soon asked for.

    ``at_once`` bounds how many, where each takes much memory; as many as there are cores when
    left out. Threads are enough where the work is numpy's, which lets others run meanwhile.
    Whoever stops asking, or fails, stops what hasn't begun.
    """
    cores = min(at_once or sys.maxsize, os.cpu_count() or 1)
    waiting: deque[Future[R]] = deque()
    with ThreadPoolExecutor(cores) as workers:
        try:
            for thing in things:
                waiting.append(workers.submit(work, thing))
                if len(waiting) > cores:
                    yield waiting.popleft().result()
            while waiting:
                yield waiting.popleft().result()
        finally:
            for one in waiting:
                one.cancel()
