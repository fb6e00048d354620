"""What the demo campaign set out to measure, with what, and what its papers say.

Invented from end to end: beam, packs, recorders, people and numbers. Lengths are in m, angles in
rad, resistances in ohm; x counts from the west support, distances on a bar from its west end.
"""

import math
from dataclasses import dataclass

from gaugewright.records.gauges import GaugePack, LargeStrainLaw, ThermalOutput
from gaugewright.records.stated import Basis, Meaning, Stated

__all__ = [
    "BAR_AREA",
    "BAR_DIAMETER",
    "BAR_END",
    "CABLES",
    "CONCRETE",
    "FLAT_WIDTH",
    "GAUGES",
    "LOAD_CELL_GAIN",
    "LOAD_CELL_OFFSET",
    "PACKS",
    "PLACE_DOUBT",
    "PLATE",
    "POINT_DOUBT",
    "RECORDER_GAIN",
    "REINFORCEMENT",
    "SEED",
    "SPAN",
    "SPECIMEN_LENGTH",
    "STRUCTURAL",
    "UPPER_BAR_AREA",
    "UPPER_BAR_DIAMETER",
    "Cable",
    "GaugePlan",
    "Metal",
    "circuit_label",
    "gauge_named",
]

# Chosen before anything was computed with it, and not to be changed.
SEED = 20260311

SPAN = 3.6
SPECIMEN_LENGTH = 4.2
BAR_END = -0.27  # west end of every bar, x
PLATE = "P"
FLAT_WIDTH = 0.0048
_TOP, _UNDER = 0.0, math.pi
_NORTH, _SOUTH = 3 * math.pi / 2, math.pi / 2


@dataclass(frozen=True, slots=True)
class Metal:
    """A metal as its coupon or its standard states it [SI]."""

    elastic_modulus: Stated
    poisson_ratio: Stated
    thermal_expansion: Stated
    yield_strength: Stated
    hardening_modulus: Stated


REINFORCEMENT = Metal(
    Stated(199.0e9, 2.4e9, Meaning.TWO_SIGMA, Basis.MEASURED, "coupons C1 to C5, same heat", 4),
    Stated(0.29, 0.01, Meaning.LIMIT, Basis.STATED, "usual for reinforcing steel"),
    Stated(11.6e-6, 0.4e-6, Meaning.LIMIT, Basis.STATED, "usual for reinforcing steel"),
    Stated(538.0e6, 7.0e6, Meaning.TWO_SIGMA, Basis.MEASURED, "coupons C1 to C5, same heat", 4),
    Stated(2.2e9, 0.3e9, Meaning.TWO_SIGMA, Basis.MEASURED, "coupons C1 to C5, fit to 1.5 %", 4),
)
STRUCTURAL = Metal(
    Stated(208.0e9, 4.0e9, Meaning.LIMIT, Basis.STATED, "usual for structural steel"),
    Stated(0.29, 0.01, Meaning.LIMIT, Basis.STATED, "usual for structural steel"),
    Stated(11.8e-6, 0.4e-6, Meaning.LIMIT, Basis.STATED, "usual for structural steel"),
    Stated(355.0e6, None, Meaning.UNKNOWN, Basis.STATED, "least value of the grade"),
    Stated(2.0e9, None, Meaning.UNKNOWN, Basis.ASSUMED, "not needed: the plate stays elastic"),
)


