"""Thermal output as a card states it, and the two strains that temperature sets apart.

A card gives a polynomial or a table, in its own units, over a span, for its own test metal and
at its own gauge factor. All five are kept, and nothing outside the span is answered.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from gaugewright.calc import allowed
from gaugewright.calc.gauge import outside_span
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray, Unit, to_si

__all__ = [
    "ThermalOutput",
    "mechanical_strain",
    "mechanical_strain_by_dummy",
    "mechanical_strain_of_total",
    "thermal_output_of_polynomial",
    "thermal_output_of_table",
    "total_strain",
]


@dataclass(frozen=True, slots=True, eq=False)
class ThermalOutput:
    """Thermal output of a lot in °C and m/m: a polynomial, or straight lines through a table.

    Attributes
    ----------
    coefficients : tuple of float
        Of powers of °C, constant first; empty for a table [1/K^n].
    table_degc : array
        Temperatures of the table, rising; empty for a polynomial [degC].
    table_output : array
        Outputs of the table [1].
    lowest_degc, highest_degc : float
        Span it was measured over [degC].
    stated_gauge_factor : float
        At which it is stated [1].
    card_thermal_expansion : float
        Of the card's test metal [1/K].
    """

    coefficients: tuple[float, ...]
    table_degc: FloatArray
    table_output: FloatArray
    lowest_degc: float
    highest_degc: float
    stated_gauge_factor: float
    card_thermal_expansion: float

    def output(self, temperature_degc: ArrayLike) -> FloatArray:
        """Apparent strain as the card states it; NaN outside its span, never extrapolated.

        Parameters
        ----------
        temperature_degc : array of any shape
            Of the gauge [degC].

        Returns
        -------
        thermal_output : array shaped like ``temperature_degc``
            At the stated gauge factor, on the card's test metal [1].
        """
        degrees = np.asarray(temperature_degc, dtype=np.float64)
        if self.coefficients:
            found = np.polynomial.polynomial.polyval(degrees, np.asarray(self.coefficients))
        else:
            found = np.interp(degrees, self.table_degc, self.table_output)
        beyond = outside_span(degrees, self.lowest_degc, self.highest_degc)
        return np.where(beyond, np.nan, found)

    def unanswered(self, temperature_degc: ArrayLike) -> int:
        """Count of samples for which the card gives no answer: missing or outside its span [1].

        Parameters
        ----------
        temperature_degc : array of any shape
            Of the gauge [degC].

        Returns
        -------
        int
            Of all the samples [1].
        """
        return int(np.count_nonzero(np.isnan(self.output(temperature_degc))))

    def change(
        self,
        temperature_degc: ArrayLike,
        temperature_zero_degc: ArrayLike,
        *,
        gauge_factor: ArrayLike,
        thermal_expansion: ArrayLike,
    ) -> FloatArray:
        """What temperature alone has added to a reading on a given metal since the zero.

        (ε_T(T) - ε_T(T0)) k_stated / k + (α - α_card) (T - T0).

        Parameters
        ----------
        temperature_degc : array of any shape
            Of the gauge [degC].
        temperature_zero_degc : float or array
            When the zero was taken [degC].
        gauge_factor : float or array
            With which the reading was turned into strain [1].
        thermal_expansion : float or array
            Of the metal the gauge is bonded to [1/K].

        Returns
        -------
        thermal_output : array of the broadcast shape
            Since the zero; NaN where either temperature lies outside the span [1].

        Raises
        ------
        InputError
            If ``gauge_factor`` isn't positive.
        """
        factor = allowed.positive("gauge_factor", gauge_factor)
        rise = np.asarray(temperature_degc, dtype=np.float64) - np.asarray(temperature_zero_degc)
        curve = self.output(temperature_degc) - self.output(temperature_zero_degc)
        difference = np.asarray(thermal_expansion, dtype=np.float64) - self.card_thermal_expansion
        return np.asarray(curve * self.stated_gauge_factor / factor + difference * rise)

    def as_polynomial(self, degree: int = 4) -> tuple[tuple[float, ...], float]:
        """A polynomial for the chain, and how far the card's own points lie from it at most.

        Parameters
        ----------
        degree : int
            Of the polynomial, lowered where the table has too few points [1].

        Returns
        -------
        thermal_output_curve : tuple of float
            Five coefficients, constant first [1/K^n].
        misfit : float
            Largest distance from the table; 0 for a card that gave a polynomial [1].

        Raises
        ------
        InputError
            If the degree isn't from 0 to 4, or the card's polynomial needs more.
        """
        if not 0 <= degree <= 4:
            raise InputError("degree", degree, "from 0 to 4")
        if self.coefficients:
            if len(self.coefficients) > 5:
                raise InputError("coefficients", len(self.coefficients), "five or fewer")
            return (*self.coefficients, *([0.0] * (5 - len(self.coefficients)))), 0.0
        fitted = np.polynomial.Polynomial.fit(
            self.table_degc, self.table_output, min(degree, self.table_degc.size - 1)
        )
        misfit = float(np.max(np.abs(fitted(self.table_degc) - self.table_output)))
        plain = fitted.convert().coef
        filled = [*plain.tolist(), *([0.0] * (5 - plain.size))]
        return tuple(filled), misfit


def thermal_output_of_polynomial(
    coefficients: ArrayLike,
    span: tuple[float, float],
    *,
    temperature_unit: Unit,
    strain_unit: Unit,
    stated_gauge_factor: float,
    card_thermal_expansion: float,
) -> ThermalOutput:
    """Thermal output of a card that prints a polynomial, in whatever units it prints it.

    With T_card = a T + b the polynomial in T_card becomes one in °C by composition, exactly.

    Parameters
    ----------
    coefficients : sequence of float
        As printed, constant first, in the card's units [1].
    span : (float, float)
        Lowest and highest temperature it holds for, in the card's unit [1].
    temperature_unit : Unit
        ``unit_named("degF")`` or ``unit_named("degC")``.
    strain_unit : Unit
        Of the output, such as ``unit_named("µm/m")``.
    stated_gauge_factor : float
        At which the curve is stated, often 2.0 [1].
    card_thermal_expansion : float
        Of the card's test metal [1/K].

    Returns
    -------
    ThermalOutput
        In °C and m/m.

    Raises
    ------
    InputError
        If a setting is impossible.
    Faults
        If several are.

    Examples
    --------
    >>> from gaugewright.quantities import unit_named
    >>> card = thermal_output_of_polynomial(
    ...     [-75.0, 1.0], (0.0, 200.0), temperature_unit=unit_named("degF"),
    ...     strain_unit=unit_named("µm/m"), stated_gauge_factor=2.0,
    ...     card_thermal_expansion=11e-6,
    ... )
    >>> [round(part * 1e6, 6) for part in card.coefficients]
    [-43.0, 1.8]
    """
    printed = np.atleast_1d(np.asarray(coefficients, dtype=np.float64))
    units = (temperature_unit, strain_unit)
    with allowed.Together("thermal output") as given:
        _check(given, printed, units, stated_gauge_factor, card_thermal_expansion)
        given.holds("span", span, "from low to high", if_=span[0] < span[1])
    slope = 1 / temperature_unit.factor
    inner = np.polynomial.Polynomial([-temperature_unit.offset, slope])
    composed = np.polynomial.Polynomial([0.0])
    for coefficient in printed[::-1].tolist():
        composed = composed * inner + coefficient
    low, high = to_si(np.asarray(span), temperature_unit).tolist()
    plain = np.asarray(composed.coef[: printed.size], dtype=np.float64) * strain_unit.factor
    return ThermalOutput(
        tuple(plain.tolist()),
        np.empty(0),
        np.empty(0),
        low,
        high,
        stated_gauge_factor,
        card_thermal_expansion,
    )


def thermal_output_of_table(
    temperatures: ArrayLike,
    outputs: ArrayLike,
    *,
    temperature_unit: Unit,
    strain_unit: Unit,
    stated_gauge_factor: float,
    card_thermal_expansion: float,
) -> ThermalOutput:
    """Thermal output of a card that prints a table; straight lines between its points.

    Parameters
    ----------
    temperatures : array, shape (n,)
        Rising, in the card's unit; the first and the last are the span [1].
    outputs : array, shape (n,)
        Apparent strains beside them, in the card's unit [1].
    temperature_unit : Unit
        ``unit_named("degF")`` or ``unit_named("degC")``.
    strain_unit : Unit
        Of the output, such as ``unit_named("µm/m")``.
    stated_gauge_factor : float
        At which the table is stated, often 2.0 [1].
    card_thermal_expansion : float
        Of the card's test metal [1/K].

    Returns
    -------
    ThermalOutput
        In °C and m/m.

    Raises
    ------
    InputError
        If a setting is impossible, or the table isn't two or more rising, finite rows.
    Faults
        If several are.
    """
    degrees = np.atleast_1d(np.asarray(temperatures, dtype=np.float64))
    strain = np.atleast_1d(np.asarray(outputs, dtype=np.float64))
    if degrees.ndim != 1 or degrees.shape != strain.shape or degrees.size < 2:
        raise InputError(
            "table", f"{degrees.size} and {strain.size} numbers", "two rows or more, in pairs"
        )
    units = (temperature_unit, strain_unit)
    with allowed.Together("thermal output") as given:
        rising = bool(np.all(np.diff(degrees) > 0))
        given.holds("temperatures", degrees.tolist(), "rising from row to row", if_=rising)
        _check(given, strain, units, stated_gauge_factor, card_thermal_expansion)
    celsius = to_si(degrees, temperature_unit)
    return ThermalOutput(
        (),
        celsius,
        to_si(strain, strain_unit),
        celsius[0].item(),
        celsius[-1].item(),
        stated_gauge_factor,
        card_thermal_expansion,
    )


def _check(
    given: allowed.Together,
    numbers: FloatArray,
    units: tuple[Unit, Unit],
    stated_gauge_factor: float,
    card_thermal_expansion: float,
) -> None:
    temperature_unit, strain_unit = units
    finite = bool(numbers.size) and bool(np.all(np.isfinite(numbers)))
    given.holds("numbers of the card", numbers.tolist(), "finite", if_=finite)
    given.holds(
        "temperature_unit",
        temperature_unit.name,
        "a unit of temperature",
        if_=temperature_unit.dimension == "temperature",
    )
    given.holds(
        "strain_unit",
        strain_unit.name,
        "a unit of strain",
        if_=strain_unit.coherent in ("1", "m/m"),
    )
    given.positive("stated_gauge_factor", stated_gauge_factor)
    given.finite("card_thermal_expansion", card_thermal_expansion)


def mechanical_strain(strain: ArrayLike, thermal_output: ArrayLike) -> FloatArray:
    """Strain that causes stress: what a reading shows less what temperature alone has added.

    Parameters
    ----------
    strain : array of any shape
        By the gauge factor, since the zero [1].
    thermal_output : array of any shape
        Since the same zero, on this metal [1].

    Returns
    -------
    mechanical_strain : array of the broadcast shape
        σ/E where the metal is elastic; NaN where the thermal output is unknown [1].
    """
    return np.asarray(np.asarray(strain, dtype=np.float64) - np.asarray(thermal_output))


def mechanical_strain_by_dummy(strain: ArrayLike, dummy_strain: ArrayLike) -> FloatArray:
    """Strain that causes stress, from an unstressed gauge on the same metal at one temperature.

    Parameters
    ----------
    strain : array of any shape
        Of the gauge on the bar, since the zero [1].
    dummy_strain : array of any shape
        Of the dummy since the same zero, same lot and gauge factor [1].

    Returns
    -------
    mechanical_strain : array of the broadcast shape
        The card's curve and the expansion of the metal are in both and go out [1].
    """
    return np.asarray(np.asarray(strain, dtype=np.float64) - np.asarray(dummy_strain))


def total_strain(
    mechanical_strain: ArrayLike,
    thermal_expansion: ArrayLike,
    temperature_degc: ArrayLike,
    temperature_zero_degc: ArrayLike,
) -> FloatArray:
    """Change of length over length: mechanical strain plus free expansion α (T - T0).

    For plane sections, slip, crack opening and comparison with concrete or a displacement;
    stress takes the mechanical strain alone.

    Parameters
    ----------
    mechanical_strain : array of any shape
        Since the zero [1].
    thermal_expansion : float or array
        Of the metal [1/K].
    temperature_degc : array of any shape
        Of the metal [degC].
    temperature_zero_degc : float or array
        When the zero was taken [degC].

    Returns
    -------
    total_strain : array of the broadcast shape
        Since the zero [1].

    Examples
    --------
    >>> (total_strain(0.0, 12e-6, 50.0, 20.0) * 1e6).round(6).item()
    360.0
    """
    free = _free_expansion(thermal_expansion, temperature_degc, temperature_zero_degc)
    return np.asarray(np.asarray(mechanical_strain, dtype=np.float64) + free)


def mechanical_strain_of_total(
    total_strain: ArrayLike,
    thermal_expansion: ArrayLike,
    temperature_degc: ArrayLike,
    temperature_zero_degc: ArrayLike,
) -> FloatArray:
    """Strain that causes stress, from a measured change of length: the inverse of the above.

    Parameters
    ----------
    total_strain : array of any shape
        Since the zero [1].
    thermal_expansion : float or array
        Of the metal [1/K].
    temperature_degc : array of any shape
        Of the metal [degC].
    temperature_zero_degc : float or array
        When the zero was taken [degC].

    Returns
    -------
    mechanical_strain : array of the broadcast shape
        Since the zero [1].
    """
    free = _free_expansion(thermal_expansion, temperature_degc, temperature_zero_degc)
    return np.asarray(np.asarray(total_strain, dtype=np.float64) - free)


def _free_expansion(
    thermal_expansion: ArrayLike, temperature_degc: ArrayLike, temperature_zero_degc: ArrayLike
) -> FloatArray:
    rise = np.asarray(temperature_degc, dtype=np.float64) - np.asarray(temperature_zero_degc)
    return np.asarray(np.asarray(thermal_expansion, dtype=np.float64) * rise)
