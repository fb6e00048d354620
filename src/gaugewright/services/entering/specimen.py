"""Forms for what is tested: the specimen, its concrete, and a cast member's section and span."""

from collections.abc import Mapping, Sequence
from typing import Any

from gaugewright.errors import InputError
from gaugewright.present.typed import text_to_type
from gaugewright.records.member import (
    BarPlace,
    Concrete,
    Held,
    LoadPoint,
    Member,
    Outline,
    OutlineShape,
)
from gaugewright.records.specimen import Bar, Specimen, SpecimenKind
from gaugewright.records.stated import Stated
from gaugewright.services.campaign.book import Book
from gaugewright.services.entering.blanks import Blank, Kind, Reader
from gaugewright.services.entering.kinds import Asking, EntryKind, label_blank, plain_build

__all__ = [
    "CONCRETE",
    "HELD",
    "MEMBER",
    "SPECIMEN",
    "held_blanks",
    "supports_of",
    "supports_spread",
]

_KINDS = (
    (SpecimenKind.CAST_MEMBER, "cast member: bars in concrete"),
    (SpecimenKind.BARE_METAL, "bare metal: a bar, tube or coupon pulled, pushed or bent"),
    (SpecimenKind.TUBE, "torsion tube"),
    (SpecimenKind.PLATE, "plate with rosettes"),
    (SpecimenKind.STRAND, "strand"),
    (SpecimenKind.LOAD_CELL, "load cell made of a bar"),
    (SpecimenKind.DUMMY, "dummy: an unloaded piece that carries compensating gauges"),
)
_FLAT_SIDED = (
    SpecimenKind.CAST_MEMBER,
    SpecimenKind.BARE_METAL,
    SpecimenKind.PLATE,
    SpecimenKind.DUMMY,
)


def _specimen_blanks(asking: Asking) -> Sequence[Blank]:
    kind = asking.member("kind", SpecimenKind.CAST_MEMBER)
    blanks = [
        label_blank("As it is marked, such as H3"),
        Blank(
            "kind",
            "Kind",
            Kind.CHOICE,
            choices=tuple((one.value, words) for one, words in _KINDS),
            of_enum=SpecimenKind,
            is_needed=True,
            decides=True,
            standing=SpecimenKind.CAST_MEMBER.value,
        ),
        Blank("description", "Description", Kind.LONG, hint="How it is held and loaded, in words."),
        Blank("length", "Length over all", Kind.NUMBER, "distance"),
    ]
    if kind in _FLAT_SIDED:
        thick = "Height" if kind is SpecimenKind.CAST_MEMBER else "Thickness"
        hint = "Of a round one: its diameter." if kind is not SpecimenKind.PLATE else ""
        blanks.append(Blank("width", "Width", Kind.NUMBER, "distance", hint=hint))
        blanks.append(Blank("height", thick, Kind.NUMBER, "distance"))
    return blanks


SPECIMEN = EntryKind(
    "specimen",
    "a specimen",
    "Specimens",
    "What is tested. What else is asked follows from its kind.",
    Specimen,
    _specimen_blanks,
    plain_build(Specimen, "width", "height"),
    after="material",
)


_THEN = "On the day of the test, or as it is expected"
_CONCRETE = (
    label_blank("Such as: beam H3"),
    Blank(
        "compressive_strength",
        "Strength in compression",
        Kind.STATED,
        "stress",
        hint="Mean of cylinders, such as 37.3 ± 2.2 (k=2)",
        is_needed=True,
        group=_THEN,
    ),
    Blank(
        "elastic_modulus",
        "Modulus",
        Kind.STATED,
        "elastic_modulus",
        hint="Empty: from the strength, by a rule for many mixes.",
        group=_THEN,
    ),
    Blank(
        "tensile_strength",
        "Strength in tension",
        Kind.STATED,
        "stress",
        hint="Empty: from the strength, by a rule for many mixes.",
        group=_THEN,
    ),
    Blank(
        "free_strain",
        "Free strain since the pour",
        Kind.STATED,
        "strain",
        hint="Without stress; shrinkage negative.",
        group=_THEN,
    ),
    Blank("strength_class", "Class", hint="As ordered, such as C30/37."),
    Blank("age", "Age at the test", hint="In words, such as 28 days."),
    Blank("note", "Note", Kind.LONG),
)


