"""The gauge itself: from the change of its grid to the strain of the metal beneath it."""

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt
from numpy.typing import ArrayLike

from gaugewright.calc import allowed
from gaugewright.quantities import FloatArray

__all__ = [
    "aligned_strain",
    "biaxial_strain",
    "gauge_factor_at",
    "geometric_gauge_factor",
    "misaligned_strain",
    "outside_span",
    "thermal_output",
    "thermal_output_change",
    "thermal_output_slope",
    "transverse_indication",
    "uniaxial_strain",
]

# A grid that felt more across than along it would be no gauge for strain along it.
_CROSS = (-0.5, 0.5)
_POISSON = (0.0, 0.5)


def gauge_factor_at(
    gauge_factor: ArrayLike,
    gauge_factor_slope: ArrayLike,
    temperature_degc: ArrayLike,
    reference_temperature_degc: ArrayLike,
) -> FloatArray:
    """Gauge factor at another temperature: k (1 + β (T - T_ref)).

    Parameters
    ----------
    gauge_factor : float or array
        At the reference temperature [1].
    gauge_factor_slope : float or array
        About 1e-4 for copper-nickel; cards print it in % per 100 K [1/K].
    temperature_degc : float or array
        Of the gauge; NaN gives NaN [degC].
    reference_temperature_degc : float or array
        At which the gauge factor is stated [degC].

    Returns
    -------
    gauge_factor : array of the broadcast shape
        At ``temperature_degc`` [1].

    Raises
    ------
    InputError
        If ``gauge_factor`` isn't positive.

    Examples
    --------
    >>> gauge_factor_at(2.10, 0.9e-4, 74.0, 24.0).round(5).item()
    2.10945
    """
    with allowed.Together("gauge factor") as given:
        factor = given.positive("gauge_factor", gauge_factor)
        given.finite("gauge_factor_slope", gauge_factor_slope)
        given.finite("reference_temperature_degc", reference_temperature_degc)
    rise = np.asarray(temperature_degc, dtype=np.float64) - np.asarray(reference_temperature_degc)
    return np.asarray(factor * (1 + np.asarray(gauge_factor_slope) * rise))


def geometric_gauge_factor(
    poisson_ratio: ArrayLike, resistivity_change_per_strain: ArrayLike = 0.0
) -> FloatArray:
    """Gauge factor of a straight wire: 1 + 2ν from its shape, plus the change of resistivity.

    Parameters
    ----------
    poisson_ratio : float or array
        Of the wire [1].
    resistivity_change_per_strain : float or array
        Relative change of resistivity over strain [1].

    Returns
    -------
    gauge_factor : array of the broadcast shape
        For small strain [1].

    Examples
    --------
    >>> geometric_gauge_factor(0.5).item()
    2.0
    """
    return np.asarray(
        1
        + 2 * np.asarray(poisson_ratio, dtype=np.float64)
        + np.asarray(resistivity_change_per_strain)
    )


def thermal_output(
    temperature_degc: ArrayLike, thermal_output_curve: Sequence[float]
) -> FloatArray:
    """Apparent strain of the unloaded gauge, from the polynomial on its card.

    Parameters
    ----------
    temperature_degc : array of any shape
        Of the gauge; a curve given in °F must be rewritten first [degC].
    thermal_output_curve : sequence of float
        Coefficients, constant first, in strain over powers of °C [1/K^n].

    Returns
    -------
    thermal_output : array shaped like ``temperature_degc``
        At the gauge factor the curve is stated at [1].

    Examples
    --------
    >>> (thermal_output(30.0, [-20e-6, 1e-6]) * 1e6).round(6).item()
    10.0
    """
    degrees = np.asarray(temperature_degc, dtype=np.float64)
    return np.asarray(np.polynomial.polynomial.polyval(degrees, np.asarray(thermal_output_curve)))


def thermal_output_slope(
    temperature_degc: ArrayLike, thermal_output_curve: Sequence[float]
) -> FloatArray:
    """Derivative of the thermal output by temperature.

    Parameters
    ----------
    temperature_degc : array of any shape
        Of the gauge [degC].
    thermal_output_curve : sequence of float
        Coefficients, constant first [1/K^n].

    Returns
    -------
    thermal_output_slope : array shaped like ``temperature_degc``
        What an error of 1 K in temperature costs [1/K].
    """
    slope = np.polynomial.polynomial.polyder(np.asarray(thermal_output_curve, dtype=np.float64))
    degrees = np.asarray(temperature_degc, dtype=np.float64)
    return np.asarray(np.polynomial.polynomial.polyval(degrees, slope))


