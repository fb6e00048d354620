"""Stress of steel strained to and fro beyond yield, along a record in time."""

from dataclasses import dataclass, fields

import numpy as np
import numpy.typing as npt
from numpy.typing import ArrayLike

from gaugewright.calc import allowed, kernels
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray

__all__ = ["CyclicState", "CyclicSteel", "cyclic_stress", "cyclic_stress_fast", "rows_of_state"]


@dataclass(frozen=True, slots=True)
class CyclicSteel:
    """Steel after Giuffrè, Menegotto and Pinto with isotropic hardening after Filippou.

    Every property may be one number or one for each channel. Recommended: R_0 from 10 to 20,
    c_R1 0.925, c_R2 0.15 (typical materials of an open structural program; what fits a heat is
    found from its own cyclic coupon).

    Parameters
    ----------
    elastic_modulus : float or array, shape (n_channels,)
        E, slope right after every reversal [Pa].
    yield_strength : float or array
        f_y, where the elastic line and the line of hardening meet on first loading [Pa].
    hardening_share : float or array
        b, slope of the line of hardening over E, below 1 [1].
    curvature_exponent : float or array
        R_0, sharpness of the knee on first loading [1].
    curvature_loss : float or array
        c_R1, how much of R_0 is lost after much plastic strain, below 1 [1].
    curvature_loss_half : float or array
        c_R2, plastic strain over yield strain at which half of that is lost [1].
    compression_growth : float or array
        a_1, growth of the yield line in compression; 0 for none [1].
    compression_growth_span : float or array
        a_2, its scale in yield strains [1].
    tension_growth : float or array
        a_3, growth of the yield line in tension; 0 for none [1].
    tension_growth_span : float or array
        a_4, its scale in yield strains [1].
    """

    elastic_modulus: ArrayLike
    yield_strength: ArrayLike
    hardening_share: ArrayLike
    curvature_exponent: ArrayLike = 20.0
    curvature_loss: ArrayLike = 0.925
    curvature_loss_half: ArrayLike = 0.15
    compression_growth: ArrayLike = 0.0
    compression_growth_span: ArrayLike = 1.0
    tension_growth: ArrayLike = 0.0
    tension_growth_span: ArrayLike = 1.0

    def __post_init__(self) -> None:
        with allowed.Together("steel strained to and fro") as given:
            for name in (
                "elastic_modulus",
                "yield_strength",
                "curvature_exponent",
                "curvature_loss_half",
                "compression_growth_span",
                "tension_growth_span",
            ):
                given.positive(name, getattr(self, name))
            for name in ("compression_growth", "tension_growth"):
                given.not_negative(name, getattr(self, name))
            for name in ("hardening_share", "curvature_loss"):
                share = given.not_negative(name, getattr(self, name))
                given.holds(name, np.max(share), "below 1", if_=not np.any(share >= 1))

    def rows(self, channels: int) -> FloatArray:
        """The ten properties, one row each and one column a channel.

        Parameters
        ----------
        channels : int
            How many [1].

        Returns
        -------
        array, shape (10, channels)
            Each in its own unit [1].

        Raises
        ------
        InputError
            If a property is given for another number of channels.
        """
        made = np.empty((len(fields(self)), channels))
        for row, field in zip(made, fields(self), strict=True):
            number = np.asarray(getattr(self, field.name), dtype=np.float64)
            if number.shape not in {(), (1,), (channels,)}:
                raise InputError(
                    field.name, f"of shape {number.shape}", f"one number or {channels}, one each"
                )
            row[:] = number
        return made


@dataclass(frozen=True, slots=True)
class CyclicState:
    """What the steel remembers at the end of a block of a record, one number a channel.

    Attributes
    ----------
    direction : array, shape (n_channels,)
        1 while strain rises, -1 while it falls, 0 before anything happened [1].
    turn_strain, turn_stress : array
        Farthest point since the last reversal [1], [Pa].
    reversal_strain, reversal_stress : array
        Where it last turned [1], [Pa].
    reach : array
        Strain from there to where the elastic line meets the line of hardening [1].
    highest, lowest : array
        Greatest and least strain at any reversal, yield strain at least [1].
    exponent : array
        Sharpness of the present knee [1].
    """

    direction: FloatArray
    turn_strain: FloatArray
    turn_stress: FloatArray
    reversal_strain: FloatArray
    reversal_stress: FloatArray
    reach: FloatArray
    highest: FloatArray
    lowest: FloatArray
    exponent: FloatArray


