"""Onset of cracking and yield on made-up records whose truth is known; a spline library beside."""

import numpy as np
import numpy.typing as npt
import pytest
from scipy.interpolate import LSQUnivariateSpline
from scipy.optimize import minimize_scalar

from gaugewright.calc import first_loading
from gaugewright.errors import InputError

Array = npt.NDArray[np.float64]


def cracked(
    seed: int,
    *,
    crack: float = 40e3,
    step: float = 0.0,
    noise: float = 2e-6,
    drift: float = 0.0,
    spikes: int = 0,
) -> tuple[Array, Array]:
    """Strain of a bar: 2 µε/kN before cracking, 10 after, a step there, noise, drift and spikes."""
    random = np.random.default_rng(seed)
    load = np.linspace(0, 150e3, 4000)
    strain = 2e-9 * load + 8e-9 * np.maximum(load - crack, 0) + step * (load > crack)
    strain += noise * random.standard_normal(load.size) + drift * np.linspace(0, 1, load.size)
    strain[random.choice(load.size, spikes, replace=False)] += 300e-6
    return load + 30 * random.standard_normal(load.size), strain


def yielding(seed: int, *, noise: float = 2e-6, spikes: int = 0) -> tuple[Array, Array]:
    """Strain in proportion to load up to 200 kN and 2500 µε, then twenty times as fast."""
    random = np.random.default_rng(seed)
    load = np.linspace(0, 215e3, 6000)
    strain = 12.5e-9 * load + 19 * 12.5e-9 * np.maximum(load - 200e3, 0)
    strain += noise * random.standard_normal(load.size)
    strain[random.choice(load.size, spikes, replace=False)] += 900e-6
    return load, strain


@pytest.mark.parametrize("seed", range(5))
def test_a_bend_is_found_within_its_own_interval(seed: int) -> None:
    found = first_loading.bend(*cracked(seed, drift=20e-6))
    assert found is not None
    assert found.low <= 40e3 <= found.high
    assert found.high - found.low < 5e3
    assert found.after / found.before == pytest.approx(5.0, rel=0.15)


@pytest.mark.parametrize("seed", range(3))
def test_the_bend_agrees_with_a_spline_of_one_knot_from_a_library(seed: int) -> None:
    load, strain = cracked(seed)
    order = np.argsort(load)
    x, y = load[order] + 1e-6 * np.arange(load.size), strain[order]

    def left(knot: float) -> float:
        return float(LSQUnivariateSpline(x, y, [knot], k=1).get_residual())

    best = minimize_scalar(left, bounds=(10e3, 140e3), method="bounded").x
    found = first_loading.bend(load, strain)
    assert found is not None
    assert found.load == pytest.approx(best, abs=(found.high - found.low) / 2 + 500)


@pytest.mark.full
def test_false_alarms_of_the_bend_are_as_rare_as_declared() -> None:
    """A straight record of noise and drift: one alarm in a thousand, so none or one in 400."""
    alarms = 0
    for seed in range(400):
        random = np.random.default_rng(seed)
        load = np.linspace(0, 150e3, 1500)
        strain = 2e-9 * load + 5e-6 * random.standard_normal(1500)
        alarms += first_loading.bend(load, strain) is not None
    assert alarms <= 2


@pytest.mark.parametrize("seed", range(5))
def test_a_step_is_found_at_its_row_and_spikes_are_none(seed: int) -> None:
    load, strain = cracked(seed, step=120e-6, spikes=40)
    found = first_loading.jump(load, strain, 10e-9)
    assert found is not None
    assert load[found.row] == pytest.approx(40e3, abs=150)
    assert found.height == pytest.approx(120e-6, abs=10e-6)


def test_false_alarms_of_the_step_are_rare() -> None:
    alarms = sum(
        first_loading.jump(*cracked(seed, noise=3e-6, drift=50e-6, spikes=40), 10e-9) is not None
        for seed in range(200)
    )
    assert alarms == 0


@pytest.mark.parametrize("seed", range(5))
def test_departure_is_where_the_strain_beyond_the_line_reaches_the_offset(seed: int) -> None:
    load, strain = yielding(seed, spikes=30)
    line = first_loading.line_between(load, strain, 750e-6, 1750e-6)
    found = first_loading.departure(load, strain, line, 100e-6)
    assert found is not None
    # 100 µε beyond the line at 19 times 12.5e-9 per newton: 421 N after 200 kN.
    assert found.load == pytest.approx(200e3 + 100e-6 / (19 * 12.5e-9), abs=60)


