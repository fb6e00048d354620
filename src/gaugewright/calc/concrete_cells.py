"""Concrete in cells, for planes turned about two axes, and its forces at many planes at once."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from gaugewright.calc import allowed
from gaugewright.calc.layers import ConcreteLayers
from gaugewright.calc.propagation import propagated
from gaugewright.calc.uncertainty import Uncertain
from gaugewright.quantities import FloatArray

__all__ = ["Cells", "ConcreteForces", "cells_of_layers", "forces_of_planes", "midway_thicknesses"]

ConcreteLaw = Callable[..., FloatArray]


@dataclass(frozen=True, slots=True, eq=False)
class Cells:
    """Pieces of concrete.

    Attributes
    ----------
    depths : array, shape (n_cells,)
        Of the centroids below the upper face [m].
    across : array, shape (n_cells,)
        Of the centroids to the right of the middle [m].
    areas : array, shape (n_cells,)
        Bars not taken out [m^2].
    """

    depths: FloatArray
    across: FloatArray
    areas: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class ConcreteForces:
    """Axial force and the two moments of the concrete at every plane.

    Attributes
    ----------
    force : Uncertain
        Tension positive, shape (m,); NaN where the law has ended [N].
    moment : Uncertain
        About the stated depth, positive with the lower face pulled [N m].
    moment_across : Uncertain
        About the middle, positive with the right face pulled [N m].
    """

    force: Uncertain
    moment: Uncertain
    moment_across: Uncertain


def cells_of_layers(layers: ConcreteLayers, thickness: ArrayLike, *, pieces: int = 1) -> Cells:
    """Cells of a symmetric shape: every layer in pieces of equal width from left to right.

    Parameters
    ----------
    layers : ConcreteLayers
        From ``calc.layers``.
    thickness : float or array
        Of each layer [m].
    pieces : int
        Of each layer; one when nothing turns about the other axis [1].

    Returns
    -------
    Cells
        Same area, same first moment as the layers; the second moment across is low by
        1/pieces² of itself.

    Raises
    ------
    InputError
        If there are no pieces or a thickness isn't positive.
    """
    with allowed.Together("cells") as given:
        given.holds("pieces", pieces, "1 at least", if_=pieces >= 1, do="30 are a good number")
        thick = given.positive("thickness", thickness)
    share = (np.arange(pieces) + 0.5) / pieces - 0.5
    widths = layers.areas / thick
    return Cells(
        np.repeat(layers.depths, pieces),
        (widths[:, np.newaxis] * share).ravel(),
        np.repeat(layers.areas / pieces, pieces),
    )


def midway_thicknesses(layers: ConcreteLayers) -> FloatArray:
    """Thickness of each layer of a rectangle or T, whose depths lie midway between edges.

    Parameters
    ----------
    layers : ConcreteLayers
        Of a rectangle or T; a circle's are all equally thick.

    Returns
    -------
    thickness : array, shape (n_layers,)
        From the top down [m].
    """
    edges = [0.0]
    for middle in layers.depths:
        edges.append(2 * float(middle) - edges[-1])
    return np.diff(edges)


def forces_of_planes(
    planes: tuple[Uncertain, Uncertain, Uncertain | None],
    cells: Cells,
    law: ConcreteLaw,
    properties: Mapping[str, Uncertain],
    *,
    about: Uncertain,
    free_strain: Uncertain,
) -> ConcreteForces:
    """Forces of the concrete, its law asked at the strains of each plane.

    Parameters
    ----------
    planes : tuple of Uncertain
        Strain at the top in the middle [1], curvature along the depth and, or None, across
        [1/m], all of one shape (m,) and without noise of their own.
    cells : Cells
        Of the whole section.
    law : callable
        Stress from strain; ``properties`` are given to it by name.
    properties : mapping of name to Uncertain
        Single values: strength, modulus, what the law asks for.
    about : Uncertain
        Depth that moments are taken about [m].
    free_strain : Uncertain
        Of the concrete without stress [1].

    Returns
    -------
    ConcreteForces
        NaN at planes beyond the law.
    """
    top, bend, slope = planes
    level = Uncertain.exact(np.zeros_like(top.value))
    known = {"_top": top, "_bend": bend, "_slope": level if slope is None else slope}
    known |= {"_about": about, "_free": free_strain}

    def three(values: Mapping[str, FloatArray]) -> FloatArray:
        strain = (
            values["_top"][:, np.newaxis]
            + values["_bend"][:, np.newaxis] * cells.depths
            + values["_slope"][:, np.newaxis] * cells.across
            - values["_free"]
        )
        own = {name: values[name] for name in properties}
        stress = law(strain, **own)
        force = stress @ cells.areas
        moment = stress @ (cells.areas * (cells.depths - values["_about"]))
        return np.stack([force, moment, stress @ (cells.areas * cells.across)])

    whole = propagated(three, known | dict(properties))
    return ConcreteForces(whole[0], whole[1], whole[2])