BAR_AREA = Stated(
    200.4e-6, 0.8e-6, Meaning.TWO_SIGMA, Basis.MEASURED, "mass and length of the bars"
)
UPPER_BAR_AREA = Stated(
    112.9e-6, 0.5e-6, Meaning.TWO_SIGMA, Basis.MEASURED, "mass and length of the bar"
)
BAR_DIAMETER = Stated(0.01597, 0.00008, Meaning.LIMIT, Basis.MEASURED, "calliper, core")
UPPER_BAR_DIAMETER = Stated(0.01198, 0.00008, Meaning.LIMIT, Basis.MEASURED, "calliper, core")
# As-built places were measured to this; where gauges truly sit is drawn from it.
PLACE_DOUBT = Stated(0.0, 0.002, Meaning.LIMIT, Basis.MEASURED, "steel tape")
LOAD_CELL_GAIN = Stated(
    1.0, 0.005, Meaning.TWO_SIGMA, Basis.MEASURED, "calibration of the load cell (invented)"
)
LOAD_CELL_OFFSET = Stated(
    0.0, 100.0, Meaning.TWO_SIGMA, Basis.MEASURED, "calibration of the load cell (invented)"
)
RECORDER_GAIN = {
    "Recorder A": Stated(
        1.0, 0.001, Meaning.TWO_SIGMA, Basis.MEASURED, "certificate of the recorder (invented)"
    ),
    "Recorder B": Stated(
        1.0, 0.002, Meaning.TWO_SIGMA, Basis.MEASURED, "certificate of the recorder (invented)"
    ),
}
POINT_DOUBT = Stated(
    0.0,
    0.5,
    Meaning.LIMIT,
    Basis.STATED,
    "limit of the thermometer, and its distance from the gauge",
)


@dataclass(frozen=True, slots=True)
class Concrete:
    """Concrete of the beam: means of three cylinders, used by the simulation alone [Pa]."""

    strength: float = 38.0e6
    tensile_strength: float = 2.9e6
    modulus: float = 31.0e9


CONCRETE = Concrete()


def _card(value: float, plus_minus: float, meaning: Meaning, what: str) -> Stated:
    return Stated(value, plus_minus, meaning, Basis.STATED, f"card of the pack: {what}")


PACKS: tuple[GaugePack, ...] = (
    GaugePack(
        label="350 Ω, annealed",
        lot="Q7-0418 (invented)",
        gauge_resistance=_card(350.0, 1.05, Meaning.LIMIT, "resistance"),
        gauge_factor=_card(2.08, 0.0208, Meaning.TWO_SIGMA, "gauge factor, 1 % with k = 2"),
        grid_length=3.0e-3,
        grid_width=1.6e-3,
        transverse_sensitivity=_card(0.004, 0.002, Meaning.UNKNOWN, "transverse sensitivity"),
        gauge_factor_slope=_card(0.9e-4, 0.15e-4, Meaning.UNKNOWN, "slope of gauge factor"),
        thermal_output=ThermalOutput(
            (-18.2e-6, 1.31e-6, -0.0247e-6, 6.5e-11),
            gauge_factor=2.0,
            thermal_expansion=11.0e-6,
            low_degc=5.0,
            high_degc=70.0,
            slope_uncertainty=_card(0.0, 0.6e-6, Meaning.TWO_SIGMA, "thermal output, per kelvin"),
        ),
        strain_limit=0.08,
        large_strain_law=LargeStrainLaw.CONSTANT_GAUGE_FACTOR,
        note="invented; for bars that will yield",
    ),
    GaugePack(
        label="120 Ω, short grid",
        lot="K2-1103 (invented)",
        gauge_resistance=_card(120.0, 0.36, Meaning.LIMIT, "resistance"),
        gauge_factor=_card(2.11, 0.015, Meaning.UNKNOWN, "gauge factor, no meaning given"),
        grid_length=2.0e-3,
        grid_width=1.3e-3,
        transverse_sensitivity=_card(0.009, 0.002, Meaning.UNKNOWN, "transverse sensitivity"),
        gauge_factor_slope=_card(1.0e-4, 0.2e-4, Meaning.UNKNOWN, "slope of gauge factor"),
        thermal_output=ThermalOutput(
            (22.4e-6, -1.52e-6, 0.0271e-6, -4.0e-11),
            gauge_factor=2.11,
            thermal_expansion=11.7e-6,
            low_degc=0.0,
            high_degc=60.0,
            slope_uncertainty=_card(0.0, 0.5e-6, Meaning.TWO_SIGMA, "thermal output, per kelvin"),
        ),
        strain_limit=0.03,
        note="invented; for bond, plate and dummy",
    ),
)


