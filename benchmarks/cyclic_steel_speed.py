"""How many steps a second the cyclic steel law makes: Python, arrays over channels, compiled.

One channel: the compiled loop against the same loop run by Python on lists. 200 channels: the
compiled loop against the numpy twin that steps all channels at once. Strain wanders beyond yield
and turns at every few samples. Rounds are interleaved; medians and the spread are printed.
Run with ``python benchmarks/cyclic_steel_speed.py [rounds]``.
"""

import statistics
import sys
import time
from collections.abc import Callable

import numpy as np

from gaugewright.calc import kernels
from gaugewright.calc.steel_cyclic import CyclicSteel, cyclic_stress, cyclic_stress_fast

STEEL = CyclicSteel(200e9, 500e6, 0.01, 20.0, 0.925, 0.15, 0.02, 2.0, 0.02, 2.0)


def walk(samples: int, channels: int) -> np.ndarray:
    """Strain that wanders, smoothly enough to turn at every few samples."""
    steps = np.random.default_rng(1).normal(0, 1e-4, (samples, channels))
    return np.cumsum(steps + np.roll(steps, 1, axis=0) + np.roll(steps, 2, axis=0), axis=0)


def python(strain: np.ndarray) -> np.ndarray:
    """The loop as it stands, on lists."""
    channels = strain.shape[1]
    state = [[0.0] * channels for _ in range(9)]
    stress = [[0.0] * channels for _ in strain]
    kernels.cyclic_stress(strain.tolist(), STEEL.rows(channels).tolist(), 0.0, state, stress)
    return np.array(stress)


def arrays(strain: np.ndarray) -> np.ndarray:
    """All channels at once by numpy, step by step."""
    return cyclic_stress(strain, STEEL)[0]


def compiled(strain: np.ndarray) -> np.ndarray:
    """The loop with the extra ``fast``."""
    return cyclic_stress_fast(strain, STEEL)[0]


Way = Callable[[np.ndarray], np.ndarray]


def compared(title: str, ways: dict[str, tuple[Way, np.ndarray]], rounds: int, aim: str) -> None:
    """Print the rates of two ways and the ratio of the second to the first."""
    rates: dict[str, list[float]] = {name: [] for name in ways}
    for _ in range(rounds):
        for name, (way, strain) in ways.items():
            begun = time.perf_counter()
            way(strain)
            rates[name].append(strain.size / (time.perf_counter() - begun))
    print(title)
    for name, found in rates.items():
        print(
            f"  {name:9s} median {statistics.median(found) / 1e6:7.2f} M steps/s "
            f"({min(found) / 1e6:.2f} to {max(found) / 1e6:.2f} in {len(found)} rounds)"
        )
    first, second = (statistics.median(found) for found in rates.values())
    print(f"  ratio {second / first:.1f} (aim: at least {aim})")


def main() -> None:
    """Print both comparisons."""
    rounds = int(sys.argv[1]) if len(sys.argv) > 1 else 7
    short, long, wide = walk(20_000, 1), walk(1_000_000, 1), walk(5_000, 200)
    begun = time.perf_counter()
    compiled(short)
    print(f"first compiled call {time.perf_counter() - begun:.2f} s")
    apart = max(
        float(np.abs(compiled(short) - python(short)).max()),
        float(np.abs(compiled(wide) - arrays(wide)).max()),
    )
    print(f"largest difference between the ways {apart:.1e} Pa")
    one = {"Python": (python, short), "compiled": (compiled, long)}
    compared("one channel", one, rounds, "20")
    many = {"numpy": (arrays, wide), "compiled": (compiled, wide)}
    compared("200 channels", many, rounds, "1.5")


if __name__ == "__main__":
    main()
