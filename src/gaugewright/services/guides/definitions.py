"""What does a number on a page mean: its unit, its formula, and where the formula comes from?

Meaning, unit and symbol are those of ``quantities``; a formula is told by the calculation that
uses it, in the words of its own description, so that page and code can't say two things.
"""

import inspect
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any

from gaugewright.calc import (
    axiality,
    bar,
    bond,
    bridge,
    coupon_modulus,
    coupon_points,
    cycles,
    evaluation,
    fatigue,
    gauge,
    heating,
    hysteresis,
    leads,
    load_steps,
    net_area,
    onset,
    quality,
    rosette,
    section,
    shunt,
    steel,
    strain_plane,
    strand,
    survival,
    thermal,
)
from gaugewright.errors import InputError
from gaugewright.present.units_shown import System, unit_shown
from gaugewright.quantities import QUANTITIES

__all__ = ["EXPLAINED", "Definition", "Formula", "definition"]

_READ = "Read from an instrument and kept as it was read; nothing is computed."
_STATED = "Stated by a card, a certificate or a person; each place says which."
_DIVISION = "Derived from voltage division in the bridge."
_DEFINED = "By definition."


@dataclass(frozen=True, slots=True)
class Formula:
    """A formula in the words of the calculation that uses it, and where it comes from."""

    calculation: str
    paragraphs: tuple[str, ...]
    source: str


@dataclass(frozen=True, slots=True)
class Definition:
    """A quantity: how it is called, written and measured, what it is, how it is found."""

    name: str
    term: str
    symbol: str
    unit: str
    meaning: str
    formulas: tuple[Formula, ...]
    found: str


