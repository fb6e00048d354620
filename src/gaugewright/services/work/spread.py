"""The same work on other processes: of this machine, or of a cluster, behind one adapter."""

import multiprocessing
import os
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import ProcessPoolExecutor
from typing import Any, Protocol, TypeVar

from gaugewright.errors import InputError
from gaugewright.extras import needs

__all__ = ["Cluster", "Processes", "Spread"]

T = TypeVar("T")
R = TypeVar("R")

# How often a piece of work is begun again elsewhere after the worker that had it was lost.
TRIES = 5


class Spread(Protocol):
    """Somewhere to have work done. Work and things must be such that they can be sent there."""

    def each(self, work: Callable[[T], R], things: Iterable[T]) -> Iterator[R]:
        """Results in the order of the things; few are begun ahead of what is asked for."""
        ...


class Processes:
    """Processes of this machine, as many as it has cores unless said otherwise."""

    def __init__(self, count: int | None = None) -> None:
        if count is not None and count < 1:
            raise InputError("count", count, "1 or more processes")
        self._count = count or os.cpu_count() or 1

    def each(self, work: Callable[[T], R], things: Iterable[T]) -> Iterator[R]:
        """Results in order; a process that dies ends the work with an error."""
        # Begun anew, not forked: threads of the numeric libraries don't survive a fork.
        begun = multiprocessing.get_context("spawn")
        with ProcessPoolExecutor(self._count, mp_context=begun) as workers:
            yield from _in_order(workers.submit, work, things, ahead=2 * self._count)


class Cluster:
    """Workers of a running Dask scheduler; work of one that is lost is done again by another."""

    def __init__(self, address: str) -> None:
        distributed = needs("distributed", extra="cluster", to="work on several machines")
        try:
            self._client = distributed.Client(address)
        except (OSError, ValueError) as error:
            raise InputError(
                "address", address, "that of a running scheduler", f"begin one first ({error})"
            ) from error

    def each(self, work: Callable[[T], R], things: Iterable[T]) -> Iterator[R]:
        """Results in order, each fetched when it is asked for."""
        threads = sum(self._client.nthreads().values())

        def begin(work: Callable[[T], R], thing: T) -> Any:
            return self._client.submit(work, thing, pure=False, retries=TRIES)

        yield from _in_order(begin, work, things, ahead=2 * max(threads, 1))

    def close(self) -> None:
        """Let go of the scheduler."""
        self._client.close()


def _in_order(
    begin: Callable[..., Any], work: Callable[[T], R], things: Iterable[T], *, ahead: int
) -> Iterator[R]:
    waiting: deque[Any] = deque()
    try:
        for thing in things:
            waiting.append(begin(work, thing))
            if len(waiting) > ahead:
                yield waiting.popleft().result()
        while waiting:
            yield waiting.popleft().result()
    finally:
        for one in waiting:
            one.cancel()
