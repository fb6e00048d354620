"""What a tensile test says about its metal, each value with its uncertainty or why it's missing."""

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike

from gaugewright.calc import allowed, coupon_points
from gaugewright.calc.coupon_modulus import (
    ElasticLine,
    ModulusLimits,
    doubts,
    elastic_line,
    line_of_known_slope,
)
from gaugewright.calc.coupon_points import CurvePoint
from gaugewright.calc.uncertainty import InputQuantity, Uncertain, combination
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray

__all__ = ["CouponInputs", "CouponValues", "coupon_values", "engineering_stress"]


@dataclass(frozen=True, slots=True)
class CouponInputs:
    """What the readings of one test are worth.

    Parameters
    ----------
    label : str
        Of the coupon, the name of the causes that are its own.
    area : Uncertain
        Original, S_0 [m^2].
    force_factor : Uncertain
        True force over reading: 1 with the uncertainty of the force calibration [1].
    strain_factor : Uncertain
        True extension over reading: 1 with that of the extensometer and its gauge length [1].
    """

    label: str
    area: Uncertain
    force_factor: Uncertain = field(default_factory=lambda: Uncertain.exact(1.0))
    strain_factor: Uncertain = field(default_factory=lambda: Uncertain.exact(1.0))

    def __post_init__(self) -> None:
        if not self.label.strip():
            raise InputError("label", self.label, "the coupon's own name")
        with allowed.Together(f"coupon {self.label}") as given:
            for name in ("area", "force_factor", "strain_factor"):
                value = getattr(self, name).value
                given.holds(name, f"of shape {value.shape}", "one value", if_=value.ndim == 0)
                given.positive(name, value)


@dataclass(frozen=True, slots=True)
class CouponValues:
    """Values of one test. What can't be had is None, and ``missing`` says why.

    Attributes
    ----------
    elastic_modulus : Uncertain or None
        E, fitted or as given [Pa].
    proof_strength : Uncertain or None
        R_p at the offset asked for [Pa].
    upper_yield_strength, lower_yield_strength : Uncertain or None
        R_eH and R_eL, where the record has a drop [Pa].
    tensile_strength : Uncertain
        R_m [Pa].
    axis_offset : Uncertain or None
        Strain reading at which extension begins [1].
    total_extension : Uncertain or None
        A_gt, at maximum force [1].
    plastic_extension : Uncertain or None
        A_g, its plastic part [1].
    line : ElasticLine
        With the quality of the fit.
    doubts : tuple of str
        Why the fitted slope isn't a modulus; empty if it is.
    extensometer_rows : int
        Rows with strain, from the start.
    missing : mapping of attribute to sentence
        For each that is None.
    """

    elastic_modulus: Uncertain | None
    proof_strength: Uncertain | None
    upper_yield_strength: Uncertain | None
    lower_yield_strength: Uncertain | None
    tensile_strength: Uncertain
    axis_offset: Uncertain | None
    total_extension: Uncertain | None
    plastic_extension: Uncertain | None
    line: ElasticLine
    doubts: tuple[str, ...]
    extensometer_rows: int
    missing: Mapping[str, str]


def engineering_stress(force: ArrayLike, area: ArrayLike) -> FloatArray:
    """Force over the original area.

    Parameters
    ----------
    force : array of any shape
        Tension positive [N].
    area : float or array
        Before the test [m^2].

    Returns
    -------
    stress : array of the broadcast shape
        Tension positive [Pa].

    Raises
    ------
    InputError
        If the area isn't positive.
    """
    return np.asarray(np.asarray(force, dtype=np.float64) / allowed.positive("area", area))


