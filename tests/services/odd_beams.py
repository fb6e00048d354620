"""Beams with eight gauges of which one may be bad, made without anything that looks for it.

A beam in four-point bending is loaded, unloaded and loaded again. Its cracks open one by one, each
with a leap at the gauges beside it and a small drop of the load; where asked its bars yield. Eight
gauges in opposite pairs on two bars follow with their own gain, read by voltage division, with
noise, digits and a hall that warms. One gauge gets one fault, or none. Sizes are drawn wider than
any limit was chosen by.
"""

from dataclasses import dataclass, field, replace

import numpy as np

STATIONS = (0.6, 1.8)  # half the moment, and all of it
SHARES = (0.5, 1.0)
BARS = ("L1", "L2")
SIDES = ("T", "U")
GAUGES = tuple(f"{bar}-{n}{side}" for bar in BARS for n in (1, 2) for side in SIDES)

# Each fault with the codes that say it; healthy gauges must get none of them.
FAULTS: dict[str, tuple[str, ...]] = {
    "spike": ("spike", "many spikes"),
    "step": ("lone step",),
    "frozen": ("frozen",),
    "clipped": ("clipped",),
    "open": ("over-range",),
    "no reading": ("no reading",),
    "short": ("silent",),
    "dropout": ("dropout",),
    "noise change": ("noisier",),
    "noise floor": ("noise floor",),
    "mains hum": ("mains hum",),
    "drift": ("drift at rest",),
    "temperature following": ("follows temperature",),
    "debond": ("falling away",),
    "duplicate": ("shared noise",),
    "exchanged": ("exchanged",),
    "reversed sign": ("reversed sign",),
    "unlike its likes": ("differs from similar gauges",),
    "against prediction": ("differs from prediction",),
}

# What happens to a gauge with the verdict that is right.
CAUSES = {
    "cracking": "the specimen cracks",
    "yielding": "the specimen yields",
    "debond": "the bond of the gauge gives way",
    "step": "a contact or joint of the gauge",
    "open": "the gauge is lost",
}

WIDTH, HEIGHT, DEPTH = 0.30, 0.45, 0.40
SPAN, ARM = 3.6, 1.2
AREA = 200e-6
STEEL, YIELD = 200e9, 500e6
CONCRETE, TENSION = 30e9, 2.5e6


def slopes():
    """Strain of the lower bars per newton, whole and cracked, by transformed sections."""
    ratio, bars = STEEL / CONCRETE, 2 * AREA
    lever = ARM / 2
    # Whole: bars count (ratio - 1) times beside the concrete they displace.
    area = WIDTH * HEIGHT + (ratio - 1) * bars
    axis = (WIDTH * HEIGHT**2 / 2 + (ratio - 1) * bars * DEPTH) / area
    inertia = (
        WIDTH * HEIGHT**3 / 12
        + WIDTH * HEIGHT * (HEIGHT / 2 - axis) ** 2
        + (ratio - 1) * bars * (DEPTH - axis) ** 2
    )
    whole = lever * (DEPTH - axis) / (CONCRETE * inertia)
    cracking = TENSION * inertia / ((HEIGHT - axis) * lever)
    # Cracked: depth x of the compressed part from b x^2 / 2 = ratio As (d - x).
    share = ratio * bars / WIDTH
    depth = -share + np.sqrt(share**2 + 2 * share * DEPTH)
    opened = WIDTH * depth**3 / 3 + ratio * bars * (DEPTH - depth) ** 2
    cracked = lever * (DEPTH - depth) / (CONCRETE * opened)
    return whole, cracked, cracking


@dataclass
class Beam:
    """Readings of one beam and what is true of them."""

    rate: float
    load: np.ndarray
    warmth: np.ndarray
    strain: dict[str, np.ndarray]
    ratio: dict[str, np.ndarray]
    fault: str
    bad: tuple[str, ...]
    place: tuple[int, int] = (0, 0)
    size: float = 0.0
    ranges: dict[str, float] = field(default_factory=dict)
    cracks: list[int] = field(default_factory=list)
    yields: dict[str, int] = field(default_factory=dict)


