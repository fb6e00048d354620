"""Cycles of a signal cut into blocks, and damage of a gauged bar against sums by hand."""

import importlib.util
import weakref
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest
import rainflow

from gaugewright.errors import InputError
from gaugewright.records.coupons import FatigueCurve
from gaugewright.records.gauges import Gauge, ThermalOutput
from gaugewright.records.proof import ZeroKind
from gaugewright.records.stated import Meaning, Stated
from gaugewright.services.campaign.book import Book
from gaugewright.services.cycling import counted as load_cycles
from gaugewright.services.cycling import damage as fatigue_damage
from gaugewright.services.cycling.counted import History
from gaugewright.services.strain.strains import Desk
from gaugewright.services.zeros import zeros

_spec = importlib.util.spec_from_file_location("tiny", Path(__file__).with_name("conftest.py"))
_tiny = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(_tiny)
BEGINS, divider_mv_per_v = _tiny.BEGINS, _tiny.divider_mv_per_v
FIGURE_6 = np.array([-2.0, 1, -3, 5, -1, 3, -4, 4, -2])


def cut(signal, size):
    """Signal in blocks of some size, as services hand it over."""
    time = np.arange(signal.size, dtype=float)
    return lambda: [
        (time[begin : begin + size], signal[begin : begin + size])
        for begin in range(0, signal.size, size)
    ]


def walk(samples=5000):
    return np.cumsum(np.random.default_rng(4).normal(size=samples))


@pytest.mark.published(
    where="ASTM E1049-85 (2017), 5.4.4, figure 6, and 5.4.5, figure 7: half, one and a half, half, "
    "one and half a cycle of range 3, 4, 6, 8 and 9; repeating one each of 3, 4, 7 and 9",
    seen="test files of the public repositories dpzhuX/ffpack and iamlikeme/rainflow",
)
@pytest.mark.parametrize("size", [1, 2, 3, 4, 9])
def test_worked_history_of_the_standard_in_blocks(size) -> None:
    for history, printed in (
        (History.ONCE, {3: 0.5, 4: 1.5, 6: 0.5, 8: 1.0, 9: 0.5}),
        (History.REPEATING, {3: 1.0, 4: 1.0, 7: 1.0, 9: 1.0}),
    ):
        found = load_cycles.counted(cut(FIGURE_6, size), gate=0.0, history=history)
        assert found.largest.by_range() == printed
        assert found.cycles == sum(printed.values())
        assert found.matrix.sum() == found.cycles


@pytest.mark.published(
    where="PyPI package rainflow, extract_cycles: the same cycles by class of range and mean, "
    "a second opinion",
    seen="the package, run here on the same random walk",
)
@pytest.mark.parametrize("size", [37, 1000, 5000])
def test_classes_are_those_of_another_counter_however_the_record_is_cut(size) -> None:
    signal = walk()
    found = load_cycles.counted(cut(signal, size), gate=0.0)
    ranges, means, counts = np.array([c[:3] for c in rainflow.extract_cycles(signal)]).T
    edges = [found.range_edges, found.mean_edges]
    theirs, _, _ = np.histogram2d(ranges, means, bins=edges, weights=counts)
    assert np.array_equal(found.matrix, theirs)
    assert found.largest.ranges[:10] == pytest.approx(np.sort(ranges)[::-1][:10], abs=1e-12)


def test_no_more_than_one_block_is_held_at_a_time() -> None:
    alive = []
    most = 0

    class Block(np.ndarray):
        pass

    def blocks():
        nonlocal most
        for begin in range(0, 50_000, 1000):
            values = np.sin(np.arange(begin, begin + 1000) / 7.0).view(Block)
            alive.append(weakref.ref(values))
            most = max(most, sum(ref() is not None for ref in alive))
            yield np.arange(begin, begin + 1000, dtype=float), values

    extent = load_cycles.Extent(50_000, 0, -1.0, 1.0, 0, 0.0, np.zeros(201))
    load_cycles.counted(blocks, extent=extent, gate=1e-6)
    assert most <= 2


def test_missing_samples_are_counted_and_passed_over() -> None:
    signal = np.array([0.0, np.nan, 2.0, np.nan, 0.0, 2.0])
    found = load_cycles.counted(cut(signal, 2), gate=0.0)
    assert (found.extent.samples, found.extent.missing) == (6, 2)
    assert found.cycles == 1.5


def test_a_signal_without_values_and_a_bad_gate_are_refused() -> None:
    with pytest.raises(InputError, match="all missing"):
        load_cycles.counted(cut(np.full(4, np.nan), 2))
    with pytest.raises(InputError, match="gate"):
        load_cycles.counted(cut(FIGURE_6, 4), gate=-1.0)


