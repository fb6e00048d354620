"""Bar force and stress beyond yield from records and readings, against the laws by hand."""

import importlib.util
import json
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest

from gaugewright.calc.uncertainty import Uncertain
from gaugewright.cli import main
from gaugewright.errors import Faults, InputError
from gaugewright.records.electrical import BridgeCircuit
from gaugewright.records.gauges import ThermalOutput
from gaugewright.records.proof import Limit, ZeroKind
from gaugewright.records.specimen import Material, Question, SteelLaw
from gaugewright.records.stated import Meaning, Stated
from gaugewright.records.steel import CouponCurve, CyclicProperties
from gaugewright.services.bars import forces
from gaugewright.services.campaign.book import Book
from gaugewright.services.reducing import reduction
from gaugewright.services.specimen import steel_series
from gaugewright.services.steel import steel_stress
from gaugewright.services.strain.strains import Desk
from gaugewright.services.zeros import zeros

_spec = importlib.util.spec_from_file_location("tiny", Path(__file__).with_name("conftest.py"))
_tiny = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(_tiny)
BEGINS, divider_mv_per_v, exact = _tiny.BEGINS, _tiny.divider_mv_per_v, _tiny.exact
TEST_BEGINS = BEGINS + timedelta(hours=1)
AREA = 200e-6
E, FY, FU, BEGIN, END = 200e9, 500e6, 620e6, 0.012, 0.11


@pytest.fixture
def ready(tiny):
    """Bar with zeros taken and thermal output of nothing."""
    pack = tiny.store.entry(tiny.uid["pack"])
    curve = ThermalOutput((0.0, 0.0), 2.0, 12e-6, 0.0, 60.0, Stated(0.0, 0.0, Meaning.LIMIT))
    tiny.store.revise(
        pack.uid, pack.version, replace(pack.record, thermal_output=curve), reason="typed in"
    )
    lively = 1e-6 * (-1.0) ** np.arange(60)
    none = np.zeros(60)
    tiny.record("zero", BEGINS, {"G-T": lively, "G-U": lively, "P": none, "T": none + 20})
    for label in ("G-T", "G-U"):
        zeros.take_zero(
            tiny.store,
            kind=ZeroKind.BEFORE_TEST,
            connection=tiny.uid[f"connection {label}"],
            recording=tiny.uid["zero"],
            begins=BEGINS,
            ends=BEGINS + timedelta(seconds=60),
        )
    return tiny


def of_law(tiny, law, **numbers):
    entry = tiny.store.entry(tiny.uid["steel"])
    changed = replace(entry.record, law=law, **numbers)
    tiny.store.revise(entry.uid, entry.version, changed, reason="another law")


def pulled(tiny, upper, under=None):
    under = upper if under is None else under
    load = np.linspace(0.0, 60.0, len(upper))
    columns = {"G-T": divider_mv_per_v(upper), "G-U": divider_mv_per_v(under)}
    tiny.record("test", TEST_BEGINS, {**columns, "P": load, "T": np.full(len(upper), 20.0)})


def to_and_hold(*strains, hold=300):
    """Straight from one strain to the next, then held."""
    path = [np.linspace(a, b, 200) for a, b in zip((0.0, *strains), strains, strict=False)]
    return np.concatenate([*path, np.full(hold, strains[-1])])


def bar_force(tiny, add_step, strain):
    pulled(tiny, strain)
    tiny.add("question", Question("Q", "force beyond yield", "force", load=60e3))
    add_step(tiny, "hold", len(strain) - 300, len(strain), 60e3)
    done = reduction.reduce(tiny.store)
    return next(
        e.record for e in done.results if e.record.label == "bar force G-T with G-U at hold"
    )


PLATEAU = {
    "yield_strength": exact(FY),
    "tensile_strength": exact(FU),
    "hardening_strain": exact(BEGIN),
    "ultimate_strain": exact(END),
}
# The middle of -5 % and 0 %.
RESTED = 0.975


