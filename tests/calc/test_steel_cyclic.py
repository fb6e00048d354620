"""Steel strained to and fro: blocks, channels, missing samples, noise and the compiled twin."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gaugewright.calc import kernels, steel_curves
from gaugewright.calc.steel_cyclic import CyclicSteel, cyclic_stress, cyclic_stress_fast
from gaugewright.errors import Faults, InputError

STEEL = CyclicSteel(200e9, 500e6, 0.01, 20.0, 0.925, 0.15, 0.02, 2.0, 0.03, 1.5)


def wandering(seed: int, samples: int, channels: int) -> np.ndarray:
    """Strain of a random walk that passes yield often."""
    random = np.random.default_rng(seed)
    walk = np.cumsum(random.normal(0, 4e-4, (samples, channels)), axis=0)
    walk[random.random(walk.shape) < 0.03] = np.nan
    return walk


def history_by_definition(strain, modulus, strength, share, sharp, loss, half):
    """One channel without isotropic growth, written with targets and ratios as in the papers."""
    yield_strain = strength / modulus
    found, reversal, target = [], None, None
    greatest, least, before, exponent = yield_strain, -yield_strain, (0.0, 0.0), sharp
    rising = None
    for e in strain:
        if e != before[0]:
            up = e > before[0]
            if rising is None:
                reversal = (0.0, 0.0)
                target = (yield_strain, strength) if up else (-yield_strain, -strength)
            elif up != rising:
                reversal = before
                greatest, least = max(greatest, before[0]), min(least, before[0])
                side = 1.0 if up else -1.0
                # Two lines: σ = σr + E (ε - εr) and σ = ±fy + b E (ε ∓ εy).
                lines = np.array([[modulus, -1.0], [share * modulus, -1.0]])
                right = [
                    modulus * reversal[0] - reversal[1],
                    share * modulus * side * yield_strain - side * strength,
                ]
                target = tuple(np.linalg.solve(lines, right))
                xi = abs((greatest if up else least) - target[0]) / yield_strain
                exponent = sharp * (1 - loss * xi / (half + xi))
            rising = up
        if reversal is None:
            found.append(0.0)
            continue
        r = (e - reversal[0]) / (target[0] - reversal[0])
        bent = share * r + (1 - share) * r / (1 + abs(r) ** exponent) ** (1 / exponent)
        found.append(bent * (target[1] - reversal[1]) + reversal[1])
        before = (e, found[-1])
    return np.array(found)


@given(
    st.lists(st.integers(-80, 80), min_size=1, max_size=60),
    st.floats(0.0, 0.1),
    st.floats(5.0, 25.0),
)
def test_it_follows_the_targets_and_ratios_of_the_papers(steps, share, sharp) -> None:
    strain = np.array(steps) * 1e-4
    steel = CyclicSteel(200e9, 500e6, share, sharp)
    expected = history_by_definition(strain, 200e9, 500e6, share, sharp, 0.925, 0.15)
    assert cyclic_stress(strain, steel)[0] == pytest.approx(expected, rel=1e-9, abs=1.0)


@given(st.floats(-0.05, 0.05))
def test_first_loading_is_the_curve_of_menegotto_and_pinto(strain) -> None:
    found, _ = cyclic_stress([strain], STEEL)
    assert found == pytest.approx(
        steel_curves.menegotto_pinto_stress([strain], 200e9, 500e6, 2e9, 20.0), rel=1e-12, abs=1e-6
    )


@settings(max_examples=30)
@given(st.integers(0, 10**6), st.lists(st.integers(0, 120), max_size=4), st.sampled_from([0, 3e-5]))
def test_cutting_a_record_changes_no_digit(seed, cuts, gate) -> None:
    strain = wandering(seed, 120, 3)
    whole, last = cyclic_stress(strain, STEEL, gate=gate)
    pieces, state = [], None
    for block in np.split(strain, sorted(cuts)):
        stress, state = cyclic_stress(block, STEEL, state, gate=gate)
        pieces.append(stress)
    assert np.array_equal(np.concatenate(pieces), whole, equal_nan=True)
    assert np.array_equal(state.turn_stress, last.turn_stress)


def test_channels_do_not_know_each_other_and_may_be_of_different_steel() -> None:
    strain = wandering(4, 300, 3)
    strengths = [400e6, 500e6, 600e6]
    together, _ = cyclic_stress(strain, CyclicSteel(200e9, strengths, 0.01))
    for c, strength in enumerate(strengths):
        alone, _ = cyclic_stress(strain[:, c], CyclicSteel(200e9, strength, 0.01))
        assert together[:, c] == pytest.approx(alone, rel=1e-12, nan_ok=True)


@pytest.mark.parametrize("gate", [0.0, 2e-5])
@pytest.mark.parametrize("seed", range(4))
def test_compiled_plain_and_array_loops_give_the_same_numbers(seed, gate) -> None:
    pytest.importorskip("numba")
    strain = wandering(seed, 400, 5)
    strain[:, 0] = 0.0
    arrays, state = cyclic_stress(strain, STEEL, gate=gate)
    compiled, kept = cyclic_stress_fast(strain, STEEL, gate=gate)
    assert compiled == pytest.approx(arrays, rel=1e-9, abs=1.0, nan_ok=True)
    assert kept.reversal_strain == pytest.approx(state.reversal_strain, rel=1e-12)
    rows = [[0.0] * 5 for _ in range(9)]
    plain = [[0.0] * 5 for _ in strain]
    kernels.cyclic_stress(strain.tolist(), STEEL.rows(5).tolist(), gate, rows, plain)
    assert np.array(plain) == pytest.approx(compiled, rel=1e-9, abs=1.0, nan_ok=True)


def test_the_compiled_loop_goes_on_from_a_block_of_the_other() -> None:
    pytest.importorskip("numba")
    strain = wandering(9, 200, 2)
    whole, _ = cyclic_stress(strain, STEEL)
    _, state = cyclic_stress(strain[:77], STEEL)
    rest, _ = cyclic_stress_fast(strain[77:], STEEL, state)
    assert rest == pytest.approx(whole[77:], rel=1e-9, abs=1.0, nan_ok=True)


def test_it_unloads_at_e_and_is_odd() -> None:
    strain = np.array([0.01, 0.01 - 1e-6, 0.0])
    stress, _ = cyclic_stress(strain, STEEL)
    assert (stress[0] - stress[1]) / 1e-6 == pytest.approx(200e9, rel=1e-6)
    even = CyclicSteel(200e9, 500e6, 0.01)
    assert cyclic_stress(-strain, even)[0] == pytest.approx(-cyclic_stress(strain, even)[0])


def test_growth_lifts_the_line_that_is_approached_next() -> None:
    strain = np.concatenate([np.linspace(0, 0.02, 50), np.linspace(0.02, -0.02, 200)])
    sharp = {"curvature_exponent": 20.0, "curvature_loss": 0.0}
    plain, _ = cyclic_stress(strain, CyclicSteel(200e9, 500e6, 0.01, **sharp))
    grown, _ = cyclic_stress(
        strain, CyclicSteel(200e9, 500e6, 0.01, compression_growth=0.1, **sharp)
    )
    assert np.array_equal(plain[:50], grown[:50])
    # Range 0.0225 is 4.5 times 2 ε_y at the first reversal; far below, the asymptotes differ.
    lift = 500e6 * 0.1 * 4.5**0.8 * 0.99
    assert plain[-1] - grown[-1] == pytest.approx(lift, rel=1e-6)


def test_noise_below_the_gate_leaves_the_knee_round() -> None:
    rising = np.linspace(0, 0.005, 2000)
    noisy = rising + 2e-6 * np.where(np.arange(2000) % 2, 1.0, -1.0)
    steel = CyclicSteel(200e9, 500e6, 0.01)
    smooth, _ = cyclic_stress(rising, steel)
    gated, _ = cyclic_stress(noisy, steel, gate=1e-5)
    bare, _ = cyclic_stress(noisy, steel)
    assert np.abs(gated - smooth).max() < 200e9 * 5e-6
    assert np.abs(bare - smooth).max() > 5e6


def test_a_missing_sample_is_passed_over() -> None:
    strain = np.array([0.0, 0.004, np.nan, 0.002])
    stress, _ = cyclic_stress(strain, STEEL)
    without, _ = cyclic_stress(strain[[0, 1, 3]], STEEL)
    assert np.isnan(stress[2])
    assert np.array_equal(stress[[0, 1, 3]], without)


def test_no_samples_and_steel_at_rest() -> None:
    stress, state = cyclic_stress([], STEEL)
    assert stress.shape == (0,)
    assert state.direction.tolist() == [0.0]
    stress, state = cyclic_stress(np.empty((0, 3)), STEEL)
    assert stress.shape == (0, 3)
    assert cyclic_stress([0.0, 0.0], STEEL)[0].tolist() == [0.0, 0.0]


def test_impossible_records_and_properties_are_refused_by_name() -> None:
    with pytest.raises(InputError, match=r"^strain is 'infinite'"):
        cyclic_stress([0.0, np.inf], STEEL)
    with pytest.raises(InputError, match=r"^strain is 'of 0 axes"):
        cyclic_stress(0.001, STEEL)
    with pytest.raises(InputError, match=r"^yield_strength is 'of shape"):
        cyclic_stress(np.zeros((4, 3)), CyclicSteel(200e9, [500e6, 400e6], 0.01))
    with pytest.raises(InputError, match=r"^gate is -1"):
        cyclic_stress([0.0], STEEL, gate=-1.0)
    _, two = cyclic_stress(np.zeros((4, 2)), STEEL)
    with pytest.raises(InputError, match=r"^state is 'of 2 channels"):
        cyclic_stress(np.zeros((4, 3)), STEEL, two)
    with pytest.raises(Faults, match=r"elastic_modulus is -1(?s:.*)hardening_share is 1\.0"):
        CyclicSteel(-1.0, 500e6, 1.0)
