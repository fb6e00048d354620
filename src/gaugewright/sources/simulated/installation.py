"""What the packs, gauges, leads and joints of a simulated installation truly are.

True values are drawn from what is stated of them, so that the statement is honest unless a
campaign chooses that it isn't. Nothing here is seen by the reduction.
"""

import zlib
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike

from gaugewright.quantities import FloatArray
from gaugewright.records.gauges import GaugePack
from gaugewright.records.stated import Meaning, Stated

__all__ = ["TrueGauge", "TrueLead", "TruePack", "Workmanship", "drawn", "stream"]

_COPPER_PER_KELVIN = 0.00393  # relative change of resistance, from 20 °C, ordinary copper wire
_SIGMAS = {Meaning.ONE_SIGMA: 1.0, Meaning.TWO_SIGMA: 2.0, Meaning.THREE_SIGMA: 3.0}


def stream(seed: int, name: str) -> np.random.Generator:
    """Random numbers of one named thing, unmoved by how many others are drawn before it."""
    return np.random.default_rng([seed, zlib.crc32(name.encode())])


def drawn(stated: Stated, rng: np.random.Generator) -> float:
    """A true value that agrees with what is stated, in the unit of ``stated``.

    k = 1, 2, 3 give a normal draw, a limit or an unknown meaning a rectangular one.
    """
    plus_minus = stated.plus_minus or 0.0
    if stated.meaning in _SIGMAS:
        return stated.value + plus_minus / _SIGMAS[stated.meaning] * float(rng.standard_normal())
    if stated.meaning is Meaning.TRIANGULAR:
        return stated.value + plus_minus * float(rng.uniform(-0.5, 0.5) + rng.uniform(-0.5, 0.5))
    return stated.value + plus_minus * float(rng.uniform(-1.0, 1.0))


def _deviation_parts(
    stated: Stated, lot_share: float, rng: np.random.Generator, count: int
) -> FloatArray:
    """Deviations of ``count`` gauges: a common part with ``lot_share`` of the variance, and own."""
    common = drawn(Stated(0.0, stated.plus_minus, stated.meaning), rng)
    own = [drawn(Stated(0.0, stated.plus_minus, stated.meaning), rng) for _ in range(count)]
    return np.asarray(np.sqrt(lot_share) * common + np.sqrt(1 - lot_share) * np.array(own))


@dataclass(frozen=True, slots=True)
class Workmanship:
    """How well gauges are bonded: standard deviations of strain transfer [1] and of angle [rad]."""

    transfer_scatter: float = 0.015
    angle_scatter: float = 0.026


@dataclass(frozen=True, slots=True)
class TrueGauge:
    """One grid as it truly is: resistance at the card's temperature, and what changes it."""

    resistance: float
    gauge_factor: float
    gauge_factor_slope: float
    transverse: float
    card_poisson: float
    card_temperature_degc: float
    transfer: float
    angle_error: float
    thermal_coefficients: tuple[float, ...]
    thermal_gauge_factor: float
    thermal_slope_error: float
    card_expansion: float
    curvature: float

    def straightened(self) -> "TrueGauge":
        """The same grid turned into its direction, for strain given along the grid as it lies."""
        return replace(self, angle_error=0.0)

    def resistance_at(
        self,
        along: ArrayLike,
        across: ArrayLike,
        temperature_degc: ArrayLike,
        expansion: float,
        fading: ArrayLike = 1.0,
    ) -> FloatArray:
        """Resistance of the grid on strained metal.

        Parameters
        ----------
        along, across : array
            Mechanical strain of the metal along and across the direction meant [1].
        temperature_degc : array
            Of gauge and metal alike [degC].
        expansion : float
            Coefficient of linear thermal expansion of the metal [1/K].
        fading : array, optional
            Share of the strain that still reaches the grid [1].

        Returns
        -------
        array
            Resistance [ohm].
        """
        share = np.sin(self.angle_error) ** 2
        axis, side = np.asarray(along, dtype=np.float64), np.asarray(across, dtype=np.float64)
        felt_along = axis * (1 - share) + side * share
        felt_across = side * (1 - share) + axis * share
        warmth = np.asarray(temperature_degc, dtype=np.float64) - self.card_temperature_degc
        # The card's factor was found on a bar that also contracts sideways.
        on_card = self.gauge_factor / (1 - self.card_poisson * self.transverse)
        lengthwise = on_card * (1 + self.gauge_factor_slope * warmth)
        felt = (felt_along + self.transverse * felt_across) * self.transfer * np.asarray(fading)
        strained = lengthwise * felt + self.curvature * felt * np.abs(felt)
        changed = (1 + strained) * (1 + self._warmed(warmth, expansion))
        return np.asarray(self.resistance * changed)

    def _warmed(self, warmth: FloatArray, expansion: float) -> FloatArray:
        """Relative change of resistance by temperature alone, on metal free to expand."""
        celsius = warmth + self.card_temperature_degc
        card = np.polynomial.polynomial.polyval(celsius, self.thermal_coefficients)
        at_card = np.polynomial.polynomial.polyval(
            self.card_temperature_degc, self.thermal_coefficients
        )
        bonded = self.gauge_factor * (expansion - self.card_expansion) * warmth
        own = self.thermal_slope_error * warmth + card - at_card
        return self.thermal_gauge_factor * own + bonded