def test_mander_on_the_curve_and_a_hold_that_rests(ready, add_step):
    of_law(ready, SteelLaw.MANDER, hardening_onset_modulus=exact(6e9), **PLATEAU)
    found = bar_force(ready, add_step, to_and_hold(0.02))
    power = 6e9 * (END - BEGIN) / (FU - FY)
    law = FU - (FU - FY) * ((END - 0.02) / (END - BEGIN)) ** power
    assert found.value == pytest.approx(RESTED * law * AREA, rel=1e-5)
    # A rectangle from -5 % to 0 %, at a coverage of 95 % with a normal factor; nothing else weighs.
    assert found.expanded_uncertainty == pytest.approx(
        1.96 * 0.05 / np.sqrt(12) * law * AREA, rel=2e-2
    )
    assert "rest of the steel while it is held past yield" in found.main_cause
    assert "hardening after Mander" in found.note
    assert "between -5 % and +0 % of the law" in found.note
    assert "no coupon named at a rate that nobody stated" in found.note


def test_park_follows_its_published_points(ready, add_step):
    # Park & Paulay with f_y 414, f_u 621, 0.008 and 0.12: 540.4786 MPa at 0.03 (derived by hand).
    of_law(
        ready,
        SteelLaw.PARK,
        yield_strength=exact(414e6),
        tensile_strength=exact(621e6),
        hardening_strain=exact(0.008),
        ultimate_strain=exact(0.12),
    )
    found = bar_force(ready, add_step, to_and_hold(0.03))
    assert found.value == pytest.approx(RESTED * 540.4786e6 * AREA, rel=1e-5)


def test_the_laboratorys_own_curve_with_its_doubt_coupon_and_rate(ready, add_step):
    table = CouponCurve(
        (0.0, 0.0025, 0.012, 0.03),
        (0.0, 500e6, 505e6, 550e6),
        doubt=Stated(0.0, 0.01, Meaning.ONE_SIGMA),
    )
    of_law(ready, SteelLaw.COUPON_CURVE, curve=table, coupon="C3", coupon_rate=Stated(2.5e-4))
    for label in ("lowest", "highest"):
        ready.add(
            label,
            Limit(
                f"stress held past yield, {label}",
                "relative_deviation",
                0.0,
                "1",
                "no rest here",
                False,
            ),
        )
    found = bar_force(ready, add_step, to_and_hold(0.012))
    assert found.value == pytest.approx(505e6 * AREA, rel=1e-4)
    assert found.expanded_uncertainty == pytest.approx(1.96 * 0.01 * 505e6 * AREA, rel=1e-2)
    # From yield at 0.0025 to 0.012 and the end of the hold, one sample a second.
    seconds = 300 + 200 * (1 - 0.0025 / 0.012)
    rate = (0.012 - 0.0025) / seconds
    assert "coupon C3 at 0.00025 1/s" in found.note
    told = float(found.note.split("test ")[1].split(" 1/s")[0])
    assert told == pytest.approx(rate, rel=0.06)


def test_beyond_the_curves_end_there_is_no_force_and_it_says_why(ready, add_step):
    table = CouponCurve((0.0, 0.0025, 0.012), (0.0, 500e6, 505e6))
    of_law(ready, SteelLaw.COUPON_CURVE, curve=table)
    found = bar_force(ready, add_step, to_and_hold(0.015))
    assert found.value is None
    assert "beyond the end of the law" in found.note


def test_a_bar_unloaded_after_yield_is_not_on_its_curve(ready, add_step):
    of_law(ready, SteelLaw.BILINEAR, hardening_modulus=exact(2e9))
    found = bar_force(ready, add_step, to_and_hold(0.01, 0.0085))
    law = 500e6 + 2e9 * (0.01 - 0.0025) - 200e9 * 0.0015
    assert found.value == pytest.approx(law * AREA, rel=1e-4)
    assert "held past yield" not in found.note


def test_yielded_back_only_the_cyclic_law_knows(ready, add_step):
    of_law(ready, SteelLaw.BILINEAR, hardening_modulus=exact(2e9))
    strain = to_and_hold(0.01, -0.004)
    found = bar_force(ready, add_step, strain)
    assert found.value is None
    assert "only the cyclic law" in found.note


def test_to_and_fro_by_the_cyclic_law(ready, add_step):
    shares = CyclicProperties(exact(0.01), exact(20.0), exact(0.925), exact(0.15))
    of_law(ready, SteelLaw.CYCLIC, cyclic=shares)
    strain = to_and_hold(0.01, -0.004)
    found = bar_force(ready, add_step, strain)
    # From the turn at (0.01, s) along E to the lower yield line, a knee of R after the papers.
    s = menegotto(0.01, 0.0025, 500e6, 20.0)
    lines = np.array([[200e9, -1.0], [2e9, -1.0]])
    goal, goal_s = np.linalg.solve(lines, [200e9 * 0.01 - s, -2e9 * 0.0025 + 500e6])
    xi = abs(-0.0025 - goal) / 0.0025
    power = 20 * (1 - 0.925 * xi / (0.15 + xi))
    r = (-0.004 - 0.01) / (goal - 0.01)
    bent = 0.01 * r + 0.99 * r / (1 + r**power) ** (1 / power)
    law = s + bent * (goal_s - s)
    assert found.value == pytest.approx(RESTED * law * AREA, rel=1e-3)
    assert "cyclic" in found.note


