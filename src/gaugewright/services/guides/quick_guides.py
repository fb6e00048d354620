"""Which quick guides are there? One printed page for each day of the work, kept as data."""

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Any

from gaugewright.errors import InputError

__all__ = ["Guide", "guide", "guides"]


@dataclass(frozen=True, slots=True)
class Guide:
    """A day of the work on one page: what to have ready, what to do, when to stop, cautions."""

    key: str
    title: str
    when: str
    ready: tuple[str, ...]
    steps: tuple[str, ...]
    stop: str
    cautions: tuple[str, ...]


@cache
def guides() -> tuple[Guide, ...]:
    """All of them, in the order of the work."""
    source = resources.files("gaugewright").joinpath("defaults", "guides.toml")
    tables: list[dict[str, Any]] = tomllib.loads(source.read_text(encoding="utf-8"))["guide"]
    return tuple(Guide(**{name: _frozen(told) for name, told in table.items()}) for table in tables)


def _frozen(told: Any) -> Any:
    return tuple(told) if isinstance(told, list) else told


def guide(key: str) -> Guide:
    """Guide of a name.

    Raises
    ------
    InputError
        If there is none of that name.
    """
    for one in guides():
        if one.key == key:
            return one
    raise InputError("guide", key, "one of " + ", ".join(one.key for one in guides()))
