"""What a form shows of a field: label, what was typed, unit, and what is wrong with it."""

from dataclasses import dataclass

from starlette.requests import Request

__all__ = ["Choice", "Field", "typed_form"]


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


async def typed_form(request: Request) -> dict[str, str]:
    """Every word field of a form that was sent, for routes with many of them."""
    form = await request.form()
    return {name: value for name, value in form.items() if isinstance(value, str)}