def test_a_record_of_two_samples_a_cycle_needs_a_gate() -> None:
    signal = np.tile([0.0, 1.0], 40)
    with pytest.raises(InputError, match=r"gate is not given.*noise and cycles can't be told"):
        load_cycles.counted(cut(signal, 30))
    assert load_cycles.counted(cut(signal, 30), gate=0.1).cycles == 39.5


def test_a_signal_that_never_moves_has_no_cycles() -> None:
    found = load_cycles.counted(cut(np.zeros(10), 5))
    assert found.cycles == 0
    assert found.matrix.sum() == 0


@pytest.fixture
def cycled(tiny):
    """Bar pulled fifty times to 1000 microstrain, 200 MPa, with a gauge factor in doubt."""
    pack = tiny.store.entry(tiny.uid["pack"])
    curve = ThermalOutput((0.0, 0.0), 2.0, 12e-6, 0.0, 60.0, Stated(0.0, 0.0, Meaning.LIMIT))
    factor = Stated(2.0, 0.01, Meaning.ONE_SIGMA)
    changed = replace(pack.record, thermal_output=curve, gauge_factor=factor)
    tiny.store.revise(pack.uid, pack.version, changed, reason="typed in")
    none = np.zeros(60)
    lively = 1e-6 * (-1.0) ** np.arange(60)
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
    pull = np.abs((np.arange(1001) + 10) % 20 - 10) / 10  # 0 to 1 and back in 20 samples
    strain, tall = 1e-3 * pull, 4e-3 * pull
    columns = {"G-T": divider_mv_per_v(strain), "G-U": divider_mv_per_v(tall)}
    rows = np.zeros(1001)
    tiny.record("pulls", BEGINS + timedelta(hours=1), columns | {"P": rows, "T": rows + 20})
    return tiny


def found_of(tiny, label, **words):
    desk = Desk(tiny.store, Book.read(tiny.store))
    gauge = desk.book.labelled(Gauge, label)
    return fatigue_damage.cycles_of_gauge(desk, gauge, gate=1e-4, **words)


def test_damage_of_equal_pulls_is_their_number_over_the_life_at_that_range(cycled) -> None:
    found = found_of(cycled, "G-T", block_rows=7)
    # A hundred moves between 0 and 1000 microstrain, each half a cycle.
    assert found.counted.cycles == 50.0
    life = 1e6 * (162.5 / 200) ** 5
    assert found.damage.total == pytest.approx(50 / life, rel=2e-5)
    assert found.damage.by_step[-1] == pytest.approx(found.damage.total, rel=1e-12)
    assert "from memory" in found.damage.line.source


def test_doubt_of_the_gauge_factor_goes_through_the_exponent(cycled) -> None:
    damage = found_of(cycled, "G-T").damage
    # Half a per cent as standard uncertainty, nothing else is in doubt: about one per cent at 95 %.
    assert damage.scale_doubt == pytest.approx(1.96 * 0.005, rel=0.02)
    for end, scale in ((damage.low, 1 - damage.scale_doubt), (damage.high, 1 + damage.scale_doubt)):
        assert end == pytest.approx(damage.total * scale**5, rel=2e-3)
    assert "gauge factor" in damage.cause


def test_a_bar_that_yielded_has_cycles_and_no_damage(cycled) -> None:
    found = found_of(cycled, "G-U")
    assert found.counted.cycles == 50.0
    assert found.damage is None
    assert "yields at 2500 µε" in found.why


def test_a_line_of_the_laboratory_s_own_with_a_partial_factor(cycled) -> None:
    own = FatigueCurve("heat 7", 150e6, 2e6, 4.0, 8.0, "fatigue tests of 12 bars", 100e6)
    fatigue_damage.kept_curve(cycled.store, own)
    damage = found_of(cycled, "G-T", curve="heat 7", partial_factor=1.15).damage
    assert damage.total == pytest.approx(50 / (2e6 * (150 / 1.15 / 200) ** 4), rel=2e-5)
    above = replace(own, limit_range=250e6)
    fatigue_damage.kept_curve(cycled.store, above)
    assert found_of(cycled, "G-T", curve="heat 7").damage.total == 0
    with pytest.raises(InputError, match=r"curve is 'heat 8'.*straight bars"):
        found_of(cycled, "G-T", curve="heat 8")


def test_a_curve_needs_its_source() -> None:
    with pytest.raises(InputError, match="source"):
        FatigueCurve("heat 7", 150e6, 2e6, 4.0, 8.0, " ")
