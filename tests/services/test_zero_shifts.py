"""From zero to zero: the demo's shrinkage by hand, a bent bar, a leak, a plug that ended it."""

import shutil
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest

from gaugewright.errors import InputError
from gaugewright.records.electrical import BridgeCircuit, Lead
from gaugewright.records.proof import Censor, Gate, GateCheck, Zero, ZeroKind
from gaugewright.services.campaign import campaigns
from gaugewright.services.campaign.book import Book
from gaugewright.services.zeros import shifts as zero_shifts
from gaugewright.services.zeros import typed as zero_typed
from gaugewright.services.zeros.shifts import Shift
from gaugewright.store.campaign import CampaignStore

KINDS = (ZeroKind.BEFORE_POUR, ZeroKind.BEFORE_TEST)


@pytest.fixture
def store(demo_campaign: Path, tmp_path: Path) -> Iterator[CampaignStore]:
    shutil.copytree(demo_campaign, tmp_path / "demo")
    with campaigns.opened(tmp_path / "demo") as opened:
        yield opened


def shift(store: CampaignStore, label: str) -> Shift:
    return next(
        one
        for one in zero_shifts.shifts(Book.read(store))
        if one.circuit.record.label == label
        and (one.earlier.record.kind, one.later.record.kind) == KINDS
    )


def test_the_shift_is_what_the_bridge_says_by_hand(store: CampaignStore) -> None:
    one, book = shift(store, "L1-M-T"), Book.read(store)
    assert one.strain is not None
    assert one.thermal is not None
    pack = book.pack_of(book.gauges_of(one.circuit)[0]).record
    wire = book.entry(one.circuit.record.lead, Lead).record.resistance.value
    grid, factor = pack.gauge_resistance.value, pack.gauge_factor.value
    # Quarter bridge of equal arms: r = x / (4 + 2x), so x = 4 r / (1 - 2 r).
    was, now = (4 * z.record.bridge_ratio.value for z in (one.earlier, one.later))
    was, now = was / (1 - was / 2), now / (1 - now / 2)
    apparent = ((1 + now) / (1 + was) - 1) * (grid + wire) / grid / factor
    # Transverse sensitivity and the temperature of the gauge factor are below 1 % of it.
    assert float(one.strain.value) == pytest.approx(apparent - one.thermal, rel=0.01)
    assert "shorter, as shrinkage" in zero_shifts.told(one)
    assert "the plug was remade" in zero_shifts.told(one)
    assert one.mean is not None
    other = shift(store, one.opposite)
    assert other.strain is not None
    assert float(one.mean.value) == pytest.approx(
        (float(one.strain.value) + float(other.strain.value)) / 2
    )


def test_temperature_alone_is_its_card_s_curve(store: CampaignStore) -> None:
    one, book = shift(store, "L1-M-T"), Book.read(store)
    gauge = book.gauges_of(one.circuit)[0]
    card, metal = book.pack_of(gauge).record, book.material_of(gauge).record
    curve = card.thermal_output
    assert curve is not None
    warm, cold = (z.record.temperature.value for z in (one.later, one.earlier))
    on_card = np.polynomial.polynomial.polyval([warm, cold], curve.coefficients)
    change = float(on_card[0] - on_card[1]) * curve.gauge_factor / card.gauge_factor.value
    change += (metal.thermal_expansion.value - curve.thermal_expansion) * (warm - cold)
    assert one.thermal == pytest.approx(change, rel=0.02)


def test_a_bar_bent_between_two_zeros_is_told_by_its_faces(store: CampaignStore) -> None:
    for label, sign in (("L1-M-T", 1), ("L1-M-U", -1)):
        later = shift(store, label).later
        ratio = later.record.bridge_ratio
        moved = replace(ratio, value=ratio.value + sign * 300e-6 * 2.1 / 4)
        store.revise(
            later.uid, later.version, replace(later.record, bridge_ratio=moved), reason="bent"
        )
    one = shift(store, "L1-M-T")
    assert one.bending is not None
    assert float(one.bending.value) == pytest.approx(300e-6, rel=0.05)
    assert "bent: the faces moved apart" in zero_shifts.told(one)


