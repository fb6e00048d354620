"""Stating a coupon's test in one go: its table brought in, evaluated, kept, and a metal made."""

import tempfile
from collections.abc import Mapping
from pathlib import Path

from gaugewright.errors import InputError
from gaugewright.present.units_shown import System
from gaugewright.records import Entry
from gaugewright.records.readings import Recording
from gaugewright.records.specimen import Material
from gaugewright.services.campaign.book import Book
from gaugewright.services.coupon import evaluated as coupons
from gaugewright.services.coupon import material as coupon_material
from gaugewright.services.coupon import of_recordings as coupon_tests
from gaugewright.services.coupon.evaluated import CouponResult
from gaugewright.services.work.typed_values import stated_typed
from gaugewright.store.campaign import CampaignStore

__all__ = ["metal_made", "recording_of_text", "stated_and_kept"]

OTHERS = ("thermal_expansion", "poisson_ratio")


def recording_of_text(store: CampaignStore, name: str, text: str) -> Entry[Recording]:
    """Recording from a table that was pasted or sent, under the coupon's name.

    Raises
    ------
    InputError
        If a recording has that name already, or the table leaves a question open.
    """
    if not name.strip() or "/" in name or name.startswith("."):
        raise InputError("name of the coupon", name, "given, and without a slash", "type it in")
    if any(entry.record.label == name for entry in store.entries(Recording)):
        raise InputError(
            "name of the coupon",
            name,
            "one that no recording has yet",
            "choose that recording, or name the coupon otherwise",
        )
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / f"{name}.csv"
        path.write_text(text, encoding="utf-8")
        return coupon_tests.recording_of(store, str(path))


def stated_and_kept(
    store: CampaignStore,
    recording: Entry[Recording],
    typed: Mapping[str, str],
    system: System,
    *,
    label: str = "",
    columns: tuple[str, str] = ("", ""),
) -> CouponResult:
    """Coupon's test as typed, evaluated, then kept: one that can't be evaluated isn't kept.

    Raises
    ------
    InputError
        If a value can't be read, a column can't be told, or the record can't be evaluated.
    """
    stated = coupon_tests.coupon_typed(recording, typed, system, label=label, columns=columns)
    coupons.evaluated(store, Book.read(store), coupon_tests.not_yet_kept(store, stated))
    test = coupon_tests.kept_test(store, stated)
    return coupons.evaluated(store, Book.read(store), test)


def metal_made(
    store: CampaignStore,
    found: CouponResult,
    label: str,
    typed: Mapping[str, str],
    system: System,
    *,
    by: str,
    law: str = "",
) -> Entry[Material]:
    """Metal from a coupon, ``by`` one of its yield strengths, following a law; "" as it was.

    Raises
    ------
    InputError
        If a choice isn't known, or the metal lacks what a coupon doesn't tell.
    """
    strength = next((one for one in coupon_material.YIELDS if one == by), None)
    if strength is None:
        raise InputError("yield", by, "one of " + ", ".join(coupon_material.YIELDS))
    if law and law not in coupon_material.LAWS:
        raise InputError("law", law, "one of " + ", ".join(coupon_material.LAWS))
    others = {
        name: stated_typed(name, typed[name], name, system)
        for name in OTHERS
        if typed.get(name, "").strip()
    }
    return coupon_material.material_from(
        store,
        found,
        label,
        by=strength,
        law=coupon_material.LAWS[law] if law else None,
        others=others,
    )
