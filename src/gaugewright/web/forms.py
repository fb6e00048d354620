"""What a form shows of a field: label, what was typed, unit, and what is wrong with it."""

from collections.abc import Callable, Collection
from dataclasses import dataclass

from starlette.requests import Request

from gaugewright.errors import Faults, GaugewrightError, InputError

__all__ = ["Choice", "Field", "told_beside", "typed_form"]


@dataclass(frozen=True, slots=True)
class Choice:
    """One of the values a field may have."""

    value: str
    words: str


@dataclass(frozen=True, slots=True)
class Field:
    """A field as the template ``_field.html`` draws it.

    ``wrong`` is the sentence beside the field: value, what is allowed, what to do. ``list`` names
    a datalist of the page; ``choices`` makes it a choice; ``is_long`` gives room for sentences.
    """

    name: str
    label: str
    value: str = ""
    unit: str = ""
    hint: str = ""
    wrong: str = ""
    kind: str = "text"
    choices: tuple[Choice, ...] = ()
    list: str = ""
    is_long: bool = False
    is_needed: bool = False


def told_beside(
    error: GaugewrightError | None, fields: Collection[str], place: Callable[[str], str] = str
) -> tuple[dict[str, str], str]:
    """Sentences beside the fields they speak of, and what belongs beside none.

    ``place`` names the field for what an error names otherwise.
    """
    wrong: dict[str, list[str]] = {}
    rest = []
    faults = error.faults if isinstance(error, Faults) else (error,) if error else ()
    for fault in faults:
        field = place(fault.name) if isinstance(fault, InputError) else ""
        if field in fields:
            wrong.setdefault(field, []).append(str(fault))
        else:
            rest.append(str(fault))
    return {field: "; ".join(told) for field, told in wrong.items()}, "; ".join(rest)


async def typed_form(request: Request) -> dict[str, str]:
    """Every word field of a form that was sent, for routes with many of them."""
    form = await request.form()
    return {name: value for name, value in form.items() if isinstance(value, str)}