def cyclic_stress(
    strain: ArrayLike,
    steel: CyclicSteel,
    state: CyclicState | None = None,
    *,
    gate: float = 0.0,
) -> tuple[FloatArray, CyclicState]:
    """Stress along a record of many channels, however often they turn.

    From the last reversal (ε_r, σ_r) a curve leaves along the elastic line and bends into the line
    of hardening, which it would meet at the distance d: with w = ε - ε_r

        σ = σ_r + E [b w + (1 - b) w / (1 + |w/d|^R)^(1/R)],  R = R_0 (1 - c_R1 ξ / (c_R2 + ξ)),

    ξ being the distance of that meeting from the greatest (least) strain so far, in yield strains.
    The yield line grows by 1 + a (Δε / (2 a' ε_y))^0.8 with the range of strain Δε so far.
    Sources: Menegotto & Pinto, IABSE Symposium, Lisbon (1973); Filippou, Popov & Bertero,
    EERC 83-19 (1983), isotropic growth in the later form with the power 0.8 (all from memory; the
    form was checked against the printed history of an open structural program).

    The law knows no plateau, no creep and no rate. Any reversal, even an elastic one, grows the
    yield line where growth is asked for, and after a small one the curve passes above the one it
    left. Noise makes such reversals all the time: set ``gate`` to a few standard deviations of it.
    Until strain has come back by more than the gate the curve is followed backwards, so the
    stress is off by E times the gate at most.

    Parameters
    ----------
    strain : array, shape (n_samples,) or (n_samples, n_channels)
        Mechanical strain in order of time; a missing sample is NaN and is passed over [1].
    steel : CyclicSteel
        For all channels or for each.
    state : CyclicState, optional
        Of the block before; virgin steel when left out.
    gate : float
        Strain that must come back before it is a reversal [1].

    Returns
    -------
    stress : array shaped like ``strain``
        Tension positive; NaN where the sample is missing [Pa].
    CyclicState
        To be handed to the next block: cutting a record changes no digit [1].

    Raises
    ------
    InputError
        If the record has no time axis, a sample is infinite, or the channels don't fit.

    Examples
    --------
    >>> steel = CyclicSteel(200e9, 500e6, 0.01)
    >>> stress, _ = cyclic_stress([0.001, 0.02, 0.019, 0.0], steel)
    >>> (stress / 1e6).round(1).tolist()
    [200.0, 535.0, 339.8, -458.7]
    """
    value, law, rows = _prepared(strain, steel, state, gate)
    stress = np.empty_like(value)
    for k in range(len(value)):
        stress[k] = _step(value[k], law, gate, rows)
    return stress.reshape(np.shape(strain)), CyclicState(*rows)


def cyclic_stress_fast(
    strain: ArrayLike,
    steel: CyclicSteel,
    state: CyclicState | None = None,
    *,
    gate: float = 0.0,
) -> tuple[FloatArray, CyclicState]:
    """As ``cyclic_stress``, compiled; equal to it within rounding of the power function.

    Parameters
    ----------
    strain : array, shape (n_samples,) or (n_samples, n_channels)
        Mechanical strain in order of time [1].
    steel : CyclicSteel
        For all channels or for each.
    state : CyclicState, optional
        Of the block before.
    gate : float
        Strain that must come back before it is a reversal [1].

    Returns
    -------
    stress : array shaped like ``strain``
        Tension positive [Pa].
    CyclicState
        To be handed to the next block [1].

    Raises
    ------
    InputError
        As ``cyclic_stress``.
    MissingExtraError
        If the extra ``fast`` isn't installed.
    """
    value, law, rows = _prepared(strain, steel, state, gate)
    stress = np.empty_like(value)
    kernels.compiled(kernels.cyclic_stress)(value, law, float(gate), rows, stress)
    return stress.reshape(np.shape(strain)), CyclicState(*rows)