def coupon_values(
    force: ArrayLike,
    strain: ArrayLike,
    inputs: CouponInputs,
    lowest_stress: float,
    highest_stress: float,
    *,
    offset: float = 0.002,
    limits: ModulusLimits | None = None,
    modulus: Uncertain | None = None,
) -> CouponValues:
    """Evaluate one tensile record after ISO 6892-1 and ASTM E8, pulled to maximum force.

    A record whose elastic line isn't straight gives no modulus, and nothing that needs one,
    unless ``modulus`` is handed over from elsewhere. Strength and yield with a drop need none.

    Parameters
    ----------
    force : array, shape (n_samples,)
        As read, tension positive [N].
    strain : array, shape (n_samples,)
        Of the extensometer as read, any origin; NaN once it is off [1].
    inputs : CouponInputs
        Area and calibrations.
    lowest_stress : float
        Where the elastic line begins [Pa].
    highest_stress : float
        Where it ends [Pa].
    offset : float
        Plastic extension of the proof strength [1].
    limits : ModulusLimits, optional
        When a slope is refused.
    modulus : Uncertain, optional
        Of this metal, from elsewhere, in Pa: used instead of the slope of this record.

    Returns
    -------
    CouponValues
        What could be had, and why not the rest.

    Raises
    ------
    InputError
        If the record and the range of stress don't fit each other.
    """
    factor = inputs.force_factor.value / inputs.area.value
    s = np.asarray(force, dtype=np.float64) * factor
    e = np.asarray(strain, dtype=np.float64) * inputs.strain_factor.value
    line = elastic_line(e, s, lowest_stress, highest_stress)
    found = doubts(line, limits)
    missing: dict[str, str] = {}
    slope = modulus if modulus is not None else _fitted_modulus(line, inputs)
    level = _own_cause(inputs, "level of the elastic line", line.level_uncertainty, line.samples)
    if modulus is not None:
        line = line_of_known_slope(line, modulus.value.item())
        level = _own_cause(inputs, "level of the elastic line", line.level_uncertainty, np.inf)
    elif found:
        why = "; ".join(found) + "; choose a straight range or give the modulus from elsewhere"
        needs_it = ("elastic_modulus", "proof_strength", "axis_offset")
        missing |= dict.fromkeys((*needs_it, "total_extension", "plastic_extension"), why)
    known = modulus is not None or not found
    top = coupon_points.greatest_stress(e, s)
    tensile = _strength(top, s, inputs)
    origin = _origin(line, slope, level, inputs) if known else None
    total, plastic = _extensions(top, tensile, origin, slope, inputs)
    if known and total is None:
        missing |= dict.fromkeys(
            ("total_extension", "plastic_extension"),
            "the extensometer was off at maximum force; it must stay on, or the extension must "
            "be taken from marks on the coupon",
        )
    upper, lower = _yield(e, s, inputs, missing)
    proof = None
    if known:
        try:
            proof = _proof((e, s), line, offset, (slope, level), inputs)
        except InputError as error:
            missing["proof_strength"] = str(error)
    rows = coupon_points.extensometer_rows(e)
    parts = (slope if known else None, proof, upper, lower, tensile, origin, total, plastic)
    return CouponValues(*parts, line, found, rows, missing)


def _own_cause(inputs: CouponInputs, what: str, size: float, freedom: float) -> Uncertain:
    """Deviation of zero mean that belongs to this coupon alone."""
    quantity = InputQuantity(
        f"{inputs.label}: {what}", size, freedom, meaning=f"{what} of coupon {inputs.label}"
    )
    return Uncertain.from_input(0.0, quantity)


def _fitted_modulus(line: ElasticLine, inputs: CouponInputs) -> Uncertain:
    slope = line.elastic_modulus
    fit = _own_cause(
        inputs, "slope of the elastic line", line.modulus_uncertainty, line.samples - 2
    )
    return combination(
        slope,
        [
            (inputs.force_factor, slope / inputs.force_factor.value),
            (inputs.area, -slope / inputs.area.value),
            (inputs.strain_factor, -slope / inputs.strain_factor.value),
            (fit, 1.0),
        ],
    )


