"""How much longer a declared chain takes than the same arithmetic written by hand.

Baseline: the reduction of one gauge as a person would write it, whole arrays in one pass of
numpy expressions, without checks, names or blocks. Rounds are interleaved; medians and the
spread of the rounds are printed, for 10 million rows of one gauge and 1 million of fifty. Then
a budget of one sample and a Monte Carlo run of 1 million trials, each in seconds. Run with
``python benchmarks/chain_speed.py``, or with ``--small`` for a hundredth of the rows.
"""

import statistics
import sys
import time
from collections.abc import Callable

import numpy as np

from gaugewright.calc.chain import Chain, Influence, Stage
from gaugewright.calc.monte_carlo import monte_carlo
from gaugewright.calc.uncertainty import InputQuantity

INPUTS = (
    InputQuantity("gain", 0.001),
    InputQuantity("gauge factor, lot", 0.008, distribution="rectangular"),
    InputQuantity("gauge factor, own", 0.003),
    InputQuantity("lead", 0.1),
    InputQuantity("technique", 0.015),
    InputQuantity("thermometer", 0.3),
)
INFLUENCES = (
    Influence("gain", "gain"),
    Influence("gauge_factor", "gauge factor, lot"),
    Influence("gauge_factor", "gauge factor, own"),
    Influence("lead_resistance", "lead"),
    Influence("installation_factor", "technique"),
    Influence("temperature_degc", "thermometer"),
    Influence("temperature_zero_degc", "thermometer"),
)
CHAIN = Chain.of(
    (
        Stage.of("reading in strain, linear instrument@1", set_gauge_factor=2.0, gain=1.0),
        Stage.of("quarter bridge@1"),
        Stage.of("reference zero@1", arm_change_zero=0.0012),
        Stage.of("lead loss, three wires@1", gauge_resistance=119.8, lead_resistance=1.35),
        Stage.of(
            "gauge factor@1",
            gauge_factor=2.12,
            gauge_factor_slope=1e-4,
            reference_temperature_degc=24.0,
        ),
        Stage.of("large strain, not declared@1", strain_limit=0.01),
        Stage.of("installation@1", installation_factor=1.0),
        Stage.of("alignment@1", poisson_ratio=0.3, mean_squared_sine=0.0012),
        Stage.of(
            "thermal output@1",
            c0=-30e-6,
            c1=2e-6,
            c2=-5e-8,
            c3=2e-10,
            c4=0.0,
            card_gauge_factor=2.0,
            gauge_factor=2.12,
            thermal_expansion=11.5e-6,
            card_thermal_expansion=11e-6,
            slope_error=0.0,
            temperature_zero_degc=22.0,
            span_low_degc=0.0,
            span_high_degc=80.0,
        ),
        Stage.of("flat to bar@1", net_area=189e-6, area=201e-6),
    ),
    INPUTS,
    INFLUENCES,
)


def by_hand(reading: np.ndarray, temperature: np.ndarray) -> np.ndarray:
    """The same stages as whole-array expressions, the same NaN where the chain has one."""
    ratio = reading * (2.0 / 4)
    ratio = np.where(np.abs(ratio) < 0.5, ratio, np.nan)
    arm = 4 * ratio / (1 - 2 * ratio)
    arm = (arm - 0.0012) / 1.0012
    grid = arm * ((119.8 + 1.35) / 119.8)
    strain = grid / (2.12 * (1 + 1e-4 * (temperature - 24.0)))
    strain = np.where(np.abs(strain) <= 0.01, strain, np.nan)
    strain = strain / (1 - 1.3 * 0.0012)
    inside = (temperature >= 0.0) & (temperature <= 80.0)
    now = np.where(inside, temperature, np.nan)
    curve = ((2e-10 * now - 5e-8) * now + 2e-6) * now
    zero = ((2e-10 * 22.0 - 5e-8) * 22.0 + 2e-6) * 22.0
    strain = strain - ((curve - zero) * (2.0 / 2.12) + 0.5e-6 * (now - 22.0))
    strain = strain * (189 / 201)
    return np.where(np.isfinite(strain), strain, np.nan)


def timed(function: Callable[[], object]) -> float:
    """Seconds that one call takes."""
    start = time.perf_counter()
    function()
    return time.perf_counter() - start


def shown(name: str, found: list[float]) -> str:
    """Median and spread of some rounds."""
    return (
        f"{name:>10}: median {statistics.median(found):8.3f} s "
        f"({min(found):.3f} to {max(found):.3f} in {len(found)} rounds)"
    )


def compared(rows: int, gauges: int, rounds: int) -> None:
    """Print both times of one size, their ratio and the largest difference of the results."""
    random = np.random.default_rng(1)
    reading = random.normal(0.0, 800e-6, (rows, gauges))
    temperature = random.uniform(15.0, 35.0, (rows, gauges))
    columns = {"temperature_degc": temperature}
    times: dict[str, list[float]] = {"chain": [], "by hand": []}
    for _ in range(rounds):
        times["chain"].append(timed(lambda: CHAIN.strain(reading, columns)))
        times["by hand"].append(timed(lambda: by_hand(reading, temperature)))
    few = slice(0, 10_000)
    part = CHAIN.strain(reading[few], {"temperature_degc": temperature[few]})
    apart = float(np.nanmax(np.abs(part - by_hand(reading[few], temperature[few]))))
    print(f"{rows:,} rows of {gauges}")
    for name, found in times.items():
        print(shown(name, found))
    ratio = statistics.median(times["chain"]) / statistics.median(times["by hand"])
    print(f"  ratio {ratio:.2f}, aim no more than 3; largest difference {apart:.1e}")


def one_sample(rounds: int) -> None:
    """Print how long a budget and a Monte Carlo run of one sample take."""
    column = {"temperature_degc": 31.0}
    budgets = [
        timed(lambda: CHAIN.uncertain(np.array(1500e-6), column).budget()) for _ in range(rounds)
    ]
    print(shown("budget", budgets))

    def million() -> object:
        # Without the adaptive stop: 1 million draws of each cause, through all stages.
        random = np.random.default_rng(1)
        drawn = {q.name: q.standard_uncertainty * random.standard_normal(1_000_000) for q in INPUTS}
        return CHAIN.disturbed(np.array([1500e-6]), column, drawn)

    print(shown("1e6 trials", [timed(million) for _ in range(rounds)]))

    def settled() -> object:
        return monte_carlo(
            lambda drawn: CHAIN.disturbed(np.array([1500e-6]), column, drawn),
            INPUTS,
            np.random.default_rng(1),
            digits=2,
        )

    print(shown("settled", [timed(settled) for _ in range(min(rounds, 3))]))


def main() -> None:
    """Print all of it."""
    share = 100 if "--small" in sys.argv else 1
    compared(10_000_000 // share, 1, 5)
    compared(1_000_000 // share, 50, 3)
    one_sample(5)


if __name__ == "__main__":
    main()
