"""A metal as its own coupon says it is: a version of the material record made from a test."""

import math
from dataclasses import replace
from typing import Literal

from gaugewright.calc.coupon_curve import tabulated_curve
from gaugewright.calc.coupon_modulus import line_of_known_slope
from gaugewright.calc.uncertainty import Uncertain
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray
from gaugewright.records import Entry
from gaugewright.records.specimen import Material, SteelLaw
from gaugewright.records.stated import Basis, Meaning, Stated
from gaugewright.services.coupons import CouponResult
from gaugewright.store.campaign import CampaignStore

__all__ = ["YIELDS", "Yield", "curve_of", "material_from"]

Yield = Literal["proof", "upper", "lower"]
YIELDS: dict[Yield, tuple[str, str]] = {
    "proof": ("proof_strength", "Rp0.2"),
    "upper": ("upper_yield_strength", "ReH"),
    "lower": ("lower_yield_strength", "ReL"),
}


def curve_of(found: CouponResult) -> tuple[FloatArray, FloatArray]:
    """Strain and stress of the coupon as a table from zero, rising [1], [Pa].

    Raises
    ------
    InputError
        If the modulus is refused: then the curve has no origin.
    """
    values = found.values
    if values.elastic_modulus is None:
        raise InputError(
            f"curve of coupon {found.test.record.label}",
            "without an origin",
            "that of a test whose elastic line is straight",
            values.missing["elastic_modulus"],
        )
    line = values.line
    if found.test.record.modulus is not None:
        line = line_of_known_slope(line, found.test.record.modulus.value)
    return tabulated_curve(found.strain, found.stress, line)


def material_from(
    store: CampaignStore,
    found: CouponResult,
    label: str,
    *,
    by: Yield = "proof",
    thermal_expansion: Stated | None = None,
    poisson_ratio: Stated | None = None,
) -> Entry[Material]:
    """Material with modulus and strengths of a coupon: a new version of it, or a new record.

    What a tensile test doesn't tell is kept from the earlier version, or must be given. A material
    whose law is elastic becomes bilinear; any other law stays.

    Raises
    ------
    InputError
        If a value is refused or missing.
    """
    modulus = _needed(found, "elastic_modulus", "modulus")
    key, symbol = YIELDS[by]
    strength = _needed(found, key, symbol)
    coupon = f"coupon {found.test.record.label}"
    measured: dict[str, Stated | str] = {
        "elastic_modulus": _stated(modulus, f"{coupon}, elastic line"),
        "yield_strength": _stated(strength, f"{coupon}, {symbol}"),
        "tensile_strength": _stated(found.values.tensile_strength, f"{coupon}, Rm"),
        "coupon": found.test.record.label,
    }
    known = next((e for e in store.entries(Material) if e.record.label == label), None)
    if known is None:
        made = _new(label, measured, thermal_expansion, poisson_ratio)
        return store.add(made, reason=f"from {coupon}")
    law = known.record.law
    revised = replace(
        known.record,
        law=SteelLaw.BILINEAR if law is SteelLaw.ELASTIC else law,
        thermal_expansion=thermal_expansion or known.record.thermal_expansion,
        poisson_ratio=poisson_ratio or known.record.poisson_ratio,
        **measured,  # type: ignore[arg-type]
    )
    if revised == known.record:
        return known
    return store.revise(known.uid, known.version, revised, reason=f"from {coupon}")


def _new(
    label: str,
    measured: dict[str, Stated | str],
    thermal_expansion: Stated | None,
    poisson_ratio: Stated | None,
) -> Material:
    if thermal_expansion is None or poisson_ratio is None:
        raise InputError(
            f"material {label}",
            "new",
            "given its thermal expansion and Poisson's ratio, which a tensile test doesn't tell",
            "state --thermal-expansion and --poisson-ratio, or name a material that is entered",
        )
    return Material(
        label=label,
        law=SteelLaw.BILINEAR,
        thermal_expansion=thermal_expansion,
        poisson_ratio=poisson_ratio,
        **measured,  # type: ignore[arg-type]
    )


def _needed(found: CouponResult, key: str, what: str) -> Uncertain:
    value: Uncertain | None = getattr(found.values, key)
    if value is None:
        name = f"{what} of coupon {found.test.record.label}"
        raise InputError(name, "refused", "had from the test", found.values.missing[key])
    return value


def _stated(value: Uncertain, source: str) -> Stated:
    freedom = float(value.effective_degrees_of_freedom())
    return Stated(
        float(value.value),
        float(value.standard_uncertainty()),
        Meaning.ONE_SIGMA,
        Basis.MEASURED,
        source,
        freedom if math.isfinite(freedom) else None,
    )
