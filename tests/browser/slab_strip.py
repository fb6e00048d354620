"""A slab strip that isn't the demo: its paper, and its logger's file, with physics of its own.

Invented: a strip 400 x 150 mm on two rollers 2400 mm apart, one line load in the middle, two bars
of 12 mm with a pair in the middle and a gauge toward each end. Lever arm and cracked section by
hand formulas, bridge by voltage division: nothing is shared with what reduces it. The plugs of
B1-M-B and B1-W are exchanged, a lead of B2-W breaks under load, and the hall grows cold meanwhile.
"""

import itertools
import math
import random
from pathlib import Path

__all__ = [
    "GAUGES",
    "PLAN",
    "STATIONS",
    "TRUE_YIELD_KN",
    "WIRED",
    "bare_bar",
    "gate_rows",
    "logger_file",
]

GAUGES = [f"{bar}-{place}" for bar in ("B1", "B2") for place in ("M-T", "M-B", "W", "E")]
STATIONS = [
    (
        label,
        label[:2],
        {"M": "1280", "W": "680", "E": "1880"}[label[3]],
        "180" if "M-B" in label else "0",
    )
    for label in GAUGES
]
_BY = "supplier's paper (invented)"
PLAN: tuple[tuple[str, dict[str, str], str], ...] = (
    ("specimen", {"label": "S1", "length": "2600", "width": "400", "height": "150"}, "S1"),
    (
        "material",
        {
            "label": "heat 7",
            "elastic_modulus": "200 ± 4 (k=2)",
            "elastic_modulus_source": _BY,
            "poisson_ratio": "0.29 ± 0.01 (limit)",
            "thermal_expansion": "11.6 ± 0.4 (limit)",
            "yield_strength": "540 ± 15 (k=2)",
            "yield_strength_source": _BY,
        },
        "heat 7",
    ),
    (
        "bar",
        {"label": "B1; B2", "specimen": "S1", "material": "heat 7", "size": "d12, EN 10080"},
        "B1",
    ),
    ("concrete", {"label": "mix", "compressive_strength": "38 ± 3 (k=2)"}, "mix"),
    (
        "member",
        {
            "label": "S1",
            "specimen": "S1",
            "concrete": "mix",
            "height": "150",
            "width": "400",
            "datum": "west end, growing eastward",
            "support_near": "100",
            "support_far": "2500",
            "load_points.1.distance": "1300",
            "load_points.1.share": "1",
            "load_per_length": "1.5",
            "bars.1.bar": "B1",
            "bars.1.depth": "122",
            "bars.1.across": "-100",
            "bars.1.begins": "20",
            "bars.2.bar": "B2",
            "bars.2.depth": "122",
            "bars.2.across": "100",
            "bars.2.begins": "20",
        },
        "S1",
    ),
)
WIRED: tuple[tuple[str, dict[str, str]], ...] = (
    (
        "pack",
        {
            "label": "120 ohm",
            "lot": "W-114",
            "gauge_resistance": "120 ± 0.4 (limit)",
            "gauge_factor": "2.11 ± 1 % (k=2)",
            "gauge_factor_source": "card of the lot (invented)",
            "transverse_sensitivity": "0.3 ± 0.2",
            "grid_length": "5",
            "grid_width": "1.5",
            "strain_limit": "5 %",
            "has_thermal": "yes",
            "thermal_coefficients": "0; -1.6; -0.02",
            "thermal_gauge_factor": "2.11",
            "thermal_metal": "11.6",
            "thermal_low": "0",
            "thermal_high": "60",
            "thermal_doubt": "0 ± 0.6 (k=2)",
        },
    ),
    ("gauges", {"pack": "120 ohm"}),
    ("circuits", {"length": "8", "conductor": "0.14 mm²", "completion": "120 ± 0.06 (limit)"}),
    (
        "instrument",
        {
            "label": "Logger 1",
            "serial": "X-001 (invented)",
            "gain": "1 ± 0.001 (k=2)",
            "gain_source": "certificate 12 (invented)",
            "filter_delay": "0 ± 0.002 (limit)",
            "stability": "0 ± 0.001 (limit)",
        },
    ),
    ("channels", {"instrument": "Logger 1", "first": "Q1", "count": "11"}),
    ("sensor", {"label": "load cell", "gain": "1 ± 0.004 (k=2)", "offset": "0 ± 0.05 (k=2)"}),
    (
        "sensor",
        {"quantity": "distance", "label": "midspan", "gain": "1 ± 0.005", "offset": "0 ± 0.02"},
    ),
    (
        "point",
        {
            "label": "T1",
            "where": "at the strip",
            "gauges": "; ".join(GAUGES),
            "doubt": "0 ± 1 (limit)",
        },
    ),
    ("meter", {"label": "ohmmeter", "unit": "ohm", "error_share": "0.05", "error_fixed": "0.02"}),
    (
        "meter",
        {
            "label": "insulation tester",
            "unit": "ohm",
            "error_share": "5",
            "error_fixed": "1e6",
            "highest": "2e10",
            "test_voltage": "50",
        },
    ),
    (
        "meter",
        {"label": "display", "unit": "mV/V", "error_share": "0.1", "error_fixed": "0.002"},
    ),
    (
        "wired",
        {
            "at": "2026-11-02 08:00",
            "unit": "mV/V",
            "excitation": "2.5",
            "low": "-6",
            "high": "6",
            "scans": "2",
        },
    ),
)
_K, _R, _LEAD, _E, _STEEL, _DEPTH, _SPAN = 2.11, 120.0, 0.985, 2.0e5, 226.2, 122.0, 2400.0
_TENSION, _CONCRETE = 2.7, 32000.0
# Load, in kN, at which the mean of the pairs in the middle passes 540 MPa over 200 GPa.
TRUE_YIELD_KN = 21.9
_PATH = [
    (0, 0.0),
    (90, 0.0),
    (150, 6.0),
    (210, 12.0),
    (300, 18.0),
    (420, 21.9),
    (540, 22.3),
    (600, 0.0),
]


