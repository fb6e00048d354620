"""What a channel should show when the calibration resistor goes in, and what its answer allows."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from gaugewright.calc import allowed, indication
from gaugewright.calc.shunt import (
    POSITIONS,
    QuarterCircuit,
    ShuntPosition,
    equivalent_strain,
    shunted_ratio,
)
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray

__all__ = [
    "GAUGE_SIDE",
    "ChannelScale",
    "ShuntReading",
    "expected_reading",
    "positions_that_explain",
    "shunt_factor",
    "step_bounds",
]

Shows = Literal["ratio", "strain, straight line", "strain, linearised"]
SHOWS: tuple[Shows, ...] = ("ratio", "strain, straight line", "strain, linearised")
# Positions that lower the output, as compression does; the others raise it.
GAUGE_SIDE: tuple[ShuntPosition, ...] = ("T1-T2", "A-C", "A-B")


@dataclass(frozen=True, slots=True)
class ChannelScale:
    """How a channel turns the output of a quarter bridge into the number it shows.

    Attributes
    ----------
    shows : str
        "ratio"; "strain, straight line" for 4r/(k B); "strain, linearised" for 4r/(k (1 - 2r)).
    set_gauge_factor : float
        Set in the instrument; plays no part where the ratio is shown [1].
    bridge_factor : float
        Number of active arms set in a straight-line instrument [1].
    gain : float
        Shown over true, 1 unless a certificate says otherwise [1].

    Raises
    ------
    InputError
        If a setting is impossible.
    Faults
        If several are.
    """

    shows: Shows = "ratio"
    set_gauge_factor: float = 2.0
    bridge_factor: float = 1.0
    gain: float = 1.0

    def __post_init__(self) -> None:
        with allowed.Together("channel scale") as given:
            names = "one of " + "; ".join(SHOWS)
            given.holds("shows", self.shows, names, if_=self.shows in SHOWS)
            given.positive("set_gauge_factor", self.set_gauge_factor)
            given.positive("bridge_factor", self.bridge_factor)
            given.positive("gain", self.gain)
            one = self.shows != "strain, linearised" or self.bridge_factor == 1
            given.holds(
                "bridge_factor",
                self.bridge_factor,
                "1 in an instrument that linearises a quarter bridge",
                if_=one,
            )

    def shown(self, bridge_ratio: ArrayLike) -> FloatArray:
        """Number shown for an output.

        Parameters
        ----------
        bridge_ratio : array of any shape
            Absolute [V/V].

        Returns
        -------
        reading : array shaped like ``bridge_ratio``
            Ratio or strain, as the channel shows [1].
        """
        seen = self.gain * np.asarray(bridge_ratio, dtype=np.float64)
        if self.shows == "ratio":
            return np.asarray(seen)
        if self.shows == "strain, straight line":
            return indication.linear_indication(seen, self.set_gauge_factor, self.bridge_factor)
        return indication.linearised_indication(seen, self.set_gauge_factor)


@dataclass(frozen=True, slots=True)
class ShuntReading:
    """What a channel should show before and with the resistor, as it stands, not zeroed.

    Attributes
    ----------
    before : array
        Without the resistor [1].
    with_shunt : array
        With it [1].
    step : array
        The difference, which a zeroed channel shows by itself [1].
    """

    before: FloatArray
    with_shunt: FloatArray

    @property
    def step(self) -> FloatArray:
        """With the resistor less without it [1]."""
        return np.asarray(self.with_shunt - self.before)


def expected_reading(
    circuit: QuarterCircuit,
    position: ShuntPosition,
    shunt_resistance: ArrayLike,
    scale: ChannelScale,
) -> ShuntReading:
    """Reading to expect from a resistor at a known place, exact with leads and initial offset.

    Parameters
    ----------
    circuit : QuarterCircuit
        As wired.
    position : str
        One of ``shunt.POSITIONS``.
    shunt_resistance : float or array
        Of the calibration resistor [ohm].
    scale : ChannelScale
        Of the channel as it is set.

    Returns
    -------
    ShuntReading
        In what the channel shows.

    Raises
    ------
    InputError
        If the position is unknown or the resistor impossible.

    Examples
    --------
    >>> circuit = QuarterCircuit(120.0, 120.0, 1.34, 1.34, 1.34)
    >>> scale = ChannelScale("strain, linearised", set_gauge_factor=2.0)
    >>> found = expected_reading(circuit, "T1-T2", 59880.0, scale)
    >>> (found.step * 1e6).round(1).item()
    -989.0
    """
    return ShuntReading(
        scale.shown(shunted_ratio(circuit)),
        scale.shown(shunted_ratio(circuit, position, shunt_resistance)),
    )


def step_bounds(
    circuit: QuarterCircuit,
    shunt_resistance: ArrayLike,
    scale: ChannelScale,
    positions: Iterable[ShuntPosition] = tuple(POSITIONS),
) -> tuple[FloatArray, FloatArray]:
    """Between which steps a resistor lies whose place nobody wrote down.

    Parameters
    ----------
    circuit : QuarterCircuit
        As wired.
    shunt_resistance : float or array
        Of the calibration resistor [ohm].
    scale : ChannelScale
        Of the channel as it is set.
    positions : iterable of str
        Those that can't be ruled out; all five when left out, ``GAUGE_SIDE`` for a step down.

    Returns
    -------
    lowest : array
        Smallest step, as the channel shows it [1].
    highest : array
        Largest step [1].

    Raises
    ------
    InputError
        If no position is left or one is unknown.
    """
    left = tuple(positions)
    if not left:
        raise InputError("positions", "empty", "at least one of " + ", ".join(POSITIONS))
    steps = np.stack(
        [expected_reading(circuit, place, shunt_resistance, scale).step for place in left]
    )
    return np.asarray(steps.min(axis=0)), np.asarray(steps.max(axis=0))


def positions_that_explain(
    circuit: QuarterCircuit,
    shunt_resistance: float,
    scale: ChannelScale,
    step: float,
    *,
    tolerance: float,
) -> tuple[ShuntPosition, ...]:
    """Places of the resistor whose step agrees with the one that was found.

    Parameters
    ----------
    circuit : QuarterCircuit
        As wired.
    shunt_resistance : float
        Of the calibration resistor [ohm].
    scale : ChannelScale
        Of the channel as it is set.
    step : float
        As the channel showed it [1].
    tolerance : float
        Of the comparison: what resistor, leads and instrument leave open, same unit [1].

    Returns
    -------
    tuple of str
        More than one where the readings can't tell the places apart; none where something else
        is wrong: gauge factor set, resistor, a leak, the wrong channel.

    Examples
    --------
    >>> circuit = QuarterCircuit(120.0, 120.0, 1.34, 1.34, 1.34)
    >>> scale = ChannelScale("strain, linearised", set_gauge_factor=2.0)
    >>> positions_that_explain(circuit, 59880.0, scale, -989e-6, tolerance=2e-6)
    ('T1-T2',)
    """
    found = []
    for place in POSITIONS:
        expected = expected_reading(circuit, place, shunt_resistance, scale).step.item()
        if abs(expected - step) <= tolerance:
            found.append(place)
    return tuple(found)


def shunt_factor(
    circuit: QuarterCircuit,
    position: ShuntPosition | None,
    shunt_resistance: ArrayLike,
    gauge_factor: ArrayLike,
    step: ArrayLike,
) -> FloatArray:
    """Factor of shunt scaling: strain the resistor stands for over the strain the channel showed.

    It holds lead loss, instrument gain and a wrongly set gauge factor together, and is therefore
    never used with any of these corrections.

    Parameters
    ----------
    circuit : QuarterCircuit
        As wired, the grid as it stood when the step was taken.
    position : str or None
        One of ``shunt.POSITIONS``; None where nobody knows it, which forbids scaling.
    shunt_resistance : float or array
        Of the calibration resistor [ohm].
    gauge_factor : float or array
        Of the gauge [1].
    step : float or array
        Strain shown for the resistor, freed of the bridge's nonlinearity [1].

    Returns
    -------
    shunt_factor : array of the broadcast shape
        About 1 + r/R for a resistor at the tabs of a three-wire gauge [1].

    Raises
    ------
    InputError
        If the position isn't known, or the step has the wrong sign or is missing.

    Examples
    --------
    >>> circuit = QuarterCircuit(120.0, 120.0, 1.2, 1.2, 1.2)
    >>> shunt_factor(circuit, "T1-T2", 59880.0, 2.0, -990.099e-6).round(4).item()
    1.01
    """
    if position is None:
        raise InputError(
            "position",
            "unknown",
            "known before a shunt may scale a reading",
            "find it with positions_that_explain, or switch shunt scaling off; step_bounds says "
            "between which steps the resistor can lie",
        )
    expected = equivalent_strain(circuit, position, shunt_resistance, gauge_factor)
    factor = np.asarray(expected / np.asarray(step, dtype=np.float64))
    return allowed.positive(
        "shunt_factor", factor, "look at the sign of the step and at the place of the resistor"
    )
