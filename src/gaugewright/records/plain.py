"""Records as plain JSON values and back, and the canonical text the journal hashes."""

import dataclasses
import enum
import json
import math
import types
import typing
import unicodedata
from datetime import date, datetime
from functools import cache
from typing import Any

from gaugewright.errors import InputError
from gaugewright.records.identity import instant_from_text, instant_text

__all__ = ["canonical_text", "from_plain", "to_plain"]

Json = Any  # JSON is recursive; records themselves are typed


def to_plain(value: object) -> Json:
    """JSON value of a record or a field: dataclasses become objects, tuples lists.

    Raises
    ------
    InputError
        For a type that records may not hold, a naive time or a number that isn't finite.
    """
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {f.name: to_plain(getattr(value, f.name)) for f in dataclasses.fields(value)}
    if isinstance(value, enum.Enum):
        return value.value
    if isinstance(value, datetime):
        return instant_text(value)
    if isinstance(value, date):
        return value.isoformat()
    if value is None or isinstance(value, bool | int):
        return value
    if isinstance(value, str):
        return unicodedata.normalize("NFC", value)
    if isinstance(value, float):
        if not math.isfinite(value):
            raise InputError("number", value, "finite", "leave the field empty when it isn't known")
        return value
    if isinstance(value, tuple):
        return [to_plain(item) for item in value]
    raise InputError("field", type(value).__name__, "text, number, time, tuple or record")


def canonical_text(plain: Json) -> str:
    """One text for one value: sorted keys, no spaces, floats by ``repr``, NFC, no NaN.

    Examples
    --------
    >>> canonical_text({"b": 1.0, "a": [True, None]})
    '{"a":[true,null],"b":1.0}'
    """
    text = json.dumps(
        plain, sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False
    )
    return unicodedata.normalize("NFC", text)


def from_plain(kind: type, plain: Json) -> Any:
    """Record of class ``kind`` from what ``to_plain`` made of it, validated as when it was made.

    Raises
    ------
    InputError
        Naming the field that is missing, unknown or of the wrong type.
    """
    if not isinstance(plain, dict):
        raise InputError(kind.__name__, plain, "an object with named fields")
    hints = _hints(kind)
    unknown = sorted(set(plain) - set(hints))
    if unknown:
        raise InputError(f"{kind.__name__} field", unknown[0], "one of " + ", ".join(hints))
    required = {
        f.name
        for f in dataclasses.fields(kind)
        if f.default is dataclasses.MISSING and f.default_factory is dataclasses.MISSING
    }
    missing = sorted(required - set(plain))
    if missing:
        raise InputError(f"{kind.__name__}.{missing[0]}", None, "given: it is missing")
    made = {
        name: _field(hints[name], value, f"{kind.__name__}.{name}") for name, value in plain.items()
    }
    return kind(**made)


@cache
def _hints(kind: type) -> dict[str, Any]:
    hints = typing.get_type_hints(kind)
    return {f.name: hints[f.name] for f in dataclasses.fields(kind)}


def _field(hint: Any, value: Json, place: str) -> Any:
    origin = typing.get_origin(hint)
    if origin in (typing.Union, types.UnionType):
        return _either(hint, value, place)
    if origin is tuple:
        return _tuple(hint, value, place)
    if isinstance(hint, typing.NewType):
        hint = hint.__supertype__
    if dataclasses.is_dataclass(hint) and isinstance(hint, type):
        return from_plain(hint, value)
    if isinstance(hint, type) and issubclass(hint, enum.Enum):
        try:
            return hint(value)
        except ValueError as error:
            allowed = "one of " + ", ".join(str(member.value) for member in hint)
            raise InputError(place, value, allowed) from error
    return _scalar(hint, value, place)


def _scalar(hint: Any, value: Json, place: str) -> Any:
    if hint is datetime and isinstance(value, str):
        return instant_from_text(value)
    if hint is date and isinstance(value, str):
        try:
            return date.fromisoformat(value)
        except ValueError as error:
            raise InputError(place, value, "a date like 2026-03-04") from error
    if hint is float and isinstance(value, int | float) and not isinstance(value, bool):
        return float(value)
    if hint in (str, int, bool) and type(value) is hint:
        return value
    raise InputError(place, value, f"of type {getattr(hint, '__name__', hint)}")


def _either(hint: Any, value: Json, place: str) -> Any:
    choices = typing.get_args(hint)
    if value is None and type(None) in choices:
        return None
    problems: list[str] = []
    for choice in choices:
        if choice is type(None):
            continue
        try:
            return _field(choice, value, place)
        except InputError as error:
            problems.append(str(error))
    raise InputError(place, value, "readable: " + "; ".join(problems))


def _tuple(hint: Any, value: Json, place: str) -> tuple[Any, ...]:
    if not isinstance(value, list):
        raise InputError(place, value, "a list")
    arguments = typing.get_args(hint)
    if len(arguments) == 2 and arguments[1] is Ellipsis:
        return tuple(_field(arguments[0], item, f"{place}[{n}]") for n, item in enumerate(value))
    if len(arguments) != len(value):
        raise InputError(place, value, f"a list of {len(arguments)}")
    return tuple(
        _field(argument, item, f"{place}[{n}]")
        for n, (argument, item) in enumerate(zip(arguments, value, strict=True))
    )
