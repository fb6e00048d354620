"""Values with uncertainty against two libraries by other hands, and by what must always hold."""

import math
import types

import numpy as np
import pytest
import uncertainties
from hypothesis import given
from hypothesis import strategies as st
from uncertainties import unumpy

from gaugewright.calc.joint import correlation
from gaugewright.calc.uncertainty import InputQuantity, Uncertain, combination
from gaugewright.errors import InputError


@pytest.fixture
def gtc():
    return pytest.importorskip("GTC")


def from_input(value, name, u, freedom=math.inf):
    return Uncertain.from_input(value, InputQuantity(name, u, freedom))


def arithmetic(a, b, c):
    return (a * b - c) / (a + 2.0 * c) + 3.0 / b - (b - 1.5) * a / 4.0 + 2.0 - c


values = st.floats(0.5, 20.0)
spreads = st.floats(1e-6, 0.5)


@given(values, values, values, spreads, spreads, spreads)
def test_arithmetic_agrees_with_a_library_by_another_hand(a, b, c, ua, ub, uc):
    ours = arithmetic(from_input(a, "a", ua), from_input(b, "b", ub), from_input(c, "c", uc))
    theirs = arithmetic(
        uncertainties.ufloat(a, ua), uncertainties.ufloat(b, ub), uncertainties.ufloat(c, uc)
    )
    assert ours.value.item() == pytest.approx(theirs.nominal_value, rel=1e-12, abs=1e-12)
    expected = pytest.approx(theirs.std_dev, rel=1e-9, abs=1e-12)
    assert ours.standard_uncertainty().item() == expected


def test_arrays_agree_with_a_library_by_another_hand_sample_by_sample():
    time = np.linspace(1.0, 2.0, 7)
    slope, offset = uncertainties.ufloat(2.1, 0.05), uncertainties.ufloat(0.3, 0.02)
    theirs = time * slope / (offset + time) - offset
    a, b = from_input(2.1, "slope", 0.05), from_input(0.3, "offset", 0.02)
    ours = time * a / (b + time) - b
    np.testing.assert_allclose(ours.value, unumpy.nominal_values(theirs), rtol=1e-14)
    np.testing.assert_allclose(ours.standard_uncertainty(), unumpy.std_devs(theirs), rtol=1e-12)


def test_effective_degrees_of_freedom_agree_with_a_library_by_another_hand(gtc):
    result = arithmetic(
        gtc.ureal(3.0, 0.2, df=4), gtc.ureal(2.0, 0.1, df=9), gtc.ureal(1.0, 0.3, df=25)
    )
    ours = arithmetic(
        from_input(3.0, "a", 0.2, 4), from_input(2.0, "b", 0.1, 9), from_input(1.0, "c", 0.3, 25)
    )
    assert ours.standard_uncertainty().item() == pytest.approx(gtc.uncertainty(result))
    assert ours.effective_degrees_of_freedom().item() == pytest.approx(gtc.dof(result))
    factor = gtc.reporting.k_factor(gtc.dof(result), 95)
    assert ours.expanded(0.95).item() == pytest.approx(factor * gtc.uncertainty(result), rel=1e-6)


shares = st.floats(-0.95, 0.95)


@given(values, values, spreads, spreads, shares)
def test_correlated_inputs_agree_with_a_library_by_another_hand(a, b, ua, ub, r):
    theirs = uncertainties.correlated_values_norm([(a, ua), (b, ub)], [[1.0, r], [r, 1.0]])
    # Here a correlation is a cause that both have: r of b's doubt comes with a's.
    one = from_input(a, "first", ua)
    two = from_input(b, "second", ub * math.sqrt(1 - r**2)) + from_input(0.0, "first", ua) * (
        r * ub / ua
    )
    ours, other = arithmetic(one, two, 1.7), arithmetic(*theirs, 1.7)
    assert ours.value.item() == pytest.approx(other.nominal_value, rel=1e-12, abs=1e-12)
    largest = math.hypot(ua, ub) * 20.0
    expected = pytest.approx(other.std_dev, rel=1e-6, abs=1e-9 * largest)
    assert ours.standard_uncertainty().item() == expected


