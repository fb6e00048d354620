"""What a bent member is like: its concrete, its outline, where bars lie, how it's held and loaded.

A campaign without these records works as before; only what rests on sections asks for them.
"""

import enum
import itertools
from dataclasses import dataclass

from gaugewright.errors import InputError
from gaugewright.records.identity import Uid
from gaugewright.records.stated import Stated, check_finite, check_label, check_positive

__all__ = [
    "BarPlace",
    "Concrete",
    "Held",
    "LoadPoint",
    "Member",
    "Outline",
    "OutlineShape",
    "check_eccentric",
    "check_held",
]


class Held(enum.Enum):
    """How a length is held at the places that are named for it, the nearest first."""

    TWO_SUPPORTS = "on two supports"
    ONE_END = "clamped at the first, free at the second"
    BOTH_ENDS = "clamped at both"
    PROPPED = "clamped at the first, supported at the second"
    IN_A_ROW = "on three supports or more"
    AT_ITS_ENDS = "at its two ends alone, loaded along its axis"


class OutlineShape(enum.Enum):
    """Shape of the concrete; a T has its flange at the upper face."""

    RECTANGLE = "rectangle"
    TEE = "T"
    CIRCLE = "circle"


_MEASURES = {
    OutlineShape.RECTANGLE: ("height", "width"),
    OutlineShape.TEE: ("height", "width", "flange_width", "flange_depth"),
    OutlineShape.CIRCLE: ("height",),
}


@dataclass(frozen=True, slots=True)
class Concrete:
    """Concrete of a member on the day of its test: positive strengths [Pa], each with its basis.

    ``compressive_strength`` is the mean of cylinders; ``free_strain`` is what it did without
    stress between the zero before the pour and the test, shrinkage negative [1]. What is None
    is worked out from the strength by a rule for many mixes, and shown as such.
    """

    label: str
    compressive_strength: Stated
    elastic_modulus: Stated | None = None
    tensile_strength: Stated | None = None
    free_strain: Stated | None = None
    strength_class: str = ""
    age: str = ""
    note: str = ""

    def __post_init__(self) -> None:
        check_label("label", self.label)
        check_positive("compressive_strength", self.compressive_strength.value)
        for name in ("elastic_modulus", "tensile_strength"):
            stated = getattr(self, name)
            if stated is not None:
                check_positive(name, stated.value)


@dataclass(frozen=True, slots=True)
class Outline:
    """Outline of the concrete as built [m].

    ``height`` is a circle's diameter, ``width`` a T's web, ``flange_width`` the width that
    works with the web (the effective one), not more than was cast.
    """

    shape: OutlineShape
    height: Stated
    width: Stated | None = None
    flange_width: Stated | None = None
    flange_depth: Stated | None = None

    def __post_init__(self) -> None:
        wanted = _MEASURES[self.shape]
        for name in ("height", "width", "flange_width", "flange_depth"):
            stated: Stated | None = getattr(self, name)
            if (stated is not None) != (name in wanted):
                state = "left out" if stated is not None else "given"
                raise InputError(name, None, f"{state} for a {self.shape.value}")
            if stated is not None:
                check_positive(name, stated.value)
        thick = self.flange_depth
        if thick is not None and thick.value > self.height.value:
            raise InputError("flange_depth", thick.value, "up to the height")


@dataclass(frozen=True, slots=True)
class BarPlace:
    """Where a bar's axis lies in the section and where its stations count from [m].

    ``depth`` below the upper face, ``across`` to the right of the middle seen along the way in
    which distances grow, ``begins`` the bar's datum on the member's own scale.
    """

    bar: Uid
    depth: Stated
    across: Stated
    begins: Stated

    def __post_init__(self) -> None:
        check_positive("depth", self.depth.value)


@dataclass(frozen=True, slots=True)
class LoadPoint:
    """Where the load cell's force comes down on the member [m], and which share of it [1]."""

    distance: Stated
    share: float

    def __post_init__(self) -> None:
        check_finite("share", self.share)


