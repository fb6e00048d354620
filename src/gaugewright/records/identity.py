"""Who, when and which: uids, instants, and the one place where both are made."""

import re
import secrets
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import NewType

from gaugewright.errors import InputError

__all__ = [
    "Context",
    "Ref",
    "Uid",
    "instant_from_text",
    "instant_text",
    "new_uid_at",
    "seeded_context",
    "uid_from_text",
    "working_context",
]

Uid = NewType("Uid", str)

_ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"  # Crockford base 32: no I, L, O, U
_LENGTH = 26
_WRITTEN = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}:[0-9]{2}\.[0-9]{6}Z")


@dataclass(frozen=True, slots=True)
class Ref:
    """One version of one record: what a result or a signature points to."""

    uid: Uid
    version: int


@dataclass(frozen=True, slots=True)
class Context:
    """The only source of times, uids and names: tests and the demo pass their own.

    ``person`` is the uid of the person at work, or None where nobody is named yet.
    """

    now: Callable[[], datetime]
    new_uid: Callable[[], Uid]
    person: Uid | None = None


def new_uid_at(milliseconds: int, random_80_bits: int) -> Uid:
    """Uid of 26 characters: 48 bits of time, then 80 random bits; text order is time order.

    Raises
    ------
    InputError
        If either part doesn't fit its bits.

    Examples
    --------
    >>> new_uid_at(0, 1)
    '00000000000000000000000001'
    """
    if not 0 <= milliseconds < 1 << 48:
        raise InputError("milliseconds", milliseconds, "from 0 to below 2^48")
    if not 0 <= random_80_bits < 1 << 80:
        raise InputError("random_80_bits", random_80_bits, "from 0 to below 2^80")
    number = (milliseconds << 80) | random_80_bits
    digits = [_ALPHABET[(number >> (5 * place)) & 31] for place in range(_LENGTH)]
    return Uid("".join(reversed(digits)))


def uid_from_text(text: str) -> Uid:
    """Uid typed or read from outside, look-alike letters put right.

    Raises
    ------
    InputError
        If it isn't 26 characters of Crockford's alphabet.
    """
    tidy = text.strip().upper().replace("O", "0").replace("I", "1").replace("L", "1")
    if len(tidy) != _LENGTH or not set(tidy) <= set(_ALPHABET) or tidy[0] > "7":
        raise InputError("uid", text, "26 characters of 0-9 and A-Z without I, L, O, U")
    return Uid(tidy)


def instant_text(instant: datetime) -> str:
    """UTC text with microseconds and Z.

    Raises
    ------
    InputError
        If the time has no zone: a naive time is nobody's time.

    Examples
    --------
    >>> instant_text(datetime(2026, 3, 4, 5, 6, 7, tzinfo=UTC))
    '2026-03-04T05:06:07.000000Z'
    """
    if instant.tzinfo is None or instant.utcoffset() is None:
        raise InputError("time", instant, "a time with its zone", "state the zone")
    return instant.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ")


def instant_from_text(text: str) -> datetime:
    """Instant written by ``instant_text``.

    Raises
    ------
    InputError
        If the text isn't of that form.
    """
    try:
        if _WRITTEN.fullmatch(text):  # ten times quicker, and records are full of instants
            return datetime.fromisoformat(text)
        return datetime.strptime(text, "%Y-%m-%dT%H:%M:%S.%fZ").replace(tzinfo=UTC)
    except ValueError as error:
        raise InputError("time", text, "like 2026-03-04T05:06:07.000000Z") from error


def working_context(person: Uid | None = None) -> Context:
    """Context of a person at work: the machine's clock and its random numbers."""

    def now() -> datetime:
        return datetime.now(UTC)

    def new_uid() -> Uid:
        return new_uid_at(int(now().timestamp() * 1000), secrets.randbits(80))

    return Context(now, new_uid, person)


def seeded_context(
    start: datetime, step_seconds: float = 1.0, person: Uid | None = None
) -> Context:
    """Context for tests and demos: a clock that starts at ``start`` and ticks at every look.

    Uids count up, so that a campaign built twice is the same to the last byte.
    """
    ticks = iter(range(1 << 40))
    numbers = iter(range(1, 1 << 60))
    begin = start.astimezone(UTC).timestamp()

    def now() -> datetime:
        return datetime.fromtimestamp(begin + next(ticks) * step_seconds, tz=UTC)

    def new_uid() -> Uid:
        return new_uid_at(int(begin * 1000), next(numbers))

    return Context(now, new_uid, person)
