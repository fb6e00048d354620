"""Checks of how a gauge reads on the whole: its noise beside others', strain beside predicted."""

from collections.abc import Iterator

import numpy as np

from gaugewright.calc import quality
from gaugewright.errors import Faults, InputError
from gaugewright.quantities import FloatArray
from gaugewright.records.proof import ZeroKind
from gaugewright.records.readings import Finding, Severity
from gaugewright.records.specimen import SteelLaw
from gaugewright.services.loading.yields import yield_strain
from gaugewright.services.reviewing.checks import Watched, finding
from gaugewright.services.reviewing.company import has_load
from gaugewright.services.section.predictions import predicted_strain
from gaugewright.services.strain.strains import Desk
from gaugewright.services.under_load.loads import load_at

__all__ = ["against_prediction", "noise_floors", "noise_of"]

SPREAD = 6.0  # standard deviations between the highest and the lowest of a few hundred readings
LOUDER = 4.0  # times the middle of the others
FEWEST = 3  # others whose noise can be compared with
LEVELS = 15  # of load, up to nine tenths of the highest
SHARE = 1 / 3  # of the levels at which a strain must be outside


def noise_of(desk: Desk, one: Watched) -> float | None:
    """Noise of a gauge's strain from scan to scan, a standard deviation [1]; worked out once."""

    def found() -> float | None:
        try:
            strain = desk.strain(one.circuit, ZeroKind.BEFORE_TEST).strain
        except (InputError, Faults):
            return None  # what is missing, reducing tells
        floor = quality.noise_floor(strain)
        return float(floor) if np.isfinite(floor) else None

    return one.once("noise of strain", found)


def noise_floors(desk: Desk, watched: tuple[Watched, ...]) -> Iterator[Finding]:
    """Gauges noisier all along than the limit of their proof and than the others here."""
    if "noise, peak to peak" not in desk.book.limit_labels():
        return
    limit = desk.book.limit("noise, peak to peak")
    known = {one.gauge.uid: noise_of(desk, one) for one in watched}
    for one in watched:
        own = known[one.gauge.uid]
        others = [n for uid, n in known.items() if uid != one.gauge.uid and n is not None]
        if own is None or len(others) < FEWEST or own * SPREAD <= limit.record.value:
            continue
        middle = float(np.median(others))
        if own <= LOUDER * middle:
            continue
        stretch = one.outlines[-1]
        words = (
            f"{one.gauge.record.label} is restless all along: {SPREAD * own * 1e6:.2g} µε from "
            f"its highest to its lowest reading at rest, {own / middle:.1f} times as much as the "
            "others here: contact, leak or a cable near a machine"
        )
        yield finding(
            one, "noise floor", stretch, (stretch.first_row, stretch.last_row),
            measured=(SPREAD * own, "1"), limit=limit, sentence=words, severity=Severity.NOTE,
        )  # fmt: skip


def against_prediction(desk: Desk, watched: tuple[Watched, ...]) -> Iterator[Finding]:
    """Gauges that read outside of what a whole and a cracked section leave possible below yield."""
    limit = desk.book.limit("local bending share")
    if not has_load(desk):
        return
    for one in watched:
        band = _band(desk, one)
        if band is None:
            continue
        lowest, highest, doubt, read = band
        allowed = 3 * doubt + limit.record.value * np.abs(highest)
        beyond = np.maximum(read - highest - allowed, lowest - allowed - read)
        outside = beyond > 0
        if outside.mean() <= SHARE:
            continue
        at = int(np.argmax(beyond))
        stretch = one.outlines[-1]
        words = (
            f"{one.gauge.record.label} reads {read[at] * 1e6:.0f} µε where a section whole or "
            f"cracked makes {lowest[at] * 1e6:.0f} to {highest[at] * 1e6:.0f} µε: gauge factor, "
            "place, load or prediction is wrong; in a shear span inclined cracks may add to it"
        )
        yield finding(
            one, "differs from prediction", stretch, (stretch.first_row, stretch.last_row),
            measured=(float(read[at]), "1"), limit=limit, sentence=words, severity=Severity.NOTE,
        )  # fmt: skip


def _band(desk: Desk, one: Watched) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray] | None:
    """Predicted strain whole and cracked, its doubt, and what was read, below yield."""
    try:
        strain = desk.strain(one.circuit, ZeroKind.BEFORE_TEST)
        load = load_at(desk, strain.time)
        levels = np.linspace(0.1, 0.9, LEVELS) * float(np.nanmax(load))
        predicted = predicted_strain(desk.book, one.gauge, levels)
    except (InputError, Faults):
        return None  # no strain, no load, or nothing predicts this gauge
    material = desk.book.material_of(one.gauge)
    limit = np.inf
    if material.record.law is not SteelLaw.ELASTIC:
        limit = 0.9 * yield_strain(desk, material).value.item()
    highest = np.fmax.accumulate(np.where(np.isfinite(load), load, -np.inf))
    reached = np.minimum(np.searchsorted(highest, levels), strain.strain.size - 1)
    read = strain.strain[reached]
    whole, cracked = predicted.uncracked.value, predicted.cracked.value
    doubt = np.maximum(
        predicted.uncracked.standard_uncertainty(), predicted.cracked.standard_uncertainty()
    )
    good = np.isfinite(read) & (np.abs(cracked) < limit)
    if good.sum() < LEVELS // 3:
        return None
    lowest, most = np.minimum(whole, cracked), np.maximum(whole, cracked)
    return lowest[good], most[good], doubt[good], read[good]
