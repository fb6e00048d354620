"""Form for how the load reaches a piece of bare metal: along it, across it, turning it."""

from collections.abc import Sequence
from typing import Any

from gaugewright.records.planning import AcrossForce, BarLoading
from gaugewright.records.specimen import Bar
from gaugewright.services.campaign.book import Book
from gaugewright.services.entering.blanks import Blank, Kind, Reader
from gaugewright.services.entering.kinds import Asking, EntryKind, label_blank
from gaugewright.services.entering.specimen import held_blanks, supports_of, supports_spread

__all__ = ["LOADING"]

_ALONG, _ACROSS, _TURNING = "Along the bar", "Across the bar", "Turning it"
_FORCES = (
    Blank("distance", "At", Kind.STATED, "distance", is_needed=True),
    Blank("share", "Share of the load", Kind.NUMBER, is_needed=True),
    Blank("towards", "Pushes towards", Kind.NUMBER, "angle", is_needed=True),
)


_PULL = (
    Blank(
        "axial_share",
        "Share of the load along it",
        Kind.NUMBER,
        hint="1 where all of it pulls, −1 where all of it presses, 0 where none does.",
        is_needed=True,
        standing="1",
        group=_ALONG,
    ),
    Blank(
        "eccentricity",
        "It acts beside the axis by",
        Kind.STATED,
        "distance",
        hint="Empty: at the axis.",
        group=_ALONG,
    ),
    Blank(
        "eccentric_towards",
        "Towards clock angle",
        Kind.NUMBER,
        "angle",
        hint="Seen along the way in which distances grow: 0 top, 90 right, 180 under.",
        group=_ALONG,
    ),
    Blank(
        "across",
        "Forces across",
        Kind.ROWS,
        hint="Each with its share of what the load cell reads and the clock angle that it "
        "pushes towards; on two supports the face there is pulled.",
        group=_ACROSS,
        columns=_FORCES,
    ),
)
_TURN = (
    Blank(
        "torque_arm",
        "Arm of the torque",
        Kind.STATED,
        "distance",
        hint="Torque over load: the arm that the load turns it by. Positive where what lies "
        "farther on is turned towards growing clock angles; it stretches grids at +45°.",
        group=_TURNING,
    ),
    Blank("note", "Note", Kind.LONG, group=_TURNING),
)


def _blanks(asking: Asking) -> Sequence[Blank]:
    across = any(name.startswith("across.") and text for name, text in asking.texts.items())
    return (
        label_blank("Such as: pull with the pin off centre"),
        Blank("bar", "Bar", Kind.PICK, is_needed=True, of=Bar),
        *_PULL,
        *held_blanks(asking, _ACROSS, is_needed=across),
        *_TURN,
    )


def _build(values: dict[str, Any], before: Any, reader: Reader) -> BarLoading:
    return BarLoading(
        values["label"],
        values["bar"],
        values["axial_share"],
        values["eccentricity"],
        values["eccentric_towards"] or 0.0,
        values["held"],
        supports_of(values),
        tuple(AcrossForce(**row) for row in values["across"]),
        values["torque_arm"],
        values["note"],
    )


def _spread(record: BarLoading, book: Book) -> dict[str, Any]:
    return {
        "label": record.label,
        "bar": record.bar,
        "axial_share": record.axial_share,
        "eccentricity": record.eccentricity,
        "eccentric_towards": record.eccentric_towards,
        "across": tuple(
            {"distance": one.distance, "share": one.share, "towards": one.towards}
            for one in record.across
        ),
        "held": record.held,
        **supports_spread(record.supports),
        "torque_arm": record.torque_arm,
        "note": record.note,
    }


LOADING = EntryKind(
    "loading",
    "a loading of a bar",
    "Loadings of bars",
    "How the load reaches a piece of bare metal. Without one, all of the load is taken to pull it "
    "centrally.",
    BarLoading,
    _blanks,
    _build,
    _spread,
    places=(("supports", "support_far"),),
    after="protocol",
)
