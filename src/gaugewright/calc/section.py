"""Forces inside a section from measured strains, and whether they close with what is applied.

Depths count from the upper face, moments are about a stated depth, positive with the lower face
pulled; forces are positive in tension.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from gaugewright.calc.layers import ConcreteLayers
from gaugewright.calc.propagation import propagated
from gaugewright.calc.strain_plane import StrainPlane
from gaugewright.calc.uncertainty import Term, Uncertain, combination
from gaugewright.calc.weighing import named_noise
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray

__all__ = [
    "BarLayer",
    "Closure",
    "SectionForces",
    "closure",
    "concrete_forces",
    "section_forces",
    "steel_forces",
]

ConcreteLaw = Callable[..., FloatArray]


@dataclass(frozen=True, slots=True, eq=False)
class BarLayer:
    """Force of the bars at one depth.

    Attributes
    ----------
    name : str
        For the reader.
    force : Uncertain
        Of all bars of the layer, tension positive [N].
    depth : Uncertain
        Of their axes below the upper face [m].
    """

    name: str
    force: Uncertain
    depth: Uncertain


@dataclass(frozen=True, slots=True, eq=False)
class SectionForces:
    """Axial force and moment.

    Attributes
    ----------
    force : Uncertain
        Tension positive [N].
    moment : Uncertain
        About the stated depth [N m].
    """

    force: Uncertain
    moment: Uncertain

    def __add__(self, other: "SectionForces") -> "SectionForces":
        return SectionForces(self.force + other.force, self.moment + other.moment)


@dataclass(frozen=True, slots=True, eq=False)
class Closure:
    """What is applied less what the section's strains account for.

    Attributes
    ----------
    difference : Uncertain
        Applied less inside, in the unit of both [1].
    share : Uncertain
        Of what is applied [1].
    in_uncertainties : float
        Difference over its standard uncertainty: beyond about 2 something is wrong with a
        gauge, an area, the load, or the picture of the section [1].
    """

    difference: Uncertain
    share: Uncertain
    in_uncertainties: float


def steel_forces(bars: Sequence[BarLayer], about: Uncertain) -> SectionForces:
    """Axial force and moment of the bars.

    Parameters
    ----------
    bars : sequence of BarLayer
        Every layer: a bar left out is a force left out.
    about : Uncertain
        Depth that moments are taken about [m].

    Returns
    -------
    SectionForces
        Sum over the layers.

    Raises
    ------
    InputError
        If there is no bar.
    """
    if not bars:
        raise InputError("bars", 0, "one at least")
    force = combination(sum(bar.force.value for bar in bars), [(bar.force, 1.0) for bar in bars])
    terms: list[Term] = []
    moment = np.zeros(())
    for bar in bars:
        arm = bar.depth.value - about.value
        moment = moment + bar.force.value * arm
        terms += [(bar.force, arm), (bar.depth, bar.force.value), (about, -bar.force.value)]
    return SectionForces(force, combination(moment, terms))


def concrete_forces(
    plane: StrainPlane,
    layers: ConcreteLayers,
    law: ConcreteLaw,
    properties: Mapping[str, Uncertain],
    *,
    about: Uncertain,
    free_strain: Uncertain | None = None,
) -> SectionForces:
    """Axial force and moment of the concrete, its law asked at the strains of the plane.

    The concrete's strain isn't measured: it is that of the plane, less what it would do without
    stress. Bending about the other axis is left out.

    Parameters
    ----------
    plane : StrainPlane
        Of total strains.
    layers : ConcreteLayers
        Of the whole section, from ``calc.layers``.
    law : callable
        Stress from strain; ``properties`` are given to it by name.
    properties : mapping of name to Uncertain
        Strength, modulus, what the law asks for.
    about : Uncertain
        Depth that moments are taken about [m].
    free_strain : Uncertain, optional
        Of the concrete without stress: shrinkage negative, thermal expansion positive [1].

    Returns
    -------
    SectionForces
        With the derivatives found by differences over a fraction of each uncertainty.

    Raises
    ------
    InputError
        If the law has ended at some depth.
    """
    free = Uncertain.exact(0.0) if free_strain is None else free_strain
    properties = {
        name: named_noise(value, f"noise of {name}") for name, value in properties.items()
    }
    free, about = named_noise(free, "noise of free strain"), named_noise(about, "noise of about")
    known = {"_top": plane.top_strain, "_bend": plane.curvature, "_free": free, "_about": about}

    def both(values: Mapping[str, FloatArray]) -> FloatArray:
        strain = values["_top"] + values["_bend"] * layers.depths - values["_free"]
        own = {name: values[name] for name in properties}
        stress = law(strain, **own)
        if not np.all(np.isfinite(stress)):
            raise InputError(
                "strain",
                float(np.min(strain)),
                "within the law of the concrete",
                "look for a crushed face or a wrong gauge",
            )
        each = stress * layers.areas
        return np.array([np.sum(each), np.sum(each * (layers.depths - values["_about"]))])

    found = propagated(both, {**known, **properties})
    return SectionForces(found[0], found[1])


def section_forces(steel: SectionForces, concrete: SectionForces) -> SectionForces:
    """What bars and concrete carry together.

    Parameters
    ----------
    steel : SectionForces
        Of the bars.
    concrete : SectionForces
        Of the concrete, about the same depth.

    Returns
    -------
    SectionForces
        Their sum, with what they share.
    """
    return steel + concrete


def closure(applied: Uncertain, inside: Uncertain) -> Closure:
    """Compare what is applied with what the section's strains account for.

    Parameters
    ----------
    applied : Uncertain
        Moment or axial force from the load cell and statics, with the doubt of both.
    inside : Uncertain
        The same from strains.

    Returns
    -------
    Closure
        Share is NaN where nothing is applied.

    Raises
    ------
    InputError
        If neither has any uncertainty.
    """
    difference = applied - inside
    doubt = difference.standard_uncertainty().item()
    if doubt == 0:
        raise InputError("uncertainty of the difference", 0.0, "above 0", "state that of the load")
    if applied.value == 0:
        share = Uncertain.exact(np.nan)
    else:
        slope = inside.value / applied.value**2
        share = combination(
            difference.value / applied.value, [(applied, slope), (inside, -1 / applied.value)]
        )
    return Closure(difference, share, difference.value.item() / doubt)