@pytest.mark.parametrize("r", [-0.9, -0.36, 0.0, 0.64, 0.86, 0.99])
def test_correlated_inputs_agree_with_a_second_library(gtc, r):
    a, b = gtc.ureal(5.0, 0.3, independent=False), gtc.ureal(2.0, 0.2, independent=False)
    gtc.set_correlation(r, a, b)
    theirs = [arithmetic(a, b, 1.7), a / b, a * b - 3.0]
    one = from_input(5.0, "first", 0.3)
    two = from_input(2.0, "second", 0.2 * math.sqrt(1 - r**2)) + (
        from_input(0.0, "first", 0.3) * (r * 0.2 / 0.3)
    )
    ours = [arithmetic(one, two, 1.7), one / two, one * two - 3.0]
    for mine, other in zip(ours, theirs, strict=True):
        assert mine.standard_uncertainty().item() == pytest.approx(gtc.uncertainty(other), rel=1e-9)
    # Results have causes in common too: their correlation is the library's.
    assert correlation(ours[1], ours[2]).item() == pytest.approx(
        gtc.get_correlation(theirs[1], theirs[2]), abs=1e-9
    )


def test_what_two_gauges_share_goes_out_of_their_difference():
    lot = InputQuantity("gauge factor, lot", 0.01)
    gauges = []
    for name in ("gauge 1", "gauge 2"):
        factor = Uncertain.from_input(2.1, lot) + from_input(0.0, name, 0.004)
        gauges.append(1e-3 * 2.1 / factor)
    difference = (gauges[0] - gauges[1]).standard_uncertainty().item()
    assert difference == pytest.approx(math.sqrt(2) * 0.004 / 2.1 * 1e-3, rel=1e-12)
    mean = ((gauges[0] + gauges[1]) / 2).standard_uncertainty().item()
    assert mean == pytest.approx(1e-3 / 2.1 * math.hypot(0.01, 0.004 / math.sqrt(2)), rel=1e-12)


def test_a_value_less_itself_is_certain():
    a = from_input([1.0, 2.0], "a", 0.1) + Uncertain.noisy([0.0, 0.0], 0.01)
    assert (a - a).standard_uncertainty().tolist() == [0.0, 0.0]
    assert (a / a).standard_uncertainty() == pytest.approx([0.0, 0.0], abs=1e-16)


def test_noise_of_different_values_adds_in_squares():
    total = Uncertain.noisy(1.0, 0.3) + Uncertain.noisy(2.0, 0.4)
    assert total.standard_uncertainty().item() == pytest.approx(0.5)


def test_the_mean_keeps_shared_causes_and_averages_noise_out():
    value = from_input(np.arange(100.0), "gain", 0.02) + Uncertain.noisy(np.zeros(100), 0.5)
    mean = value.mean()
    assert mean.value.item() == 49.5
    assert mean.standard_uncertainty().item() == pytest.approx(math.hypot(0.02, 0.05))


def test_one_sample_is_the_same_alone_and_among_others():
    value = np.array([1.0, -2.0, 3.0]) * from_input(2.0, "k", 0.1) + Uncertain.noisy(
        np.zeros(3), np.array([0.1, 0.2, 0.3])
    )
    whole = value.standard_uncertainty()
    for row in range(3):
        assert value[row].standard_uncertainty().item() == whole[row]
    assert value[1:].standard_uncertainty().tolist() == whole[1:].tolist()
    assert value[[2, 0]].value.tolist() == [6.0, 2.0]


def test_empty_arrays_stay_empty():
    empty = from_input(np.zeros(0), "a", 0.1) * 2.0
    assert empty.standard_uncertainty().shape == (0,)
    assert empty.expanded().shape == (0,)
    with pytest.raises(InputError, match="at least one sample"):
        empty.mean()


def test_a_missing_sample_is_missing_and_its_neighbours_are_kept():
    value = np.array([1.0, np.nan, 3.0]) * from_input(2.0, "k", 0.1)
    assert np.isnan(value.standard_uncertainty()).tolist() == [False, True, False]
    assert np.isnan(value.expanded()).tolist() == [False, True, False]


