"""A follower that looks again and again in the background, until it is told to stop."""

import threading

from gaugewright.errors import GaugewrightError, InputError
from gaugewright.services.following.following import Follower
from gaugewright.services.following.shown import Live
from gaugewright.services.following.stream import Source

__all__ = ["EVERY", "FollowThread"]

_OURS = "following stopped at a fault of this program; it is told where the app was started"
EVERY = (0.2, 60.0)  # seconds between two looks: lowest and highest


class FollowThread:
    """One test followed in a thread of its own; what it saw last can be asked at any time.

    Raises
    ------
    InputError
        If it should look more or less often than makes sense.
    """

    def __init__(self, follower: Follower, *, every: float = 1.0) -> None:
        if not EVERY[0] <= every <= EVERY[1]:
            raise InputError("every", every, f"from {EVERY[0]:g} to {EVERY[1]:g} seconds")
        self.follower = follower
        self.every = every
        self.failure = ""
        self.latest: Live | None = None
        self._lock = threading.Lock()
        self._stop = threading.Event()
        self._seen = threading.Event()
        self._thread = threading.Thread(target=self._run, name="follow", daemon=True)

    @property
    def goes_on(self) -> bool:
        """Whether it still looks."""
        return self._thread.is_alive()

    def start(self) -> None:
        """Begin to look."""
        self._thread.start()

    def also(self, source: Source) -> None:
        """Follow another recorder beside, from the next look on.

        Raises
        ------
        InputError
            As ``Follower.also``.
        """
        with self._lock:
            self.follower.also(source)

    def first(self, timeout: float) -> Live | None:
        """What the first look saw, waited for; None if that takes longer or failed."""
        self._seen.wait(timeout)
        return self.latest

    def stop(self, timeout: float = 30.0) -> Live | None:
        """End after the look that goes on, with a last one that takes a half line too."""
        self._stop.set()
        if self._thread.is_alive():
            self._thread.join(timeout)
        return self.latest

    def _run(self) -> None:
        is_told = False
        try:
            while not self._stop.is_set():
                with self._lock:
                    self.latest = self.follower.look()
                self._seen.set()
                if not self.latest.catching_up:
                    self._stop.wait(self.every)
            with self._lock:
                self.latest = self.follower.last()
            is_told = True
        except GaugewrightError as error:
            self.failure, is_told = str(error), True
        finally:
            if not is_told:  # nobody looks at a thread's end: the page must say that it stopped
                self.failure = _OURS
            self._seen.set()