def menegotto(strain, yield_strain, strength, power):
    e = strain / yield_strain
    return strength * (0.01 * e + 0.99 * e / (1 + e**power) ** (1 / power))


def test_stress_along_a_record_is_law_by_law_the_same_as_at_its_end(ready):
    of_law(ready, SteelLaw.RAMBERG_OSGOOD, exponent=exact(14.0))
    strain = to_and_hold(0.008)
    pulled(ready, strain)
    desk = Desk(ready.store, Book.read(ready.store))
    circuit = desk.book.entry(ready.uid["circuit G-T"], BridgeCircuit)
    rows = np.array([90, 150, 199], dtype=np.int64)
    found = steel_stress.stress_along_rows(desk, circuit, ZeroKind.BEFORE_TEST, rows + 60)
    read = desk.strain(circuit, ZeroKind.BEFORE_TEST).strain[rows + 60]
    stress = found.stress.value
    assert stress / 200e9 + 0.002 * (stress / 500e6) ** 14 == pytest.approx(read, rel=1e-6)
    assert found.yielded.tolist() == [bool(value > 0.0025) for value in read]
    assert found.known


def test_steel_has_yielded_also_after_a_row_without_a_reading(ready):
    of_law(ready, SteelLaw.RAMBERG_OSGOOD, exponent=exact(14.0))
    strain = to_and_hold(0.008)
    strain[120] = np.nan
    pulled(ready, strain)
    desk = Desk(ready.store, Book.read(ready.store))
    circuit = desk.book.entry(ready.uid["circuit G-T"], BridgeCircuit)
    rows = np.array([90, 199], dtype=np.int64)
    found = steel_stress.stress_along_rows(desk, circuit, ZeroKind.BEFORE_TEST, rows + 60)
    assert found.yielded.tolist() == [True, True]


def test_a_flat_that_has_yielded_gives_the_force_of_the_bar(ready, add_step, add_flat):
    for label in ("G-T", "G-U"):
        add_flat(ready, label, 0.006, opposite=True)
    of_law(ready, SteelLaw.BILINEAR, hardening_modulus=exact(2e9))
    found = bar_force(ready, add_step, to_and_hold(0.01))
    y = np.linspace(np.sqrt(8.0**2 - 3.0**2), 8.0, 200_001)
    segment = np.trapezoid(2 * np.sqrt(np.clip(64.0 - y**2, 0, None)), y) * 1e-6
    stress = 500e6 + 2e9 * 0.0075
    assert found.value == pytest.approx(RESTED * stress * (AREA - 2 * segment), rel=1e-5)


def test_a_law_without_its_numbers_is_refused_with_all_of_them():
    given = {
        "label": "steel",
        "elastic_modulus": exact(200e9),
        "thermal_expansion": exact(12e-6),
        "poisson_ratio": exact(0.3),
    }
    with pytest.raises(Faults) as told:
        Material(law=SteelLaw.MANDER, **given)
    missing = {fault.name for fault in told.value.faults}
    assert missing == {*PLATEAU, "hardening_onset_modulus"}
    with pytest.raises(InputError, match="exponent"):
        Material(law=SteelLaw.RAMBERG_OSGOOD, yield_strength=exact(FY), **given)
    swapped = {"tensile_strength": exact(4e8), "ultimate_strain": exact(0.01)}
    with pytest.raises(Faults, match="above the yield strength"):
        Material(law=SteelLaw.PARK, **given, **PLATEAU | swapped)


def test_stress_of_a_first_loading_carries_every_number_of_the_law(ready):
    doubted = {
        name: Stated(s.value, 0.01 * s.value, Meaning.ONE_SIGMA) for name, s in PLATEAU.items()
    }
    of_law(ready, SteelLaw.PARK, **doubted)
    desk = Desk(ready.store, Book.read(ready.store))
    material = desk.book.entry(ready.uid["steel"], Material)
    found = forces.stress_of(desk, material, Uncertain.exact(0.03))
    parts = {name.split("@")[0]: abs(float(p)) for name, p in found.contributions().items()}
    assert set(parts) >= {
        "yield_strength",
        "tensile_strength",
        "hardening_strain",
        "ultimate_strain",
    }
    # Stress between f_y and f_u: their two doubts together are about 1 % of it.
    assert parts["yield_strength"] + parts["tensile_strength"] == pytest.approx(
        0.01 * float(found.value), rel=0.25
    )


