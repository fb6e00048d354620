"""Tests that this app follows in the background: one for each campaign, ended with the app."""

import threading

from starlette.requests import Request

from gaugewright.errors import InputError
from gaugewright.services.following.shown import Live, SourceNow
from gaugewright.services.following.thread import FollowThread

__all__ = ["Followed", "followed", "recorder_words", "refuse_other_machines"]

_LOCAL = ("127.0.0.1", "::1")


class Followed:
    """What is followed, by the name a campaign has in addresses; safe from several threads.

    One that ended is kept until the next begins: its rows are still to be compared.
    """

    def __init__(self) -> None:
        self._threads: dict[str, FollowThread] = {}
        self._drawn: dict[str, tuple[Live, bytes]] = {}
        self._lock = threading.Lock()

    def begin(self, name: str, thread: FollowThread) -> None:
        """Follow a test.

        Raises
        ------
        InputError
            If one of this campaign is being followed already.
        """
        with self._lock:
            known = self._threads.get(name)
            if known is not None and known.goes_on:
                allowed = "one at a time for each campaign"
                raise InputError(
                    "test followed", str(known.follower.sources[0].place), allowed, "stop it"
                )
            self._threads[name] = thread
            thread.start()

    def of(self, name: str) -> FollowThread | None:
        """What is or was followed of a campaign last."""
        return self._threads.get(name)

    def drawn(self, name: str) -> tuple[Live, bytes] | None:
        """The part that changes as it was drawn last, if it is still of the newest look."""
        thread, known = self._threads.get(name), self._drawn.get(name)
        if thread is None or known is None or not thread.goes_on or thread.failure:
            return None
        return known if known[0] is thread.latest else None

    def keep_drawn(self, name: str, live: Live, part: bytes) -> None:
        """Keep the part for the other devices that ask for the same look."""
        self._drawn[name] = (live, part)

    def end(self, name: str) -> None:
        """Stop following; what was seen stays."""
        thread = self._threads.get(name)
        if thread is not None:
            thread.stop()

    def close(self) -> None:
        """Stop all of them, when the app ends."""
        for name in list(self._threads):
            self.end(name)


def followed(request: Request) -> Followed:
    """Tests that the app behind a request follows."""
    found: Followed = request.app.state.followed
    return found


def refuse_other_machines(request: Request) -> None:
    """Let only a browser of this very machine name files of it.

    Raises
    ------
    InputError
        For a device of the network.
    """
    host = request.client.host if request.client else ""
    if request.app.state.lan and host not in _LOCAL:
        raise InputError(
            "device",
            host or "of the network",
            "the machine that runs this app: a file of it is named",
            "begin there; every paired device then sees the test",
        )


def recorder_words(request: Request, name: str) -> str:
    """How far each recorder's clock stands from this machine's, for the journal; "" when unknown.

    The offset is the least time that a row was seen after its stamp: clocks apart and way here.
    """
    thread = followed(request).of(name)
    live: Live | None = thread.latest if thread is not None and thread.goes_on else None
    if live is None:
        return ""
    told = [words for source in live.sources if (words := _offset_words(source))]
    return "; ".join(told)


def _offset_words(source: SourceNow) -> str:
    if source.offset is None or source.row_at is None:
        return ""
    return (
        f"{source.recorder}: rows of {source.file} came {source.offset:.2f} s after their stamp "
        f"at best (clocks apart and way here together); newest row then "
        f"{source.row_at:%H:%M:%S.%f} UTC"
    )