@dataclass(frozen=True, slots=True)
class Member:
    """A cast member, loaded downwards and along its axis; distances count from ``datum``.

    ``bars`` holds every bar, with gauges or without: one left out is a force left out.
    ``load_per_length`` is its own weight [N/m]; clock angles of its stations are 0 at the top
    and grow clockwise seen along the way in which distances grow. A member that stands is written
    down as if it lay, its "upper" face the one that a load across it presses on.

    ``supports`` are the places of ``held``; a tie or strut that only its ends hold, where it is
    loaded along its axis, has none. ``axial_share`` is the part of the load cell's force
    that acts along the axis, -1 where all of it presses, and ``eccentricity`` how far below the
    middle of the height it acts [m]. ``axial_force`` stays as it is while the load grows [N],
    at the middle, tension positive.
    """

    label: str
    specimen: Uid
    concrete: Uid
    outline: Outline
    bars: tuple[BarPlace, ...]
    datum: str
    supports: tuple[Stated, ...]
    load_points: tuple[LoadPoint, ...]
    load_per_length: Stated | None = None
    note: str = ""
    held: Held = Held.TWO_SUPPORTS
    axial_share: float = 0.0
    eccentricity: Stated | None = None
    axial_force: Stated | None = None

    def __post_init__(self) -> None:
        check_label("label", self.label)
        if not self.datum.strip():
            raise InputError("datum", self.datum, "where distances count from, in words")
        if not self.bars:
            raise InputError("bars", 0, "every bar of the section")
        if len({place.bar for place in self.bars}) < len(self.bars):
            raise InputError("bars", "one named twice", "each bar once")
        for place in self.bars:
            if not place.depth.value < self.outline.height.value:
                raise InputError("depth", place.depth.value, "less than the section's height")
        check_held(self.held, self.supports)
        check_finite("axial_share", self.axial_share)
        if self.held is Held.AT_ITS_ENDS:
            self._check_along()
        if not self.load_points and not self.axial_share:
            raise InputError(
                "load_points", 0, "one at least, or a share of the load along the axis"
            )
        check_eccentric(self.held, self.eccentricity, self.axial_share)

    def _check_along(self) -> None:
        """Refuse what bends a member that nothing but its ends holds."""
        if self.load_points:
            raise InputError(
                "load_points",
                len(self.load_points),
                "none where only its ends hold it",
                "say how it is held against them",
            )
        if self.load_per_length is not None:
            raise InputError(
                "load_per_length",
                self.load_per_length.value,
                "left out where only its ends hold it",
                "say how it is held against its weight, or leave the weight out",
            )
        if not self.axial_share:
            raise InputError("axial_share", 0, "1 where all of the load pulls, -1 where it presses")


def check_eccentric(held: Held, eccentricity: Stated | None, axial_share: float) -> None:
    """Refuse a force beside the axis where there is none, or where clamps would share its moment.

    Raises
    ------
    InputError
        If there is no force along the axis, or the length is clamped at both ends.
    """
    if eccentricity is None:
        return
    if not axial_share:
        raise InputError(
            "eccentricity", eccentricity.value, "left out where no load acts along the axis"
        )
    if held not in (Held.TWO_SUPPORTS, Held.ONE_END, Held.AT_ITS_ENDS):
        raise InputError(
            "eccentricity",
            eccentricity.value,
            "left out unless both ends may turn or one is free: clamps take part of its moment",
        )


def check_held(held: Held, supports: tuple[Stated, ...]) -> None:
    """Refuse places that don't go with how a length is held.

    Raises
    ------
    InputError
        If there are too few or too many, or they aren't in order.
    """
    if held is Held.AT_ITS_ENDS:
        if supports:
            raise InputError("supports", len(supports), "none where only its ends hold it")
        return
    least = 3 if held is Held.IN_A_ROW else 2
    if len(supports) < least or (len(supports) > least and held is not Held.IN_A_ROW):
        words = "three or more" if held is Held.IN_A_ROW else "two"
        raise InputError("supports", len(supports), f"{words} places, {held.value}")
    places = [one.value for one in supports]
    for before, after in itertools.pairwise(places):
        if not before < after:
            raise InputError("supports", after, "the nearer one first")
