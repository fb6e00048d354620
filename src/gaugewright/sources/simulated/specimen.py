"""What the steel of a simulated beam feels: cracks, bond between them, flats, bending of bars.

Model: at an open crack the steel alone carries the tension; away from it bond takes stress out
at a constant rate (twice as fast while the steel is elastic as after yield), until the strain of
the uncracked section is met. Under protection there is no bond. Unloading is elastic, with a
share of the crack strain left behind. Before a crack opens the steel carries the restrained
shrinkage; at the crack it is set free.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from gaugewright.quantities import FloatArray
from gaugewright.sources.simulated.section import Section

__all__ = ["Beam", "Covered", "Crack", "StressState", "face_strain", "net_area_share"]


@dataclass(frozen=True, slots=True)
class Crack:
    """A crack at ``position`` [m from the west support] that opens at its own ``moment`` [N m]."""

    position: float
    moment: float


@dataclass(frozen=True, slots=True)
class Covered:
    """A stretch of bar where protection keeps the concrete off [m]; ``share`` of the girth."""

    centre: float
    length: float
    share: float


@dataclass(frozen=True, slots=True)
class StressState:
    """Stress of a bar at one place through time, and how it answers small unloading [Pa, Pa/N]."""

    first_loading: FloatArray
    unloading_slope: FloatArray


@dataclass(frozen=True)
class Beam:
    """A beam on two supports under two equal loads [SI]; ``load`` is their sum."""

    section: Section
    span: float
    shear_span: float
    weight_per_length: float
    cracks: tuple[Crack, ...]
    shrinkage_strain: float
    bond_stress: float
    bar_diameter: float
    tension_shift: float
    left_behind: float
    covered: Mapping[str, tuple[Covered, ...]] = field(default_factory=dict)

    def lever(self, x: float) -> float:
        """Moment at ``x`` per load [m]."""
        return max(min(x, self.span - x, self.shear_span) / 2, 0.0)

    def dead_moment(self, x: float) -> float:
        """Moment of the beam's own weight [N m]."""
        return self.weight_per_length * max(x * (self.span - x), 0.0) / 2

    def opening_loads(self) -> FloatArray:
        """Load at which each crack opens; infinite where it never can [N]."""
        levers = [self.lever(crack.position) for crack in self.cracks]
        spare = [crack.moment - self.dead_moment(crack.position) for crack in self.cracks]
        return np.array([s / at if at > 0 else np.inf for s, at in zip(spare, levers, strict=True)])

    def bonded_length(self, bar: str, x: float) -> float:
        """Bonded length of a bar from the west support to ``x``, protection left out [m]."""
        lost = 0.0
        for part in self.covered.get(bar, ()):
            begin, end = part.centre - part.length / 2, part.centre + part.length / 2
            lost += part.share * (min(max(x, begin), end) - begin)
        return x - lost

    def stress(self, bar: str, x: float, highest_load: FloatArray) -> StressState:
        """Stress of a tension bar at ``x`` for the highest load so far, first loading."""
        steel = self.section.steel
        dead, lever = self.dead_moment(x), self.lever(x)
        moment = dead + highest_load * lever
        bending = steel.elastic_modulus * self.section.uncracked_strain(
            moment, self.section.tension[0]
        )
        best = bending + steel.elastic_modulus * self.shrinkage_strain
        slope = np.divide(bending * lever, moment, out=np.zeros_like(moment), where=moment > 0)
        here = self.bonded_length(bar, x)
        for crack, opening in zip(self.cracks, self.opening_loads(), strict=True):
            shifted = _towards_middle(crack.position, self.tension_shift, self.span)
            crack_moment = self.dead_moment(shifted) + highest_load * self.lever(shifted)
            at_crack = steel.stress(self.section.cracked_strain(crack_moment))
            away = abs(here - self.bonded_length(bar, crack.position))
            carried = self._after_bond(at_crack, away)
            wins = (highest_load >= opening) & (carried > best)
            answer = (1 - self.left_behind) * carried * self.lever(shifted) / crack_moment
            best, slope = np.where(wins, carried, best), np.where(wins, answer, slope)
        return StressState(best, slope)

    def _after_bond(self, stress: FloatArray, away: float) -> FloatArray:
        """Stress left in a bar at a bonded distance from a crack."""
        fall = 4 * self.bond_stress / self.bar_diameter
        beyond = np.maximum(stress - self.section.steel.yield_strength, 0.0)
        plastic_length = beyond / (fall / 2)
        plastic = np.minimum(away, plastic_length)
        return stress - fall / 2 * plastic - fall * (away - plastic)

    def upper_strain(self, x: float, load: FloatArray, highest_load: FloatArray) -> FloatArray:
        """Strain of the compression bars at ``x``: uncracked until the nearest crack opens [1]."""
        depth = self.section.compression[0]
        places = np.array([crack.position for crack in self.cracks])
        opening = self.opening_loads()[int(np.argmin(np.abs(places - x)))]
        dead, lever = self.dead_moment(x), self.lever(x)
        moment, highest = dead + load * lever, dead + highest_load * lever
        whole = self.section.uncracked_strain(moment, depth)
        cracked = self.section.cracked_upper_strain(highest) * moment / np.maximum(highest, 1.0)
        return self.shrinkage_strain + np.where(highest_load >= opening, cracked, whole)


def _towards_middle(x: float, by: float, span: float) -> float:
    """Place nearer midspan, never past it: inclined cracks shift the tension outwards."""
    return min(x + by, span / 2) if x < span / 2 else max(x - by, span / 2)


def net_area_share(diameter: float, flat_widths: tuple[float, ...]) -> float:
    """Share of a round bar's area left by ground flats, by adding up strips [1].

    Parameters
    ----------
    diameter : float
        Of the round bar [m].
    flat_widths : tuple of float
        One width for each flat, none overlapping another [m].
    """
    radius = diameter / 2
    offsets = (np.arange(200_00) + 0.5) / 200_00 * 2 * radius - radius
    chords = 2 * np.sqrt(radius**2 - offsets**2)
    lost = sum(
        float(chords[offsets > np.sqrt(radius**2 - (width / 2) ** 2)].sum())
        for width in flat_widths
    )
    return 1.0 - lost / float(chords.sum())


def face_strain(
    axial: FloatArray, share: float, steel_strain_limit: float, gradient: FloatArray
) -> FloatArray:
    """Strain at one face of a bar: axial, its own local bending, and the beam's curvature.

    Parameters
    ----------
    axial : array of any shape
        Mean strain of the bar's net section [1].
    share : float
        Local bending as a share of the axial strain, signed for this face [1].
    steel_strain_limit : float
        Yield strain: local bending hardly grows beyond it [1].
    gradient : array shaped like ``axial``
        Strain added at this face by the curvature of the whole member [1].
    """
    grown = np.clip(axial, -steel_strain_limit, steel_strain_limit)
    return axial + share * (grown + 0.25 * (axial - grown)) + gradient