def _concrete_blanks(asking: Asking) -> Sequence[Blank]:
    return _CONCRETE


CONCRETE = EntryKind(
    "concrete",
    "a concrete",
    "Concretes",
    "What a cast member is made of; before the pour, what the mix is expected to reach.",
    Concrete,
    _concrete_blanks,
    plain_build(Concrete),
    after="member",
)

_SHAPES = (
    (OutlineShape.RECTANGLE, "rectangle"),
    (OutlineShape.TEE, "T, its flange at the upper face"),
    (OutlineShape.CIRCLE, "circle"),
)
_OUTLINE = ("height", "width", "flange_width", "flange_depth")
_PLACES = (
    Blank("bar", "Bar", Kind.PICK, is_needed=True, of=Bar),
    Blank("depth", "Below the upper face", Kind.STATED, "distance", is_needed=True),
    Blank("across", "Right of the middle", Kind.STATED, "distance", is_needed=True),
    Blank("begins", "Its datum lies at", Kind.STATED, "distance", is_needed=True),
)
_LOADS = (
    Blank("distance", "At", Kind.STATED, "distance", is_needed=True),
    Blank("share", "Share of the load", Kind.NUMBER, is_needed=True),
)


def _measure(name: str, label: str, hint: str = "", standing: str = "") -> Blank:
    return Blank(
        name,
        label,
        Kind.STATED,
        "distance",
        hint=hint,
        is_needed=True,
        group="Outline of the concrete",
        standing=standing,
        follows=True,
    )


def _outline_blanks(asking: Asking, shape: OutlineShape) -> Sequence[Blank]:
    height, width = _size_of(asking)
    hint = "That of the specimen stands here already; measured with its ± is better."
    told = hint if height or width else ""
    if shape is OutlineShape.CIRCLE:
        return (_measure("height", "Diameter", told, height),)
    web = "Width of the web" if shape is OutlineShape.TEE else "Width"
    if shape is OutlineShape.TEE:
        width = ""  # the specimen's is that of the flange
    measures = [_measure("height", "Height", told, height), _measure("width", web, "", width)]
    if shape is OutlineShape.TEE:
        hint = "The width that works with the web, not more than was cast."
        measures.append(_measure("flange_width", "Width of the flange", hint))
        measures.append(_measure("flange_depth", "Depth of the flange"))
    return measures


def _size_of(asking: Asking) -> tuple[str, str]:
    """Height and width of the specimen that is chosen, or of the only one, as typed."""
    known = asking.book.of(Specimen)
    chosen = asking.text("specimen")
    found = [one.record for one in known if one.record.label == chosen]
    if not found and not chosen and len(known) == 1:
        found = [known[0].record]
    sizes = (found[0].height, found[0].width) if found else (None, None)
    height, width = (
        "" if size is None else text_to_type(size, "distance", asking.system) for size in sizes
    )
    return height, width


_GROUP = "How it is held and loaded"
HELD = (
    (Held.TWO_SUPPORTS, "on two supports"),
    (Held.AT_ITS_ENDS, "pulled or pressed at its two ends: a tie, a strut"),
    (Held.ONE_END, "clamped at one end, the other free: a cantilever, a column on its foot"),
    (Held.BOTH_ENDS, "clamped at both ends"),
    (Held.PROPPED, "clamped at the first end, supported at the second"),
    (Held.IN_A_ROW, "on three supports or more"),
)
# What the two places are that every way of holding has.
_PLACES_HELD = {
    Held.TWO_SUPPORTS: ("First support at", "Second support at"),
    Held.ONE_END: ("Clamped at", "Free end at"),
    Held.BOTH_ENDS: ("First clamp at", "Second clamp at"),
    Held.PROPPED: ("Clamped at", "Supported at"),
    Held.IN_A_ROW: ("First support at", "Second support at"),
}


