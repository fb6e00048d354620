"""Pieces of bare metal: their section by their measures, and what the load does at each grid."""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from gaugewright.calc import bare_section
from gaugewright.calc.bare_section import BareSection, FaceStress
from gaugewright.calc.held_beam import held_beam_moment
from gaugewright.calc.propagation import propagated
from gaugewright.calc.uncertainty import Uncertain
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray
from gaugewright.records import Entry
from gaugewright.records.gauges import Gauge
from gaugewright.records.planning import BarLoading
from gaugewright.records.specimen import Bar, Specimen, SpecimenKind
from gaugewright.records.stated import Stated
from gaugewright.services.campaign.book import Book
from gaugewright.services.chaining.causes import uncertain_of_stated
from gaugewright.services.members.member_statics import beam_supports, within_clamps

__all__ = [
    "OnFace",
    "area_by_measures",
    "arm_of",
    "bends_or_twists",
    "loading_of",
    "loading_words",
    "on_face",
]

Numbers = Mapping[str, FloatArray]

_SMOOTH = (SpecimenKind.BARE_METAL, SpecimenKind.TUBE, SpecimenKind.LOAD_CELL, SpecimenKind.PLATE)


@dataclass(frozen=True, slots=True, eq=False)
class OnFace:
    """What a load of one newton does at a grid, elastically.

    ``strain`` is along the grid [1/N], ``mises`` the stress at it and ``largest`` the greatest
    anywhere on its section, both after Mises [Pa/N].
    """

    strain: Uncertain
    mises: Uncertain
    largest: Uncertain


def loading_of(book: Book, bar: Entry[Bar]) -> BarLoading | None:
    """How the load reaches a bar, None where nobody said.

    Raises
    ------
    InputError
        If two records say it.
    """
    found = [entry for entry in book.of(BarLoading) if entry.record.bar == bar.uid]
    if len(found) > 1:
        labels = ", ".join(entry.record.label for entry in found)
        raise InputError(f"loading of {bar.record.label}", labels, "one", "take the others out")
    return found[0].record if found else None


def bends_or_twists(loading: BarLoading | None) -> bool:
    """Whether the load does more to a bar than pull or press it centrally."""
    if loading is None:
        return False
    beside = loading.eccentricity is not None and loading.eccentricity.value != 0
    return beside or bool(loading.across) or loading.torque_arm is not None


def loading_words(loading: BarLoading | None) -> str:
    """What was reckoned with, in words."""
    if loading is None:
        return "central load, all of it through this piece"
    told = []
    if loading.axial_share:
        share = "all" if abs(loading.axial_share) == 1 else f"{abs(loading.axial_share):g}"
        told.append(f"{share} of the load {'along' if loading.axial_share > 0 else 'pressing'}")
    if bends_or_twists(loading):
        if loading.eccentricity is not None:
            told.append("beside the axis")
        if loading.across:
            told.append(f"forces across, {loading.held.value}")
        if loading.torque_arm is not None:
            told.append("torque")
        told.append("elastic, small deflections")
    return ", ".join(told)


def area_by_measures(book: Book, bar: Entry[Bar]) -> Uncertain | None:
    """Area of a smooth piece from its measures [m^2]; None where they don't tell it.

    A bar of a table has ribs: its core doesn't tell its area.
    """
    specimen = book.entry(bar.record.specimen, Specimen).record
    if bar.record.size.strip() or specimen.kind not in _SMOOTH:
        return None
    known, section = _measures(book, bar)
    if not known:
        return None
    return propagated(lambda at: np.asarray(section(at).area), known)


def _measures(
    book: Book, bar: Entry[Bar]
) -> tuple[dict[str, Uncertain], Callable[[Numbers], BareSection]]:
    """Measures of a piece with their doubt, none where none are known, and its section by them."""
    record, uid = bar.record, bar.uid
    if record.diameter is not None:
        known = {
            "diameter": uncertain_of_stated(
                f"diameter@{uid}", record.diameter, "diameter of the bar"
            )
        }
        if record.wall_thickness is not None:
            known["wall"] = uncertain_of_stated(
                f"wall@{uid}", record.wall_thickness, "wall of the tube"
            )
        return known, _ring
    specimen = book.entry(record.specimen, Specimen).record
    if specimen.width is None or specimen.height is None:
        return {}, _flat
    return {
        "width": Uncertain.exact(specimen.width),
        "thickness": Uncertain.exact(specimen.height),
    }, _flat