@pytest.mark.parametrize("seed", range(3))
def test_softening_begins_where_the_record_does(seed: int) -> None:
    load, strain = yielding(seed)
    line = first_loading.line_between(load, strain, 750e-6, 1750e-6)
    row = first_loading.softening(load, strain, line)
    assert row is not None
    assert load[row] == pytest.approx(200e3, abs=100e-6 / 12.5e-9 + 500)


def test_a_straight_record_neither_departs_nor_softens() -> None:
    alarms = 0
    for seed in range(100):
        random = np.random.default_rng(seed)
        load = np.linspace(0, 190e3, 3000)
        strain = 12.5e-9 * load + 5e-6 * random.standard_normal(3000)
        strain[random.choice(3000, 20, replace=False)] += 900e-6
        line = first_loading.line_between(load, strain, 750e-6, 1750e-6)
        alarms += first_loading.departure(load, strain, line, 100e-6) is not None
        alarms += first_loading.softening(load, strain, line) is not None
    assert alarms == 0


def test_strain_that_runs_away_at_one_load_departs_at_that_load() -> None:
    load = np.concatenate((np.linspace(0, 100e3, 1000), np.full(200, 100e3)))
    strain = np.concatenate((20e-9 * load[:1000], np.linspace(2e-3, 4e-3, 200)))
    line = first_loading.line_between(load, strain, 0.5e-3, 1.5e-3)
    found = first_loading.departure(load, strain, line, 100e-6)
    assert found is not None
    assert found.load == 100e3
    assert found.slope == np.inf


def test_unloading_and_reloading_are_no_first_loading() -> None:
    legs = ((0, 100), (100, 20), (20, 100), (100, 150))
    load = np.concatenate([np.linspace(*ends, 500) for ends in legs]) * 1e3
    first = first_loading.first_loading(load)
    assert first[:500].all()
    assert first[1510:].all()
    assert not first[520:1480].any()


def test_a_record_without_load_has_no_first_loading() -> None:
    assert not first_loading.first_loading([np.nan, np.nan]).any()
    assert first_loading.bend([np.nan] * 50, [0.0] * 50) is None
    assert first_loading.jump([np.nan] * 50, [0.0] * 50, 1e-9) is None


def test_a_line_without_samples_is_refused() -> None:
    with pytest.raises(InputError, match="8 or more"):
        first_loading.line_between([0.0, 1.0], [0.0, 1.0], 5.0, 6.0)
    with pytest.raises(InputError, match="rise with load"):
        first_loading.line_between(np.arange(20.0), -np.arange(20.0), -15.0, 0.0)


def test_a_plateau_begins_where_strain_runs_on_at_one_load() -> None:
    # 200 GPa and 100 mm² up to 50 kN at 2500 µε; 8000 µε on at 50 kN; then both rise again.
    load = np.concatenate(
        [np.linspace(0, 50e3, 251), np.full(80, 50e3), np.linspace(50e3, 55e3, 80)]
    )
    strain = np.concatenate(
        [
            np.linspace(0, 2500e-6, 251),
            np.linspace(2600e-6, 10500e-6, 80),
            np.linspace(0.0106, 0.03, 80),
        ]
    )
    begin, end = first_loading.plateau(load, strain, 2000e-6, 4000e-6)
    # Up to 1 % before: from there on the load may rise by as much.
    assert 49.4e3 <= load[begin] <= 50e3
    assert strain[end] - strain[begin] >= 4000e-6
    assert load[end] <= 1.01 * load[begin]


def test_hardening_from_yield_on_and_a_spike_are_no_plateau() -> None:
    load = np.linspace(0, 60e3, 600)
    strain = np.where(load < 50e3, load / 20e6, 2500e-6 + (load - 50e3) / 1e6)
    assert first_loading.plateau(load, strain, 2000e-6, 4000e-6) is None
    strain[300:303] += 0.01
    assert first_loading.plateau(load, strain, 1000e-6, 4000e-6) is None
