"""Covariance: what two values share, and how the covariance of a fit is passed on."""

import math

import numpy as np
from numpy.typing import ArrayLike

from gaugewright.calc.uncertainty import InputQuantity, Uncertain, declare
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray

__all__ = ["correlation", "covariance", "jointly_uncertain"]


def covariance(first: Uncertain, second: Uncertain) -> FloatArray:
    """What two values share, through their common inputs (JCGM 100:2008, equation F.2).

    Parameters
    ----------
    first, second : Uncertain
        Of shapes that broadcast; noise counts only where both are the same object.

    Returns
    -------
    array
        In the product of their units [1].
    """
    total = np.zeros(np.broadcast_shapes(first.value.shape, second.value.shape))
    shared: dict[str, InputQuantity] = dict(first.inputs)
    for name, slope in second.sensitivities.items():
        if name in first.sensitivities:
            declare(shared, second.inputs[name])
            variance = second.inputs[name].standard_uncertainty ** 2
            total += first.sensitivities[name] * slope * variance
    if first is second:
        total += first.noise**2
    return total


def correlation(first: Uncertain, second: Uncertain) -> FloatArray:
    """Correlation coefficient of two values; NaN where one of them has no uncertainty.

    Parameters
    ----------
    first, second : Uncertain
        Of shapes that broadcast.

    Returns
    -------
    array
        Between -1 and 1 [1].
    """
    scale = first.standard_uncertainty() * second.standard_uncertainty()
    result = np.full(scale.shape, np.nan)
    np.divide(covariance(first, second), scale, out=result, where=scale > 0)
    return result


def jointly_uncertain(
    values: ArrayLike,
    covariances: ArrayLike,
    name: str,
    *,
    degrees_of_freedom: float = math.inf,
    basis: str = "measured",
    meaning: str = "",
) -> tuple[Uncertain, ...]:
    """Numbers that were determined together, such as the coefficients of a fit.

    The covariance matrix is split into independent inputs ``name/1``, ``name/2``... that the
    numbers share, so that their correlation is kept by everything made from them.

    Parameters
    ----------
    values : array, shape (n,)
        Best estimates [1].
    covariances : array, shape (n, n)
        Covariance matrix: symmetric, no negative eigenvalue beyond rounding [1].
    name : str
        Common to the inputs made.
    degrees_of_freedom : float
        Behind the matrix: points less coefficients of a fit [1].
    basis, meaning : str
        As in ``InputQuantity``.

    Returns
    -------
    tuple of Uncertain
        One for each of ``values``.

    Raises
    ------
    InputError
        If the matrix can't be a covariance matrix of these numbers.
    """
    best = np.asarray(values, dtype=np.float64)
    matrix = np.asarray(covariances, dtype=np.float64)
    if matrix.shape != (best.size, best.size):
        raise InputError("shape of covariances", matrix.shape, f"{(best.size, best.size)}")
    # Coefficients of a polynomial differ by many powers of ten: split the correlations instead.
    spread = np.sqrt(np.clip(np.diag(matrix), 0.0, None))
    scale = np.where(spread > 0, spread, 1.0)
    weights, vectors = np.linalg.eigh(matrix / np.outer(scale, scale))
    symmetric = np.allclose(matrix, matrix.T, rtol=1e-9, atol=0.0)
    if not symmetric or np.any(np.diag(matrix) < 0) or weights.min() < -1e-9 * best.size:
        raise InputError("covariances", matrix.tolist(), "symmetric without negative eigenvalue")
    parts = vectors * np.sqrt(np.clip(weights, 0.0, None)) * spread[:, np.newaxis]
    inputs = {
        f"{name}/{i + 1}": InputQuantity(
            f"{name}/{i + 1}", 1.0, degrees_of_freedom, basis=basis, meaning=meaning
        )
        for i in range(best.size)
    }
    return tuple(
        Uncertain(
            np.asarray(best[row]),
            {key: np.asarray(parts[row, i]) for i, key in enumerate(inputs)},
            inputs=inputs,
        )
        for row in range(best.size)
    )