def _known_measures(
    book: Book, bar: Entry[Bar]
) -> tuple[dict[str, Uncertain], Callable[[Numbers], BareSection]]:
    """Measures and section of a piece that is bent or twisted; refused where none are known."""
    known, section = _measures(book, bar)
    if not known:
        raise InputError(
            f"measures of {bar.record.label}",
            None,
            "its diameter, and its wall where it is a tube, or width and thickness of the specimen",
            "type them in: bending can't be told from the area alone",
        )
    return known, section


def _ring(at: Numbers) -> BareSection:
    outer = float(at["diameter"])
    bore = outer - 2 * float(at["wall"]) if "wall" in at else 0.0
    return bare_section.ring_section(outer, bore)


def _flat(at: Numbers) -> BareSection:
    return bare_section.flat_section(float(at["width"]), float(at["thickness"]))


def on_face(book: Book, gauge: Entry[Gauge]) -> OnFace:
    """What the load does at a grid of a piece that it bends or twists.

    Raises
    ------
    InputError
        If its measures aren't known, a flat was ground at it, or the place lies in a clamp.
    """
    bar = book.bar_of(gauge)
    loading = loading_of(book, bar)
    known, section = _known_measures(book, bar)
    if loading is None:
        raise InputError(f"loading of {bar.record.label}", None, "written down")
    if book.flat_of(gauge) is not None:
        raise InputError(
            f"flat at {gauge.record.label}", "ground", "none where the piece is bent or twisted"
        )
    known = known | _acting(loading, bar) | _place(book, gauge) | _metal(book, gauge)
    turn = gauge.record.angle_to_axis

    def strain(at: Numbers) -> FloatArray:
        stress = _stress(loading, section(at), at)
        modulus, nu = float(at["modulus"]), float(at["poisson"])
        return bare_section.strain_along_grid(stress, turn, modulus, nu)

    def largest(at: Numbers) -> FloatArray:
        force, moments, torque = _resultants(loading, at)
        found = section(at).largest_stress(axial_force=force, moments=moments, torque=torque)
        return np.asarray(found)

    return OnFace(
        propagated(strain, known),
        propagated(lambda at: _stress(loading, section(at), at).mises, known),
        propagated(largest, known),
    )


def round_the_bar(book: Book, gauge: Entry[Gauge], angles: FloatArray) -> FloatArray | None:
    """Strain along the axis per load at clock angles, where a gauge is [1/N]; None: a flat bar.

    Raises
    ------
    InputError
        As ``on_face``.
    """
    bar = book.bar_of(gauge)
    loading = loading_of(book, bar)
    known, section = _measures(book, bar)
    if loading is None or not known:
        return None
    known = known | _acting(loading, bar) | _place(book, gauge) | _metal(book, gauge)
    at = {name: value.value for name, value in known.items()}
    if not section(at).is_round:
        return None
    modulus, nu = float(at["modulus"]), float(at["poisson"])
    return np.array(
        [
            float(
                bare_section.strain_along_grid(
                    _stress(loading, section(at), {**at, "angle": np.asarray(angle)}),
                    0.0,
                    modulus,
                    nu,
                )
            )
            for angle in angles
        ]
    )


def moment_per_strain(book: Book, gauge: Entry[Gauge]) -> Uncertain:
    """Moment towards a gauge over the strain that it makes there: E I / y [N m].

    Raises
    ------
    InputError
        If the measures of the piece aren't known.
    """
    known, section = _known_measures(book, book.bar_of(gauge))
    place, metal = _place(book, gauge), _metal(book, gauge)

    def per_strain(at: Numbers) -> FloatArray:
        second, arm = _towards(section(at), float(at["angle"]))
        return np.asarray(float(at["modulus"]) * second / arm)

    return propagated(per_strain, known | {"angle": place["angle"], "modulus": metal["modulus"]})


