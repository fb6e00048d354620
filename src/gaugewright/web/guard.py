"""Who may ask what: hosts, origins, body sizes, the paired device, and what browsers are told.

Everything here holds on this machine too: any page open in a browser can send requests to
127.0.0.1, and a name that points there can be made by anybody.
"""

import hmac
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from urllib.parse import parse_qsl, urlencode, urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.exceptions import HTTPException
from starlette.requests import cookie_parser
from starlette.responses import PlainTextResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from gaugewright.web.people import Device, People

__all__ = ["BODY_LIMITS", "OWN_HOSTS", "Door", "Guard"]

OWN_HOSTS = ("127.0.0.1", "localhost", "[::1]")
READS = frozenset({"GET", "HEAD"})
MEGABYTE = 1_000_000
FORM_LIMIT = 256_000
# Last part of an address -> how much its body may hold; every other body is a form.
BODY_LIMITS: Mapping[str, int] = {
    "import": 4_000 * MEGABYTE,
    "photo": 40 * MEGABYTE,
    "do": 2 * MEGABYTE,  # a step of the bench with a recorder's temperature log
}
KEY = "key"
COOKIE_DAYS = 90
HEADERS = {
    "content-security-policy": (
        "default-src 'self'; base-uri 'none'; form-action 'self'; "
        "frame-ancestors 'none'; object-src 'none'"
    ),
    "x-content-type-options": "nosniff",
    # "no-referrer" would make browsers send "Origin: null" with our own forms; nothing goes
    # elsewhere with "same-origin" either.
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
}


@dataclass(slots=True)
class Door:
    """What lets a device in: the cookie it was given, or the one-time token of an address."""

    people: People
    token: str | None
    hosts: frozenset[str]
    open_addresses: tuple[str, ...] = ()

    def device(self, headers: Headers) -> Device | None:
        """Device that a request's cookie stands for, or None."""
        cookies = cookie_parser(headers.get("cookie", ""))
        return self.people.device(cookies.get(self.people.cookie, ""))

    def takes(self, key: str) -> bool:
        """Whether a key is the token; it is used up by that."""
        if self.token is None or not hmac.compare_digest(key.encode(), self.token.encode()):
            return False
        self.token = None
        return True

    def let_in(self, response: Response, name: str) -> None:
        """Pair a device."""
        self.give_cookie(response, self.people.add_device(name))

    def give_cookie(self, response: Response, secret: str) -> None:
        """Give a device the cookie that lets it in."""
        response.set_cookie(
            self.people.cookie,
            secret,
            max_age=COOKIE_DAYS * 86_400,
            httponly=True,
            samesite="strict",
            path="/",
        )


class Guard:
    """Middleware that refuses before any page is asked."""

    def __init__(self, app: ASGIApp, door: Door, body_limits: Mapping[str, int]) -> None:
        self.app = app
        self.door = door
        self.body_limits = body_limits

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request through, or answer it here."""
        if scope["type"] != "http":
            if scope["type"] == "websocket":
                return  # this app has none
            await self.app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        sending = _with_headers(send)
        limit = self._limit(scope["path"])
        refusal = (
            self._foreign_host(headers)
            or self._foreign_origin(scope, headers)
            or _too_large(headers, limit)
            or self._stranger(scope, headers)
        )
        if refusal is not None:
            await refusal(scope, receive, sending)
            return
        await self.app(scope, _counted(receive, limit), sending)

    def _limit(self, path: str) -> int:
        return self.body_limits.get(path.rstrip("/").rpartition("/")[2], FORM_LIMIT)

    def _foreign_host(self, headers: Headers) -> Response | None:
        """A name that somebody else pointed at this machine doesn't get in."""
        hosts = headers.getlist("host")
        if len(hosts) == 1 and _host_name(hosts[0]) in self.door.hosts:
            return None
        told = ", ".join(hosts) or "no host"
        return _refused(400, f"This address ({told}) isn't one of this app; use the one it printed")

    def _foreign_origin(self, scope: Scope, headers: Headers) -> Response | None:
        """What changes something must come from a page of this very app."""
        if scope["method"] in READS:
            return None
        site = headers.get("sec-fetch-site")
        origin = headers.get("origin")
        own = urlsplit(origin or "")
        is_own = own.scheme == scope["scheme"] and own.netloc == headers.get("host")
        if origin is not None and is_own and site in (None, "same-origin"):
            return None
        return _refused(403, "This request came from another page; send it from this app's own")

    def _stranger(self, scope: Scope, headers: Headers) -> Response | None:
        """A device that isn't paired sees nothing; the printed address pairs one device."""
        device = self.door.device(headers)
        scope.setdefault("state", {})["device"] = device
        query = parse_qsl(scope["query_string"].decode("latin-1"), keep_blank_values=True)
        key = dict(query).get(KEY)
        if key is not None and scope["method"] in READS:
            return self._by_key(scope["path"], query, key, device)
        if device is not None or scope["path"].startswith(self.door.open_addresses):
            return None
        if scope["method"] in READS and headers.get("hx-request") is None:
            return RedirectResponse("/pair", status_code=303)
        return _refused(
            403, "This device isn't paired with the app, or no longer; open /pair to pair it"
        )

    def _by_key(
        self, path: str, query: Iterable[tuple[str, str]], key: str, device: Device | None
    ) -> Response:
        """Answer to an address with a key: the same address without it, so that it isn't kept."""
        rest = urlencode([(name, value) for name, value in query if name != KEY])
        # One slash only: an address that begins with two names another machine.
        clean = "/" + path.lstrip("/\\") + (f"?{rest}" if rest else "")
        if device is not None:
            return RedirectResponse(clean, status_code=303)
        if not self.door.takes(key):
            return _refused(
                403,
                "This address was used before or isn't the one printed last; pair this device "
                "with a code from one that is in, or start the app again",
            )
        response = RedirectResponse(clean, status_code=303)
        self.door.let_in(response, "a browser on this machine")
        return response


def _host_name(host: str) -> str:
    """Host without its port."""
    if host.startswith("["):
        return host.partition("]")[0].lower() + "]"
    return host.partition(":")[0].lower()


def _refused(status: int, sentence: str) -> Response:
    return PlainTextResponse(sentence + ".\n", status_code=status)


def _size_sentence(limit: int) -> str:
    size = f"{limit / MEGABYTE:g} MB" if limit >= MEGABYTE else f"{limit / 1000:g} kB"
    return f"What was sent is larger than {size}, the most this page takes; nothing was kept"


def _too_large(headers: Headers, limit: int) -> Response | None:
    told = headers.get("content-length")
    if told is None:
        return None
    if not told.isascii() or not told.isdecimal():
        return _refused(400, "The stated length of the request isn't a number")
    return _refused(413, _size_sentence(limit)) if int(told) > limit else None


def _counted(receive: Receive, limit: int) -> Receive:
    """Body as it comes, cut off when it is larger than it may be, whatever length was stated."""
    taken = 0

    async def counted() -> Message:
        nonlocal taken
        message = await receive()
        if message["type"] == "http.request":
            taken += len(message.get("body", b""))
            if taken > limit:
                raise HTTPException(413, _size_sentence(limit))
        return message

    return counted


def _with_headers(send: Send) -> Send:
    async def sending(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in HEADERS.items():
                headers[name] = value
            headers.setdefault("cache-control", "no-store")
        await send(message)

    return sending
