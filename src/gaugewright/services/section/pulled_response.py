"""How a place of a member answers a load that pulls it along its middle: a tie.

The strain is the same over the whole section: concrete carries its part until it cracks, then the
bars carry all at the crack. States follow the strain, as those of a pressed place do.
"""

from collections.abc import Mapping

import numpy as np

from gaugewright.calc.propagation import propagated
from gaugewright.calc.uncertainty import Uncertain
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray
from gaugewright.services.campaign.book import Book
from gaugewright.services.members.member_statics import Statics
from gaugewright.services.members.members import WholeMember, fibre_section_of
from gaugewright.services.section.pressed_response import Pressed
from gaugewright.services.section.response import Elastic, linear_of, rising

__all__ = ["pulled_response_of"]

_MOST_ASIDE = 1e-3  # force that acts further from the middle than this share of the height bends
_LAST_YIELD, _LEAST_LAST = 8.0, 0.01  # states end at so many yield strains, or at this strain


def pulled_response_of(book: Book, member: WholeMember, statics: Statics) -> Pressed:
    """Response of a place that is pulled centrally; worked out once for a book.

    Raises
    ------
    InputError
        If the pull bends the place: off the middle, by own weight, or by bars that don't lie
        about the middle.
    """
    if statics.lever.value or statics.own_weight.value or statics.axial_force.value:
        raise InputError(
            f"pull on {member.label}",
            "beside its middle, or with other loads",
            "central and alone",
            "leave out eccentricity, load points, own weight and axial force that stays: a member "
            "that is bent and pulled is not predicted",
        )
    name = f"response {member.entry.uid} pulled {statics.axial_share:.12g}"
    return book.once(name, lambda _: _worked_out(member, statics.axial_share))


def _worked_out(member: WholeMember, share: float) -> Pressed:
    numbers = {name: value.value for name, value in member.values.items()}
    strains = _strains(member, numbers)
    _check_central(member, numbers)

    def asked(values: Mapping[str, FloatArray]) -> FloatArray:
        force, _ = fibre_section_of(member, values).forces(strains, np.zeros(strains.shape))
        return np.stack([force / share, np.zeros(strains.shape)])

    # Where a bar lies has no part in a strain that is the same everywhere.
    beside = ("bar_across", "bar_depth")
    known = {n: v for n, v in member.values.items() if not n.startswith(beside)}
    states = propagated(lambda at: asked({**numbers, **at}), known)
    places = rising(states)
    linear = linear_of(member)
    none = Uncertain.exact(0.0)
    per_load = share * linear.top_per_force
    steel = propagated(
        lambda at: share / _steel_stiffness(member, {**numbers, **at}), _of_steel(known)
    )
    return Pressed(
        strains[places],
        states[0, places],
        states[1, places],
        Elastic(linear.uncracked.top_free, per_load, none, none),
        Elastic(linear.at_rest.top_free, none, none, none),
        linear.to_crack / per_load,
        Elastic(none, steel, none, none),
    )


def _of_steel(known: Mapping[str, Uncertain]) -> dict[str, Uncertain]:
    return {n: v for n, v in known.items() if n.startswith(("bar_area_", "steel_"))}


def _steel_stiffness(member: WholeMember, at: Mapping[str, FloatArray]) -> FloatArray:
    areas = np.array([float(at[f"bar_area_{i}"]) for i in range(len(member.bars))])
    return np.asarray(areas @ member.moduli(at))


def _strains(member: WholeMember, at: Mapping[str, FloatArray]) -> FloatArray:
    """Strains of the states: from just below rest, closer together at cracking and at yield."""
    rest = float(linear_of(member).at_rest.top_free.value)
    cracks = float(at["concrete_tensile_strength"] / at["concrete_modulus"])
    cracks += float(at["free_strain"])
    yields = [law.yield_strain for law in member.metals if np.isfinite(law.yield_strain)]
    top = max([_LEAST_LAST, *(_LAST_YIELD * one for one in yields)])
    parts = [rest + np.array([-2e-6, 0.0]), np.linspace(rest, top, 120)]
    parts.append(cracks * np.array([0.5, 0.9, 0.99, 1.0 - 1e-9, 1.0 + 1e-6, 1.5]))
    parts += [one * np.linspace(0.9, 1.1, 21) for one in yields]
    return np.unique(np.concatenate(parts))


def _check_central(member: WholeMember, at: Mapping[str, FloatArray]) -> None:
    """Whether the same strain everywhere is an answer to a pull along the middle."""
    section = fibre_section_of(member, at)
    force, moment = section.forces(np.array([0.01]), np.array([0.0]))  # cracked: bars alone
    if abs(float(moment[0])) > _MOST_ASIDE * float(at["height"]) * abs(float(force[0])):
        raise InputError(
            f"bars of {member.label}",
            f"pull {float(moment[0] / force[0]) * 1e3:.1f} mm below the middle",
            "alike about the middle of the height",
            "a pull then bends the section once it is cracked: this isn't predicted",
        )