def thermal_output_change(
    temperature_degc: ArrayLike,
    temperature_zero_degc: ArrayLike,
    thermal_output_curve: Sequence[float],
    *,
    stated_gauge_factor: ArrayLike,
    gauge_factor: ArrayLike,
    expansion_difference: ArrayLike = 0.0,
) -> FloatArray:
    """What temperature alone has added to a reading since the zero; subtract it.

    (ε_T(T) - ε_T(T0)) k_stated / k + (α_bar - α_card) (T - T0). What is left is the mechanical
    strain, the one that causes stress; total strain adds α_bar (T - T0) again.

    Parameters
    ----------
    temperature_degc : array of any shape
        Of the gauge [degC].
    temperature_zero_degc : float or array
        When the zero was taken [degC].
    thermal_output_curve : sequence of float
        Of the card, for its test metal, constant first [1/K^n].
    stated_gauge_factor : float or array
        At which the curve is stated, often 2.0 [1].
    gauge_factor : float or array
        With which the reading was turned into strain [1].
    expansion_difference : float or array
        Expansion of the bar less that of the card's test metal [1/K].

    Returns
    -------
    thermal_output : array of the broadcast shape
        Since the zero [1].

    Raises
    ------
    InputError
        If a gauge factor isn't positive.
    Faults
        If several things are wrong.
    """
    with allowed.Together("gauge") as given:
        stated = given.positive("stated_gauge_factor", stated_gauge_factor)
        factor = given.positive("gauge_factor", gauge_factor)
    now = thermal_output(temperature_degc, thermal_output_curve)
    zero = thermal_output(temperature_zero_degc, thermal_output_curve)
    rise = np.asarray(temperature_degc, dtype=np.float64) - np.asarray(temperature_zero_degc)
    return np.asarray((now - zero) * stated / factor + np.asarray(expansion_difference) * rise)


def outside_span(
    temperature_degc: ArrayLike, lowest_degc: float, highest_degc: float
) -> npt.NDArray[np.bool_]:
    """Where a temperature lies outside the span a curve was measured over.

    Parameters
    ----------
    temperature_degc : array of any shape
        Of the gauge; a missing one counts as outside, since nothing vouches for it [degC].
    lowest_degc : float
        Of the card's curve [degC].
    highest_degc : float
        Of the card's curve [degC].

    Returns
    -------
    array of bool, shaped like ``temperature_degc``
        True where the curve would be extrapolated.

    Examples
    --------
    >>> outside_span([20.0, 60.0, float("nan")], 0.0, 50.0).tolist()
    [False, True, True]
    """
    degrees = np.asarray(temperature_degc, dtype=np.float64)
    return np.asarray(~((degrees >= lowest_degc) & (degrees <= highest_degc)))


def transverse_indication(
    strain: ArrayLike,
    strain_across: ArrayLike,
    transverse_sensitivity: ArrayLike,
    calibration_poisson_ratio: ArrayLike,
) -> FloatArray:
    """Strain a gauge indicates that also feels what happens across its grid.

    (ε + K_t ε_across) / (1 - ν0 K_t): the gauge factor was measured on a beam of Poisson's ratio
    ν0, so on such a metal in uniaxial stress along the grid there is no error.

    Parameters
    ----------
    strain : float or array
        Of the metal along the grid [1].
    strain_across : float or array
        Of the metal across the grid [1].
    transverse_sensitivity : float or array
        Of the gauge, as a ratio [1].
    calibration_poisson_ratio : float or array
        Of the beam the gauge factor was measured on, often 0.285 [1].

    Returns
    -------
    indicated_strain : array of the broadcast shape
        By the gauge factor of the card [1].

    Raises
    ------
    InputError
        If a setting is impossible.
    Faults
        If several are.
    """
    with allowed.Together("gauge") as given:
        sensitivity = given.within("transverse_sensitivity", transverse_sensitivity, _CROSS)
        beam = given.within("calibration_poisson_ratio", calibration_poisson_ratio, _POISSON)
    along, across = np.asarray(strain, dtype=np.float64), np.asarray(strain_across)
    return np.asarray((along + sensitivity * across) / (1 - beam * sensitivity))