def test_without_uncertainty_the_interval_has_no_width():
    exact = Uncertain.exact([1.0, 2.0])
    assert exact.expanded().tolist() == [0.0, 0.0]
    assert exact.budget(0).dominant is None
    assert from_input(1.0, "known", 0.0).budget().dominant is None
    assert from_input(1.0, "known", 0.1).budget().dominant.input == "known"
    assert exact.budget(0).lines == ()


def test_one_name_for_two_causes_is_refused():
    with pytest.raises(InputError, match=r"0\.1 here, 0\.2 there"):
        from_input(1.0, "a", 0.1) + from_input(1.0, "a", 0.2)


def test_an_array_on_the_left_does_not_take_the_value_apart():
    product = np.array([1.0, 2.0]) * from_input(3.0, "a", 0.1)
    assert isinstance(product, Uncertain)
    assert (np.array([1.0, 2.0]) - from_input(3.0, "a", 0.1)).value.tolist() == [-2.0, -1.0]


def test_a_closed_form_with_partials_equals_the_operators():
    a, b = from_input([1.0, 2.0], "a", 0.1), from_input(3.0, "b", 0.2)
    direct = combination(a.value**2 * b.value, [(a, 2 * a.value * b.value), (b, a.value**2)])
    steps = a * a * b
    assert direct.standard_uncertainty() == pytest.approx(steps.standard_uncertainty(), rel=1e-14)


def test_the_budget_is_ranked_and_adds_up():
    value = (
        from_input(1.0, "small", 0.1, 5)
        + 2 * from_input(1.0, "large", 0.2)
        + Uncertain.noisy(0.0, 0.3)
    )
    budget = value.budget()
    assert [line.input for line in budget.lines] == ["large", "", "small"]
    assert sum(budget.share(line) for line in budget.lines) == pytest.approx(1.0)
    assert budget.standard_uncertainty == pytest.approx(math.sqrt(0.16 + 0.09 + 0.01))
    # Halving the largest: 0.2 in its place.
    assert budget.with_half(budget.lines[0]) == pytest.approx(math.sqrt(0.04 + 0.09 + 0.01))
    assert budget.degrees_of_freedom == pytest.approx(0.26**2 / (0.1**4 / 5))


def test_a_shared_cause_has_one_line():
    k = from_input(2.0, "k", 0.1)
    assert [line.sensitivity for line in (k * k + k).budget().lines] == [5.0]


def test_assumed_causes_can_be_found():
    guess = InputQuantity("contact", 0.2, basis="assumed")
    value = Uncertain.from_input(1.0, guess) + from_input(0.0, "noise", 0.1)
    assert [line.input for line in value.budget().assumed] == ["contact"]


def test_a_budget_of_many_samples_at_once_is_refused():
    with pytest.raises(InputError, match="index of one of the 3 samples"):
        from_input([1.0, 2.0, 3.0], "a", 0.1).budget()
    with pytest.raises(InputError, match="not of several"):
        from_input([1.0, 2.0, 3.0], "a", 0.1).budget(slice(0, 2))


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"name": " "}, "^name is"),
        ({"standard_uncertainty": -1.0}, "^standard_uncertainty is"),
        ({"standard_uncertainty": math.nan}, "^standard_uncertainty is"),
        ({"standard_uncertainty": math.inf}, "^standard_uncertainty is"),
        ({"degrees_of_freedom": 0.0}, "^degrees_of_freedom is"),
        ({"degrees_of_freedom": math.nan}, "^degrees_of_freedom is"),
        ({"distribution": "uniform"}, "^distribution is"),
        ({"distribution": "t"}, "^degrees_of_freedom is inf"),
        ({"basis": "guessed"}, "^basis is"),
    ],
)
def test_an_impossible_input_is_refused_by_name(changed, words):
    with pytest.raises(InputError, match=words):
        InputQuantity(**{"name": "a", "standard_uncertainty": 0.1} | changed)


def test_a_sensitivity_of_another_shape_is_refused():
    with pytest.raises(InputError, match="broadcastable"):
        Uncertain(np.zeros(2), noise=np.zeros((3, 2)))
    with pytest.raises(InputError, match="names found in inputs"):
        Uncertain(np.zeros(2), {"a": np.zeros(2)}, inputs=types.MappingProxyType({}))
    with pytest.raises(InputError, match=r"^noise"):
        Uncertain.noisy(1.0, -0.1)