def held_blanks(
    asking: Asking, group: str, *, is_needed: bool, may_be_pulled: bool = False
) -> Sequence[Blank]:
    """How a length is held, and where; what ends alone hold has no places."""
    held = asking.member("held", Held.TWO_SUPPORTS)
    ways = HELD if may_be_pulled else tuple(o for o in HELD if o[0] is not Held.AT_ITS_ENDS)
    blanks = [
        Blank(
            "held",
            "Held",
            Kind.CHOICE,
            choices=tuple((one.value, words) for one, words in ways),
            of_enum=Held,
            is_needed=True,
            decides=True,
            standing=Held.TWO_SUPPORTS.value,
            group=group,
        ),
    ]
    if held not in _PLACES_HELD:
        return blanks
    near, far = _PLACES_HELD[held]
    blanks += [
        Blank("support_near", near, Kind.STATED, "distance", is_needed=is_needed, group=group),
        Blank("support_far", far, Kind.STATED, "distance", is_needed=is_needed, group=group),
    ]
    if held is Held.IN_A_ROW:
        blanks.append(
            Blank(
                "supports_more",
                "More supports",
                Kind.ROWS,
                hint="The third and on, in their order.",
                is_needed=True,
                group=group,
                columns=(Blank("distance", "At", Kind.STATED, "distance", is_needed=True),),
            )
        )
    return blanks


def supports_of(values: Mapping[str, Any]) -> tuple[Stated, ...]:
    """Places that were typed, in their order."""
    two = (values.get("support_near"), values.get("support_far"))
    more = tuple(row["distance"] for row in values.get("supports_more") or ())
    return tuple(one for one in (*two, *more) if one is not None)


def supports_spread(supports: tuple[Stated, ...]) -> dict[str, Any]:
    """Places as the form has them."""
    first = (*supports, None, None)
    return {
        "support_near": first[0],
        "support_far": first[1],
        "supports_more": tuple({"distance": one} for one in supports[2:]),
    }


def _held_blanks(asking: Asking) -> Sequence[Blank]:
    by_its_ends = asking.member("held", Held.TWO_SUPPORTS) is Held.AT_ITS_ENDS
    return (
        Blank(
            "datum",
            "Distances count from",
            hint="Such as: west support, growing eastward; of a column: its foot, growing upward; "
            "of a tie: one end of its concrete.",
            is_needed=True,
            group=_GROUP,
        ),
        *held_blanks(asking, _GROUP, is_needed=True, may_be_pulled=True),
        *(() if by_its_ends else _ACROSS),
        *_along(by_its_ends=by_its_ends),
    )


_ACROSS = (
    Blank(
        "load_points",
        "Loads across",
        Kind.ROWS,
        hint="Where the load comes down, and its share of what the load cell reads: 0.5 each "
        "of two jacks under one cell. A column is written down as if it lay: its upper face "
        "is the one that is pushed. None where the load only presses along it.",
        group=_GROUP,
        columns=_LOADS,
    ),
    Blank(
        "load_per_length",
        "Own weight per length",
        Kind.STATED,
        "load_per_length",
        hint="Of the member itself; empty: left out of the moments, as for one that stands.",
        group=_GROUP,
    ),
)
_ALONG = "Force along the axis"


def _along(*, by_its_ends: bool) -> Sequence[Blank]:
    """What acts along the axis: of a tie or strut it is all there is."""
    hint = (
        "Pull positive: −1 where the load cell reads a column’s compression as positive, "
        "empty or 0 where the load only bends."
    )
    if by_its_ends:
        hint = "1 for a tie whose load cell reads its pull as positive, −1 for a strut."
    # A share typed for a tie isn't left behind in a beam's form, where nobody would look for it.
    share = Blank(
        "pull_share" if by_its_ends else "axial_share",
        "Share of the load along the axis",
        Kind.NUMBER,
        hint=hint,
        is_needed=by_its_ends,
        group=_ALONG,
        standing="1" if by_its_ends else "",
        follows=True,
    )
    return (share, *_BESIDE)