def _out(strain: float, offset: float) -> float:
    """mV/V of a quarter bridge with three wires, by voltage division."""
    arm = _R * (1 + offset) * (1 + _K * strain) + _LEAD
    return 1e3 * (arm / (arm + _R + _LEAD) - 0.5)


def _steel_strain(moment: float) -> float:
    """Strain of the bars under a moment in N mm, cracked or not, mean between cracks."""
    inertia = 400 * 150.0**3 / 12
    cracking = _TENSION * inertia / 75
    if moment < cracking:
        return moment / (_CONCRETE * inertia) * (_DEPTH - 75)
    ratio = _E / _CONCRETE * _STEEL / (400 * _DEPTH)
    axis = _DEPTH * (-ratio + math.sqrt(ratio * ratio + 2 * ratio))
    cracked = moment / (_STEEL * (_DEPTH - axis / 3)) / _E
    return cracked * (1 - 0.35 * (cracking / moment) ** 2)


def _since_zero(load_kn: float, from_middle: float) -> float:
    reach = _SPAN / 2 - from_middle
    own = 1.5 * (reach * _SPAN / 2 - reach**2 / 2)
    return _steel_strain(load_kn * 1e3 / 2 * reach + own) - _steel_strain(own)


def _load(time: float) -> float:
    for (begins, low), (ends, high) in itertools.pairwise(_PATH):
        if begins <= time <= ends:
            return low + (high - low) * (time - begins) / (ends - begins)
    return 0.0


def logger_file(path: Path) -> None:
    """Two scans a second of a test of ten minutes, as a recorder of the hall writes them."""
    chance = random.Random(20261124)
    offsets = [chance.gauss(0, 8e-4) for _ in GAUGES]
    gains = [chance.gauss(1, 0.008) for _ in GAUGES]
    heads = ";".join(f"Q{n}" for n in range(1, 12))
    units = ";".join(["mV/V"] * 8 + ["kN", "mm", "°C"])
    lines = ["Hall logger 1;strip S1, invented", "", f"Time;{heads}", f";{units}"]
    for scan in range(1200):
        time = scan / 2
        load, warmth = _load(time), 21 - 3.0 * time / 600
        plastic = 6e-3 * min(max(time - 420, 0) / 120, 1)
        drift = (-1.6 * (warmth - 21) - 0.02 * (warmth - 21) ** 2) * 1e-6
        read = []
        for label, offset, gain in zip(GAUGES, offsets, gains, strict=True):
            middle, side = "-M-" in label, -1 if label.endswith("-B") else 1
            strain = _since_zero(load, 0 if middle else 600) * (1 - side * 0.06) * gain
            strain += plastic * (1 - side * 0.05) * middle + drift + chance.gauss(0, 1.2e-6)
            read.append(_out(strain, offset))
        read[1], read[2] = read[2], read[1]
        texts = [f"{value:.5f}" for value in read]
        if time > 200:
            texts[6] = "OVERRANGE"
        texts += [f"{load + chance.gauss(0, 0.01):.3f}", f"{0.35 * load:.3f}", f"{warmth:.2f}"]
        clock = f"24.11.2026 09:{int(time // 60):02d}:{time % 60:06.3f}"
        lines.append(";".join([clock, *(text.replace(".", ",") for text in texts)]))
    path.write_text("\r\n".join(lines) + "\r\n", encoding="latin-1")


def bare_bar() -> str:
    """Bar B2 pulled before it was cast: force beside what its four circuits read."""
    chance = random.Random(3)
    labels = [label for label in GAUGES if label[:2] == "B2"]
    lines = [", ".join(["force [kN]", *(f"{label} [mV/V]" for label in labels)])]
    for load in (0, 5, 10, 15, 20, 25, 20, 10, 0):
        strain = load * 1e3 / (113.1 * _E)
        read = [_out(strain * (1 + chance.gauss(0, 3e-4)), 2e-4 * n) for n in range(len(labels))]
        lines.append(", ".join([f"{load}", *(f"{value:.5f}" for value in read)]))
    return "\n".join(lines)


def gate_rows(head: str) -> str:
    """A filled sheet of a gate: all sound but B2-W, which leaks."""
    rows = []
    for n, label in enumerate(GAUGES):
        leak = "38" if label == "B2-W" else "> 20000"
        rows.append(f"{label},19.5,2026-10-12 09:{n:02d},121.9{n % 3},1.98,{leak},0.1{n},,,")
    return "\n".join([head, *rows]) + "\n"
