"""Strain that a stress needs in steel strained to and fro: the cyclic law the other way round."""

import numpy as np
import numpy.typing as npt
from numpy.typing import ArrayLike

from gaugewright.calc import allowed
from gaugewright.calc.steel_cyclic import CyclicState, CyclicSteel, rows_of_state
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray

__all__ = ["cyclic_strain"]

_TRIES = 200


def cyclic_strain(
    stress: ArrayLike,
    steel: CyclicSteel,
    state: CyclicState | None = None,
    *,
    gate: float = 0.0,
) -> tuple[FloatArray, CyclicState]:
    """Strain along a record of stress: what ``steel_cyclic.cyclic_stress`` would turn into it.

    From any state stress rises with strain, so each sample has one strain. Between two reversals
    σ = σ_r + E [b w + (1 - b) w / (1 + |w/d|^R)^(1/R)] is solved for w by Newton's method; the
    curve is hollow below, so starting from the two straight lines it lies under, it comes nearer
    from one side only and ends within rounding. Where the strain of the branch has come back by
    more than ``gate`` the steel turns, as in the law; with a gate, stress near a reversal is met
    to within E times the gate.

    Parameters
    ----------
    stress : array, shape (n_samples,) or (n_samples, n_channels)
        In order of time; a missing sample is NaN and is passed over [Pa].
    steel : CyclicSteel
        For all channels or for each.
    state : CyclicState, optional
        Of the block before; virgin steel when left out.
    gate : float
        Strain that must come back before it is a reversal [1].

    Returns
    -------
    strain : array shaped like ``stress``
        NaN where the sample is missing, or where no strain gives the stress: hardening share
        zero and a stress at or above the yield line [1].
    CyclicState
        To be handed to the next block: cutting a record changes no digit [1].

    Raises
    ------
    InputError
        If the record has no time axis, a sample is infinite, or the channels don't fit.

    Examples
    --------
    >>> steel = CyclicSteel(200e9, 500e6, 0.01)
    >>> strain, _ = cyclic_strain([200e6, 535e6, 339.8e6], steel)
    >>> strain.round(5).tolist()
    [0.001, 0.02, 0.019]
    """
    value = np.asarray(stress, dtype=np.float64)
    if value.ndim not in {1, 2}:
        raise InputError("stress", f"of {value.ndim} axes", "a record: time, then channel")
    if np.any(np.isinf(value)):
        raise InputError("stress", "infinite", "finite, or NaN where a sample is missing")
    allowed.not_negative("gate", gate)
    columns = value if value.ndim == 2 else value[:, np.newaxis]
    law = steel.rows(columns.shape[1])
    rows = rows_of_state(state, columns.shape[1], "stress")
    strain = np.empty_like(columns)
    for k in range(len(columns)):
        for c in range(columns.shape[1]):
            strain[k, c] = _sample(float(columns[k, c]), law[:, c], rows[:, c], gate)
    return strain.reshape(value.shape), CyclicState(*rows)


def _sample(
    s: float, law: npt.NDArray[np.float64], state: npt.NDArray[np.float64], gate: float
) -> float:
    """Strain of one channel at one instant; ``state`` moves on."""
    if s != s:
        return s
    if state[0] == 0.0:
        if s == 0.0:
            return 0.0
        _begin(1.0 if s > 0.0 else -1.0, law, state)
    e = _on_branch(s, law, state)
    if (state[1] - e) * state[0] > gate:
        turned = state.copy()
        _turned(law, turned)
        after = _on_branch(s, law, turned)
        # Right after a turn the new branch is the stiffer one: its strain must have come back too.
        if (state[1] - after) * state[0] > gate or after != after:
            state[:] = turned
            e = after
    if (e - state[1]) * state[0] >= 0.0:
        state[1], state[2] = e, s
    return e


def _begin(sign: float, law: npt.NDArray[np.float64], state: npt.NDArray[np.float64]) -> None:
    """Virgin steel sets out from rest for the yield point on its side."""
    reach = law[1] / law[0]
    state[0] = sign
    state[5:] = reach, reach, -reach, law[3]


def _turned(law: npt.NDArray[np.float64], state: npt.NDArray[np.float64]) -> None:
    """Reverse at the farthest point, as the law does."""
    modulus, strength, share = law[:3]
    yield_strain = strength / modulus
    sign, turn, at = state[:3]
    if sign > 0.0:
        state[6] = max(state[6], turn)
        grown, span = law[6:8]
    else:
        state[7] = min(state[7], turn)
        grown, span = law[8:10]
    width = (state[6] - state[7]) / (2.0 * span * yield_strain)
    raised = strength * (1.0 + grown * width**0.8)
    goal = (-sign * raised - (at - modulus * turn) / (1.0 - share)) / modulus
    far = state[6] if sign < 0.0 else state[7]
    xi = abs(far - goal) / yield_strain
    state[0] = -sign
    state[3:6] = turn, at, abs(goal - turn)
    state[8] = law[3] * (1.0 - law[4] * xi / (law[5] + xi))


def _on_branch(s: float, law: npt.NDArray[np.float64], state: npt.NDArray[np.float64]) -> float:
    """Strain at which the present branch, or its mirror behind the reversal, has the stress."""
    modulus, share = float(law[0]), float(law[2])
    left, left_stress, reach, power = (float(state[n]) for n in (3, 4, 5, 8))
    change = (s - left_stress) / modulus
    goal = abs(change)
    if goal == 0.0:
        return left
    if share == 0.0 and goal >= reach:
        return np.nan
    w = goal if share == 0.0 else max(goal, (goal - (1.0 - share) * reach) / share)
    for _ in range(_TRIES):
        less, more = min(w, reach), max(w, reach)
        root = (1.0 + (less / more) ** power) ** (1.0 / power)
        bent = less / root
        # Derivative of w / (1 + (w/d)^R)^(1/R) is (bent / w)^(R + 1).
        slope = share + (1.0 - share) * (bent / w) ** (power + 1.0)
        step = (goal - share * w - (1.0 - share) * bent) / slope
        w += step
        if abs(step) <= 1e-15 * w:
            break
    return left + (w if change > 0.0 else -w)
