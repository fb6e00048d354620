"""The member that a bar belongs to: its measures with their doubt, its laws, where a grid lies."""

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from gaugewright.calc import concrete as laws
from gaugewright.calc import concrete_properties, layers
from gaugewright.calc.fibre_section import FibreSection
from gaugewright.calc.layers import ConcreteLayers
from gaugewright.calc.uncertainty import InputQuantity, Uncertain, combination
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray
from gaugewright.records import Entry
from gaugewright.records.gauges import Gauge
from gaugewright.records.identity import Uid
from gaugewright.records.member import BarPlace, Concrete, Member, OutlineShape
from gaugewright.records.specimen import Bar, Material, SteelLaw
from gaugewright.records.stated import Stated
from gaugewright.services.campaign.book import Book
from gaugewright.services.chaining.causes import uncertain_of_stated
from gaugewright.services.steel.steel_laws import LawInUse, law_of

__all__ = [
    "GridPlace",
    "PlacedBar",
    "WholeMember",
    "concrete_stress",
    "fibre_section_of",
    "grid_place",
    "layers_of",
    "member_of",
]

_LAYERS = 120
# What rules for many mixes miss a single mix by (EN 1992-1-1:2004, 3.1.2 gives f_ctk 0.7 and 1.3
# of the mean, from memory; the modulus' tenth is common practice, no source).
_BY_RULE = {"concrete_modulus": 0.10, "concrete_tensile_strength": 0.18}


@dataclass(frozen=True, slots=True, eq=False)
class PlacedBar:
    """A bar with its metal and its place in the section."""

    bar: Entry[Bar]
    material: Entry[Material]
    place: BarPlace


@dataclass(frozen=True, slots=True, eq=False)
class WholeMember:
    """A member with everything that predictions and section forces take from its records.

    ``values`` holds each number by name, with its doubt: measures of the outline, the concrete's
    strengths and modulus, depth, across and area of bar i as ``bar_depth_i`` and so on, and the
    numbers of the law of metal m, modulus first, as ``steel_m_0`` and so on. ``metals`` are the
    laws, ``metal_of`` says which of them bar i has. ``assumed`` says in words what nobody measured.
    """

    entry: Entry[Member]
    concrete: Entry[Concrete]
    bars: tuple[PlacedBar, ...]
    metals: tuple[LawInUse, ...]
    metal_of: tuple[int, ...]
    values: Mapping[str, Uncertain]
    assumed: tuple[str, ...]

    @property
    def label(self) -> str:
        """What people call it."""
        return self.entry.record.label

    @property
    def is_pressed(self) -> bool:
        """Whether it has an axial force: one that stays, or a share of the load."""
        record = self.entry.record
        return bool(record.axial_share) or record.axial_force is not None

    def index_of(self, bar: Uid) -> int:
        """Number of a bar in ``values``."""
        return next(i for i, placed in enumerate(self.bars) if placed.bar.uid == bar)

    def law_of_bar(self, number: int) -> LawInUse:
        """Law of the metal of a bar."""
        return self.metals[self.metal_of[number]]

    def moduli(self, at: Mapping[str, FloatArray]) -> FloatArray:
        """Elastic modulus of every bar, the numbers being ``at`` [Pa]."""
        return np.array([float(at[f"steel_{metal}_0"]) for metal in self.metal_of])

    def steel_stress(self, strain: FloatArray, at: Mapping[str, FloatArray]) -> FloatArray:
        """Stress of every bar by its own law on first loading, bars along the last axis [Pa]."""
        stress = np.empty(strain.shape)
        for metal, law in enumerate(self.metals):
            columns = np.flatnonzero(np.asarray(self.metal_of) == metal)
            numbers = [at[f"steel_{metal}_{place}"] for place in range(len(law.numbers))]
            stress[..., columns] = law.first(strain[..., columns], *numbers)
        return stress


@dataclass(frozen=True, slots=True, eq=False)
class GridPlace:
    """Where a gauge's grid is: along the member, below the upper face, right of the middle [m]."""

    distance: Uncertain
    depth: Uncertain
    across: Uncertain


def member_of(book: Book, bar: Entry[Bar]) -> WholeMember:
    """Member that a bar lies in, put together once for a book.

    Raises
    ------
    InputError
        If no member names the bar, or a bar of it lacks its area, diameter or steel law.
    """
    found = [e for e in book.of(Member) if any(p.bar == bar.uid for p in e.record.bars)]
    if len(found) == 1:
        return book.once(f"member {found[0].uid}", lambda known: _whole(known, found[0]))
    if found:
        raise InputError(
            f"section around bar {bar.record.label}",
            ", ".join(entry.record.label for entry in found),
            "one member",
            "take back the record that doesn't hold",
        )
    raise InputError(
        f"section around bar {bar.record.label}",
        "not stated",
        "described by a member's record",
        "write down its outline, concrete, the place of every bar, supports and load points",
    )


