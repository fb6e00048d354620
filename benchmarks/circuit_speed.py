"""How many quarter-bridge circuits a second are solved, against one dense solve a circuit.

Baseline: the full system of node voltages and branch currents of the same circuits, assembled
and given to ``numpy.linalg.solve`` one circuit at a time. Rounds are interleaved; medians and
the spread of the rounds are printed. Run with ``python benchmarks/circuit_speed.py``.
"""

import statistics
import time

import numpy as np

from gaugewright.calc.circuit import Network, VoltageSource, solve, voltage_ratio

QUARTER = Network(
    (
        ("RD", "EP", "IB"),
        ("RHU", "EP", "M"),
        ("RHL", "M", "EN"),
        ("rA", "EN", "T1"),
        ("rB", "IB", "T2"),
        ("rC", "IC", "T2"),
        ("RG", "T2", "T1"),
        ("RIN", "IC", "M"),
    ),
    (VoltageSource("VX", "EP", "EN", 5.0),),
    "EN",
)


def drawn(count: int) -> np.ndarray:
    """Invented but ordinary resistances, one circuit a row [ohm]."""
    random = np.random.default_rng(1)
    middle = np.array([120.0, 1000.0, 1000.0, 1.0, 1.0, 1.0, 120.0, 1e9])
    return middle * random.uniform(0.99, 1.01, (count, middle.size))


def together(ohms: np.ndarray) -> np.ndarray:
    """Ratios by the package."""
    return voltage_ratio(solve(QUARTER, ohms), "IC", "M", "EP", "EN")


def one_by_one(ohms: np.ndarray) -> np.ndarray:
    """Ratios by a dense solve a circuit: 7 node voltages, 8 + 1 branch currents."""
    nodes = QUARTER.nodes
    at = {node: place for place, node in enumerate(nodes)}
    n, b = len(nodes), len(QUARTER.elements)
    ratios = np.empty(len(ohms))
    fixed = np.zeros((n + b + 1, n + b + 1))
    for k, (_, first, second) in enumerate(QUARTER.elements):
        fixed[at[first], n + k] = fixed[n + k, at[first]] = 1
        fixed[at[second], n + k] = fixed[n + k, at[second]] = -1
    fixed[at["EP"], -1] = fixed[-1, at["EP"]] = 1
    fixed[-1, at["EN"]] = -1
    fixed[at["EN"]] = 0
    fixed[at["EN"], at["EN"]] = 1
    right = np.zeros(n + b + 1)
    right[-1] = 5.0
    diagonal = np.arange(n, n + b)
    for row, values in enumerate(ohms):
        matrix = fixed.copy()
        matrix[diagonal, diagonal] = -values
        voltage = np.linalg.solve(matrix, right)
        ratios[row] = (voltage[at["IC"]] - voltage[at["M"]]) / (
            voltage[at["EP"]] - voltage[at["EN"]]
        )
    return ratios


def main() -> None:
    """Print both rates, their spread and their ratio."""
    many, few = drawn(300_000), drawn(3_000)
    difference = float(np.abs(together(few) - one_by_one(few)).max())
    rates: dict[str, list[float]] = {"together": [], "one by one": []}
    for _ in range(7):
        for name, function, ohms in (("together", together, many), ("one by one", one_by_one, few)):
            start = time.perf_counter()
            function(ohms)
            rates[name].append(len(ohms) / (time.perf_counter() - start))
    for name, found in rates.items():
        print(
            f"{name:>11}: median {statistics.median(found):12,.0f} circuits/s "
            f"({min(found):,.0f} to {max(found):,.0f} in {len(found)} rounds)"
        )
    ratio = statistics.median(rates["together"]) / statistics.median(rates["one by one"])
    print(f"ratio {ratio:.0f}; largest difference {difference:.1e} V/V")


if __name__ == "__main__":
    main()
