"""Records as plain JSON values and back, and the canonical text the journal hashes."""

import dataclasses
import enum
import json
import math
import types
import typing
import unicodedata
from collections.abc import Callable
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
    form = _form(kind)
    fields = form.fields
    if not fields.keys() >= plain.keys():
        unknown = sorted(set(plain) - set(fields))
        raise InputError(f"{kind.__name__} field", unknown[0], "one of " + ", ".join(fields))
    if not plain.keys() >= form.required:
        missing = sorted(form.required - set(plain))
        raise InputError(f"{kind.__name__}.{missing[0]}", None, "given: it is missing")
    made = {}
    for name, value in plain.items():
        read, place = fields[name]
        made[name] = read(value, place)
    return kind(**made)


# Takes a JSON value and the name of its place, which only the sentence of an error needs.
_Read = Callable[[Json, str], Any]


@dataclasses.dataclass(frozen=True, slots=True)
class _Form:
    """How the fields of a class are read, looked up once for all records of the class."""

    fields: dict[str, tuple[_Read, str]]
    required: frozenset[str]


@cache
def _form(kind: type) -> _Form:
    hints = typing.get_type_hints(kind)
    fields = dataclasses.fields(kind)
    return _Form(
        {f.name: (_reader(hints[f.name]), f"{kind.__name__}.{f.name}") for f in fields},
        frozenset(
            f.name
            for f in fields
            if f.default is dataclasses.MISSING and f.default_factory is dataclasses.MISSING
        ),
    )


@cache
def _reader(hint: Any) -> _Read:
    origin = typing.get_origin(hint)
    if origin in (typing.Union, types.UnionType):
        return _either(typing.get_args(hint))
    if origin is tuple:
        return _tuple(typing.get_args(hint))
    if isinstance(hint, typing.NewType):
        hint = hint.__supertype__
    if dataclasses.is_dataclass(hint) and isinstance(hint, type):
        return lambda value, place: from_plain(hint, value)
    if isinstance(hint, type) and issubclass(hint, enum.Enum):
        return _member(hint)
    return _scalar(hint)


def _member(hint: type[enum.Enum]) -> _Read:
    def read(value: Json, place: str) -> Any:
        try:
            return hint(value)
        except ValueError as error:
            allowed = "one of " + ", ".join(str(member.value) for member in hint)
            raise InputError(place, value, allowed) from error

    return read


def _scalar(hint: Any) -> _Read:
    def refused(value: Json, place: str) -> InputError:
        return InputError(place, value, f"of type {getattr(hint, '__name__', hint)}")

    def instant(value: Json, place: str) -> Any:
        if isinstance(value, str):
            return instant_from_text(value)
        raise refused(value, place)

    def day(value: Json, place: str) -> Any:
        if not isinstance(value, str):
            raise refused(value, place)
        try:
            return date.fromisoformat(value)
        except ValueError as error:
            raise InputError(place, value, "a date like 2026-03-04") from error

    def number(value: Json, place: str) -> Any:
        if isinstance(value, int | float) and not isinstance(value, bool):
            return float(value)
        raise refused(value, place)

    def same(value: Json, place: str) -> Any:
        if hint in (str, int, bool) and type(value) is hint:
            return value
        raise refused(value, place)

    known: dict[Any, _Read] = {datetime: instant, date: day, float: number}
    return known.get(hint, same)


def _either(choices: tuple[Any, ...]) -> _Read:
    may_be_none = type(None) in choices
    readers = tuple(_reader(choice) for choice in choices if choice is not type(None))

    def read(value: Json, place: str) -> Any:
        if value is None and may_be_none:
            return None
        problems: list[str] = []
        for attempt in readers:
            try:
                return attempt(value, place)
            except InputError as error:
                problems.append(str(error))
        raise InputError(place, value, "readable: " + "; ".join(problems))

    return read


def _tuple(arguments: tuple[Any, ...]) -> _Read:
    if len(arguments) == 2 and arguments[1] is Ellipsis:
        item = _reader(arguments[0])

        def read_all(value: Json, place: str) -> tuple[Any, ...]:
            if not isinstance(value, list):
                raise InputError(place, value, "a list")
            return tuple([item(part, f"{place}[{n}]") for n, part in enumerate(value)])

        return read_all
    readers = tuple(_reader(argument) for argument in arguments)

    def read(value: Json, place: str) -> tuple[Any, ...]:
        if not isinstance(value, list):
            raise InputError(place, value, "a list")
        if len(readers) != len(value):
            raise InputError(place, value, f"a list of {len(readers)}")
        parts = zip(readers, value, strict=True)
        return tuple([read(part, f"{place}[{n}]") for n, (read, part) in enumerate(parts)])

    return read