def grid_place(book: Book, member: WholeMember, gauge: Entry[Gauge]) -> GridPlace:
    """Where a grid is: on its flat, or on the round where none was ground.

    Raises
    ------
    InputError
        If the gauge's bar isn't one of the member's.
    """
    station, bar = book.station_of(gauge), book.bar_of(gauge)
    number = member.index_of(bar.uid)
    place = member.bars[number].place
    label = f"{member.entry.uid}/{bar.uid}"
    begins = uncertain_of_stated(f"bar_begins@{label}", place.begins, "place of the bar's datum")
    stated = station.record.distance_built or Stated(station.record.distance_planned)
    along = uncertain_of_stated(f"distance@{station.uid}", stated, "place along the bar")
    angle_stated = station.record.angle_built or Stated(station.record.angle_planned)
    angle = uncertain_of_stated(f"angle@{station.uid}", angle_stated, "clock angle of the gauge")
    radius = _radius(book, gauge, bar)
    c, s = math.cos(angle_stated.value), math.sin(angle_stated.value)
    depth, across = member.values[f"bar_depth_{number}"], member.values[f"bar_across_{number}"]
    r = radius.value
    return GridPlace(
        begins + along,
        combination(depth.value - r * c, [(depth, 1.0), (radius, -c), (angle, r * s)]),
        combination(across.value + r * s, [(across, 1.0), (radius, s), (angle, r * c)]),
    )


def layers_of(
    member: WholeMember, at: Mapping[str, FloatArray], *, upside_down: bool = False
) -> ConcreteLayers:
    """Concrete of a member cut into layers, its measures being ``at``."""
    cut = _layers(member, at)
    if not upside_down:
        return cut
    return ConcreteLayers(cut.height - cut.depths[::-1], cut.areas[::-1], cut.height)


def _layers(member: WholeMember, at: Mapping[str, FloatArray]) -> ConcreteLayers:
    height, shape = float(at["height"]), member.entry.record.outline.shape
    if shape is OutlineShape.CIRCLE:
        return layers.circle(height, layers=_LAYERS)
    if shape is OutlineShape.RECTANGLE:
        return layers.rectangle(float(at["width"]), height, layers=_LAYERS)
    return layers.tee(
        float(at["flange_width"]),
        float(at["flange_depth"]),
        float(at["width"]),
        height,
        layers=_LAYERS,
    )


def concrete_stress(strain: FloatArray, at: Mapping[str, FloatArray]) -> FloatArray:
    """Stress of the member's concrete at a crack: Sargin's law, tension up to its strength."""
    strength, modulus = at["concrete_strength"], at["concrete_modulus"]
    peak = concrete_properties.sargin_en1992(strength)
    pushed = laws.sargin_stress(
        strain,
        strength,
        modulus,
        peak_strain=peak.peak_strain,
        crushing_strain=peak.crushing_strain,
    )
    pulled = laws.brittle_tension_stress(strain, modulus, at["concrete_tensile_strength"])
    return np.asarray(pushed + pulled)


def fibre_section_of(
    member: WholeMember, at: Mapping[str, FloatArray], *, upside_down: bool = False
) -> FibreSection:
    """Member's section with its measured laws, every number being ``at``.

    ``upside_down`` turns it over, for moments that pull its upper face.
    """
    count = range(len(member.bars))

    def of(name: str) -> FloatArray:
        return np.array([float(at[f"{name}_{i}"]) for i in count])

    peak = concrete_properties.sargin_en1992(at["concrete_strength"])
    depths = of("bar_depth")
    return FibreSection(
        layers_of(member, at, upside_down=upside_down),
        float(at["height"]) - depths if upside_down else depths,
        of("bar_area"),
        lambda strain: concrete_stress(strain, at),
        lambda strain: member.steel_stress(strain, at),
        crushing_strain=float(peak.crushing_strain),
        free_strain=float(at["free_strain"]),
    )


def _radius(book: Book, gauge: Entry[Gauge], bar: Entry[Bar]) -> Uncertain:
    """Distance of a grid from the axis of its bar: to the flat, or to the round core."""
    stated = bar.record.diameter
    if stated is None:
        raise InputError(
            f"diameter of {bar.record.label}", None, "recorded", "measure it by calliper"
        )
    diameter = uncertain_of_stated(f"diameter@{bar.uid}", stated, "diameter of the bar")
    flat = book.flat_of(gauge)
    if flat is None:
        return diameter / 2
    width = uncertain_of_stated(f"flat_width@{flat.uid}", flat.record.width, "width of the flat")
    inner = math.sqrt(stated.value**2 - flat.record.width.value**2)
    return combination(
        inner / 2,
        [
            (diameter, stated.value / (2 * inner)),
            (width, -flat.record.width.value / (2 * inner)),
        ],
    )