def test_a_leak_between_two_zeros_is_told_with_its_size(store: CampaignStore) -> None:
    """100 kΩ to the bar: 400 kΩ across a grid of 350 Ω at most, R / (k (R + R_p))."""
    book = Book.read(store)
    gauge = book.gauges_of(book.labelled(BridgeCircuit, "L1-M-T"))[0]
    check = next(
        c
        for c in book.of(GateCheck)
        if c.record.gauge == gauge.uid and c.record.gate is Gate.BEFORE_TEST
    )
    readings = tuple(
        replace(r, value=1e5, censor=Censor.EXACT, typed="0.1 MΩ") if r.what == "insulation" else r
        for r in check.record.readings
    )
    store.revise(check.uid, check.version, replace(check.record, readings=readings), reason="wet")
    one = shift(store, "L1-M-T")
    assert one.after is not None
    card = book.pack_of(gauge).record
    grid, factor = card.gauge_resistance.value, card.gauge_factor.value
    assert one.after.strain == pytest.approx(-grid / factor / (grid + 4e5))
    assert "insulation fell: a leak can be -4" in zero_shifts.told(one)
    below = tuple(replace(r, censor=Censor.BELOW) for r in readings)
    store.revise(check.uid, 2, replace(check.record, readings=below), reason="short")
    one = shift(store, "L1-M-T")
    assert one.after is not None
    assert one.after.strain is None
    assert "insulation before the later zero bounds no leak" in zero_shifts.told(one)


def test_a_wire_that_changed_is_told_at_20_degrees(store: CampaignStore) -> None:
    book = Book.read(store)
    gauge = book.gauges_of(book.labelled(BridgeCircuit, "L1-M-T"))[0]
    assert "a wire changed" not in zero_shifts.told(shift(store, "L1-M-T"))
    check = next(
        c
        for c in book.of(GateCheck)
        if c.record.gauge == gauge.uid and c.record.gate is Gate.BEFORE_TEST
    )
    readings = tuple(
        replace(r, value=r.value + 0.2) if r.what == "B-C" and r.value else r
        for r in check.record.readings
    )
    store.revise(check.uid, check.version, replace(check.record, readings=readings), reason="bent")
    assert "a wire changed: B and C together" in zero_shifts.told(shift(store, "L1-M-T"))


def test_a_zero_that_ended_with_its_plug_gives_no_number_but_a_sentence(
    store: CampaignStore,
) -> None:
    earlier = shift(store, "L1-M-T").earlier
    ended = replace(earlier.record, carried_to=(), transfer=None)
    store.revise(earlier.uid, earlier.version, ended, reason="not carried")
    one = shift(store, "L1-M-T")
    assert one.strain is None
    assert "carried over to it" in zero_shifts.told(one)
    assert "range" in shift(store, "L3-R6-S").why


def test_a_zero_is_taken_once_for_a_plug(store: CampaignStore) -> None:
    typed = {
        "kind": "before test",
        "recordings": "zero before test, Recorder A; zero before test, Recorder B",
        "begins": "2026-10-13 09:00",
        "ends": "2026-10-13 09:01",
    }
    before = len(store.entries(Zero))
    again = zero_typed.taken(store, typed)
    assert not again.taken
    assert all("take that one back first" in why for _, why in again.missed)
    new = zero_typed.taken(store, typed | {"kind": "bare bar"})
    assert len(store.entries(Zero)) == before + len(new.taken) > before
    assert new.taken[0].record.measured == datetime(2026, 10, 13, 7, tzinfo=UTC)
    for name, text in (("kind", "warm"), ("recordings", ""), ("begins", ""), ("ends", "soon")):
        with pytest.raises(InputError):
            zero_typed.taken(store, typed | {name: text})
