"""How many samples a second are counted into rainflow cycles, against the PyPI package rainflow.

All three take the same random walk, turns included, and must find the same count. Rounds are
interleaved; medians and the spread are printed. The first compiled call, which compiles or loads
what was compiled before, is left out of the rounds and printed apart.
Run with ``python benchmarks/cycles_speed.py [samples] [rounds]``.
"""

import statistics
import sys
import time
from collections.abc import Callable

import numpy as np
import rainflow

from gaugewright.calc import cycles


def theirs(signal: np.ndarray) -> float:
    """Count by the other package."""
    return sum(cycle[2] for cycle in rainflow.extract_cycles(signal))


def plain(signal: np.ndarray) -> float:
    """Count in Python."""
    return float(np.sum(cycles.rainflow_cycles(signal).counts))


def compiled(signal: np.ndarray) -> float:
    """Count with the extra ``fast``."""
    return float(np.sum(cycles.rainflow_cycles(signal, fast=True).counts))


def main() -> None:
    """Print the rates and the ratio."""
    samples, rounds = (
        int(sys.argv[n]) if len(sys.argv) > n else default
        for n, default in ((1, 3_000_000), (2, 7))
    )
    signal = np.cumsum(np.random.default_rng(1).normal(size=samples))
    few = signal[: max(samples // 20, 1000)]
    begun = time.perf_counter()
    compiled(few)
    print(f"first compiled call {time.perf_counter() - begun:.2f} s")
    if not theirs(few) == plain(few) == compiled(few):
        raise SystemExit("the three counts differ")
    ways: dict[str, tuple[Callable[[np.ndarray], float], np.ndarray]] = {
        "rainflow (PyPI)": (theirs, few),
        "ours, Python": (plain, few),
        "ours, compiled": (compiled, signal),
    }
    rates: dict[str, list[float]] = {name: [] for name in ways}
    for _ in range(rounds):
        for name, (way, record) in ways.items():
            begun = time.perf_counter()
            way(record)
            rates[name].append(len(record) / (time.perf_counter() - begun))
    for name, found in rates.items():
        print(
            f"{name:16s} median {statistics.median(found) / 1e6:7.2f} M samples/s "
            f"({min(found) / 1e6:.2f} to {max(found) / 1e6:.2f} in {len(found)} rounds)"
        )
    ratio = statistics.median(rates["ours, compiled"]) / statistics.median(rates["rainflow (PyPI)"])
    print(f"compiled over PyPI: {ratio:.0f} (aim: at least 20)")


if __name__ == "__main__":
    main()
