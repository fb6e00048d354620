"""A polynomial through readings by least squares, with the uncertainty of all it says."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import linalg

from gaugewright.errors import InputError, InputFaults
from gaugewright.quantities import FloatArray

__all__ = ["PolynomialFit", "polynomial_fit"]


@dataclass(frozen=True, slots=True, eq=False)
class PolynomialFit:
    """Polynomial through points, and what the points' scatter about it says.

    Attributes
    ----------
    coefficients : array, shape (degree + 1,)
        Constant first.
    covariances : array, shape (degree + 1, degree + 1)
        Of the coefficients, from the residual deviation.
    residuals : array, shape (n,)
        Ordinate less polynomial.
    residual_deviation : float
        Standard deviation about the polynomial, sqrt(Σd²/(n - coefficients)).
    degrees_of_freedom : int
        Points less coefficients.
    determination : float
        R², share of the variance of the ordinates that the polynomial takes up.
    span : (float, float)
        Of the abscissae; outside it the polynomial is extrapolated.
    """

    coefficients: FloatArray
    covariances: FloatArray
    residuals: FloatArray
    residual_deviation: float
    degrees_of_freedom: int
    determination: float
    span: tuple[float, float]

    @property
    def standard_uncertainties(self) -> FloatArray:
        """Standard deviations of the coefficients [1]."""
        return np.asarray(np.sqrt(np.diag(self.covariances)))

    def fitted(self, x: ArrayLike) -> FloatArray:
        """Ordinate of the polynomial.

        Parameters
        ----------
        x : array of any shape
            Abscissae [1].

        Returns
        -------
        y : array shaped like ``x``
            In the unit of the ordinates [1].
        """
        return np.asarray(np.polynomial.polynomial.polyval(np.asarray(x), self.coefficients))

    def deviation_of_curve(self, x: ArrayLike) -> FloatArray:
        """Standard deviation of the polynomial's ordinate: of the mean of endless readings.

        Parameters
        ----------
        x : array of any shape
            Abscissae [1].

        Returns
        -------
        standard_uncertainty : array shaped like ``x``
            In the unit of the ordinates [1].
        """
        rows = np.asarray(x, dtype=np.float64)[..., np.newaxis] ** np.arange(self.coefficients.size)
        variance = np.einsum("...i,ij,...j->...", rows, self.covariances, rows)
        return np.asarray(np.sqrt(np.clip(variance, 0.0, None)))

    def deviation_of_new_reading(self, x: ArrayLike) -> FloatArray:
        """Standard deviation of one further reading from the polynomial.

        Parameters
        ----------
        x : array of any shape
            Abscissae [1].

        Returns
        -------
        standard_uncertainty : array shaped like ``x``
            In the unit of the ordinates [1].
        """
        return np.asarray(np.hypot(self.deviation_of_curve(x), self.residual_deviation))


def polynomial_fit(x: ArrayLike, y: ArrayLike, degree: int) -> PolynomialFit:
    """Least squares for ordinates of one scatter and abscissae without any.

    Solved by Householder QR on abscissae brought to their mean and spread, with one step of
    refinement, then written out in powers of x: eight digits and more on certified data.

    Parameters
    ----------
    x : array, shape (n,)
        Abscissae [1].
    y : array, shape (n,)
        Ordinates [1].
    degree : int
        Of the polynomial [1].

    Returns
    -------
    PolynomialFit
        With at least one degree of freedom.

    Raises
    ------
    InputError
        If points are missing, too few, or too few are different for the degree.
    Faults
        If several things are wrong.

    Examples
    --------
    >>> found = polynomial_fit([0.0, 1.0, 2.0, 3.0], [0.1, 1.1, 1.9, 3.1], 1)
    >>> found.coefficients.round(2).tolist(), found.degrees_of_freedom
    ([0.08, 0.98], 2)
    """
    across, up = np.asarray(x, dtype=np.float64), np.asarray(y, dtype=np.float64)
    _refuse(across, up, degree)
    count, terms = across.size, degree + 1
    centre, scale = float(across.mean()), float(across.std())
    scaled = (across - centre) / scale
    design = scaled[:, np.newaxis] ** np.arange(terms)
    q, r = linalg.qr(design, mode="economic")
    inner = linalg.solve_triangular(r, q.T @ up)
    inner = inner + linalg.solve_triangular(r, q.T @ (up - design @ inner))
    residuals = up - design @ inner
    freedom = count - terms
    squares = math.fsum((residuals**2).tolist())
    deviation = math.sqrt(squares / freedom)
    root = linalg.solve_triangular(r, np.eye(terms))
    outward = _powers_of_x(terms, centre, scale)
    spread = outward @ root * deviation
    about_mean = math.fsum(((up - up.mean()) ** 2).tolist())
    return PolynomialFit(
        coefficients=np.asarray(outward @ inner),
        covariances=np.asarray(spread @ spread.T),
        residuals=np.asarray(residuals),
        residual_deviation=deviation,
        degrees_of_freedom=freedom,
        determination=1 - squares / about_mean if about_mean else math.nan,
        span=(float(across.min()), float(across.max())),
    )


def _powers_of_x(terms: int, centre: float, scale: float) -> FloatArray:
    """Matrix from coefficients in (x - centre)/scale to coefficients in x."""
    outward = np.zeros((terms, terms))
    for power in range(terms):
        for low in range(power + 1):
            share = math.comb(power, low) * (-centre) ** (power - low)
            outward[low, power] = share / scale**power
    return outward


def _refuse(across: FloatArray, up: FloatArray, degree: int) -> None:
    found: list[InputError] = []
    if not 1 <= degree <= 6:
        found.append(InputError("degree", degree, "from 1 to 6"))
    if across.ndim != 1 or across.shape != up.shape:
        found.append(InputError("shape of y", up.shape, f"(n,), as x: {across.shape}"))
    else:
        for name, numbers in (("x", across), ("y", up)):
            missing = int(np.count_nonzero(~np.isfinite(numbers)))
            if missing:
                say = "leave those rows out and say how many"
                found.append(InputError(name, f"{missing} missing", "finite", say))
        if across.size < degree + 2:
            found.append(InputError("points", across.size, f"{degree + 2} or more"))
        elif np.unique(across).size < degree + 1:
            found.append(InputError("different x", np.unique(across).size, f"{degree + 1} or more"))
    if len(found) == 1:
        raise found[0]
    if found:
        raise InputFaults("points for a fit", found)
