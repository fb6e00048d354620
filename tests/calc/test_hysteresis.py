"""Loops against areas known in closed form, and against the trapezoid rule of a library."""

import numpy as np
import pytest
from scipy import integrate

from gaugewright.calc import hysteresis
from gaugewright.errors import InputError


def test_area_of_an_ellipse() -> None:
    angle = np.linspace(0, 2 * np.pi, 2000, endpoint=False)
    # Loading above unloading: the loop runs clockwise, load over strain.
    found = hysteresis.loop_area(50e3 * np.sin(-angle), 1e-3 * np.cos(-angle))
    assert found.area == pytest.approx(np.pi * 50e3 * 1e-3, rel=2e-6)


def test_area_of_a_parallelogram_of_plastic_steel() -> None:
    """Elastic, perfectly plastic steel between two strains: four corners, area by hand."""
    yield_load, stiffness, reach = 100e3, 100e3 / 2e-3, 6e-3
    turn = reach - 2 * yield_load / stiffness
    strain = [-reach, -turn, reach, turn]
    load = [-yield_load, yield_load, yield_load, -yield_load]
    # Height 2 P_y, width of the flat part 2 reach less the elastic range 2 P_y / k.
    by_hand = 2 * yield_load * (2 * reach - 2 * yield_load / stiffness)
    assert hysteresis.loop_area(load, strain).area == pytest.approx(by_hand, rel=1e-12)


def test_area_agrees_with_the_trapezoid_rule_and_so_do_its_partials() -> None:
    random = np.random.default_rng(2)
    load, strain = random.normal(50e3, 20e3, 40), random.normal(1e-3, 5e-4, 40)
    found = hysteresis.loop_area(load, strain)
    closed_load, closed_strain = np.append(load, load[0]), np.append(strain, strain[0])
    assert found.area == pytest.approx(integrate.trapezoid(closed_load, closed_strain), rel=1e-10)
    for place in (0, 7, 39):
        moved = strain.copy()
        moved[place] += 1e-6
        change = hysteresis.loop_area(load, moved).area - found.area
        assert change == pytest.approx(1e-6 * found.by_strain[place], rel=1e-6)
        moved = load.copy()
        moved[place] += 10.0
        change = hysteresis.loop_area(moved, strain).area - found.area
        assert change == pytest.approx(10.0 * found.by_load[place], rel=1e-6)


def test_a_strain_that_is_counted_from_elsewhere_has_the_same_area() -> None:
    random = np.random.default_rng(3)
    load, strain = random.normal(0, 1e4, 30), random.normal(0, 1e-3, 30)
    here = hysteresis.loop_area(load, strain).area
    assert hysteresis.loop_area(load + 1e5, strain + 0.01).area == pytest.approx(here, rel=1e-9)


def test_missing_samples_are_left_out_and_have_no_weight() -> None:
    found = hysteresis.loop_area([0.0, 2.0, np.nan, 2.0, 0.0], [0.0, 0.0, 0.2, 0.5, 0.5])
    assert found.area == pytest.approx(1.0)
    assert found.by_strain[2] == found.by_load[2] == 0.0
    assert found.gap == 0.5


def test_loops_of_a_saw_of_load() -> None:
    load = np.concatenate(
        [np.linspace(*ends, 50) for ends in ((0, 10), (10, 2), (2, 12), (12, 1), (1, 8), (8, 0))]
    )
    first, second = hysteresis.loops(load, gate=1.0)
    assert (load[first.first], load[first.turn]) == (10, 2)
    assert load[first.last] >= 10
    assert load[first.last - 1] < 10
    assert first.closed
    assert (load[second.first], load[second.turn], load[second.last]) == (12, 1, 8)
    assert not second.closed
    falls = hysteresis.unloadings(load, gate=1.0)
    assert [(load[fall.first], load[fall.last]) for fall in falls] == [(10, 2), (12, 1), (8, 0)]


def test_a_load_that_only_rises_has_no_loop() -> None:
    random = np.random.default_rng(4)
    load = np.linspace(0, 100, 5000) + 0.3 * random.standard_normal(5000)
    assert hysteresis.loops(load, gate=3.0) == ()
    assert hysteresis.unloadings(load, gate=3.0) == ()


def test_nonsense_is_refused() -> None:
    with pytest.raises(InputError, match="gate"):
        hysteresis.loops([0.0, 1.0], gate=0.0)
    with pytest.raises(InputError, match="three samples"):
        hysteresis.loop_area([0.0, np.nan, 1.0], [0.0, 0.0, 1.0])
    with pytest.raises(InputError, match="as long as"):
        hysteresis.loop_area([0.0, 1.0], [0.0])
