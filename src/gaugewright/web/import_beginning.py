"""Fields of the instant at which a file's time began: what its lines offer, or any other."""

from collections.abc import Mapping
from dataclasses import replace

from gaugewright.web.forms import Field

__all__ = ["OTHER", "beginning", "beginning_fields"]

OTHER = "typed"
_FORM = "As 2027-01-12 09:15:00, on the recorder's clock; none where nobody knows."


def beginning_fields(field: Field, typed: Mapping[str, str]) -> list[Field]:
    """A choice among what the file's lines offer with a box beside it, or the box alone."""
    if not field.choices:
        return [replace(field, hint=_FORM)]
    is_other = field.value == OTHER
    other = Field(
        "epoch_typed",
        "Another date and time",
        value=typed.get("epoch_typed", ""),
        hint=f"Where none of these is right. {_FORM}",
        wrong=field.wrong if is_other else "",
    )
    return [replace(field, wrong="" if is_other else field.wrong), other]


def beginning(typed: Mapping[str, str]) -> str:
    """The instant as chosen, or as typed beside the choices; empty while neither is."""
    chosen = typed.get("epoch", "").strip()
    return typed.get("epoch_typed", "").strip() if chosen == OTHER else chosen