@dataclass(frozen=True, slots=True)
class Cable:
    """A kind of cable: length, resistance of each wire at 20 °C as stated."""

    length: float
    resistance: Stated


def _from_wire(length: float, square_mm: float) -> Stated:
    ohm = 0.0172414 / square_mm * length
    return Stated(
        round(ohm, 3), round(0.02 * ohm, 3), Meaning.LIMIT, Basis.STATED, "length and wire size"
    )


CABLES = {
    "350 Ω, annealed": Cable(18.0, _from_wire(18.0, 0.14)),
    "120 Ω, short grid": Cable(15.0, _from_wire(15.0, 0.25)),
}


@dataclass(frozen=True, slots=True)
class GaugePlan:
    """A gauge as drawn: pack, bar, place, face, and the recorder's column it ends in.

    ``x`` counts from the west support [m]; ``face`` is the clock angle round the bar, looking
    east; ``direction`` the angle of the grid to the axis of bar or plate [rad].
    """

    label: str
    pack: str
    bar: str
    x: float
    face: float
    column: str
    point: str
    direction: float = 0.0
    opposite: str = ""
    group: str = ""


_K350, _K120 = (pack.label for pack in PACKS)


def _pair(bar: str, station: str, x: float, first_column: int) -> tuple[GaugePlan, GaugePlan]:
    upper, lower = f"{bar}-{station}-T", f"{bar}-{station}-U"
    columns = f"A{first_column:02d}", f"A{first_column + 1:02d}"
    return (
        GaugePlan(upper, _K350, bar, x, _TOP, columns[0], "T1"),
        GaugePlan(lower, _K350, bar, x, _UNDER, columns[1], "T1", opposite=upper),
    )


def _bond_row() -> tuple[GaugePlan, ...]:
    row = [
        GaugePlan(f"L3-R{n}-S", _K120, "L3", 0.1 * n + 0.05, _SOUTH, f"B{n:02d}", "T2")
        for n in range(1, 8)
    ]
    fourth = row[3]
    north = GaugePlan("L3-R4-N", _K120, "L3", fourth.x, _NORTH, "B08", "T2", opposite=fourth.label)
    return (*row, north)


def _plate() -> tuple[GaugePlan, ...]:
    arms = [
        GaugePlan(
            f"P-{n + 1}", _K120, PLATE, 0.0, 0.0, f"B{9 + n:02d}", "TH", n * math.pi / 4, "", "P"
        )
        for n in range(3)
    ]
    front = GaugePlan("P-F", _K120, PLATE, 0.06, 0.0, "B12", "TH")
    rear = GaugePlan("P-R", _K120, PLATE, 0.06, math.pi, "B12", "TH", opposite="P-F")
    return (*arms, front, rear)


GAUGES: tuple[GaugePlan, ...] = (
    *_pair("L1", "M", 1.80, 1),
    *_pair("L2", "M", 1.80, 3),
    *_pair("L3", "M", 1.80, 5),
    *_pair("L4", "M", 1.80, 7),
    *_pair("L2", "W", 1.40, 9),
    *_pair("L3", "W", 1.40, 11),
    *_pair("L2", "E", 2.20, 13),
    *_pair("C1", "M", 1.80, 15),
    *_bond_row(),
    *_plate(),
    GaugePlan("D-0", _K120, "offcut", 0.02, 0.0, "B13", "TH"),
)


def gauge_named(label: str) -> GaugePlan:
    """Plan of one gauge."""
    return next(gauge for gauge in GAUGES if gauge.label == label)


def circuit_label(gauge: GaugePlan) -> str:
    """Name of the circuit a gauge sits in: its own, but for the bending pair of the plate."""
    return "P-FR" if gauge.column == "B12" else gauge.label
