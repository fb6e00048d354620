"""What was worked out and may be asked for again, kept while there is room for it."""

import threading
from collections import OrderedDict
from typing import Generic, TypeVar

__all__ = ["Kept"]

K = TypeVar("K")
V = TypeVar("V")


class Kept(Generic[K, V]):
    """Values by key, together no larger than some bytes; the one not asked for longest goes first.

    The newest always stays, whatever its size. Several threads may share it.
    """

    def __init__(self, most_bytes: int) -> None:
        self._most = most_bytes
        self._held: OrderedDict[K, tuple[V, int]] = OrderedDict()
        self._bytes = 0
        self._lock = threading.Lock()

    def get(self, key: K) -> V | None:
        """Value kept under a key, or None."""
        with self._lock:
            if key not in self._held:
                return None
            self._held.move_to_end(key)
            return self._held[key][0]

    def make_room(self) -> None:
        """Let go of a value larger than all the room, before another is made to take its place."""
        with self._lock:
            if self._bytes > self._most:
                self._held.clear()
                self._bytes = 0

    def keep(self, key: K, value: V, size: int) -> None:
        """Keep a value of so many bytes, and let go of what there is no longer room for."""
        with self._lock:
            if key in self._held:
                self._bytes -= self._held.pop(key)[1]
            self._held[key] = (value, size)
            self._bytes += size
            while self._bytes > self._most and len(self._held) > 1:
                _, (_, gone) = self._held.popitem(last=False)
                self._bytes -= gone