def _whole(book: Book, entry: Entry[Member]) -> WholeMember:
    record, assumed = entry.record, list[str]()
    concrete = book.entry(record.concrete, Concrete)
    values = _outline(entry) | _concrete(concrete, assumed)
    bars: list[PlacedBar] = []
    for number, place in enumerate(record.bars):
        bar = book.entry(place.bar, Bar)
        material = book.entry(bar.record.material, Material)
        bars.append(PlacedBar(bar, material, place))
        values |= _bar(entry, bars[-1], number)
    materials = tuple({placed.material.uid: placed.material for placed in bars}.values())
    metals = tuple(_metal(material, assumed) for material in materials)
    for metal, law in enumerate(metals):
        values |= {f"steel_{metal}_{place}": number for place, number in enumerate(law.numbers)}
    order = [material.uid for material in materials]
    metal_of = tuple(order.index(placed.material.uid) for placed in bars)
    if record.axial_force is not None:
        values["axial_force"] = uncertain_of_stated(
            f"axial_force@{entry.uid}", record.axial_force, "axial force that stays"
        )
    if record.load_per_length is None:
        assumed.append("own weight of the member: none was recorded, none is counted")
    told = tuple(dict.fromkeys(assumed))
    return WholeMember(entry, concrete, tuple(bars), metals, metal_of, values, told)


def _outline(entry: Entry[Member]) -> dict[str, Uncertain]:
    outline = entry.record.outline
    return {
        name: uncertain_of_stated(f"{name}@{entry.uid}", stated, f"{name} of the section")
        for name in ("height", "width", "flange_width", "flange_depth")
        if (stated := getattr(outline, name)) is not None
    }


def _concrete(entry: Entry[Concrete], assumed: list[str]) -> dict[str, Uncertain]:
    record, uid = entry.record, entry.uid
    strength = record.compressive_strength
    given = {
        "concrete_strength": strength,
        "concrete_modulus": record.elastic_modulus,
        "concrete_tensile_strength": record.tensile_strength,
        "free_strain": record.free_strain,
    }
    rules = {
        "concrete_modulus": concrete_properties.modulus_en1992(strength.value),
        "concrete_tensile_strength": concrete_properties.tensile_strength_en1992(
            max(strength.value - 8e6, 1e6)
        ),
    }
    values: dict[str, Uncertain] = {}
    for name, stated in given.items():
        words = name.replace("_", " ")
        if stated is not None:
            values[name] = uncertain_of_stated(f"{name}@{uid}", stated, words)
        elif name in rules:
            value = float(rules[name])
            doubt = InputQuantity(
                f"{name}@{uid}", _BY_RULE[name] * value, basis="assumed", meaning=f"{words} by rule"
            )
            values[name] = Uncertain.from_input(value, doubt)
            assumed.append(f"{words}: not measured, by EN 1992-1-1 from the strength")
        else:
            values[name] = Uncertain.exact(0.0)
            assumed.append("shrinkage of the concrete: none was recorded, none is counted")
    return values


def _bar(entry: Entry[Member], placed: PlacedBar, number: int) -> dict[str, Uncertain]:
    bar = placed.bar
    if bar.record.area is None:
        raise InputError(f"area of {bar.record.label}", None, "recorded", "weigh a piece of it")
    where = f"{entry.uid}/{bar.uid}"
    values = {
        "bar_depth": uncertain_of_stated(f"bar_depth@{where}", placed.place.depth, "depth of bar"),
        "bar_across": uncertain_of_stated(
            f"bar_across@{where}", placed.place.across, "place across of bar"
        ),
        "bar_area": uncertain_of_stated(f"area@{bar.uid}", bar.record.area, "area of the bar"),
    }
    return {f"{name}_{number}": value for name, value in values.items()}


def _metal(material: Entry[Material], assumed: list[str]) -> LawInUse:
    """Law of a metal, and in words what it lacks."""
    record = material.record
    if record.law is SteelLaw.ELASTIC:
        why = "no yield was recorded" if record.yield_strength is None else "so its law says"
        assumed.append(f"{record.label}: elastic whatever the strain, {why}")
        return law_of(material)
    if not record.coupon:
        assumed.append(f"{record.label}: no coupon, the yield strength is as stated")
    level = record.hardening_modulus is None and (
        record.tensile_strength is None or record.ultimate_strain is None
    )
    if record.law is SteelLaw.BILINEAR and level:
        assumed.append(f"{record.label}: no hardening was recorded, a plateau is taken")
        return law_of(replace(material, record=replace(record, hardening_modulus=Stated(0.0))))
    return law_of(material)
