"""Devices that are paired, the person at work on each, and the PINs they sign with.

Kept in one file beside the campaigns that only its owner can read; cookies and PINs stand in
it as hashes. Nothing of it goes into a campaign or its journal.
"""

import hashlib
import hmac
import json
import os
import secrets
import threading
import time
from collections.abc import Callable
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any

from gaugewright.errors import FileError, InputError

__all__ = ["Device", "People", "Someone"]

MODE = 0o600
DEVICES = 200  # the oldest goes when one more is paired
PIN_DIGITS = (4, 12)
# scrypt: 16 MB and some 50 ms a try on a laptop.
COST = {"n": 1 << 14, "r": 8, "p": 1}
TRIES = 5
PAUSE_S = 60.0
CODE_ALPHABET = "23456789ABCDEFGHJKMNPQRSTVWXYZ"  # no look-alikes
CODE_LENGTH = 8
CODE_LASTS_S = 300.0


@dataclass(frozen=True, slots=True)
class Someone:
    """A person as campaigns know one: label and name."""

    label: str
    name: str
    role: str = ""


@dataclass(frozen=True, slots=True)
class Device:
    """A paired browser and who is at work on it."""

    mark: str  # hash of its cookie
    name: str
    paired: float
    person: Someone | None = None


@dataclass(frozen=True, slots=True)
class _Words:
    """What stands in a sentence instead of a value that mustn't be shown."""

    text: str

    def __str__(self) -> str:
        return self.text


TYPED = _Words("what you typed")


