"""Forms for metals and for the bars, tubes and plates that are made of them."""

from collections.abc import Mapping, Sequence
from typing import Any

from gaugewright.calc.bar import METRIC_BARS, US_BARS, BarSize
from gaugewright.calc.bar_sizes import SOFT_METRIC_BARS
from gaugewright.errors import InputError
from gaugewright.records.specimen import Bar, Material, Specimen, SpecimenKind
from gaugewright.records.stated import Basis, Meaning, Stated
from gaugewright.records.steel import NEEDED, SteelLaw
from gaugewright.services.chaining.causes import uncertain_of_stated
from gaugewright.services.entering.blanks import Blank, Kind, Reader
from gaugewright.services.entering.kinds import Asking, EntryKind, label_blank, plain_build

__all__ = ["BAR", "MATERIAL", "SIZES"]

# Laws whose numbers can be typed; the others are made of a coupon's test, under Results.
_LAWS = (
    (SteelLaw.BILINEAR, "bilinear: elastic, then a straight slope"),
    (SteelLaw.ELASTIC, "elastic: it stays below yield"),
    (SteelLaw.MANDER, "yield plateau, then hardening after Mander"),
    (SteelLaw.PARK, "yield plateau, then hardening after Park"),
    (SteelLaw.RAMBERG_OSGOOD, "Ramberg and Osgood: no plateau"),
)
_OF_COUPON = (SteelLaw.COUPON_CURVE, SteelLaw.CYCLIC)
_NUMBERS = {
    "yield_strength": (
        "Yield strength",
        "yield_strength",
        "Such as 535 ± 7 (k=2). A certificate’s “at least” tells the lowest only: type that, with "
        "“at least” as its source, until a coupon is pulled.",
    ),
    "hardening_modulus": ("Slope after yield", "hardening_modulus", ""),
    "tensile_strength": ("Tensile strength", "tensile_strength", ""),
    "hardening_strain": ("Strain at the end of the plateau", "hardening_strain", "Such as 1.2 %"),
    "hardening_onset_modulus": ("Slope where it ends", "hardening_onset_modulus", ""),
    "ultimate_strain": ("Strain at maximum force", "ultimate_strain", "Such as 8 %"),
    "exponent": ("Exponent", "exponent", ""),
}


def _material_blanks(asking: Asking) -> Sequence[Blank]:
    law = asking.member("law", SteelLaw.BILINEAR)
    laws = _LAWS if law not in _OF_COUPON else (*_LAWS, (law, f"{law.value}: from its coupon"))
    wanted = list(NEEDED[law])
    if law is SteelLaw.BILINEAR:
        wanted.append("hardening_modulus")
    elif law is SteelLaw.ELASTIC:
        wanted.append("yield_strength")
    numbers = [
        Blank(
            name,
            _NUMBERS[name][0],
            Kind.STATED,
            _NUMBERS[name][1],
            hint=_NUMBERS[name][2],
            is_needed=name in NEEDED[law],
            group="Numbers of the law",
        )
        for name in wanted
        if name in _NUMBERS
    ]
    return (
        label_blank("Such as: B500, one heat"),
        Blank(
            "law",
            "Stress follows strain",
            Kind.CHOICE,
            choices=tuple((one.value, words) for one, words in laws),
            of_enum=SteelLaw,
            is_needed=True,
            decides=True,
            standing=SteelLaw.BILINEAR.value,
        ),
        _elastic("elastic_modulus", "Modulus of elasticity", "Such as 199 ± 2.4 (k=2)"),
        _elastic("poisson_ratio", "Poisson’s ratio", "Such as 0.29 ± 0.01 (limit)"),
        _elastic("thermal_expansion", "Thermal expansion", "Such as 11.6 ± 0.4 (limit)"),
        *numbers,
        Blank("coupon", "Coupons", hint="Which pieces tell it, such as C1 to C5."),
    )


def _elastic(name: str, label: str, hint: str) -> Blank:
    if name == "thermal_expansion":
        hint = f"{hint}, in SI units"
    return Blank(name, label, Kind.STATED, name, hint=hint, is_needed=True, group="Elastic numbers")


MATERIAL = EntryKind(
    "material",
    "a metal",
    "Metals",
    "What a bar is made of. Before coupons are pulled, a standard’s or supplier’s number will do: "
    "say that it is stated.",
    Material,
    _material_blanks,
    plain_build(Material, *(name for name in _NUMBERS)),
    after="bar",
)


def _sizes() -> Mapping[str, tuple[str, str, BarSize]]:
    """What may be chosen: value -> words, table, nominal numbers.

    Metric 16 and soft metric 16 are two bars: each has a value of its own, so none is guessed.
    """
    found = {f"d{n}": (f"d{n}", "EN 10080", size) for n, size in METRIC_BARS.items()}
    found |= {n: (n, "ASTM A615/A706", size) for n, size in US_BARS.items()}
    for metric, (inch, size) in SOFT_METRIC_BARS.items():
        found[f"{metric}M"] = (f"{metric} ({inch})", "ASTM A615/A706, soft metric", size)
    return found


SIZES = _sizes()


