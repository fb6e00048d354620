"""Records with known oddities, made without anything of the code that looks for them.

A load goes up, rests, goes down, in a random protocol; a gauge follows it with a curve of its
own, drifts with the hall's temperature, is read with noise and rounded to digits. Parameters are
drawn wider than any limit was chosen by. One oddity is put in, or none.
"""

from dataclasses import dataclass

import numpy as np

KINDS = ("spike", "step", "dropout", "clipped", "noise", "hum", "none")


@dataclass(frozen=True)
class Record:
    """A record: its rate [Hz], readings [µm/m], load [kN], and where the oddity is."""

    kind: str
    rate: float
    readings: np.ndarray
    load: np.ndarray
    first: int
    last: int
    size: float


def record(rng: np.random.Generator, kind: str) -> Record:
    """One record with one kind of oddity."""
    rate = float(rng.choice([5.0, 10.0, 50.0, 200.0]))
    count = int(rng.integers(6_000, 20_000))
    load = _load(rng, count)
    noise = 10 ** rng.uniform(-0.5, 0.8)
    gain = rng.uniform(2, 12) * rng.choice([-1, 1])
    curve = 1 + rng.uniform(-0.2, 0.4) * load / load.max()
    wave = 15 * np.sin(2 * np.pi * np.arange(count) / count * rng.uniform(0.3, 2))
    clean = gain * load * curve + wave
    first, last, size = -1, -1, 0.0
    if kind == "hum":
        size = noise * rng.uniform(1.0, 4)
        # At 5, 10 and 50 readings a second 50 Hz would fold onto zero exactly; grids wander.
        grid = 50 * (1 + rng.uniform(-0.004, 0.004))
        rate = float(rng.choice([12.0, 40.0, 64.0, 200.0, 1000.0]))
        clean = clean + size * np.sin(
            2 * np.pi * grid * np.arange(count) / rate + rng.uniform(0, 6)
        )
        first, last = 0, count - 1
    scatter = rng.normal(size=count) * noise
    if kind == "noise":
        first = int(rng.integers(count // 5, count // 2))
        last = first + int(rng.integers(count // 10, count // 3))
        size = rng.uniform(4, 12)
        scatter[first : last + 1] *= size
    read = clean + scatter
    if kind == "spike":
        first = int(rng.integers(50, count - 50))
        last = first + int(rng.integers(0, 2))
        size = rng.choice([-1, 1]) * noise * rng.uniform(20, 200)
        read[first : last + 1] += size
    elif kind == "step":
        first = int(rng.integers(300, count - 300))
        last = first + 1
        size = rng.choice([-1, 1]) * noise * rng.uniform(15, 100)
        read[last:] += size
    elif kind == "dropout":
        first = int(rng.integers(50, count - 200))
        last = first + int(rng.integers(4, 60))
        size = -clean[first] + rng.choice([-1, 1]) * rng.uniform(3000, 9000)
        read[first : last + 1] = np.round(clean[first] + size)
    digits = rng.choice([0.1, 0.5, 1.0]) * min(1.0, noise)
    read = np.round(read / digits) * digits
    if kind == "clipped":
        size = float(np.quantile(read, rng.uniform(0.7, 0.95)))
        over = read > size
        first, last = int(np.flatnonzero(over)[0]), int(np.flatnonzero(over)[-1])
        read = np.minimum(read, size)
    return Record(kind, rate, read, load, first, last, float(size))


def _load(rng: np.random.Generator, count: int) -> np.ndarray:
    """Ramps, rests and unloadings of a protocol: never quicker than a jack can go."""
    places, levels, at, level = [0], [0.0], 0, 0.0
    while at < count:
        at += int(rng.integers(200, 1500))
        if rng.random() < 0.5:
            level = max(0.0, level + rng.uniform(-60, 100))
        places.append(at)
        levels.append(level)
    load = np.interp(np.arange(count), places, levels)
    return load + (1e-6 if load.max() == 0 else 0.0)
