"""Moments of straight beams on any supports: free, pinned or clamped ends, spans in a row.

One stiffness over the whole length, small deflections, no deflection by shear. Moments are positive
with the lower face pulled, loads act downwards, distances grow to the right.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from gaugewright.calc import allowed
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray

__all__ = ["BeamSupport", "SpreadLoad", "held_beam_moment"]

_SAME = 1e-9  # two places nearer than this share of the length are one


@dataclass(frozen=True, slots=True)
class BeamSupport:
    """A place at which a beam can't move down, nor turn where it is clamped.

    Attributes
    ----------
    distance : float
        On any scale along the beam [m].
    clamped : bool
        Whether the beam can't turn there either.
    """

    distance: float
    clamped: bool = False


@dataclass(frozen=True, slots=True)
class SpreadLoad:
    """Length over which a load is spread evenly.

    Attributes
    ----------
    first, last : float
        Its ends on the scale of the supports [m].
    load_per_length : float
        Downwards [N/m].
    """

    first: float
    last: float
    load_per_length: float


def held_beam_moment(
    supports: Sequence[BeamSupport],
    load_distances: ArrayLike,
    point_loads: ArrayLike,
    distance: ArrayLike,
    *,
    spread: SpreadLoad | None = None,
) -> FloatArray:
    """Moment at a station of a beam under point loads and a spread load.

    Direct stiffness with the two-node beam element (cubic shape), exact for point loads at nodes;
    the support forces are then put into the equilibrium of the part left of the station. Source
    of the element: any text on matrix structural analysis.

    Parameters
    ----------
    supports : sequence of BeamSupport
        At least one clamped, or two; order doesn't matter.
    load_distances : array, shape (n_points,)
        Places of the point loads on the same scale [m].
    point_loads : array, shape (n_points,)
        Downwards [N].
    distance : float or array
        Of the station on the same scale [m].
    spread : SpreadLoad, optional
        Load spread evenly.

    Returns
    -------
    moment : array shaped like ``distance``
        Positive with the lower face pulled; at a point clamped in its middle that of its right
        side [N m].

    Raises
    ------
    InputError
        If the supports let the beam fall or turn, two lie at one place, or places and loads aren't
        as many.

    Examples
    --------
    >>> ends = [BeamSupport(0.0, clamped=True), BeamSupport(4.0, clamped=True)]
    >>> held_beam_moment(ends, [2.0], [10e3], [0.0, 2.0, 4.0]).round(3).tolist()
    [-5000.0, 5000.0, -5000.0]
    """
    held = sorted(supports, key=lambda one: one.distance)
    places = np.atleast_1d(np.asarray(load_distances, dtype=np.float64))
    forces = np.atleast_1d(np.asarray(point_loads, dtype=np.float64))
    if places.shape != forces.shape:
        raise InputError("point_loads", forces.shape, f"as many as places, {places.shape}")
    _check(held, places)
    nodes = _nodes(held, places, spread)
    lift, turn = _reactions(nodes, held, (places, forces), spread)
    at = np.asarray(distance, dtype=np.float64)
    moment = np.zeros(at.shape)
    for number, one in enumerate(held):
        arm = np.clip(at - one.distance, 0.0, None)
        moment = moment + lift[number] * arm
        # A clamp's own moment counts from its place on, but not at the last end of the beam.
        within = at >= one.distance if one.distance < nodes[-1] else at > one.distance
        moment = moment + np.where(within, turn[number], 0.0)
    for place, force in zip(places, forces, strict=True):
        moment = moment - force * np.clip(at - place, 0.0, None)
    if spread is not None:
        near, far = (np.clip(at - end, 0.0, None) for end in (spread.first, spread.last))
        moment = moment - spread.load_per_length / 2 * (near**2 - far**2)
    return np.asarray(moment)


def _check(held: Sequence[BeamSupport], places: FloatArray) -> None:
    with allowed.Together("held beam") as given:
        given.finite("load_distances", places)
        given.finite("supports", [one.distance for one in held])
    clamped = sum(one.clamped for one in held)
    if not clamped and len(held) < 2:
        raise InputError("supports", len(held), "one that is clamped, or two: else the beam falls")
    between = np.diff([one.distance for one in held])
    if between.size and not np.all(between > 0):
        raise InputError("supports", "two at one place", "each at a place of its own")


def _nodes(
    held: Sequence[BeamSupport], places: FloatArray, spread: SpreadLoad | None
) -> FloatArray:
    """Every place at which something holds or loads the beam, each once."""
    every = [*(one.distance for one in held), *places.tolist()]
    every += [] if spread is None else [spread.first, spread.last]
    found = np.unique(np.asarray(every))
    if found.size == 1:  # a single clamp with its load right on it
        return np.array([found[0], found[0] + 1.0])
    apart = np.concatenate([[True], np.diff(found) > _SAME * (found[-1] - found[0])])
    return np.asarray(found[apart])


def _at(nodes: FloatArray, place: float) -> int:
    return int(np.argmin(np.abs(nodes - place)))


def _reactions(
    nodes: FloatArray,
    held: Sequence[BeamSupport],
    loads: tuple[FloatArray, FloatArray],
    spread: SpreadLoad | None,
) -> tuple[FloatArray, FloatArray]:
    """Upward force and clockwise moment of every support, at a stiffness EI of one."""
    stiffness, load = _assembled(nodes, spread)
    for place, force in zip(*loads, strict=True):
        load[2 * _at(nodes, place)] += force
    fixed = [2 * _at(nodes, one.distance) for one in held]
    fixed += [2 * _at(nodes, one.distance) + 1 for one in held if one.clamped]
    free = np.setdiff1d(np.arange(load.size), fixed)
    moved = np.zeros(load.size)
    moved[free] = np.linalg.solve(stiffness[np.ix_(free, free)], load[free])
    out = stiffness @ moved - load
    lift = np.array([-out[2 * _at(nodes, one.distance)] for one in held])
    turn = [out[2 * _at(nodes, one.distance) + 1] if one.clamped else 0.0 for one in held]
    return lift, np.array(turn)


def _assembled(nodes: FloatArray, spread: SpreadLoad | None) -> tuple[FloatArray, FloatArray]:
    """Stiffness over EI and nodal loads; at each node the way down, then the turn clockwise."""
    size = 2 * nodes.size
    whole, load = np.zeros((size, size)), np.zeros(size)
    for number, length in enumerate(np.diff(nodes)):
        at = slice(2 * number, 2 * number + 4)
        a, b, c = 12 / length**3, 6 / length**2, 1 / length
        whole[at, at] += [
            [a, b, -a, b],
            [b, 4 * c, -b, 2 * c],
            [-a, -b, a, -b],
            [b, 2 * c, -b, 4 * c],
        ]
        middle = nodes[number] + length / 2
        if spread is not None and spread.first < middle < spread.last:
            q = spread.load_per_length
            load[at] += [q * length / 2, q * length**2 / 12, q * length / 2, -q * length**2 / 12]
    return whole, load
