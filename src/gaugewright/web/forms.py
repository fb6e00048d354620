"""What a form shows of a field: label, what was typed, unit, and what is wrong with it."""

from dataclasses import dataclass

__all__ = ["Choice", "Field"]


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