def arm_of(book: Book, gauge: Entry[Gauge]) -> Uncertain:
    """Distance of a gauge's face from the axis: bending strain there over it is curvature [m].

    Raises
    ------
    InputError
        If the measures of the piece aren't known.
    """
    known, section = _known_measures(book, book.bar_of(gauge))
    known = known | {"angle": _place(book, gauge)["angle"]}
    return propagated(
        lambda at: np.asarray(_towards(section(at), float(at["angle"]))[1]),
        known,
    )


def _towards(shape: BareSection, angle: float) -> tuple[float, float]:
    """Second moment of area for bending towards a face, and that face's distance from the axis."""
    up, side = shape.face(angle)
    if shape.is_round or abs(up) > abs(side):
        return shape.towards_top, shape.height / 2
    return shape.towards_side, shape.width / 2


def _stress(loading: BarLoading, section: BareSection, at: Numbers) -> FaceStress:
    force, moments, torque = _resultants(loading, at)
    return section.stress_at(float(at["angle"]), axial_force=force, moments=moments, torque=torque)


def _resultants(loading: BarLoading, at: Numbers) -> tuple[float, tuple[float, float], float]:
    """Axial force, moments towards clock angles 0 and 90 degrees, torque; per load."""
    beside = loading.axial_share * float(at.get("eccentricity", 0.0))
    top = beside * math.cos(loading.eccentric_towards)
    side = beside * math.sin(loading.eccentric_towards)
    if loading.across:
        places = [float(at[f"support_{n}"]) for n in range(len(loading.supports))]
        supports = beam_supports(loading.held, places)
        points = [float(at[f"point_{n}"]) for n in range(len(loading.across))]
        inside = within_clamps(loading.held, places, at["distance"])
        # A force towards an angle pulls the face there, as a load downwards pulls the lower one.
        for way, forces in (
            ("top", [one.share * math.cos(one.towards) for one in loading.across]),
            ("side", [one.share * math.sin(one.towards) for one in loading.across]),
        ):
            moment = float(held_beam_moment(supports, points, forces, inside))
            top, side = (top + moment, side) if way == "top" else (top, side + moment)
    return loading.axial_share, (top, side), float(at.get("torque_arm", 0.0))


def _acting(loading: BarLoading, bar: Entry[Bar]) -> dict[str, Uncertain]:
    """Places and arms of the loads."""
    stated: dict[str, tuple[Stated | None, str]] = {
        "eccentricity": (loading.eccentricity, "eccentricity of the load"),
        "torque_arm": (loading.torque_arm, "arm of the torque"),
    }
    stated |= {
        f"support_{n}": (one, "place of a support") for n, one in enumerate(loading.supports)
    }
    stated |= {
        f"point_{n}": (one.distance, "place of a load") for n, one in enumerate(loading.across)
    }
    return {
        name: uncertain_of_stated(f"{name} of loading@{bar.uid}", value, words)
        for name, (value, words) in stated.items()
        if value is not None
    }


def _place(book: Book, gauge: Entry[Gauge]) -> dict[str, Uncertain]:
    station = book.station_of(gauge)
    record = station.record
    along = record.distance_built or Stated(record.distance_planned)
    turn = record.angle_built or Stated(record.angle_planned)
    angle = uncertain_of_stated(f"angle@{station.uid}", turn, "clock angle of the gauge")
    bar = book.bar_of(gauge)
    if bar.record.diameter is None:  # the middle of a flat bar's face, however well it was found
        angle = Uncertain.exact(turn.value)
    return {
        "distance": uncertain_of_stated(f"distance@{station.uid}", along, "place along the bar"),
        "angle": angle,
    }


def _metal(book: Book, gauge: Entry[Gauge]) -> dict[str, Uncertain]:
    material = book.material_of(gauge)
    record = material.record
    return {
        "modulus": uncertain_of_stated(
            f"modulus@{material.uid}", record.elastic_modulus, "modulus of the steel"
        ),
        "poisson": uncertain_of_stated(
            f"poisson_ratio@{material.uid}", record.poisson_ratio, "Poisson's ratio"
        ),
    }