def test_over_the_test_and_at_steps_with_the_full_bar_beside_its_flat(ready, add_step, add_flat):
    add_flat(ready, "G-T", 0.006)
    of_law(ready, SteelLaw.BILINEAR, hardening_modulus=Stated(2e9, 1e8, Meaning.ONE_SIGMA))
    pulled(ready, to_and_hold(0.01, 0.0085))
    add_step(ready, "unloaded", 400, 700, 60e3)
    reduction.reduce(ready.store)
    desk = Desk(ready.store, Book.read(ready.store))
    found = steel_series.steel_of_gauge(desk, "G-T", samples=50)
    y = np.linspace(np.sqrt(8.0**2 - 3.0**2), 8.0, 200_001)
    share = 1 - np.trapezoid(2 * np.sqrt(np.clip(64.0 - y**2, 0, None)), y) * 1e-6 / AREA
    step = found.steps[0]
    highest = 500e6 + 2e9 * 0.0075
    # The bar flowed under share times the flat's highest stress, and came back along E.
    above = max(share * highest - 500e6, 0.0)
    top = 500e6 / 200e9 + above / 2e9 if above else share * highest / 200e9
    assert step.bar_strain.value == pytest.approx(top - share * 0.0015, rel=1e-4)
    assert step.stress.value == pytest.approx(highest - 200e9 * 0.0015, rel=1e-4)
    assert step.force.value == pytest.approx(float(step.stress.value) * share * AREA, rel=1e-6)
    parts = {name.split("@")[0]: abs(float(p)) for name, p in step.stress.contributions().items()}
    assert parts["hardening"] == pytest.approx(1e8 * 0.0075, rel=1e-3)
    assert found.yielded.any()
    assert not found.yielded.all()
    assert found.bar_strain.max() < found.strain.value.max()


def test_the_command_prints_steps_series_and_the_law(ready, add_step, add_flat, capsys):
    add_flat(ready, "G-T", 0.006)
    of_law(ready, SteelLaw.BILINEAR, hardening_modulus=exact(2e9))
    pulled(ready, to_and_hold(0.01))
    add_step(ready, "held", 200, 500, 60e3)
    reduction.reduce(ready.store)
    folder = str(ready.store.folder)
    ready.store.close()
    assert main(["results", "steel", folder, "G-T"]) == 0
    told = capsys.readouterr().out
    assert "strain of the bar" in told
    assert "held: law: bilinear; no coupon named at a rate that nobody stated" in told
    assert main(["results", "steel", folder, "G-T", "--json"]) == 0
    plain = json.loads(capsys.readouterr().out)
    assert plain["steps"][0]["stress_pa"] == pytest.approx(RESTED * 515e6, rel=1e-4)
    assert plain["series"]["past_yield"][-1] is True
    assert main(["results", "steel", folder, "G-9"]) == 2
    assert "G-T, G-U" in capsys.readouterr().err


def test_the_inclined_branch_follows_from_strength_and_strain_at_maximum_force(ready):
    of_law(
        ready,
        SteelLaw.BILINEAR,
        hardening_modulus=None,
        tensile_strength=Stated(540e6, 2e6, Meaning.ONE_SIGMA),
        ultimate_strain=exact(0.05),
    )
    desk = Desk(ready.store, Book.read(ready.store))
    material = desk.book.entry(ready.uid["steel"], Material)
    found = forces.stress_of(desk, material, Uncertain.exact(0.02))
    share = (0.02 - 0.0025) / (0.05 - 0.0025)
    assert found.value == pytest.approx(500e6 + 40e6 * share)
    assert found.standard_uncertainty() == pytest.approx(2e6 * share, rel=1e-6)
    of_law(ready, SteelLaw.BILINEAR, ultimate_strain=None)
    desk = Desk(ready.store, Book.read(ready.store))
    material = desk.book.entry(ready.uid["steel"], Material)
    with pytest.raises(InputError, match="0 for a level branch"):
        forces.stress_of(desk, material, Uncertain.exact(0.02))