def _origin(
    line: ElasticLine, slope: Uncertain, level: Uncertain, inputs: CouponInputs
) -> Uncertain:
    """ε_m - σ_m / E, with what each owes to the calibrations."""
    size, stress = line.elastic_modulus, line.middle_stress
    return combination(
        line.axis_offset,
        [
            (slope, stress / size**2),
            (level, -1 / size),
            (inputs.force_factor, -stress / size / inputs.force_factor.value),
            (inputs.area, stress / size / inputs.area.value),
            (inputs.strain_factor, line.middle_strain / inputs.strain_factor.value),
        ],
    )


def _strength(point: CurvePoint, s: FloatArray, inputs: CouponInputs) -> Uncertain:
    reading = Uncertain.noisy(point.stress, coupon_points.reading_noise(s, point.row))
    return combination(
        point.stress,
        [
            (reading, 1.0),
            (inputs.force_factor, point.stress / inputs.force_factor.value),
            (inputs.area, -point.stress / inputs.area.value),
        ],
    )


def _extensions(
    top: CurvePoint,
    tensile: Uncertain,
    origin: Uncertain | None,
    slope: Uncertain,
    inputs: CouponInputs,
) -> tuple[Uncertain | None, Uncertain | None]:
    """Total and plastic extension at maximum force; none without a strain there."""
    if origin is None or not np.isfinite(top.strain):
        return None, None
    flat = InputQuantity(
        f"{inputs.label}: middle of the plateau at maximum force",
        top.half_width / np.sqrt(3),
        distribution="rectangular",
        meaning=f"where on its flat top coupon {inputs.label} had its maximum force",
    )
    read = combination(
        top.strain,
        [
            (inputs.strain_factor, top.strain / inputs.strain_factor.value),
            (Uncertain.from_input(0.0, flat), 1.0),
        ],
    )
    total = read - origin
    return total, total - tensile / slope


def _yield(
    e: FloatArray, s: FloatArray, inputs: CouponInputs, missing: dict[str, str]
) -> tuple[Uncertain | None, Uncertain | None]:
    upper = coupon_points.upper_yield(e, s)
    if upper is None:
        why = "the record has no drop of stress after which the coupon yields"
        missing |= dict.fromkeys(("upper_yield_strength", "lower_yield_strength"), why)
        return None, None
    lower = coupon_points.lower_yield(e, s, upper)
    if lower is None:
        missing["lower_yield_strength"] = "the extensometer was off while the coupon yielded"
    high = _strength(upper, s, inputs)
    return high, None if lower is None else _strength(lower, s, inputs)


def _proof(
    record: tuple[FloatArray, FloatArray],
    line: ElasticLine,
    offset: float,
    fitted: tuple[Uncertain, Uncertain],
    inputs: CouponInputs,
) -> Uncertain:
    """Where the moved line meets the record, and how far each cause moves the meeting.

    With t the record's slope there, t dε = dσ_m + (ε - p - ε_m) dE + E (dε - dp).
    """
    point = coupon_points.offset_point(*record, line, offset)
    slope, level = fitted
    size, tangent = line.elastic_modulus, point.tangent
    away = tangent / (size - tangent)
    by_slope = -away * (point.strain - offset - line.middle_strain)
    by_offset = away * size
    # Scaling forces scales everything but a modulus that stays as it is; likewise strain.
    by_force = point.stress - size * by_slope
    by_strain = -offset * by_offset + size * by_slope
    reading = Uncertain.noisy(
        point.stress, coupon_points.reading_noise(record[1], point.row) * size / (size - tangent)
    )
    return combination(
        point.stress,
        [
            (reading, 1.0),
            (slope, by_slope),
            (level, -away),
            (inputs.force_factor, by_force / inputs.force_factor.value),
            (inputs.area, -by_force / inputs.area.value),
            (inputs.strain_factor, by_strain / inputs.strain_factor.value),
        ],
    )
