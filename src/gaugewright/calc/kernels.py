"""Loops over single samples, written once: run as they stand, or compiled where ``fast`` is there.

Every function here takes plain lists or arrays alike and writes its results into what it is
given, so the same lines run in Python and compiled. No state is kept between calls but what is
handed in.
"""

from collections.abc import Callable
from functools import cache
from typing import Any

from gaugewright.extras import needs

__all__ = ["compiled", "cyclic_stress", "rainflow", "turning_points"]


@cache
def compiled(function: Callable[..., Any]) -> Callable[..., Any]:
    """One of the functions below, compiled when first asked for.

    Parameters
    ----------
    function : callable
        Of this module.

    Returns
    -------
    callable
        Takes arrays only and gives the same numbers.

    Raises
    ------
    MissingExtraError
        If the extra ``fast`` isn't installed.
    """
    numba = needs("numba", extra="fast", to="run long records quickly")
    made: Callable[..., Any] = numba.njit(cache=True)(function)
    return made


def turning_points(values: Any, begin: int, gate: float, pending: Any, points: Any) -> int:
    """Where a signal turns, by more than a gate; see ``cycles.turning_points``.

    Parameters
    ----------
    values : sequence of float
        Samples; NaN is passed over.
    begin : int
        Number of the first sample in the whole record [1].
    gate : float
        A turn counts when the signal has come back by as much [1].
    pending : sequence of 5, changed
        Direction (1 up, -1 down, 0 unknown), highest and its place, lowest and its place.
    points : two sequences, changed
        Values and places of the turns found.

    Returns
    -------
    int
        How many were found [1].
    """
    found = 0
    at_values, at_places = points[0], points[1]
    direction = pending[0]
    high, high_at, low, low_at = pending[1], pending[2], pending[3], pending[4]
    for k in range(len(values)):
        v = values[k]
        if v != v:
            continue
        if direction >= 0 and v > high:
            high, high_at = v, float(begin + k)
        if direction <= 0 and v < low:
            low, low_at = v, float(begin + k)
        if direction == 0:
            if low < high and high - low >= gate:
                if high_at > low_at:
                    direction = 1.0
                    at_values[found], at_places[found] = low, low_at
                else:
                    direction = -1.0
                    at_values[found], at_places[found] = high, high_at
                found += 1
        elif direction > 0:
            if v < high and high - v >= gate:
                at_values[found], at_places[found] = high, high_at
                found += 1
                direction, low, low_at = -1.0, v, float(begin + k)
        elif v > low and v - low >= gate:
            at_values[found], at_places[found] = low, low_at
            found += 1
            direction, high, high_at = 1.0, v, float(begin + k)
    pending[0], pending[1], pending[2] = direction, high, high_at
    pending[3], pending[4] = low, low_at
    return found


def rainflow(points: Any, stack: Any, waiting: int, closed: bool, out: Any) -> tuple[int, int]:
    """Cycles closed by turning points as they come; see ``cycles.rainflow_cycles``.

    Parameters
    ----------
    points : two sequences of float
        Values and places of turning points.
    stack : two sequences, changed
        Turning points not yet in a closed cycle, long enough for all.
    waiting : int
        How many are on it at the start [1].
    closed : bool
        Whether the history repeats, beginning with its greatest value: no half cycles then.
    out : five sequences, changed
        First and second value, first and second place, and count of each cycle.

    Returns
    -------
    int, int
        How many cycles were found, and how many points are left on the stack [1].
    """
    values, places = points[0], points[1]
    kept, kept_at = stack[0], stack[1]
    first, second, first_at, second_at, counts = out[0], out[1], out[2], out[3], out[4]
    found = 0
    for k in range(len(values)):
        kept[waiting], kept_at[waiting] = values[k], places[k]
        waiting += 1
        while waiting >= 3:
            newest = abs(kept[waiting - 1] - kept[waiting - 2])
            before = abs(kept[waiting - 2] - kept[waiting - 3])
            if newest < before:
                break
            first[found], second[found] = kept[waiting - 3], kept[waiting - 2]
            first_at[found], second_at[found] = kept_at[waiting - 3], kept_at[waiting - 2]
            if waiting == 3 and not closed:
                # The range begins at the start of the history: half a cycle, and the start moves.
                counts[found] = 0.5
                kept[0], kept_at[0] = kept[1], kept_at[1]
                kept[1], kept_at[1] = kept[2], kept_at[2]
                waiting = 2
            else:
                counts[found] = 1.0
                kept[waiting - 3] = kept[waiting - 1]
                kept_at[waiting - 3] = kept_at[waiting - 1]
                waiting -= 2
            found += 1
    return found, waiting


def cyclic_stress(strain: Any, law: Any, gate: float, state: Any, stress: Any) -> None:
    """Stress of cyclically strained steel, sample by sample; see ``steel_cyclic``.

    Parameters
    ----------
    strain : sequence of rows, one row a sample, one column a channel
        Mechanical strain; NaN is passed over.
    law : ten rows, one column a channel
        In the order of ``steel_cyclic.CyclicSteel``.
    gate : float
        Strain that must come back before it is a reversal [1].
    state : nine rows, one column a channel, changed
        In the order of ``steel_cyclic.CyclicState``.
    stress : like ``strain``, changed
        Tension positive.
    """
    for k in range(len(strain)):
        for c in range(len(strain[k])):
            e = strain[k][c]
            if e != e:
                stress[k][c] = e
                continue
            modulus, share = law[0][c], law[2][c]
            yield_strain = law[1][c] / modulus
            sign, turn, at = state[0][c], state[1][c], state[2][c]
            if sign == 0.0 and e != 0.0:
                # Virgin steel sets out from rest for the yield point on its side.
                state[0][c] = sign = 1.0 if e > 0.0 else -1.0
                state[5][c], state[6][c] = yield_strain, yield_strain
                state[7][c], state[8][c] = -yield_strain, law[3][c]
            elif (turn - e) * sign > gate:
                if sign > 0.0:
                    state[6][c] = max(state[6][c], turn)
                    grown, span = law[6][c], law[7][c]
                else:
                    state[7][c] = min(state[7][c], turn)
                    grown, span = law[8][c], law[9][c]
                state[0][c] = sign = -sign
                width = (state[6][c] - state[7][c]) / (2.0 * span * yield_strain)
                raised = law[1][c] * (1.0 + grown * width**0.8)
                # Where the elastic line from the turn meets the line of hardening.
                goal = (sign * raised - (at - modulus * turn) / (1.0 - share)) / modulus
                state[3][c], state[4][c], state[5][c] = turn, at, abs(goal - turn)
                far = state[6][c] if sign > 0.0 else state[7][c]
                xi = abs(far - goal) / yield_strain
                state[8][c] = law[3][c] * (1.0 - law[4][c] * xi / (law[5][c] + xi))
            way, reach = e - state[3][c], state[5][c]
            less, more = min(abs(way), reach), max(abs(way), reach)
            power = state[8][c]
            bent = less / (1.0 + (less / more) ** power) ** (1.0 / power) if less > 0.0 else 0.0
            bent = bent if way >= 0.0 else -bent
            s = state[4][c] + modulus * (share * way + (1.0 - share) * bent)
            stress[k][c] = s
            if (e - turn) * sign >= 0.0:
                state[1][c], state[2][c] = e, s
