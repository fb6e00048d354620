"""How strained the steel of a reinforced concrete section is under a bending moment.

Plane sections over fibres: cracked with concrete in compression only, or uncracked and elastic.
Written for the simulated specimen alone, so that nothing it says rests on the reduction.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike

from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray

__all__ = ["Section", "SteelBehaviour"]

# Parabola to this strain, constant beyond: the usual shape for normal-strength concrete.
_STRAIN_AT_STRENGTH = 0.002
_FIBRES = 120


@dataclass(frozen=True, slots=True)
class SteelBehaviour:
    """Steel in first loading: elastic, then a second straight line [Pa]."""

    elastic_modulus: float
    yield_strength: float
    hardening_modulus: float

    @property
    def yield_strain(self) -> float:
        """Strain at which the second line begins [1]."""
        return self.yield_strength / self.elastic_modulus

    def stress(self, strain: ArrayLike) -> FloatArray:
        """Stress in first loading, odd in strain [Pa]."""
        size = np.abs(np.asarray(strain, dtype=np.float64))
        beyond = np.maximum(size - self.yield_strain, 0.0)
        straight = self.elastic_modulus * np.minimum(size, self.yield_strain)
        return np.sign(strain) * (straight + self.hardening_modulus * beyond)

    def strain(self, stress: ArrayLike) -> FloatArray:
        """Strain in first loading that gives a stress [1]."""
        size = np.abs(np.asarray(stress, dtype=np.float64))
        beyond = np.maximum(size - self.yield_strength, 0.0)
        straight = np.minimum(size, self.yield_strength) / self.elastic_modulus
        return np.sign(stress) * (straight + beyond / self.hardening_modulus)


@dataclass(frozen=True)
class Section:
    """A rectangular section with a tension layer and a compression layer of bars [SI].

    ``tension`` and ``compression`` are (depth from the top, area of all bars of the layer).
    """

    width: float
    height: float
    tension: tuple[float, float]
    compression: tuple[float, float]
    steel: SteelBehaviour
    concrete_strength: float
    concrete_modulus: float

    def __post_init__(self) -> None:
        if not 0 < self.compression[0] < self.tension[0] < self.height:
            raise InputError(
                "depths of the layers", (self.compression[0], self.tension[0]), "inside the section"
            )

    @cached_property
    def _cracked(self) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Tension strain, compression-layer strain and moment, from unloaded to 4 %."""
        strain = np.concatenate([np.linspace(0.0, 0.004, 201), np.linspace(0.00405, 0.04, 720)])
        low, high = np.full(strain.shape, -0.02), np.zeros(strain.shape)
        for _ in range(60):
            top = 0.5 * (low + high)
            force, _ = self._resultants(top, strain)
            # Less compression at the top raises the force, so pull is answered by more of it.
            low, high = np.where(force > 0, low, top), np.where(force > 0, top, high)
        top = 0.5 * (low + high)
        _, moment = self._resultants(top, strain)
        upper = top + (strain - top) * self.compression[0] / self.tension[0]
        moment[0] = upper[0] = 0.0
        return strain, upper, moment

    def _resultants(self, top: FloatArray, strain: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Force and moment about the top edge for a top strain and a tension-layer strain."""
        depth = (np.arange(_FIBRES) + 0.5) * self.height / _FIBRES
        slope = (strain - top) / self.tension[0]
        fibre = top[:, None] + slope[:, None] * depth
        share = np.clip(-fibre / _STRAIN_AT_STRENGTH, 0.0, 1.0)
        push = -self.concrete_strength * share * (2.0 - share) * self.width * self.height / _FIBRES
        force, moment = push.sum(axis=1), (push * depth).sum(axis=1)
        for layer_depth, area in (self.tension, self.compression):
            pull = self.steel.stress(top + slope * layer_depth) * area
            force, moment = force + pull, moment + pull * layer_depth
        return force, moment

    def cracked_strain(self, moment: ArrayLike) -> FloatArray:
        """Strain of the tension layer at a crack, first loading [1]."""
        strain, _, table = self._cracked
        return np.interp(np.asarray(moment, dtype=np.float64), table, strain, right=np.nan)

    def cracked_upper_strain(self, moment: ArrayLike) -> FloatArray:
        """Strain of the compression layer in a cracked section, first loading [1]."""
        _, upper, table = self._cracked
        return np.interp(np.asarray(moment, dtype=np.float64), table, upper, right=np.nan)

    def cracked_moment(self, strain: ArrayLike) -> FloatArray:
        """Moment at which the tension layer reaches a strain at a crack [N m]."""
        table_strain, _, table = self._cracked
        return np.interp(np.asarray(strain, dtype=np.float64), table_strain, table)

    @cached_property
    def _whole(self) -> tuple[float, float]:
        """Depth of the centroid and bending stiffness of the uncracked section."""
        ratio = self.steel.elastic_modulus / self.concrete_modulus - 1.0
        parts = [(self.height / 2, self.width * self.height)]
        parts += [(depth, ratio * area) for depth, area in (self.tension, self.compression)]
        total = sum(area for _, area in parts)
        centroid = sum(depth * area for depth, area in parts) / total
        own = self.width * self.height**3 / 12
        inertia = own + sum(area * (depth - centroid) ** 2 for depth, area in parts)
        return centroid, inertia * self.concrete_modulus

    def uncracked_strain(self, moment: ArrayLike, depth: float) -> FloatArray:
        """Strain at a depth before any crack [1]."""
        centroid, stiffness = self._whole
        return np.asarray(moment, dtype=np.float64) * (depth - centroid) / stiffness

    def cracking_moment(self, tensile_strength: float) -> float:
        """Moment at which the lower edge reaches the concrete's tensile strength [N m]."""
        centroid, stiffness = self._whole
        return tensile_strength * stiffness / (self.concrete_modulus * (self.height - centroid))