def _prepared(
    strain: ArrayLike, steel: CyclicSteel, state: CyclicState | None, gate: float
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Strain by sample and channel, properties by channel, and the state to go on from."""
    value = np.ascontiguousarray(strain, dtype=np.float64)
    if value.ndim not in {1, 2} or np.ndim(strain) == 0:
        raise InputError("strain", f"of {np.ndim(strain)} axes", "a record: time, then channel")
    if np.any(np.isinf(value)):
        raise InputError("strain", "infinite", "finite, or NaN where a sample is missing")
    allowed.not_negative("gate", gate)
    value = value.reshape(len(value), -1) if value.size else value.reshape(0, _width(value))
    channels = value.shape[1]
    return value, steel.rows(channels), rows_of_state(state, channels, "strain")


def rows_of_state(state: CyclicState | None, channels: int, beside: str) -> FloatArray:
    """What the steel remembers as rows that a loop over samples may change: a copy.

    Parameters
    ----------
    state : CyclicState, optional
        From the block before; None at the beginning of a record.
    channels : int
        Of the record [1].
    beside : str
        What the record is of, for the refusal.

    Returns
    -------
    array, shape (n_fields, n_channels)
        In the order and units of ``CyclicState``; zeros before anything has happened [1].

    Raises
    ------
    InputError
        If the state is of another number of channels.
    """
    rows = np.zeros((len(fields(CyclicState)), channels))
    if state is None:
        return rows
    for row, field in zip(rows, fields(state), strict=True):
        kept = getattr(state, field.name)
        if kept.shape != (channels,):
            raise InputError("state", f"of {kept.size} channels", f"of {channels}, as {beside}")
        row[:] = kept
    return rows


def _width(value: FloatArray) -> int:
    return int(value.shape[1]) if value.ndim == 2 else 1


def _step(e: FloatArray, law: FloatArray, gate: float, state: FloatArray) -> FloatArray:
    """Stress of all channels at one instant; ``state`` moves on."""
    direction, turn, turn_stress, left, left_stress, reach, _, _, exponent = state
    begins = (direction == 0) & (np.abs(e) > 0)
    turns = (direction != 0) & ((turn - e) * direction > gate)
    if begins.any():
        at = np.flatnonzero(begins)
        yield_strain = law[1, at] / law[0, at]
        state[0, at] = np.where(e[at] > 0, 1.0, -1.0)
        state[5:, at] = yield_strain, yield_strain, -yield_strain, law[3, at]
    if turns.any():
        _turn(np.flatnonzero(turns), law, state)
    way = e - left
    size = np.abs(way)
    less, more = np.minimum(size, reach), np.maximum(size, reach)
    ratio = np.divide(less, more, out=np.zeros_like(less), where=less > 0)
    bent = np.copysign(less / (1 + ratio**exponent) ** (1 / np.where(exponent, exponent, 1)), way)
    stress = np.asarray(left_stress + law[0] * (law[2] * way + (1 - law[2]) * bent))
    onward = (e - turn) * direction >= 0
    np.copyto(turn, e, where=onward)
    np.copyto(turn_stress, stress, where=onward)
    return stress


def _turn(at: npt.NDArray[np.intp], law: FloatArray, state: FloatArray) -> None:
    """Channels ``at`` reverse at their turns."""
    modulus, strength, share, sharp, loss, half, grow_c, span_c, grow_t, span_t = law[:, at]
    direction, turn, turn_stress, _, _, _, highest, lowest, _ = state[:, at]
    falls = direction > 0
    highest = np.where(falls, np.maximum(highest, turn), highest)
    lowest = np.where(falls, lowest, np.minimum(lowest, turn))
    yield_strain = strength / modulus
    width = (highest - lowest) / (2 * np.where(falls, span_c, span_t) * yield_strain)
    raised = strength * (1 + np.where(falls, grow_c, grow_t) * width**0.8)
    goal = (-direction * raised - (turn_stress - modulus * turn) / (1 - share)) / modulus
    xi = np.abs(np.where(falls, lowest, highest) - goal) / yield_strain
    exponent = sharp * (1 - loss * xi / (half + xi))
    reach = np.abs(goal - turn)
    state[:, at] = (
        -direction,
        turn,
        turn_stress,
        turn,
        turn_stress,
        reach,
        highest,
        lowest,
        exponent,
    )
