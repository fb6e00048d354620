"""The form that states a coupon's test, and the one that makes a metal of it."""

from collections.abc import Mapping

from gaugewright.records.readings import Recording
from gaugewright.services.coupon.material import LAWS, YIELDS
from gaugewright.web.forms import Choice, Field
from gaugewright.web.rooms import Room

__all__ = ["coupon_fields", "metal_fields"]

# Name, label and hint of what is typed as words with a unit and a doubt.
_TYPED = (
    ("diameter", "Diameter", "Of a round coupon: 10.02 ± 0.02 mm (limit)"),
    ("width", "Width", "Of a flat one"),
    ("thickness", "Thickness", "Of a flat one"),
    ("area", "Area", "Where measured otherwise: by weighing"),
    ("gauge_length", "Gauge length", "Where the extensometer writes an extension"),
    ("force_column", "Column of force or stress", "Where several could be meant"),
    ("strain_column", "Column of strain", "Where several could be meant"),
    ("force_class", "Class of the machine", "By ISO 7500-1: 0.5, 1, 2"),
    ("extensometer_class", "Class of the extensometer", "By ISO 9513: 0.5, 1"),
    ("elastic_from", "Elastic line from", "Stress, MPa; found where nothing is typed"),
    ("elastic_to", "Elastic line to", "Stress, MPa; below any bend"),
    ("modulus", "Modulus of another test", "GPa, where this record gives none"),
    ("marked_length", "Length between marks", "Before the test, for A"),
    ("final_length", "Length after fracture", "Pieces put together"),
)


def coupon_fields(room: Room, typed: Mapping[str, str]) -> tuple[Field, ...]:
    """Which recording, what size, which instruments."""
    labels = [entry.record.label for entry in room.book.of(Recording)]
    recordings = (
        Choice("", "the table or file below"),
        *(Choice(label, label) for label in labels),
    )
    return (
        Field("label", "Name of the coupon", typed.get("label", "")),
        Field("recording", "Recording", typed.get("recording", ""), choices=recordings),
        Field(
            "table",
            "Table",
            typed.get("table", ""),
            hint="A heading with units, then the rows: time [s]; force [kN]; strain [%]",
            is_long=True,
        ),
        Field(
            "file",
            "Or the table as a file",
            hint="CSV in UTF-8 of 250 kB at most; import a larger one as readings and choose it",
            kind="file",
        ),
        *(Field(name, label, typed.get(name, ""), hint=hint) for name, label, hint in _TYPED),
        Field("note", "Note", typed.get("note", ""), is_long=True),
    )


def metal_fields(room: Room, typed: Mapping[str, str]) -> tuple[Field, ...]:
    """Which metal, by which yield strength, following what."""
    by = tuple(Choice(key, symbol) for key, (_, symbol) in YIELDS.items())
    laws = (Choice("", "as it was"), *(Choice(key, law.value) for key, law in LAWS.items()))
    return (
        Field(
            "material",
            "Metal",
            typed.get("material", ""),
            hint="One that is entered gets a new version; any other name makes a new one",
            is_needed=True,
        ),
        Field("by", "Yield strength from", typed.get("by", "proof"), choices=by),
        Field("law", "Law", typed.get("law", ""), choices=laws),
        Field(
            "thermal_expansion",
            "Thermal expansion",
            typed.get("thermal_expansion", ""),
            hint="Of a new metal, in ×10⁻⁶/K: 11.7 ± 0.5",
        ),
        Field(
            "poisson_ratio",
            "Poisson’s ratio",
            typed.get("poisson_ratio", ""),
            hint="Of a new metal: 0.3 ± 0.02",
        ),
    )
