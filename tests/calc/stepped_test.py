"""A stepped test made up sample by sample for tests: nothing of the package is used to make it."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Stepped:
    """Time, load and the true times and levels of every hold."""

    time: Array
    load: Array
    holds: tuple[tuple[float, float, float], ...]


def stepped(
    levels: list[float],
    *,
    ramp: float = 30.0,
    hold: float = 60.0,
    rate: float = 10.0,
    noise: float = 0.0,
    relaxation: float = 0.0,
    spikes: int = 0,
    seed: int = 1,
) -> Stepped:
    """Ramps between levels with holds, in which load relaxes by a share with a 20 s memory."""
    random = np.random.default_rng(seed)
    pieces, holds, now, level = [], [], 0.0, 0.0
    for target in levels:
        count = int(ramp * rate)
        pieces.append(level + (target - level) * np.arange(1, count + 1) / count)
        now += ramp
        count = int(hold * rate)
        after = np.arange(1, count + 1) / rate
        pieces.append(target * (1 - relaxation * (1 - np.exp(-after / 20))))
        holds.append((now, now + hold, target))
        now += hold
        level = float(pieces[-1][-1])
    load = np.concatenate(pieces)
    time = np.arange(1, load.size + 1) / rate
    load = load + noise * random.standard_normal(load.size)
    at = random.choice(load.size, spikes, replace=False)
    load[at] += 0.2 * max(levels) * random.choice([-1.0, 1.0], spikes)
    return Stepped(time, load, tuple(holds))