def _ramp(rate, legs):
    """Loads that rise or rest: (target, seconds) one after the other."""
    parts, level = [], 0.0
    for target, seconds in legs:
        count = max(2, int(seconds * rate))
        parts.append(np.linspace(level, target, count, endpoint=False))
        level = target
    return np.concatenate(parts)


def _protocol(rng, rate, top, *, to_yield):
    half = rng.uniform(0.45, 0.6) * top
    legs = [(0.0, rng.uniform(640, 800)), (half, rng.uniform(120, 260)), (half, 40.0)]
    legs += [(0.0, rng.uniform(40, 90)), (0.0, rng.uniform(20, 60))]
    legs += [(half, rng.uniform(60, 140)), (0.97 * top, rng.uniform(120, 260))]
    if to_yield:
        legs += [(1.02 * top, 60.0), (1.04 * top, rng.uniform(60, 120))]
    last = legs[-1][0]
    legs += [(last, 20.0), (0.0, rng.uniform(60, 120)), (0.0, rng.uniform(30, 60))]
    return _ramp(rate, legs)


def beam(rng, fault="none", *, to_yield=None, kept=GAUGES):
    """One beam; ``kept`` are the gauges that it has."""
    whole, cracked, cracking = slopes()
    top = YIELD / STEEL / cracked
    rate = float(rng.choice([3.3, 4.7, 6.4]))
    to_yield = bool(rng.random() < 0.4) if to_yield is None else to_yield
    load = _protocol(rng, rate, top, to_yield=to_yield)
    count = load.size
    time = np.arange(count) / rate
    warmth = 20 + rng.uniform(0.8, 1.6) * np.sin(2 * np.pi * time / rng.uniform(500, 900))
    made = Beam(rate, load.copy(), warmth, {}, {}, fault, ())
    highest = np.maximum.accumulate(load)
    strains = {}
    for number, moment in enumerate(SHARES, start=1):
        opens = cracking / moment * rng.uniform(0.85, 1.35)
        at = int(np.argmax(highest >= opens)) if highest[-1] >= opens else count
        made.cracks.append(at)
        dip = np.zeros(count)
        dip[at + 1 :] = np.exp(-(np.arange(at + 1, count) - at - 1) / (3 * rate))
        made.load = made.load - rng.uniform(0.01, 0.04) * cracking * dip
        for bar in BARS:
            stiff = rng.uniform(0.05, 0.35)
            for side in SIDES:
                label = f"{bar}-{number}{side}"
                face = 1 + (0.02 if side == "U" else -0.02) + 0.01 * rng.standard_normal()
                strains[label] = (number, bar, face, at, stiff)
    for label, (number, _, face, at, stiff) in strains.items():
        share = SHARES[number - 1]
        made.strain[label] = face * _steel(share * made.load, (whole, cracked), at, stiff)
    if to_yield:
        _let_yield(rng, made, top)
    for label in list(made.strain):
        if label not in kept:
            del made.strain[label]
    _read(rng, made)
    _spoil(rng, made, (whole, cracked, top))
    return made


def _steel(load, slopes_, at, stiff):
    """Strain at a station whose crack opens at row ``at``: stiffened, and never closing fully."""
    whole, cracked = slopes_
    strain = whole * load
    if at >= load.size - 1:
        return strain
    after = slice(at + 1, None)
    peak = np.maximum.accumulate(load)[after]
    opened = max(float(load[at]), 1.0)
    share = 1 - stiff * np.minimum(1, (opened / np.maximum(peak, opened)) ** 2)
    most = cracked * peak * share
    # Down and up again along a line from the highest point to a strain that stays.
    left = 0.08 * most
    strain[after] = left + (most - left) * np.clip(load[after], None, peak) / peak
    return strain