class People:
    """Devices, PINs and pairing codes of one app; safe to use from several threads."""

    def __init__(self, file: Path, *, clock: Callable[[], float] = time.time) -> None:
        self._file = file
        self._clock = clock
        self._lock = threading.RLock()
        self._wrong: dict[str, list[float]] = {}
        self._codes: dict[str, tuple[float, Someone | None]] = {}
        kept = _read(file)
        self._devices: dict[str, Device] = {
            mark: _device(mark, told) for mark, told in kept.get("devices", {}).items()
        }
        self._pins: dict[str, dict[str, str]] = dict(kept.get("pins", {}))
        place = hashlib.sha256(str(file.resolve()).encode()).hexdigest()[:8]
        # Cookies know no ports: two apps on one machine must not take each other's.
        self.cookie = f"gaugewright_{place}"

    def device(self, secret: str) -> Device | None:
        """Device that holds a cookie, or None."""
        return self._devices.get(_mark(secret)) if secret else None

    def device_by_mark(self, mark: str) -> Device | None:
        """Paired device as it is now."""
        return self._devices.get(mark)

    def devices(self) -> tuple[Device, ...]:
        """Every paired device, the newest first."""
        return tuple(sorted(self._devices.values(), key=lambda device: -device.paired))

    def add_device(self, name: str, person: Someone | None = None) -> str:
        """Pair a device and return the secret for its cookie."""
        secret = secrets.token_urlsafe(32)
        with self._lock:
            mark = _mark(secret)
            self._devices[mark] = Device(mark, name[:80], self._clock(), person)
            for old in self.devices()[DEVICES:]:
                del self._devices[old.mark]
            self._keep()
        return secret

    def forget_device(self, mark: str) -> None:
        """Unpair a device: its cookie is worth nothing from now on."""
        with self._lock:
            self._devices.pop(mark, None)
            self._keep()

    def choose(self, device: Device, person: Someone) -> Device:
        """Let a person be at work on a device."""
        with self._lock:
            changed = replace(device, person=person)
            self._devices[device.mark] = changed
            self._keep()
        return changed

    def new_code(self, person: Someone | None) -> str:
        """Code by which one more device pairs, for that person, within five minutes."""
        code = "".join(secrets.choice(CODE_ALPHABET) for _ in range(CODE_LENGTH))
        with self._lock:
            self._codes[code] = (self._clock() + CODE_LASTS_S, person)
        return code

    def pair_by_code(self, typed: str, name: str) -> str:
        """Pair a device by a code and return the secret for its cookie; the code is used up.

        Raises
        ------
        InputError
            If the code isn't valid, or too many wrong ones were typed just now.
        """
        code = "".join(typed.upper().split()).replace("-", "")
        with self._lock:
            self._refuse_hurry("code")
            until, person = self._codes.pop(code, (0.0, None))
            if self._clock() > until:
                self._wrong.setdefault("code", []).append(self._clock())
                raise InputError(
                    "code",
                    typed,
                    "one that a paired device shows now",
                    "ask for a new one there: each holds for five minutes and one device",
                )
        return self.add_device(name, person)

    def has_pin(self, label: str) -> bool:
        """Whether a person has set a PIN."""
        return label in self._pins

    def set_pin(self, label: str, pin: str, *, old: str = "") -> None:
        """Set a person's PIN; one that is set is changed only by who knows it.

        Raises
        ------
        InputError
            If the PIN can't be used, or ``old`` isn't the one in force.
        """
        low, high = PIN_DIGITS
        if not (pin.isascii() and pin.isdecimal() and low <= len(pin) <= high):
            raise InputError("PIN", TYPED, f"{low} to {high} digits")
        with self._lock:
            if label in self._pins:
                self.check_pin(label, old)
            salt = secrets.token_bytes(16)
            self._pins[label] = {"salt": salt.hex(), "hash": _hash(pin, salt).hex()}
            self._keep()

    def check_pin(self, label: str, pin: str) -> None:
        """Refuse a wrong PIN, and every PIN for a minute after five wrong ones.

        Raises
        ------
        InputError
            If the person has no PIN, or it is another one.
        """
        with self._lock:
            kept = self._pins.get(label)
            if kept is None:
                raise InputError(
                    f"PIN of {label}",
                    _Words("not set"),
                    "set before signing",
                    "set it under People",
                )
            self._refuse_hurry(label)
            given = _hash(pin, bytes.fromhex(kept["salt"]))
            if not hmac.compare_digest(given, bytes.fromhex(kept["hash"])):
                self._wrong.setdefault(label, []).append(self._clock())
                raise InputError(f"PIN of {label}", TYPED, "the one this person has set")
            self._wrong.pop(label, None)

    def _refuse_hurry(self, what: str) -> None:
        now = self._clock()
        recent = [at for at in self._wrong.get(what, []) if now - at < PAUSE_S]
        self._wrong[what] = recent
        if len(recent) >= TRIES:
            raise InputError(
                "number of wrong tries", len(recent), f"below {TRIES} a minute", "wait a minute"
            )

    def _keep(self) -> None:
        """Write the file whole and aside, then put it in place: nobody sees half of it."""
        told = {
            "devices": {
                device.mark: {
                    "name": device.name,
                    "paired": device.paired,
                    "person": asdict(device.person) if device.person else None,
                }
                for device in self._devices.values()
            },
            "pins": self._pins,
        }
        aside = self._file.with_name(self._file.name + ".new")
        handle = os.open(aside, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, MODE)
        with os.fdopen(handle, "w", encoding="utf-8") as file:
            json.dump(told, file, ensure_ascii=False)
        aside.chmod(MODE)
        aside.replace(self._file)


def _device(mark: str, told: dict[str, Any]) -> Device:
    person = told.get("person")
    return Device(mark, told["name"], told["paired"], Someone(**person) if person else None)


def _mark(secret: str) -> str:
    return hashlib.sha256(secret.encode("utf-8", errors="replace")).hexdigest()


def _hash(pin: str, salt: bytes) -> bytes:
    return hashlib.scrypt(pin.encode("utf-8"), salt=salt, dklen=32, **COST)


def _read(file: Path) -> dict[str, Any]:
    if not file.is_file():
        return {}
    try:
        told = json.loads(file.read_text(encoding="utf-8"))
    except (json.JSONDecodeError, UnicodeDecodeError) as error:
        do = "move it away; devices then have to be paired again and PINs set again"
        raise FileError(file, f"isn't what was written ({error})", do=do) from error
    return dict(told)