def _bar_blanks(asking: Asking) -> Sequence[Blank]:
    kind = _kind_of(asking)
    in_concrete = kind is SpecimenKind.CAST_MEMBER
    several = "Several that are alike with semicolons between: L1; L2; L3. "
    blanks = [
        label_blank(several),
        Blank("specimen", "Belongs to", Kind.PICK, is_needed=True, of=Specimen, decides=True),
        Blank("material", "Metal", Kind.PICK, is_needed=True, of=Material),
    ]
    if in_concrete or kind is SpecimenKind.BARE_METAL:
        hint = "Of a table: its nominal numbers stand where nothing better is typed below."
        blanks.append(_size_blank(asking.text("size"), hint))
    else:
        blanks.append(Blank("size", "Size", hint="As ordered, in words."))
    blanks.append(Blank("length", "Length", Kind.NUMBER, "distance"))
    if kind is not SpecimenKind.PLATE:
        words = "Diameter" if kind is SpecimenKind.STRAND else "Diameter, outer"
        hint = "By calliper, of the core between ribs." if in_concrete else ""
        blanks.append(Blank("diameter", words, Kind.STATED, "diameter", hint=hint))
    if kind in (SpecimenKind.BARE_METAL, SpecimenKind.TUBE, SpecimenKind.LOAD_CELL):
        hint = "Of a round tube; empty for a solid bar."
        blanks.append(Blank("wall_thickness", "Wall", Kind.STATED, "diameter", hint=hint))
    if kind in _MAY_BE_FLAT:
        blanks += _FLAT_SIDES
    hint = "Of all wires." if kind is SpecimenKind.STRAND else "By mass and length, or worked out."
    if kind in _MAY_BE_FLAT:
        hint = "By mass and length. Empty: worked out from the two sides of a flat piece."
    blanks.append(Blank("area", "Area of its section", Kind.STATED, "area", hint=hint))
    if kind is SpecimenKind.LOAD_CELL:
        blanks.append(Blank("capacity", "Capacity", Kind.NUMBER, "force"))
    return blanks


_MAY_BE_FLAT = (SpecimenKind.BARE_METAL, SpecimenKind.PLATE, SpecimenKind.DUMMY)
_FLAT_SIDES = (
    Blank(
        "side",
        "Width of a flat one",
        Kind.STATED,
        "distance",
        hint="By calliper, such as 60 ± 0.05 mm (limit). Empty for a round one.",
        basis=Basis.MEASURED,
    ),
    Blank("thickness", "Its thickness", Kind.STATED, "distance", basis=Basis.MEASURED),
)


def _kind_of(asking: Asking) -> SpecimenKind:
    label = asking.text("specimen")
    specimens = asking.book.of(Specimen)
    for entry in specimens:
        if entry.record.label == label:
            return entry.record.kind
    return specimens[0].record.kind if specimens else SpecimenKind.CAST_MEMBER


def _size_blank(now: str, hint: str) -> Blank:
    choices = [("", "of no table")]
    choices += [(value, f"{words}, {table}") for value, (words, table, _) in SIZES.items()]
    if now and now not in SIZES:
        choices.append((now, now))
    return Blank("size", "Size", Kind.CHOICE, hint=hint, choices=tuple(choices))


_BUILD = plain_build(Bar, "diameter", "wall_thickness", "capacity")


def _bar(values: dict[str, Any], before: Any, reader: Reader) -> Bar:
    """Nominal diameter and area by the table of the size, where nothing was measured.

    The sides of a flat one make its area; they themselves aren't kept.
    """
    sides = values.pop("side", None), values.pop("thickness", None)
    if any(one is not None for one in sides):
        values["area"] = _of_sides(*sides, values.get("area"), before)
    size = SIZES.get(values["size"])
    if size is not None:
        _, table, nominal = size
        source = f"nominal, {table}"
        for name in ("diameter", "area"):
            given = values.get(name)
            of_table = isinstance(given, Stated) and given.source.startswith("nominal, ")
            if given is None or of_table:
                number = float(f"{getattr(nominal, name):.12g}")
                values[name] = Stated(number, basis=Basis.STATED, source=source)
    made: Bar = _BUILD(values, before, reader)
    return made


def _of_sides(side: Any, thickness: Any, typed: Any, before: Any) -> Stated:
    """Area of a flat piece by both its sides, with the doubt that it then has."""
    for name, one in (("side", side), ("thickness", thickness)):
        if one is None:
            raise InputError(name, "", "given where the other side is", "or type the area")
        if not one.value > 0:
            raise InputError(name, one.value, "positive")
    if typed is not None and (before is None or typed != before.area):
        raise InputError("area", "given beside both sides", "empty where it follows from them")
    found = uncertain_of_stated("side", side, "width") * uncertain_of_stated(
        "thickness", thickness, "thickness"
    )
    doubt = 2 * float(found.standard_uncertainty())
    return Stated(
        float(f"{float(found.value):.12g}"),
        float(f"{doubt:.3g}") if doubt else None,
        Meaning.TWO_SIGMA if doubt else Meaning.UNKNOWN,
        Basis.CALCULATED,
        "width times thickness",
    )


BAR = EntryKind(
    "bar",
    "a bar",
    "Bars",
    "Bars, tubes, plates and other pieces of metal that carry gauges, and those of a section that "
    "carry none.",
    Bar,
    _bar_blanks,
    _bar,
    is_many=True,
    after="station",
)