def uniaxial_strain(
    indicated_strain: ArrayLike,
    transverse_sensitivity: ArrayLike,
    poisson_ratio: ArrayLike,
    calibration_poisson_ratio: ArrayLike,
) -> FloatArray:
    """Strain along a grid that lies along a bar in uniaxial stress: ε (1 - ν0 K_t) / (1 - ν K_t).

    On steel a sensitivity of 1 % changes it by 0.015 %; after yield, with ν near 0.5, by 0.2 %.

    Parameters
    ----------
    indicated_strain : array of any shape
        By the gauge factor of the card [1].
    transverse_sensitivity : float or array
        Of the gauge, as a ratio [1].
    poisson_ratio : float or array
        Of the bar [1].
    calibration_poisson_ratio : float or array
        Of the beam the gauge factor was measured on [1].

    Returns
    -------
    strain : array of the broadcast shape
        Of the metal along the grid [1].

    Raises
    ------
    InputError
        If a setting is impossible.
    Faults
        If several are.
    """
    with allowed.Together("gauge") as given:
        sensitivity = given.within("transverse_sensitivity", transverse_sensitivity, _CROSS)
        bar = given.within("poisson_ratio", poisson_ratio, _POISSON)
        beam = given.within("calibration_poisson_ratio", calibration_poisson_ratio, _POISSON)
    indicated = np.asarray(indicated_strain, dtype=np.float64)
    return np.asarray(indicated * (1 - beam * sensitivity) / (1 - bar * sensitivity))


def biaxial_strain(
    indicated_strain: ArrayLike,
    indicated_strain_across: ArrayLike,
    transverse_sensitivity: ArrayLike,
    calibration_poisson_ratio: ArrayLike,
) -> FloatArray:
    """Strain along one grid of a right-angled pair of the same transverse sensitivity.

    (1 - ν0 K_t) (e - K_t e_across) / (1 - K_t²); exchange the two for the other grid.
    Source: ASTM E1561 and Dally & Riley, Experimental Stress Analysis (from memory).

    Parameters
    ----------
    indicated_strain : array of any shape
        By this grid [1].
    indicated_strain_across : array of any shape
        By the grid at right angles to it [1].
    transverse_sensitivity : float or array
        Of both grids, as a ratio [1].
    calibration_poisson_ratio : float or array
        Of the beam the gauge factor was measured on [1].

    Returns
    -------
    strain : array of the broadcast shape
        Of the metal along this grid [1].

    Raises
    ------
    InputError
        If a setting is impossible.
    Faults
        If several are.
    """
    with allowed.Together("gauge") as given:
        sensitivity = given.within("transverse_sensitivity", transverse_sensitivity, _CROSS)
        beam = given.within("calibration_poisson_ratio", calibration_poisson_ratio, _POISSON)
    along = np.asarray(indicated_strain, dtype=np.float64)
    across = np.asarray(indicated_strain_across, dtype=np.float64)
    scale = (1 - beam * sensitivity) / (1 - sensitivity**2)
    return np.asarray(scale * (along - sensitivity * across))


def misaligned_strain(
    strain: ArrayLike, misalignment: ArrayLike, poisson_ratio: ArrayLike
) -> FloatArray:
    """Strain along a grid that lies askew on a bar in uniaxial stress: ε (1 - (1 + ν) sin² φ).

    Parameters
    ----------
    strain : array of any shape
        Along the bar [1].
    misalignment : float or array
        Between grid and bar [rad].
    poisson_ratio : float or array
        Of the bar [1].

    Returns
    -------
    strain : array of the broadcast shape
        Along the grid; 2° cost 0.16 %, whichever way the grid is turned [1].

    Raises
    ------
    InputError
        If a setting is impossible.
    Faults
        If several are.
    """
    return np.asarray(strain, dtype=np.float64) * _askew(misalignment, poisson_ratio)


def aligned_strain(
    strain: ArrayLike, misalignment: ArrayLike, poisson_ratio: ArrayLike
) -> FloatArray:
    """Strain along the bar from that along a grid known to lie askew.

    Parameters
    ----------
    strain : array of any shape
        Along the grid [1].
    misalignment : float or array
        Between grid and bar [rad].
    poisson_ratio : float or array
        Of the bar [1].

    Returns
    -------
    strain : array of the broadcast shape
        Along the bar [1].

    Raises
    ------
    InputError
        If the grid lies where it feels no strain, or only contraction, or a setting is impossible.
    Faults
        If several are.
    """
    share = allowed.positive(
        "1 - (1 + poisson_ratio) sin² misalignment",
        _askew(misalignment, poisson_ratio),
        "a grid so far askew can't give the strain along the bar",
    )
    return np.asarray(np.asarray(strain, dtype=np.float64) / share)


def _askew(misalignment: ArrayLike, poisson_ratio: ArrayLike) -> FloatArray:
    with allowed.Together("grid askew on a bar") as given:
        angle = given.within("misalignment", misalignment, (-np.pi / 2, np.pi / 2))
        bar = given.within("poisson_ratio", poisson_ratio, _POISSON)
    return np.asarray(1 - (1 + bar) * np.sin(angle) ** 2)
