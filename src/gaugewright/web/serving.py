"""Runs the app on this machine and says how it is reached."""

import contextlib
import ipaddress
import secrets
import shlex
import socket
from collections.abc import Callable
from pathlib import Path

import uvicorn

from gaugewright.errors import InputError
from gaugewright.services.campaign.campaigns import DATABASE
from gaugewright.settings import Settings
from gaugewright.web.app import create_app

__all__ = ["serve"]

PORTS_TRIED = 20


def serve(
    home: Path, settings: Settings, *, port: int, lan: bool, say: Callable[[str], None]
) -> None:
    """Serve campaigns until stopped from the keyboard; ``say`` gets each line for the person.

    A port that is taken is passed over for the next free one.

    Raises
    ------
    InputError
        If the folder isn't there, or no port is free.
    """
    token = secrets.token_urlsafe(24)
    with _listening("0.0.0.0" if lan else "127.0.0.1", port) as listener:
        taken = listener.getsockname()[1]
        reached = _own_addresses() if lan else ()
        lan_address = f"http://{reached[0]}:{taken}" if reached else ""
        app = create_app(
            settings, home, token=token, lan=lan, hosts=reached, lan_address=lan_address
        )
        lines = _lines(f"http://127.0.0.1:{taken}/?key={token}", lan, lan_address)
        lines = (*lines[:-1], *_above(home), lines[-1])
        # Faults are told in a sentence and kept in a file: no trace of the server's own.
        config = uvicorn.Config(
            app, log_level="critical", access_log=False, server_header=False, lifespan="on"
        )
        with contextlib.suppress(KeyboardInterrupt):
            _Server(config, lambda: say("\n".join(lines))).run(sockets=[listener])
        say("Stopped. Everything that was written down is kept.")


class _Server(uvicorn.Server):
    """Server that says so when it answers, not before."""

    def __init__(self, config: uvicorn.Config, announce: Callable[[], None]) -> None:
        super().__init__(config)
        self._announce = announce

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        await super().startup(sockets)
        self._announce()


def _lines(address: str, lan: bool, lan_address: str) -> tuple[str, ...]:
    """What the person is told once the app answers."""
    others: tuple[str, ...] = ()
    if lan_address:
        others = (
            f"Other devices reach it at {lan_address} and pair with a code from People.",
            "What they send isn't encrypted: use a network that you trust.",
        )
    elif lan:
        others = ("This machine is in no network: only its own browsers reach the app.",)
    opening = "Open this address; it lets one browser in, once:"
    return (opening, "", f"  {address}", "", *others, "Stop with Ctrl+C.")


def _above(home: Path) -> tuple[str, ...]:
    """How campaigns are begun and copied, where the app was opened on one campaign alone."""
    if not (home / DATABASE).is_file():
        return ()
    above = shlex.quote(str(home.resolve().parent))
    return (
        "This is one campaign. To begin or copy campaigns, serve the folder above it:",
        f"  gaugewright serve {above}",
    )


def _listening(host: str, port: int) -> socket.socket:
    if not 0 <= port <= 65_535:
        raise InputError("port", port, "from 0 to 65535")
    for number in range(port, min(port + PORTS_TRIED, 65_536)) if port else (0,):
        listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            listener.bind((host, number))
        except OSError:
            listener.close()
            continue
        return listener
    raise InputError(
        "port",
        port,
        f"one that is free, as are none of the {PORTS_TRIED} from it on",
        "name another",
    )


def _own_addresses() -> tuple[str, ...]:
    """Address by which the network reaches this machine; none without a network."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))  # an address kept for documentation; nothing is sent
            address = str(probe.getsockname()[0])
        except OSError:
            return ()
    return () if ipaddress.ip_address(address).is_loopback else (address,)
