"""A metal as its own coupon says it is: a version of the material record made from a test."""

import math
from collections.abc import Mapping
from dataclasses import replace
from typing import Any, Literal

import numpy as np

from gaugewright.calc.coupon_curve import tabulated_curve
from gaugewright.calc.coupon_modulus import line_of_known_slope
from gaugewright.calc.uncertainty import Uncertain
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray
from gaugewright.records import Entry
from gaugewright.records.specimen import Material
from gaugewright.records.stated import Basis, Meaning, Stated
from gaugewright.records.steel import CouponCurve, CyclicProperties, SteelLaw
from gaugewright.services.coupon.cyclic import CyclicCoupon
from gaugewright.services.coupon.evaluated import CouponResult
from gaugewright.store.campaign import CampaignStore

__all__ = [
    "LAWS",
    "YIELDS",
    "Yield",
    "curve_of",
    "cyclic_material",
    "kept_material",
    "material_from",
]

_NOT_OF_A_TEST = ("thermal_expansion", "poisson_ratio")
# Laws that a tensile test alone makes ready to use.
LAWS = {"curve": SteelLaw.COUPON_CURVE, "elastic": SteelLaw.ELASTIC}

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
    law: SteelLaw | None = None,
    others: Mapping[str, Stated] | None = None,
) -> Entry[Material]:
    """Material with modulus, strengths and curve of a coupon: a new version of it, or a new record.

    What a tensile test doesn't tell (``thermal_expansion``, ``poisson_ratio``) is kept from the
    earlier version, or must be in ``others``. A law that isn't stated stays; a new material, and
    one that was elastic, follows the coupon's own curve.

    Raises
    ------
    InputError
        If a value is refused or missing.
    """
    key, symbol = YIELDS[by]
    coupon = f"coupon {found.test.record.label}"
    tensile = found.values.tensile_strength
    modulus, strength = _needed(found, "elastic_modulus", "modulus"), _needed(found, key, symbol)
    measured: dict[str, Any] = dict(others or {})
    measured |= {
        "elastic_modulus": _stated(modulus, f"{coupon}, elastic line"),
        "yield_strength": _stated(strength, f"{coupon}, {symbol}"),
        "tensile_strength": _stated(tensile, f"{coupon}, Rm"),
        "coupon": found.test.record.label,
        "curve": _curve(found, coupon),
    }
    return kept_material(store, label, measured, law, f"from {coupon}")


def _curve(found: CouponResult, coupon: str) -> CouponCurve:
    """Table of the coupon; its stress is in doubt as much as the strength's scale is."""
    strain, stress = curve_of(found)
    tensile, last = found.values.tensile_strength, found.values.total_extension
    share = float(tensile.standard_uncertainty()) / float(tensile.value)
    doubt = Stated(0.0, share, Meaning.ONE_SIGMA, Basis.MEASURED, f"{coupon}, scale of stress")
    return CouponCurve(
        tuple(strain.tolist()),
        tuple(stress.tolist()),
        doubt=doubt,
        uniform_elongation=None if last is None else float(last.value),
    )


def cyclic_material(
    store: CampaignStore,
    found: CyclicCoupon,
    label: str,
    *,
    others: Mapping[str, Stated] | None = None,
) -> Entry[Material]:
    """Material that follows the cyclic law fitted to a coupon, with the misfit as its doubt.

    Raises
    ------
    InputError
        If the search didn't come to rest, or what a coupon doesn't tell is missing.
    """
    coupon = f"coupon {found.test.record.label}"
    if not found.fit.settled:
        raise InputError(f"cyclic law of {coupon}", "not settled", "a fit that came to rest")

    def fitted(name: str) -> Stated:
        value = float(np.asarray(getattr(found.fit.steel, name)))
        return Stated(value, basis=Basis.CALCULATED, source=f"{coupon}, least squares")

    names = ("hardening_share", "curvature_exponent", "curvature_loss", "curvature_loss_half")
    growth = ("compression_growth", "tension_growth")
    misfit = Stated(0.0, found.fit.misfit, Meaning.ONE_SIGMA, Basis.CALCULATED, f"{coupon}, fit")
    properties = CyclicProperties(
        **{name: fitted(name) for name in (*names, *growth)}, misfit=misfit
    )
    given = found.test.record.modulus
    line = found.line
    slope = Stated(
        line.elastic_modulus,
        line.modulus_uncertainty,
        Meaning.ONE_SIGMA,
        Basis.MEASURED,
        f"{coupon}, elastic line of first loading",
    )
    measured: dict[str, Any] = dict(others or {})
    measured |= {
        "elastic_modulus": given or slope,
        "yield_strength": fitted("yield_strength"),
        "coupon": found.test.record.label,
        "cyclic": properties,
    }
    return kept_material(store, label, measured, SteelLaw.CYCLIC, f"from {coupon}")


def kept_material(
    store: CampaignStore,
    label: str,
    measured: Mapping[str, Any],
    law: SteelLaw | None,
    reason: str,
) -> Entry[Material]:
    """Material in the store: a new record, or a new version of the one that is called so."""
    known = next((e for e in store.entries(Material) if e.record.label == label), None)
    if known is None:
        missing = [name for name in _NOT_OF_A_TEST if name not in measured]
        if missing:
            raise InputError(
                f"material {label}",
                "new",
                "given its thermal expansion and Poisson's ratio, which a coupon doesn't tell",
                "state --thermal-expansion and --poisson-ratio, or name a material that is entered",
            )
        made = Material(label=label, law=law or SteelLaw.COUPON_CURVE, **measured)
        return store.add(made, reason=reason)
    own = known.record.law
    chosen = law or (SteelLaw.COUPON_CURVE if own is SteelLaw.ELASTIC else own)
    revised = replace(known.record, law=chosen, **measured)
    if revised == known.record:
        return known
    return store.revise(known.uid, known.version, revised, reason=reason)


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
