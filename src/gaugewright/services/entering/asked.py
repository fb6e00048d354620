"""Forms for what must be known and how the specimen is to be loaded."""

from collections.abc import Sequence
from typing import Any

from gaugewright.quantities import QUANTITIES
from gaugewright.records.planning import PlannedStep, Protocol
from gaugewright.records.specimen import Question, Specimen, Station
from gaugewright.services.campaign.book import Book
from gaugewright.services.entering.blanks import Blank, Kind, Reader
from gaugewright.services.entering.kinds import Asking, EntryKind, label_blank, plain_build

__all__ = ["PROTOCOL", "QUESTION", "asked_like"]

_ASKED = (
    ("yield load", "load at which the steel yields"),
    ("force", "force in a bar"),
    ("stress", "stress in a bar"),
    ("strain", "strain"),
    ("curvature", "curvature of a section"),
    ("moment", "bending moment of a section"),
    ("bond stress", "bond stress along a bar"),
    ("principal stress", "principal stresses"),
    ("shear strain", "shear strain"),
    ("torque", "torque"),
)


def asked_like(quantity: str) -> str:
    """Quantity whose unit a question's answer has; "" where none is known.

    "bond stress" is like any stress, "yield load" like any force.
    """
    whole = quantity.replace(" ", "_")
    if whole in QUANTITIES:
        return whole
    last = quantity.split()[-1] if quantity.split() else ""
    like = "force" if last == "load" else last
    return like if like in QUANTITIES else ""


def _question_blanks(asking: Asking) -> Sequence[Blank]:
    quantity = asking.text("quantity", _ASKED[0][0])
    known: tuple[tuple[str, str], ...] = _ASKED
    if quantity not in dict(known):
        known = (*known, (quantity, quantity))
    blanks = [
        label_blank("Short, such as: bar force"),
        Blank("text", "Question", Kind.LONG, hint="What must be known, in words.", is_needed=True),
        Blank(
            "quantity",
            "It asks for",
            Kind.CHOICE,
            choices=known,
            is_needed=True,
            decides=True,
            standing=_ASKED[0][0],
        ),
        Blank(
            "wanted",
            "Wanted to ±",
            Kind.NUMBER,
            asked_like(quantity),
            hint="Expanded uncertainty, 95 %, that is good enough. Empty: as good as it gets.",
        ),
    ]
    if not quantity.endswith("load"):
        hint = "What the load cell reads when it is asked."
        blanks.append(Blank("load", "At a load of", Kind.NUMBER, "load", hint=hint))
    hint = "Labels with semicolons between; stations may be named later."
    blanks.append(Blank("stations", "Stations that tell it", Kind.PICKS, hint=hint, of=Station))
    return blanks


QUESTION = EntryKind(
    "question",
    "a question",
    "Questions",
    "What must be known, how well, and, unless a load itself is asked for, at which load: every "
    "gauge is there for one of these.",
    Question,
    _question_blanks,
    plain_build(Question, "load"),
    after="specimen",
)

_STEPS = (
    Blank("label", "Step", is_needed=True),
    Blank("load", "Load", Kind.NUMBER, "load", is_needed=True),
    Blank("note", "How"),
)


def _protocol_blanks(asking: Asking) -> Sequence[Blank]:
    return (
        label_blank("Such as: test"),
        Blank("specimen", "Specimen", Kind.PICK, is_needed=True, of=Specimen),
        Blank(
            "steps",
            "Steps",
            Kind.ROWS,
            hint="In their order; loads are what the load cell is to read, compression of a "
            "column positive where its cell reads it so.",
            is_needed=True,
            columns=_STEPS,
        ),
        Blank("note", "Note", Kind.LONG),
    )


def _protocol(values: dict[str, Any], before: Any, reader: Reader) -> Protocol:
    steps = tuple(PlannedStep(row["label"], row["load"], row["note"]) for row in values["steps"])
    return Protocol(values["label"], values["specimen"], steps, values["note"])


def _protocol_spread(record: Protocol, book: Book) -> dict[str, Any]:
    rows = tuple({"label": s.label, "load": s.load, "note": s.note} for s in record.steps)
    return {
        "label": record.label,
        "specimen": record.specimen,
        "steps": rows,
        "note": record.note,
    }


PROTOCOL = EntryKind(
    "protocol",
    "a protocol",
    "Protocols",
    "How the specimen is to be loaded, step by step: predictions are made for these loads.",
    Protocol,
    _protocol_blanks,
    _protocol,
    _protocol_spread,
    after="stations",
)
