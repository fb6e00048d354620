"""States of a section whose axial force grows with its moment: a column, eccentrically pressed.

Plane sections and bars without slip, as in ``fibre_section``: depths from the upper face, moments
about half the height and positive with the lower face pulled, forces positive in tension.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from gaugewright.calc import allowed, bracketing
from gaugewright.calc.fibre_section import FibreSection
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray

__all__ = ["LoadPath", "PressedStates", "pressed_states"]

_SCANNED = 41  # curvatures at which the first balance is looked for
_TURNS = 12.0  # widest strain over the height looked at, over the strain of the upper face
_LEAST = 2e-4  # strain of the upper face below which the search is as wide as for this [1]
_NEXT_TO_NOTHING = 2.5
_SMALLEST = 1e-13

Beside = Callable[[FloatArray], FloatArray]


@dataclass(frozen=True, slots=True)
class LoadPath:
    """How axial force and moment grow with a load: N = N0 + a P, M = M0 + l P.

    Attributes
    ----------
    axial_share : float
        Axial force over load, -1 where all of it presses; not zero [1].
    lever : float
        Moment over load, never negative [m].
    axial_force, moment : float
        Without the load [N], [N m].
    """

    axial_share: float
    lever: float
    axial_force: float = 0.0
    moment: float = 0.0


@dataclass(frozen=True, slots=True, eq=False)
class PressedStates:
    """States by the strain of the upper face, the one that the moment presses.

    Attributes
    ----------
    load : array, shape (n,)
        That the state balances; NaN where there is none [N].
    curvature : array, shape (n,)
        Positive where the lower face is longer [1/m].
    """

    load: FloatArray
    curvature: FloatArray


def pressed_states(section: FibreSection, top_strains: ArrayLike, path: LoadPath) -> PressedStates:
    """Loads and curvatures of planes with a given strain at the upper face.

    Of all planes with that strain the one whose force and moment lie on the path; where concrete
    that cracks leaves several, the least bent one, as on first loading.

    Parameters
    ----------
    section : FibreSection
        With its laws, turned so that the moment pulls its lower face.
    top_strains : array, shape (n,)
        Total strain of the upper face [1].
    path : LoadPath
        Of the place in the member.

    Returns
    -------
    PressedStates
        NaN past the end of the concrete's law, or where nothing balances.

    Raises
    ------
    InputError
        If no axial force comes with the load, or the lever is negative.
    """
    with allowed.Together("path of a load") as given:
        given.not_negative("lever", path.lever)
        given.finite("axial_force", path.axial_force)
        given.finite("moment", path.moment)
    if path.axial_share == 0 or not np.isfinite(path.axial_share):
        raise InputError("axial_share", path.axial_share, "not 0: else bending alone is asked for")
    top = np.atleast_1d(np.asarray(top_strains, dtype=np.float64))
    sign = np.sign(path.axial_share)

    def beside(bend: FloatArray) -> FloatArray:
        # How far the plane's force and moment lie beside the path; falls as the plane bends.
        force, moment = section.forces(*np.broadcast_arrays(top[:, np.newaxis], bend))
        along = path.lever * (force - path.axial_force)
        return np.asarray(sign * (path.axial_share * (moment - path.moment) - along))

    low, high = _first_crossing(beside, np.maximum(np.abs(top), _LEAST) / section.concrete.height)
    bend = bracketing.zeros(
        lambda at: beside(at[:, np.newaxis])[:, 0],
        low,
        high,
        _SMALLEST,
    )
    force = section.forces(top, bend)[0]
    load = (force - path.axial_force) / path.axial_share
    shortest = np.minimum(top, top + bend * section.concrete.height) - section.free_strain
    kept = shortest >= -section.crushing_strain * (1 + 1e-9)
    return PressedStates(np.where(kept, load, np.nan), np.where(kept, bend, np.nan))


def _first_crossing(beside: Beside, unit: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Brackets of the first change of sign, from a plane bent the other way onward."""
    onward = np.geomspace(1e-3, _TURNS, _SCANNED)
    trial = unit[:, np.newaxis] * np.concatenate([[-1e-3], onward])
    # Bars that shrinkage leaves askew bend it the other way while next to nothing presses; far
    # under load such a plane would be one in which the lower face softens.
    back = np.where(unit > _NEXT_TO_NOTHING * np.min(unit), 0.05, 0.5)
    trial = np.concatenate([-(back * unit)[:, np.newaxis], trial], axis=1)
    value = beside(trial)
    changes = (value[:, :-1] * value[:, 1:] <= 0) & np.isfinite(value[:, :-1] * value[:, 1:])
    place = np.argmax(changes, axis=1)[:, np.newaxis]
    found = np.any(changes, axis=1)
    low = np.take_along_axis(trial, place, axis=1)[:, 0]
    high = np.take_along_axis(trial, place + 1, axis=1)[:, 0]
    return np.where(found, low, np.nan), np.where(found, high, np.nan)
