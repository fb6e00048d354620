"""Each cause of a number's doubt is followed to the record, and the value in it, that it is of."""

import shutil
from datetime import UTC, datetime
from pathlib import Path

import pytest

from gaugewright.calc.uncertainty import InputQuantity
from gaugewright.records import Entry
from gaugewright.records.corrections import StageNumber, StageSwitch
from gaugewright.records.electrical import BridgeCircuit
from gaugewright.records.identity import Uid
from gaugewright.records.proof import Limit
from gaugewright.records.specimen import Bar, Material, SteelLaw
from gaugewright.records.stated import Meaning, Stated
from gaugewright.records.steel import CouponCurve, CyclicProperties
from gaugewright.services.calibrating import calibrations
from gaugewright.services.calibrating import shown as calibration_shown
from gaugewright.services.calibrating.calibrated_chains import force_chain_for
from gaugewright.services.calibrating.table import read_table
from gaugewright.services.campaign import campaigns
from gaugewright.services.campaign.book import Book
from gaugewright.services.results.inputs import origin_of
from tools import repository

METAL, SWITCH, LIMITS = Uid("1" * 26), Uid("2" * 26), (Uid("3" * 26), Uid("4" * 26))
TABLE = repository.ROOT / "docs" / "how-to" / "examples" / "calibration_of_a_bar.csv"
TOLD = {
    "measured": "2026-09-08T10:00",
    "load_error": "0.24",
    "temperature": "21",
    "certificate": "cell 7",
}


def about(value: float) -> Stated:
    return Stated(value, abs(value) / 50, Meaning.LIMIT)


def entry(uid: Uid, record: object) -> Entry:
    return Entry(uid, 3, datetime(2026, 1, 1, tzinfo=UTC), None, "test", False, record)


CYCLIC = CyclicProperties(
    about(0.01), about(20.0), about(0.925), about(0.15), misfit=Stated(0.0, 9e6)
)
STEEL = Material(
    "B500B",
    SteelLaw.CYCLIC,
    about(200e9),
    about(12e-6),
    about(0.29),
    about(520e6),
    tensile_strength=about(610e6),
    ultimate_strain=about(0.08),
    hardening_strain=about(0.015),
    hardening_onset_modulus=about(5e9),
    curve=CouponCurve((0.0, 0.0026, 0.08), (0.0, 520e6, 610e6), doubt=Stated(0.0, 0.01)),
    cyclic=CYCLIC,
)
DEAD = StageSwitch(
    "dead load",
    "initial strain@1",
    True,
    "slab",
    (),
    (StageNumber("initial_strain", about(-8e-5)),),
)
HELD = [
    Limit("stress held past yield, lowest", "stress", -0.08, "1", "test"),
    Limit("stress held past yield, highest", "stress", 0.0, "1", "test"),
]


@pytest.mark.parametrize(
    ("name", "uid", "value", "quantity"),
    [
        ("tensile_strength", METAL, 610e6, "tensile_strength"),
        ("ultimate_strain", METAL, 0.08, "strain"),
        ("hardening_strain", METAL, 0.015, "strain"),
        ("hardening_onset", METAL, 5e9, "hardening_modulus"),
        ("elastic_modulus", METAL, 200e9, "elastic_modulus"),
        ("curve", METAL, 0.0, ""),
        ("misfit", METAL, 0.0, "stress"),
        ("curvature_exponent", METAL, 20.0, "curvature_exponent"),
        ("hold", METAL, -0.04, ""),
        ("initial_strain", SWITCH, -8e-5, "strain"),
        ("no such number", METAL, None, ""),
    ],
)
def test_numbers_of_metals_and_decisions_have_their_value(name, uid, value, quantity):
    limits = [entry(at, limit) for at, limit in zip(LIMITS, HELD, strict=True)]
    book = Book([entry(METAL, STEEL), entry(SWITCH, DEAD), *limits])
    origin = origin_of(book, InputQuantity(f"{name}@{uid}", 1.0))
    assert (origin.value, origin.quantity) == (pytest.approx(value), quantity)
    assert origin.source is not None
    assert origin.source.version == 3


def test_every_cause_of_a_calibrated_bar_s_force_is_somebody_s(demo_campaign, tmp_path: Path):
    folder = tmp_path / "beams"
    shutil.copytree(demo_campaign, folder)
    with campaigns.opened(folder) as store:
        told = calibration_shown.told_from(TOLD, store.campaign.record.zone)
        bar = Book.read(store).labelled(Bar, "L1")
        made = calibrations.kept(store, bar, read_table(TABLE.read_text(encoding="utf-8")), told)
        book = Book.read(store)
        circuit = book.entry(made[0].record.of, BridgeCircuit)
        calibrations.carried_to_last(store, circuit, "same lead")
        book = Book.read(store)
        inputs = force_chain_for(book, book.connections_of(circuit.uid)[-1]).chain.inputs
    origins = {one.name: origin_of(book, one) for one in inputs}
    assert all(origin.source is not None for origin in origins.values()), origins
    own = {
        name: origin for name, origin in origins.items() if name.startswith(("calibration", "ref"))
    }
    assert {name.partition("@")[0] for name in own} == {
        "calibration",
        "calibration_bending",
        "calibration_modulus",
        "calibration_temperature",
        "reference load",
    }
    for name, origin in own.items():
        temperature = name.startswith(("calibration_temperature", "calibration_modulus"))
        assert origin.value == (21.0 if temperature else 0.0), name
