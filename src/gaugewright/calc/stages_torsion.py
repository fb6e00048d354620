"""Stages of a bar in torsion: four gauges at 45 degrees, shear strain of the surface, torque.

Arms +x, -x, +x, -x with x = k γ/2: strain along each grid is half the engineering shear strain.
"""

import math

import numpy as np

from gaugewright.calc.stage_kinds import Columns, Parameter, Partials, StageKind, Values
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray

__all__ = ["TORSION_KINDS"]


def _bridge(x: FloatArray, p: Values, c: Columns) -> FloatArray:
    return np.where(np.abs(x) < 1.0, x, np.nan)


def _bridge_partials(x: FloatArray, p: Values, c: Columns) -> Partials:
    return np.where(np.abs(x) < 1.0, 1.0, np.nan), {}


def _pure_shear(x: FloatArray, p: Values, c: Columns) -> FloatArray:
    side = p["transverse_sensitivity"]
    return x * ((1 - p["card_poisson_ratio"] * side) / (1 - side))


def _pure_shear_partials(x: FloatArray, p: Values, c: Columns) -> Partials:
    side, card = p["transverse_sensitivity"], p["card_poisson_ratio"]
    return np.full_like(x, (1 - card * side) / (1 - side)), {
        "transverse_sensitivity": x * (1 - card) / (1 - side) ** 2,
        "card_poisson_ratio": -x * side / (1 - side),
    }


def _shear_strain(x: FloatArray, p: Values, c: Columns) -> FloatArray:
    return 2 * x


def _shear_strain_partials(x: FloatArray, p: Values, c: Columns) -> Partials:
    return np.full_like(x, 2.0), {}


def _torque(x: FloatArray, p: Values, c: Columns) -> FloatArray:
    return x * _per_strain(p)


def _per_strain(p: Values) -> float:
    """Torque over strain along the grid: G 2 π (d⁴ - b⁴)/(16 d), with 2 G = E/(1 + ν)."""
    outer, bore = p["diameter"], p["bore"]
    section = math.pi * (outer**4 - bore**4) / (16 * outer)
    return p["elastic_modulus"] / (1 + p["poisson_ratio"]) * section


def _torque_partials(x: FloatArray, p: Values, c: Columns) -> Partials:
    outer, bore, whole = p["diameter"], p["bore"], _per_strain(p)
    left = outer**4 - bore**4
    return np.full_like(x, whole), {
        "elastic_modulus": x * whole / p["elastic_modulus"],
        "poisson_ratio": -x * whole / (1 + p["poisson_ratio"]),
        "diameter": x * whole * (4 * outer**3 / left - 1 / outer),
        "bore": -x * whole * 4 * bore**3 / left,
    }


def _torque_check(p: Values) -> None:
    if not p["bore"] < p["diameter"]:
        raise InputError("bore", p["bore"], "smaller than the diameter")


TORSION_KINDS = (
    StageKind(
        "full bridge, torsion@1",
        "bridge",
        "x = r, exact for arms +x, -x, +x, -x at 45 degrees round the bar",
        (),
        _bridge,
        _bridge_partials,
        stops="no resistance gives that ratio: open or shorted arm, or a wrong unit",
    ),
    StageKind(
        "transverse, pure shear@1",
        "transverse",
        "ε (1 - ν_0 K_t)/(1 - K_t): the strain across the grid is less the strain along it",
        (
            Parameter("transverse_sensitivity", "1", "response across over response along"),
            Parameter("card_poisson_ratio", "1", "of the card's test metal", "from 0 to 0.5"),
        ),
        _pure_shear,
        _pure_shear_partials,
    ),
    StageKind(
        "shear strain@1",
        "section",
        "γ = 2ε: engineering shear strain of the surface from strain at 45 degrees",
        (),
        _shear_strain,
        _shear_strain_partials,
    ),
    StageKind(
        "torque@1",
        "section",
        "T = ε E/(1 + ν) π (d⁴ - b⁴)/(16 d): elastic torque of a round bar or tube",
        (
            Parameter("elastic_modulus", "Pa", "of the metal", "a positive number"),
            Parameter("poisson_ratio", "1", "of the metal", "from 0 to 0.5"),
            Parameter("diameter", "m", "outside", "a positive number"),
            Parameter("bore", "m", "inside, 0 for a solid bar", "0 or more"),
        ),
        _torque,
        _torque_partials,
        check=_torque_check,
    ),
)
