"""What can go wrong, said in one sentence a person can act on.

GaugewrightError
├── InputError (also a ValueError)   a setting, parameter or field that can't be used
├── FileError                        a place in a file that can't be read
├── StoreError                       the campaign on disk
│   ├── StaleEdit                    somebody else changed the record meanwhile
│   └── SchemaError                  campaign made by another version
├── MissingExtraError                an optional part that isn't installed
└── Faults                           several of the above, all reported at once
    └── InputFaults (also InputError) several settings of one calculation or form
"""

from collections.abc import Sequence
from pathlib import Path

__all__ = [
    "Faults",
    "FileError",
    "GaugewrightError",
    "InputError",
    "InputFaults",
    "MissingExtraError",
    "SchemaError",
    "StaleEdit",
    "StoreError",
]


class GaugewrightError(Exception):
    """Anything this package reports as wrong; ``str()`` is one sentence, never empty."""

    def __init__(self, message: str) -> None:
        if not message.strip():
            raise ValueError("an error needs a sentence")
        super().__init__(message)

    def __reduce__(self) -> tuple[object, ...]:
        """As another process can make it again: the sentence, and the attributes beside it."""
        return _made_again, (type(self), self.args, self.__dict__)


def _made_again(
    kind: type[GaugewrightError], args: tuple[object, ...], beside: dict[str, object]
) -> GaugewrightError:
    error = kind.__new__(kind, *args)
    error.__dict__.update(beside)
    return error


class InputError(GaugewrightError, ValueError):
    """A value that can't be used: its name, what it was, what is allowed, what to do."""

    def __init__(self, name: str, value: object, allowed: str, do: str = "") -> None:
        self.name = name
        self.value = value
        self.allowed = allowed
        self.do = do
        tail = f"; {do}" if do else ""
        super().__init__(f"{name} is {_shown(value)}; it must be {allowed}{tail}")


class FileError(GaugewrightError):
    """A place in a file that can't be read; ``line`` and ``column`` count from 1."""

    def __init__(
        self,
        path: Path | str,
        problem: str,
        *,
        line: int | None = None,
        column: int | str | None = None,
        expected: str = "",
        got: object = None,
        do: str = "",
    ) -> None:
        self.path = Path(path)
        self.problem = problem
        self.line = line
        self.column = column
        self.expected = expected
        self.got = got
        self.do = do
        place = self.path.name
        if line is not None:
            place += f", line {line}"
        if column is not None:
            place += f", column {column}"
        text = f"{place}: {problem}"
        if got is not None:
            text += f"; found {_shown(got)}"
        if expected:
            text += f"; expected {expected}"
        if do:
            text += f"; {do}"
        super().__init__(text)


class StoreError(GaugewrightError):
    """The campaign on disk can't be used as asked."""


class StaleEdit(StoreError):
    """A record changed since it was read: both values are kept here to be shown side by side."""

    def __init__(self, uid: str, expected: int, found: int, theirs: object, yours: object) -> None:
        self.uid = uid
        self.expected = expected
        self.found = found
        self.theirs = theirs
        self.yours = yours
        super().__init__(
            f"record {uid} is at version {found}, your edit began from version {expected}; "
            "look at both and save again from the newer one"
        )


class SchemaError(StoreError):
    """A campaign written by an older or newer version of this package."""


class MissingExtraError(GaugewrightError):
    """An optional part isn't installed."""

    def __init__(self, package: str, extra: str, to: str) -> None:
        self.package = package
        self.extra = extra
        super().__init__(
            f"{package} is needed to {to}; install it with: pip install 'gaugewright[{extra}]'"
        )


class Faults(GaugewrightError):
    """Several faults found in one pass, so that a person can mend them together."""

    def __init__(self, what: str, faults: Sequence[GaugewrightError]) -> None:
        if not faults:
            raise ValueError("Faults needs at least one fault")
        self.what = what
        self.faults = tuple(faults)
        GaugewrightError.__init__(self, _all_told(what, self.faults))


class InputFaults(Faults, InputError):
    """Several values that can't be used, found together: whoever expects one is told of all.

    A calculation refuses one setting as ``InputError`` and several as this, so that what is done
    about a refusal doesn't depend on how many there were. ``name``, ``value`` and ``allowed``
    are those of the first.
    """

    def __init__(self, what: str, faults: Sequence[InputError]) -> None:
        parts = [fault.faults if isinstance(fault, Faults) else (fault,) for fault in faults]
        Faults.__init__(self, what, [one for part in parts for one in part])
        first = faults[0]
        self.name, self.value = first.name, first.value
        self.allowed, self.do = first.allowed, first.do


def _all_told(what: str, faults: Sequence[GaugewrightError]) -> str:
    lines = "\n".join(f"  {fault}" for fault in faults)
    count = "1 thing" if len(faults) == 1 else f"{len(faults)} things"
    return f"{what}: {count} to mend\n{lines}"


def _shown(value: object) -> str:
    if value is None:
        return "not given"
    if isinstance(value, str) and not value:
        return "empty"
    text = repr(value) if isinstance(value, str) else str(value)
    return text if len(text) <= 120 else text[:117] + "..."