@dataclass(frozen=True, slots=True)
class TruePack:
    """What a pack truly holds: deviations of its gauges in order of number in pack.

    ``factor_bias`` is a relative error of the card's gauge factor beyond what the card allows.
    """

    pack: GaugePack
    gauges: tuple[TrueGauge, ...]

    @classmethod
    def opened(
        cls,
        pack: GaugePack,
        count: int,
        rng: np.random.Generator,
        *,
        work: Workmanship,
        factor_bias: float | None = None,
    ) -> "TruePack":
        """Pack with ``count`` gauges bonded by ``work``; ``factor_bias`` makes the card wrong."""
        factors = _deviation_parts(pack.gauge_factor, pack.lot_share, rng, count)
        if factor_bias is not None:
            factors = factors - factors.mean() + factor_bias * pack.gauge_factor.value
        gauges = tuple(_gauge(pack, float(factor), rng, work) for factor in factors)
        return cls(pack, gauges)


def _gauge(
    pack: GaugePack, factor_deviation: float, rng: np.random.Generator, work: Workmanship
) -> TrueGauge:
    curve = pack.thermal_output
    factor = pack.gauge_factor.value + factor_deviation
    slope = pack.gauge_factor_slope
    return TrueGauge(
        resistance=drawn(pack.gauge_resistance, rng),
        gauge_factor=factor,
        gauge_factor_slope=drawn(slope, rng) if slope else 0.0,
        transverse=drawn(pack.transverse_sensitivity, rng),
        card_poisson=pack.poisson_ratio_of_card,
        card_temperature_degc=pack.gauge_factor_temperature_degc,
        transfer=1.0 + work.transfer_scatter * float(rng.standard_normal()),
        angle_error=work.angle_scatter * float(rng.standard_normal()),
        thermal_coefficients=curve.coefficients if curve else (0.0,),
        thermal_gauge_factor=curve.gauge_factor if curve else factor,
        thermal_slope_error=drawn(curve.slope_uncertainty, rng) if curve else 0.0,
        card_expansion=curve.thermal_expansion if curve else 0.0,
        # Between a grid of constant factor and one of constant volume, and nobody knows where.
        curvature=float(rng.uniform(0.0, 1.0)) * factor / 2,
    )


@dataclass(frozen=True, slots=True)
class TrueLead:
    """Three wires of one cable at a reference temperature, and how unlike they warm [ohm, degC]."""

    wires: tuple[float, float, float]
    temperature_degc: float
    warming_share: tuple[float, float, float] = (1.0, 1.0, 1.0)

    @classmethod
    def laid(
        cls,
        resistance: Stated,
        temperature_degc: float,
        rng: np.random.Generator,
        *,
        spread: float = 0.0,
        warming_spread: float = 0.0,
    ) -> "TrueLead":
        """Cable of stated resistance a wire; ``spread`` [ohm] between its wires."""
        mean = drawn(resistance, rng)
        wires = mean + spread * rng.standard_normal(3)
        shares = 1.0 + warming_spread * rng.standard_normal(3)
        return cls(_three(wires), temperature_degc, _three(shares))

    def at(self, warmth: ArrayLike) -> FloatArray:
        """Resistance of wires A, B, C so many kelvin above the reference, shape (..., 3) [ohm]."""
        rise = np.asarray(warmth, dtype=np.float64)[..., None] * np.array(self.warming_share)
        at_twenty = 1 + _COPPER_PER_KELVIN * (self.temperature_degc - 20.0)
        return np.asarray(np.array(self.wires) * (1 + _COPPER_PER_KELVIN / at_twenty * rise))


def _three(values: Sequence[float] | FloatArray) -> tuple[float, float, float]:
    first, second, third = (float(value) for value in values)
    return first, second, third
