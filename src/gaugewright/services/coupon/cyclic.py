"""A coupon strained to and fro: the cyclic law that comes nearest, how near, and its cycles."""

from dataclasses import dataclass
from importlib.util import find_spec

import numpy as np

from gaugewright.calc import coupon_modulus, quality, steel_fit
from gaugewright.calc.coupon_modulus import ElasticLine
from gaugewright.calc.cycles import Cycles, rainflow_cycles
from gaugewright.calc.steel_cyclic import cyclic_stress
from gaugewright.calc.steel_fit import CyclicFit
from gaugewright.errors import InputError
from gaugewright.quantities import FloatArray
from gaugewright.records import Entry
from gaugewright.records.coupons import CouponTest
from gaugewright.services.campaign.book import Book
from gaugewright.services.coupon.evaluated import pulled_record
from gaugewright.store.campaign import CampaignStore

__all__ = ["GATES_OF_NOISE", "CyclicCoupon", "cyclic_coupon", "is_compiled"]

# A reversal counts once strain has come back by so many standard deviations of its noise: our own
# choice; a move of six is met by chance once in some ten million pairs of samples.
GATES_OF_NOISE = 6.0


@dataclass(frozen=True, slots=True)
class CyclicCoupon:
    """A cyclic coupon: its record from its own origin, the law fitted, and what the law gives.

    ``direction`` is -1 where the first loading was compression; ``doubts`` says why the slope of
    that loading isn't a modulus, and then a modulus from elsewhere was used. ``gate`` is in
    strain. ``every`` counts cycles without a gate, ``cycles`` those with it.
    """

    test: Entry[CouponTest]
    strain: FloatArray
    stress: FloatArray
    direction: int
    line: ElasticLine
    doubts: tuple[str, ...]
    modulus: float
    gate: float
    fit: CyclicFit
    followed: FloatArray
    cycles: Cycles
    every: Cycles


def is_compiled() -> bool:
    """Whether loops over single samples run compiled here."""
    return find_spec("numba") is not None


def cyclic_coupon(
    store: CampaignStore, book: Book, test: Entry[CouponTest], *, gate: float | None = None
) -> CyclicCoupon:
    """Fit the cyclic law to a coupon's whole history and count its cycles.

    ``gate`` is the smallest move of strain that counts as a reversal; by default six standard
    deviations of the strain's noise.

    Raises
    ------
    InputError
        If the elastic line isn't stated, isn't straight and no modulus was given, or the coupon
        didn't yield both ways.
    """
    force, strain, inputs = pulled_record(store, book, test)
    stress = force * float(inputs.force_factor.value) / float(inputs.area.value)
    read = strain * float(inputs.strain_factor.value)
    direction, line = _first_loading(test.record, read, stress)
    found = coupon_modulus.doubts(line)
    if test.record.modulus is not None:
        modulus = test.record.modulus.value
        line = coupon_modulus.line_of_known_slope(line, modulus)
    else:
        coupon_modulus.refuse_doubtful(line)
        modulus = line.elastic_modulus
    counted = GATES_OF_NOISE * quality.noise_floor(read) if gate is None else gate
    origin = read - direction * line.axis_offset
    fast = is_compiled()
    fit = steel_fit.fitted_cyclic_steel(origin, stress, modulus, gate=counted, fast=fast)
    known = np.isfinite(origin)
    followed = np.full(origin.shape, np.nan)
    followed[known], _ = cyclic_stress(origin[known], fit.steel, gate=counted)
    return CyclicCoupon(
        test,
        origin,
        stress,
        direction,
        line,
        found,
        modulus,
        counted,
        fit,
        followed,
        rainflow_cycles(origin, counted, fast=fast),
        rainflow_cycles(origin, fast=fast),
    )


def _first_loading(
    record: CouponTest, strain: FloatArray, stress: FloatArray
) -> tuple[int, ElasticLine]:
    """Which way the coupon was loaded first, and the elastic line of that loading."""
    low, high = record.lowest_stress, record.highest_stress
    if low is None or high is None:
        do = "state --elastic-from and --elastic-to"
        raise InputError(f"elastic line of {record.label}", None, "given by two stresses", do)
    reached = np.flatnonzero(np.abs(stress) >= high)
    if not reached.size:
        greatest = float(np.nanmax(np.abs(stress)))
        raise InputError("elastic_to", high, f"reached by the record, which ends at {greatest:g}")
    direction = 1 if stress[reached[0]] > 0 else -1
    return direction, coupon_modulus.elastic_line(direction * strain, direction * stress, low, high)