def _let_yield(rng, made, top):
    """From its yield load on each station's bars run away, some earlier than others."""
    highest = np.maximum.accumulate(made.load)
    for number in (2,):
        for bar in BARS:
            starts = rng.uniform(0.975, 1.03) * top
            if highest[-1] < starts:
                continue
            at = int(np.argmax(highest >= starts))
            beyond = np.maximum(highest - starts, 0) / top
            plastic = YIELD / STEEL * rng.uniform(30, 60) * beyond
            for side in SIDES:
                label = f"{bar}-{number}{side}"
                made.strain[label] = made.strain[label] + plastic
                made.yields[label] = at


def _read(rng, made):
    """Readings as strain of the gauge's own gain with noise and digits; divided at the end."""
    count = made.load.size
    for label, strain in made.strain.items():
        gain = 1 + 0.015 * rng.standard_normal()
        noise = 10 ** rng.uniform(-0.3, 0.3) * 1e-6
        read = gain * strain + noise * rng.standard_normal(count)
        made.ratio[label] = np.round(read / 0.1e-6) * 0.1e-6
    made.load = made.load + 30.0 * rng.standard_normal(count)


def _spoil(rng, made, known):
    """Give one gauge its fault: into ``ratio``, which still is strain as read."""
    if made.fault in ("none", "cracking", "yielding"):
        return
    label = str(rng.choice(list(made.ratio)))
    made.bad = (label,)
    read = made.ratio[label]
    noise = float(np.std(np.diff(read[:500])) / np.sqrt(2))
    tests = {
        "spike": _spike, "step": _step, "frozen": _frozen, "clipped": _clipped, "open": _open,
        "no reading": _no_reading, "short": _short, "dropout": _dropout,
        "noise change": _noisier, "noise floor": _noise_floor, "mains hum": _hum,
        "drift": _drift, "temperature following": _follows, "debond": _debond,
        "duplicate": _duplicate, "exchanged": _exchanged, "reversed sign": _reversed,
        "unlike its likes": _unlike, "against prediction": _all_unlike,
    }  # fmt: skip
    tests[made.fault](rng, made, label, read, noise, known)


def _calm(rng, made, margin=300):
    """A row well before anything yields."""
    first = min(made.yields.values(), default=int(0.8 * made.load.size))
    return int(rng.integers(margin, first - margin))


def _spike(rng, made, label, read, noise, known):
    at = _calm(rng, made)
    made.size = noise * rng.uniform(20, 200) * rng.choice([-1, 1])
    read[at : at + int(rng.integers(1, 3))] += made.size
    made.place = (at, at + 1)


def _step(rng, made, label, read, noise, known):
    at = _calm(rng, made)
    made.size = noise * rng.uniform(25, 120) * rng.choice([-1, 1])
    read[at:] += made.size
    made.place = (at, at)


def _frozen(rng, made, label, read, noise, known):
    at = _calm(rng, made)
    until = at + int(rng.integers(80, 600))
    read[at:until] = read[at]
    made.place = (at, until)


def _clipped(rng, made, label, read, noise, known):
    made.ranges[label] = rng.uniform(0.35, 0.8) * float(np.quantile(read, 0.995))
    over = np.flatnonzero(read > made.ranges[label])
    read[over] = made.ranges[label]
    made.place = (int(over[0]), int(over[-1]))


def _open(rng, made, label, read, noise, known):
    at = _calm(rng, made)
    read[at:] = np.inf
    made.place = (at, read.size - 1)


def _no_reading(rng, made, label, read, noise, known):
    at = _calm(rng, made)
    read[at:] = np.nan
    made.place = (at, read.size - 1)


def _short(rng, made, label, read, noise, known):
    read[:] = np.round(
        (0.02 * read + noise * rng.standard_normal(read.size) + rng.uniform(-2e-4, 2e-4)) / 1e-7
    ) * 1e-7  # fmt: skip
    made.place = (0, read.size - 1)


