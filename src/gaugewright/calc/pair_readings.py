"""What meter readings between the wires of a gauge tell, how well, and what they never tell apart.

Every reading is a sum of wires and one grid or bridge, so the unknowns follow by least squares;
a reading beyond the meter (``open``, ``> 2000 MΩ``) is a lower bound and stays one.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from scipy.optimize import linprog

from gaugewright.calc.uncertainty import InputQuantity, Uncertain, combination
from gaugewright.errors import InputError, InputFaults
from gaugewright.quantities import FloatArray

__all__ = [
    "WIRINGS",
    "Beyond",
    "PairSolution",
    "Wiring",
    "gauge_resistance",
    "lead_alike",
    "solved_pairs",
]

# Two of the root of 3 standard deviations hold every rectangular error, and 99.9 % of normal ones.
_WIDE = 2 * float(np.sqrt(3))


@dataclass(frozen=True, slots=True)
class Beyond:
    """A reading that the meter could only call larger than ``limit`` [ohm]."""

    limit: float

    def __post_init__(self) -> None:
        if not 0 < self.limit < np.inf:
            raise InputError(
                "limit", self.limit, "a positive number", "give the end of the meter's range"
            )


@dataclass(frozen=True, slots=True)
class Wiring:
    """What a reading between two wires adds up to.

    Attributes
    ----------
    unknowns : tuple of str
        Resistances that are looked for, none of them negative.
    pairs : mapping of pair to tuple of str
        The unknowns in series between two wires, one named as often as it lies there.
    never_apart : str
        In words: what no reading between these wires can separate.
    """

    unknowns: tuple[str, ...]
    pairs: Mapping[str, tuple[str, ...]]
    never_apart: str


WIRINGS: dict[str, Wiring] = {
    "two leads": Wiring(
        ("gauge_resistance", "lead_a", "lead_b"),
        {"A-B": ("gauge_resistance", "lead_a", "lead_b")},
        "grid and both leads: one reading gives their sum and nothing else",
    ),
    "three leads": Wiring(
        ("gauge_resistance", "lead_a", "lead_b", "lead_c"),
        {
            "A-B": ("gauge_resistance", "lead_a", "lead_b"),
            "A-C": ("gauge_resistance", "lead_a", "lead_c"),
            "B-C": ("lead_b", "lead_c"),
        },
        "grid and lead A, which is alone on its tab; a joint on that tab counts as lead A",
    ),
    "four leads": Wiring(
        ("gauge_resistance", "lead_a", "lead_d", "lead_b", "lead_c"),
        {
            "A-B": ("gauge_resistance", "lead_a", "lead_b"),
            "A-C": ("gauge_resistance", "lead_a", "lead_c"),
            "D-B": ("gauge_resistance", "lead_d", "lead_b"),
            "D-C": ("gauge_resistance", "lead_d", "lead_c"),
            "A-D": ("lead_a", "lead_d"),
            "B-C": ("lead_b", "lead_c"),
        },
        "grid and the joint between a tab and the point where its two leads meet",
    ),
    "six leads": Wiring(
        (
            *("bridge_resistance", "supply_plus", "sense_plus", "supply_minus", "sense_minus"),
            *("signal_resistance", "signal_plus", "signal_minus"),
        ),
        {
            "P-N": ("bridge_resistance", "supply_plus", "supply_minus"),
            "P-KN": ("bridge_resistance", "supply_plus", "sense_minus"),
            "KP-N": ("bridge_resistance", "sense_plus", "supply_minus"),
            "KP-KN": ("bridge_resistance", "sense_plus", "sense_minus"),
            "P-KP": ("supply_plus", "sense_plus"),
            "N-KN": ("supply_minus", "sense_minus"),
            "SP-SN": ("signal_resistance", "signal_plus", "signal_minus"),
        },
        "the bridge between its signal corners and the two signal wires, unless four equal arms "
        "may be assumed",
    ),
    # Between supply corners and between signal corners four equal arms R are R, between
    # neighbouring corners R beside 3R, 3R/4. An arm off by a thousandth of 350 ohm moves each
    # signal wire by a tenth of an ohm or more: look at the residuals.
    "six leads, equal arms": Wiring(
        (
            *("quarter_of_arm", "supply_plus", "sense_plus", "supply_minus", "sense_minus"),
            *("signal_plus", "signal_minus"),
        ),
        {
            "P-N": (*["quarter_of_arm"] * 4, "supply_plus", "supply_minus"),
            "P-KN": (*["quarter_of_arm"] * 4, "supply_plus", "sense_minus"),
            "KP-N": (*["quarter_of_arm"] * 4, "sense_plus", "supply_minus"),
            "KP-KN": (*["quarter_of_arm"] * 4, "sense_plus", "sense_minus"),
            "P-KP": ("supply_plus", "sense_plus"),
            "N-KN": ("supply_minus", "sense_minus"),
            "SP-SN": (*["quarter_of_arm"] * 4, "signal_plus", "signal_minus"),
            "P-SP": (*["quarter_of_arm"] * 3, "supply_plus", "signal_plus"),
            "P-SN": (*["quarter_of_arm"] * 3, "supply_plus", "signal_minus"),
            "N-SP": (*["quarter_of_arm"] * 3, "supply_minus", "signal_plus"),
            "N-SN": (*["quarter_of_arm"] * 3, "supply_minus", "signal_minus"),
        },
        "wires from the joints where they meet the bridge, and arms from each other",
    ),
}


@dataclass(frozen=True, slots=True, eq=False)
class PairSolution:
    """Resistances behind readings between wires.

    Attributes
    ----------
    parts : mapping of name to Uncertain
        Unknowns that the readings determine, with all that the readings owed to their causes.
    sums : mapping of names to Uncertain
        Sums that are determined although their parts are not, such as grid and lead A.
    bounds : mapping of name to (float, float)
        Between which each unknown lies, from readings and bounds, none being negative [ohm].
    residuals : mapping of pair to float
        Reading less what the solution says; all zero without a reading too many [ohm].
    never_apart : str
        What no reading between these wires can separate.
    """

    parts: Mapping[str, Uncertain]
    sums: Mapping[tuple[str, ...], Uncertain]
    bounds: Mapping[str, tuple[float, float]]
    residuals: Mapping[str, float]
    never_apart: str


def solved_pairs(wiring: str, readings: Mapping[str, Uncertain | Beyond]) -> PairSolution:
    """Leads, and grid or bridge, from readings between wires, instrument unplugged.

    Zero the meter (short its probes) first; its gain and its zero are shared by all readings and
    stay so when the readings name them. A pair that nobody read is left out.

    Parameters
    ----------
    wiring : str
        One of ``WIRINGS``.
    readings : mapping of pair to Uncertain or Beyond
        One number each [ohm].

    Returns
    -------
    PairSolution
        A lead below zero within its uncertainty is as good as zero.

    Raises
    ------
    InputError
        If wiring or pair is unknown, nothing was read, or the readings contradict each other.
    Faults
        If several readings can't be used.

    Examples
    --------
    >>> digit = 0.1 / 12**0.5
    >>> read = {
    ...     pair: Uncertain.from_input(ohm, InputQuantity(pair, digit))
    ...     for pair, ohm in (("A-B", 122.7), ("A-C", 122.7), ("B-C", 2.7))
    ... }
    >>> found = solved_pairs("three leads", read)
    >>> lead = found.parts["lead_b"]
    >>> lead.value.round(2).item(), lead.standard_uncertainty().round(3).item()
    (1.35, 0.025)
    """
    if wiring not in WIRINGS:
        raise InputError("wiring", wiring, "one of " + ", ".join(WIRINGS))
    plan = WIRINGS[wiring]
    _refuse_bad(plan, readings)
    measured = {p: r for p, r in readings.items() if isinstance(r, Uncertain)}
    design = _design(plan, tuple(measured))
    inverse = np.linalg.pinv(design) if measured else np.zeros((len(plan.unknowns), 0))
    told = np.isclose(np.diag(inverse @ design), 1.0) if measured else np.zeros(0, dtype=bool)
    parts = {
        name: _weighed(inverse[row], tuple(measured.values()))
        for row, name in enumerate(plan.unknowns)
        if measured and told[row]
    }
    values = np.array([reading.value.item() for reading in measured.values()])
    fitted = design @ (inverse @ values)
    return PairSolution(
        parts,
        _sums(plan, parts, design, tuple(measured.values())),
        _bounds(plan, readings),
        dict(zip(measured, (values - fitted).tolist(), strict=True)),
        plan.never_apart,
    )


def gauge_resistance(solution: PairSolution, lead_a: Uncertain) -> Uncertain:
    """Grid of a three-lead gauge once lead A is known, or said to be like another lead.

    Parameters
    ----------
    solution : PairSolution
        Of three leads.
    lead_a : Uncertain
        From a record, or from ``lead_alike`` [ohm].

    Returns
    -------
    Uncertain
        Grid with its joints [ohm].

    Raises
    ------
    InputError
        If the readings don't give grid and lead A together.
    """
    together = solution.sums.get(("gauge_resistance", "lead_a"))
    if together is None:
        raise InputError(
            "readings", "incomplete", "A-B, A-C and B-C with a number each", "read all three"
        )
    return together - lead_a


def lead_alike(solution: PairSolution, spread: float, name: str) -> Uncertain:
    """Lead A taken to be like the mean of B and C: an assumption with a cause of its own.

    Parameters
    ----------
    solution : PairSolution
        Of three leads.
    spread : float
        Standard deviation of one lead from its neighbours: length tolerance times resistance
        per length, or what leads of this reel have shown [ohm].
    name : str
        Of the cause, such as ``lead alike@`` with the gauge's uid.

    Returns
    -------
    Uncertain
        With a cause whose basis is ``assumed`` [ohm].

    Raises
    ------
    InputError
        If the readings don't give leads B and C.
    """
    if not {"lead_b", "lead_c"} <= solution.parts.keys():
        raise InputError("readings", "incomplete", "A-B, A-C and B-C with a number each")
    cause = InputQuantity(name, spread, basis="assumed", meaning="lead A is like B and C")
    mean = (solution.parts["lead_b"] + solution.parts["lead_c"]) / 2
    return mean + Uncertain.from_input(0.0, cause)


def _refuse_bad(plan: Wiring, readings: Mapping[str, Uncertain | Beyond]) -> None:
    found = [
        InputError("pair", pair, "one of " + ", ".join(plan.pairs))
        for pair in readings
        if pair not in plan.pairs
    ]
    for pair, reading in readings.items():
        if isinstance(reading, Uncertain):
            if reading.value.size != 1:
                found.append(InputError(pair, reading.value.shape, "one number"))
            elif not np.isfinite(reading.value.item()) or reading.value.item() < 0:
                say = "give an open pair as Beyond the meter's range"
                found.append(InputError(pair, reading.value.item(), "0 or more, finite", say))
            if np.any(reading.noise):
                say = "one reading enters several results, which must know that they share it"
                found.append(InputError(pair, "noisy", "uncertain by named causes", say))
    if not readings:
        found.append(InputError("readings", "empty", "one pair at least"))
    if len(found) == 1:
        raise found[0]
    if found:
        raise InputFaults("readings between wires", found)


def _design(plan: Wiring, pairs: tuple[str, ...]) -> FloatArray:
    rows = [[float(plan.pairs[pair].count(name)) for name in plan.unknowns] for pair in pairs]
    return np.array(rows).reshape(len(pairs), len(plan.unknowns))


def _weighed(weights: FloatArray, readings: tuple[Uncertain, ...]) -> Uncertain:
    values = np.array([reading.value.item() for reading in readings])
    total = np.asarray(weights @ values)
    return combination(
        total, [(reading[()], weight) for reading, weight in zip(readings, weights, strict=True)]
    )


def _sums(
    plan: Wiring,
    parts: Mapping[str, Uncertain],
    design: FloatArray,
    readings: tuple[Uncertain, ...],
) -> dict[tuple[str, ...], Uncertain]:
    """Sums along the pairs that the readings determine, less the leads that are determined."""
    found: dict[tuple[str, ...], Uncertain] = {}
    for names in plan.pairs.values():
        rest = tuple(name for name in names if name not in parts)
        if len(rest) < 2 or not readings:
            continue
        wanted = np.array([float(rest.count(name)) for name in plan.unknowns])
        weights = wanted @ np.linalg.pinv(design)
        if np.allclose(weights @ design, wanted):
            found[rest] = _weighed(weights, readings)
    return found


def _bounds(
    plan: Wiring, readings: Mapping[str, Uncertain | Beyond]
) -> dict[str, tuple[float, float]]:
    """Least and largest value of each unknown that no reading excludes, by linear programming."""
    rows, limits = [], []
    for pair, reading in readings.items():
        row = _design(plan, (pair,))[0]
        if isinstance(reading, Beyond):
            rows.append(-row)
            limits.append(-reading.limit)
            continue
        wide = _WIDE * reading.standard_uncertainty().item() + 1e-9 * reading.value.item()
        rows += [row, -row]
        limits += [reading.value.item() + wide, wide - reading.value.item()]
    found: dict[str, tuple[float, float]] = {}
    for place, name in enumerate(plan.unknowns):
        aim = np.eye(len(plan.unknowns))[place]
        ends = [linprog(side * aim, A_ub=np.array(rows), b_ub=np.array(limits)) for side in (1, -1)]
        if any(end.status == 2 for end in ends):
            raise InputError(
                "readings",
                ", ".join(readings),
                "possible together",
                "read again, look whether the wires are the ones they are taken for",
            )
        # Without an upper end the programme runs off: the unknown may be open.
        low, high = (
            np.inf if end.fun is None or end.status != 0 else abs(float(end.fun)) for end in ends
        )
        found[name] = (low, high)
    return found