# Each quantity, the calculations that give it with the source where their own words name none,
# and how it comes about where nothing is calculated.
_Given = tuple[tuple[Callable[..., Any], str], ...]
_FOUND: Mapping[str, tuple[_Given, str]] = {
    "strain": (
        (
            (bridge.quarter_bridge_strain, _DIVISION),
            (gauge.gauge_factor_at, "Definition of the slope on the pack's card."),
            (gauge.uniaxial_strain, "Definition of transverse sensitivity, uniaxial stress."),
        ),
        "",
    ),
    "mechanical_strain": (
        ((thermal.mechanical_strain, _DEFINED), (gauge.thermal_output_change, _DEFINED)),
        "",
    ),
    "total_strain": (((thermal.total_strain, _DEFINED),), ""),
    "thermal_output": (((gauge.thermal_output, "The polynomial of the pack's card."),), ""),
    "gauge_factor": (((gauge.gauge_factor_at, _STATED),), ""),
    "transverse_sensitivity": ((), _STATED),
    "bridge_ratio": (((bridge.quarter_bridge_ratio, _DIVISION),), ""),
    "excitation": ((), _STATED),
    "temperature_degc": ((), _READ),
    "resistance": ((), _READ),
    "insulation_resistance": (
        (
            (
                shunt.shunt_strain,
                "Two resistors in parallel: what a leak across the grid feigns as strain.",
            ),
        ),
        _READ,
    ),
    "gauge_resistance": ((), _STATED),
    "lead_resistance": (
        (
            (leads.lead_resistance, "Definition of resistivity and of its coefficient."),
            (leads.lead_sensitivity, _DIVISION),
        ),
        "",
    ),
    "shunt_resistance": (((shunt.shunt_strain, "Two resistors in parallel."),), ""),
    "self_heating": (((heating.self_heating, ""),), ""),
    "power_density": (((heating.gauge_power, "Ohm's law."),), ""),
    "area": (((bar.area_from_mass, _DEFINED),), ""),
    "net_area": (((net_area.net_area, "Area of a segment of a circle."),), ""),
    "stress": (
        (
            (steel.elastic_stress, "Hooke's law."),
            (
                steel.bilinear_stress,
                "One of the laws; the page of a gauge names the law that was used.",
            ),
        ),
        "",
    ),
    "force": (
        (
            (steel.elastic_stress, "Hooke's law; times the area of the bar."),
            (bar.bar_strain, "Equilibrium of the bar between flat and full section."),
        ),
        "",
    ),
    "load": ((), _READ),
    "moment": (((section.section_forces, "Equilibrium of the section."),), ""),
    "curvature": (
        ((strain_plane.fit_plane, "Least squares through a section's gauges."),),
        "",
    ),
    "neutral_axis_depth": (
        ((strain_plane.neutral_axis, "Where that plane is zero."),),
        "",
    ),
    "bending_share": (((axiality.bending_share, ""),), ""),
    "bond_stress": (
        (
            (bond.bond_between_stations, "Equilibrium of a piece of bar."),
            (bond.bond_at, "Equilibrium of a piece of bar."),
        ),
        "",
    ),
    "slip": (((bond.slip_from, "Compatibility of bar and concrete."),), ""),
    "principal_strain": (((rosette.principal, "Transformation of plane strain."),), ""),
    "principal_stress": (((rosette.plane_stress, "Hooke's law in a free surface."),), ""),
    "yield_load": (((onset.passage, "The criterion stands beside each number."),), ""),
    "elastic_modulus": (((coupon_modulus.elastic_line, ""),), ""),
    "proof_strength": (((coupon_points.offset_point, ""),), ""),
    "tensile_strength": (((coupon_points.greatest_stress, _DEFINED),), ""),
    "uniform_elongation": (((coupon_points.greatest_stress, _DEFINED),), ""),
    "ranges": (((cycles.rainflow_cycles, ""),), ""),
    "damage": (((fatigue.miner_damage, "The linear rule of damage, from memory."),), ""),
    "loop_area": (((hysteresis.loop_area, ""),), ""),
    "strain_rate": (((load_steps.drift, "Least squares over eight means."),), ""),
    "noise": (((quality.noise_floor, ""),), ""),
    "force_per_strain": (((strand.force_per_strain, ""),), ""),
    "survival": (((survival.proportion_interval, ""),), ""),
    "standard_uncertainty": (
        ((evaluation.stated_standard_uncertainty, "JCGM 100:2008, 4.3."),),
        "",
    ),
    "expanded_uncertainty": (
        (
            (evaluation.coverage_factor, ""),
            (evaluation.effective_degrees_of_freedom, "JCGM 100:2008, annex G.4."),
        ),
        "It is what stands after ±.",
    ),
}
# Words of a page that the list of quantities hasn't: meaning, symbol, whose unit.
_ALSO: Mapping[str, tuple[str, str, str]] = {
    "yield_load": ("load at which a gauge's bar begins to yield", "P_y", "force"),
    "principal_strain": ("greatest and least strain in a surface", "ε_1, ε_2", "strain"),
    "principal_stress": ("greatest and least stress in a surface", "σ_1, σ_2", "stress"),
    "damage": ("share of life that counted cycles have used", "D", ""),
    "loop_area": ("work lost in a loop of load against strain", "W", "work_per_length"),
}
# Pure numbers that pages show in the unit of another quantity.
_SHOWN_LIKE = {"self_heating": "strain", "uniform_elongation": "coverage"}
EXPLAINED = tuple(_FOUND)
_SECTION = re.compile(r"\n\w[\w ]*\n-{3,}\n")


def definition(name: str, system: System) -> Definition:
    """Meaning, unit, formula and source of a quantity, in the units of ``system``.

    Raises
    ------
    InputError
        If nobody explained that quantity yet.

    Examples
    --------
    >>> definition("mechanical_strain", "si").unit
    'µε'
    """
    if name not in _FOUND:
        raise InputError("quantity", name, "one of " + ", ".join(EXPLAINED))
    given, found = _FOUND[name]
    meaning, symbol, like = _ALSO[name] if name in _ALSO else _from_quantities(name)
    return Definition(
        name,
        name.removesuffix("_degc").replace("_", " "),
        symbol,
        unit_shown(like, system).text if like else "",
        meaning[:1].upper() + meaning[1:] + ".",
        tuple(_formula(function, source) for function, source in given),
        found,
    )


def _from_quantities(name: str) -> tuple[str, str, str]:
    quantity = QUANTITIES[name]
    return quantity.meaning, quantity.symbol, _SHOWN_LIKE.get(name, name)


@cache
def _formula(function: Callable[..., Any], source: str) -> Formula:
    told = _SECTION.split(inspect.getdoc(function) or "")[0].replace("``", "")
    paragraphs = tuple(" ".join(part.split()) for part in told.split("\n\n") if part.strip())
    module = (function.__module__ or "").removeprefix("gaugewright.")
    return Formula(f"{module}.{function.__name__}", paragraphs, source)
