"""A method as the text a laboratory edits: TOML out, TOML in, every fault told at once."""

import json
import tomllib
from typing import Any

from gaugewright.errors import FileError
from gaugewright.records.plain import from_plain, to_plain
from gaugewright.records.proof import Method

__all__ = ["method_toml", "methods_typed"]


def method_toml(method: Method) -> str:
    """Method as TOML that ``methods_typed`` and a laboratory's ``methods.toml`` read again.

    Examples
    --------
    >>> method_toml(Method("dry", "As ever.", "house rule")).splitlines()[:3]
    ['[[method]]', 'label = "dry"', 'text = "As ever."']
    """
    return "\n".join(_table("method", to_plain(method))) + "\n"


def _table(name: str, plain: dict[str, Any]) -> list[str]:
    """Lines of a table: its values first, then the tables within it."""
    lines = [f"[[{name}]]"]
    below: list[str] = []
    for key, value in plain.items():
        if value is None or value == [] or value == "":
            continue
        if isinstance(value, list) and isinstance(value[0], dict):
            for one in value:
                below += ["", *_table(f"{name}.{key}", one)]
        else:
            lines.append(f"{key} = {_value(value)}")
    return lines + below


def _value(value: Any) -> str:
    """TOML of a text, a number, a yes or no, or a list of texts."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, list):
        return "[\n" + "".join(f"    {_value(one)},\n" for one in value) + "]"
    if isinstance(value, str) and "\n" in value:
        safe = value.replace("\\", "\\\\").replace('"', '\\"')
        return f'"""\n{safe}\n"""'
    # Strings of JSON are strings of TOML, but for the one character that only TOML forbids bare.
    text = json.dumps(value, ensure_ascii=False)
    return text.replace("\x7f", "\\u007f")


def methods_typed(text: str, *, name: str = "methods.toml") -> tuple[Method, ...]:
    """Methods of a text as ``method_toml`` writes it.

    Raises
    ------
    FileError
        If it isn't TOML, or holds something else than methods.
    InputError
        Naming the field that can't be.
    """
    try:
        told = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise FileError(name, f"isn't TOML ({error})", do="mend it") from error
    rows = told.get("method")
    if set(told) != {"method"} or not isinstance(rows, list):
        expected = "tables that begin with [[method]] only"
        raise FileError(name, "has something else", expected=expected, got=", ".join(told))
    return tuple(from_plain(Method, _tidy(row)) for row in rows)


def _tidy(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _tidy(one) for key, one in value.items()}
    if isinstance(value, list):
        return [_tidy(one) for one in value]
    return value.strip() if isinstance(value, str) else value