def _dropout(rng, made, label, read, noise, known):
    at = _calm(rng, made)
    until = at + int(rng.integers(5, 40))
    read[at:until] = read[at] - rng.choice([-1, 1]) * rng.uniform(4e-3, 9e-3)
    made.place = (at, until)


def _noisier(rng, made, label, read, noise, known):
    at = _calm(rng, made)
    until = at + int(rng.integers(800, 1800))
    made.size = rng.uniform(4, 12)
    part = read[at:until]
    part += made.size * noise * rng.standard_normal(part.size)
    made.place = (at, until)


def _noise_floor(rng, made, label, read, noise, known):
    made.size = rng.uniform(6e-6, 20e-6)
    read += made.size * rng.standard_normal(read.size)
    made.place = (0, read.size - 1)


def _hum(rng, made, label, read, noise, known):
    made.size = noise * rng.uniform(1.5, 5)
    grid = 50 * (1 + rng.uniform(-0.003, 0.003))
    time = np.arange(read.size) / made.rate
    read += made.size * np.sin(2 * np.pi * grid * time + rng.uniform(0, 6))
    made.place = (0, read.size - 1)


def _drift(rng, made, label, read, noise, known):
    made.size = rng.choice([-1, 1]) * rng.uniform(40e-6, 200e-6) / 3600
    read += made.size * np.arange(read.size) / made.rate
    made.place = (0, read.size - 1)


def _follows(rng, made, label, read, noise, known):
    made.size = rng.choice([-1, 1]) * rng.uniform(6e-6, 15e-6)
    read += made.size * (made.warmth - made.warmth[0])
    made.place = (0, read.size - 1)


def _debond(rng, made, label, read, noise, known):
    """From a load on the gauge follows less and less, and less so when unloaded too."""
    top = float(made.load.max())
    starts, kept = rng.uniform(0.45, 0.6) * top, rng.uniform(0.3, 0.6)
    highest = np.maximum.accumulate(made.load)
    given = np.clip((highest - starts) / (0.35 * top), 0, 1)
    noise_part = read - made.strain[label]
    read[:] = made.strain[label] * (1 - (1 - kept) * given) + noise_part
    made.place = (int(np.argmax(given > 0)), read.size - 1)


def _duplicate(rng, made, label, read, noise, known):
    other = next(each for each in made.ratio if each != label)
    made.ratio[label] = made.ratio[other].copy()
    made.bad = (label, other)


def _exchanged(rng, made, label, read, noise, known):
    """Two plugs of one bar's two stations changed: told only where their strains differ."""
    other = f"{label[:3]}{3 - int(label[3])}{label[4]}"
    made.ratio[label], made.ratio[other] = made.ratio[other], read
    made.bad = (label, other)


def _reversed(rng, made, label, read, noise, known):
    read *= -1


def _unlike(rng, made, label, read, noise, known):
    made.size = rng.choice([0.55, 0.65, 1.35, 1.5])
    read *= made.size


def _all_unlike(rng, made, label, read, noise, known):
    """Every gauge of the beam reads too much, as with a wrong gauge factor or load."""
    made.size = float(rng.choice([1.5, 1.7, 2.0]))
    for each in made.ratio.values():
        each *= made.size
    made.bad = tuple(made.ratio)


def recorded(tiny, made, divider, begins, settings):
    """Lay the beam's readings down as one recording, with the range of a channel that has one.

    ``settings`` are uids of channels' settings by label of gauge.
    """
    for label, most in made.ranges.items():
        entry = tiny.store.entry(settings[label])
        limited = replace(entry.record, range_low=-9.0, range_high=float(divider(most)))
        tiny.store.revise(entry.uid, entry.version, limited, reason="its range")
    columns = {
        label: np.where(np.isfinite(read), divider(np.where(np.isfinite(read), read, 0.0)), read)
        for label, read in made.ratio.items()
    }
    columns["P"] = made.load / 1e3
    columns["T"] = made.warmth
    return tiny.record("test", begins, columns, rate=1 / made.rate - 1)
