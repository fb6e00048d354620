"""How long a point of moment-curvature and of steel strain against moment takes.

Baseline: the same curvatures by ``scipy.optimize.brentq`` on the same layers, one at a time.
Rounds are interleaved; medians and the spread of the rounds are printed. Run with
``python benchmarks/section_speed.py``.
"""

import statistics
import time

import numpy as np
from scipy.optimize import brentq

from gaugewright.calc import concrete, fibre_section, layers, steel

POINTS, ROUNDS = 100, 7
SECTION = fibre_section.FibreSection(
    layers.tee(1.0, 0.12, 0.3, 0.6),
    np.array([0.06, 0.5, 0.54]),
    np.array([400e-6, 900e-6, 900e-6]),
    lambda e: concrete.parabola_rectangle_stress(e, 30e6),
    lambda e: steel.bilinear_stress(e, 200e9, 500e6),
    crushing_strain=0.0035,
)
BENDING = np.linspace(1e-4, 0.03, POINTS)
MOMENTS = np.linspace(1e3, 400e3, POINTS)


def one_by_one() -> np.ndarray:
    """Top strains by a scalar solver."""
    found = np.empty(POINTS)
    for i, bend in enumerate(BENDING):
        found[i] = brentq(
            lambda top, bend=bend: float(SECTION.forces(top, bend)[0]),
            -bend * SECTION.concrete.height,
            0.0,
            xtol=1e-15,
        )
    return found


def together() -> np.ndarray:
    """Top strains by the package."""
    return fibre_section.moment_curvature(SECTION, BENDING).top_strain


def at_moments() -> np.ndarray:
    """Strain of the lowest bar at moments, by the package."""
    return fibre_section.states_at(SECTION, MOMENTS, 0.1).bar_strain[:, -1]


def main() -> None:
    """Print milliseconds a point."""
    np.testing.assert_allclose(together(), one_by_one(), rtol=1e-6)
    ways = {"one by one": one_by_one, "together": together, "at moments": at_moments}
    spent: dict[str, list[float]] = {name: [] for name in ways}
    for _ in range(ROUNDS):
        for name, way in ways.items():
            begin = time.perf_counter()
            way()
            spent[name].append((time.perf_counter() - begin) / POINTS * 1e3)
    for name, each in spent.items():
        print(
            f"{name:12s} {statistics.median(each):8.3f} ms a point"
            f" ({min(each):.3f} to {max(each):.3f})"
        )


if __name__ == "__main__":
    main()
