"""How does a command speak: its result on standard output, everything else on standard error."""

import json
import sys
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

__all__ = ["aside", "result", "table"]


def result(as_json: bool, plain: Mapping[str, Any], lines: Iterable[str]) -> None:
    """Print a result: as JSON for machines, else as lines for a person."""
    if as_json:
        print(json.dumps(plain, ensure_ascii=False, indent=2, allow_nan=False))
        return
    for line in lines:
        print(line)


def aside(sentence: str) -> None:
    """Say something that isn't the result."""
    print(sentence, file=sys.stderr, flush=True)


def table(heads: Sequence[str], rows: Sequence[Sequence[str]]) -> list[str]:
    """Lines of a plain table; every column as wide as its widest cell."""
    widths = [
        max(len(head), *(len(row[n]) for row in rows), 0) if rows else len(head)
        for n, head in enumerate(heads)
    ]
    whole = [heads, tuple("-" * width for width in widths), *rows]
    return [
        "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip()
        for row in whole
    ]