_BESIDE = (
    Blank(
        "eccentricity",
        "It acts below the middle by",
        Kind.STATED,
        "distance",
        hint="Negative above it; pressing above the middle pulls the lower face. For ends that "
        "may turn, or a free one.",
        group=_ALONG,
    ),
    Blank(
        "axial_force",
        "Force that stays while the load grows",
        Kind.STATED,
        "force",
        hint="By another jack, at the middle; push negative.",
        group=_ALONG,
    ),
)
_LYING = (
    Blank(
        "bars",
        "Bars in the section",
        Kind.ROWS,
        hint="Every bar, with gauges or without: one left out is a force left out. Right is "
        "as seen along the way in which distances grow. Its datum is where the stations of the "
        "bar count from, told on the scale of the member: −150 for a bar whose end sticks out by "
        "150 and is its datum.",
        is_needed=True,
        group="Where the bars lie",
        columns=_PLACES,
    ),
    Blank("note", "Note", Kind.LONG, group="Where the bars lie"),
)


def _member_blanks(asking: Asking) -> Sequence[Blank]:
    shape = asking.member("shape", OutlineShape.RECTANGLE)
    return (
        label_blank("Usually that of the specimen"),
        Blank("specimen", "Specimen", Kind.PICK, is_needed=True, of=Specimen, decides=True),
        Blank("concrete", "Concrete", Kind.PICK, is_needed=True, of=Concrete),
        Blank(
            "shape",
            "Outline",
            Kind.CHOICE,
            choices=tuple((one.value, words) for one, words in _SHAPES),
            of_enum=OutlineShape,
            is_needed=True,
            decides=True,
            standing=OutlineShape.RECTANGLE.value,
        ),
        *_outline_blanks(asking, shape),
        *_held_blanks(asking),
        *_LYING,
    )


def _member(values: dict[str, Any], before: Any, reader: Reader) -> Member:
    height, *others = (values.get(name) for name in _OUTLINE)
    if height is None:
        raise InputError("height", "", "given")
    outline = Outline(values["shape"], height, *others)
    return Member(
        values["label"],
        values["specimen"],
        values["concrete"],
        outline,
        tuple(BarPlace(**row) for row in values["bars"]),
        values["datum"],
        supports_of(values),
        tuple(LoadPoint(**row) for row in values.get("load_points") or ()),
        values.get("load_per_length"),
        values["note"],
        values["held"],
        values.get("pull_share") or values.get("axial_share") or 0.0,
        values["eccentricity"],
        values["axial_force"],
    )


def _member_spread(record: Member, book: Book) -> dict[str, Any]:
    outline = record.outline
    return {
        "label": record.label,
        "specimen": record.specimen,
        "concrete": record.concrete,
        "shape": outline.shape,
        **{name: getattr(outline, name) for name in _OUTLINE},
        "datum": record.datum,
        "held": record.held,
        **supports_spread(record.supports),
        "load_points": tuple(
            {"distance": p.distance, "share": p.share} for p in record.load_points
        ),
        "load_per_length": record.load_per_length,
        "axial_share": record.axial_share or None,
        "pull_share": record.axial_share or None,
        "eccentricity": record.eccentricity,
        "axial_force": record.axial_force,
        "bars": tuple(
            {"bar": p.bar, "depth": p.depth, "across": p.across, "begins": p.begins}
            for p in record.bars
        ),
        "note": record.note,
    }


MEMBER = EntryKind(
    "member",
    "a member",
    "Members",
    "A cast specimen's section, where its bars lie in it, how it is held and loaded.",
    Member,
    _member_blanks,
    _member,
    _member_spread,
    places=(("supports", "support_far"),),
    after="protocol",
)
