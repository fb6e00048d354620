"""Fields along a bar: exact cases, lost stations, and truths from an integration of their own."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gaugewright.calc.smooth_field import FieldPoint, smooth_field
from gaugewright.calc.uncertainty import InputQuantity, Uncertain
from gaugewright.errors import InputError
from tests.calc import bonded_bar

LENGTH = 0.6


def stations(places, values, noise):
    return [
        FieldPoint(f"s{i}", Uncertain.exact(x), Uncertain.noisy(y, noise))
        for i, (x, y) in enumerate(zip(places, values, strict=True))
    ]


@given(st.floats(-1e5, 1e5), st.floats(-1e5, 1e5))
def test_a_straight_line_comes_back_as_value_slope_and_sum(offset, slope):
    places = np.array([0.0, 0.1, 0.25, 0.4, 0.6])
    field = smooth_field(stations(places, offset + slope * places, 10.0), "bar")
    at = np.array([0.0, 0.05, 0.33, 0.6])
    scale = 1 + abs(offset) + abs(slope)
    assert field.value_at(at).value == pytest.approx(offset + slope * at, abs=1e-6 * scale)
    assert field.slope_at(at).value == pytest.approx(np.full(4, slope), abs=1e-5 * scale)
    local = field.local_slope_at(at, 0.5, degree=1)
    assert local.value == pytest.approx(np.full(4, slope), abs=1e-6 * scale)
    expected = offset * (at - 0.1) + slope * (at**2 - 0.01) / 2
    assert field.sum_from(0.1, at).value == pytest.approx(expected, abs=1e-6 * scale)


def test_exact_stations_are_met_and_are_surest_there():
    places = np.linspace(0, LENGTH, 7)
    values = 1e4 * np.sin(4 * places)
    field = smooth_field(stations(places, values, 0.0), "bar")
    found = field.value_at(places)
    assert found.value == pytest.approx(values, abs=1e-4)
    assert found.standard_uncertainty() == pytest.approx(np.zeros(7), abs=1e-2)
    middle = field.value_at((places[1:] + places[:-1]) / 2).standard_uncertainty()
    assert np.all(middle > 1.0)


def test_with_no_roughness_it_is_the_straight_line_of_least_squares():
    rng = np.random.default_rng(20261125)
    places = np.linspace(0, LENGTH, 9)
    values = 2e3 + 5e4 * places + 300 * rng.standard_normal(9)
    field = smooth_field(stations(places, values, 300.0), "bar", roughness=0.0)
    slope, offset = np.polyfit(places, values, 1)
    found = field.slope_at([0.1, 0.5])
    assert found.value == pytest.approx([slope, slope])
    # Textbook: u(slope) = s / sqrt(Sxx).
    doubt = 300 / np.sqrt(np.sum((places - places.mean()) ** 2))
    assert found.standard_uncertainty() == pytest.approx([doubt, doubt])
    assert field.value_at(0.0).value == pytest.approx(offset)


@given(st.integers(1, 8))
def test_a_lost_station_never_makes_anything_surer_and_is_named(lost):
    places = np.linspace(0, LENGTH, 10)
    truth = bonded_bar.pulled_bar()
    values = truth.at("force", places)
    whole = smooth_field(stations(places, values, 20.0), "bar", roughness=2e5)
    values[lost] = np.nan
    left = smooth_field(stations(places, values, 20.0), "bar", roughness=2e5)
    assert left.lost == (f"s{lost}",)
    at = np.linspace(0.0, LENGTH, 41)
    for what in ("value_at", "slope_at"):
        before = getattr(whole, what)(at).standard_uncertainty()
        after = getattr(left, what)(at).standard_uncertainty()
        assert np.all(after >= before * (1 - 1e-6))
    doubt = [f.value_at([places[lost]]).standard_uncertainty()[0] for f in (whole, left)]
    assert doubt[1] > 2 * doubt[0]


def share_held_and_width(make, count, noise, runs_made):
    """Share of places held by 95 % intervals, and how wide they are to the mean bond."""
    truth, rng = make(), np.random.default_rng([20261125, count, int(noise)])
    at = np.linspace(0.03, LENGTH - 0.03, 31)
    runs = {"value": [], "slope": [], "local": [], "sum": []}
    widths = []
    step = LENGTH / (count - 1)
    total = np.concatenate(
        [[0], np.cumsum((truth.force[1:] + truth.force[:-1]) / 2 * np.diff(truth.place))]
    )
    for _ in range(runs_made):
        places = np.linspace(0, LENGTH, count)
        places[1:-1] += step * rng.uniform(-0.3, 0.3, count - 2)
        values = truth.at("force", places) + noise * rng.standard_normal(count)
        field = smooth_field(stations(places, values, noise), "bar")
        slope, bond = field.slope_at(at), truth.at("bond", at) * bonded_bar.PERIMETER
        local = field.local_slope_at(at, 2.6 * step)
        force, area = field.value_at(at), field.sum_from(0.0, at)
        runs["value"].append(np.abs(force.value - truth.at("force", at)) <= force.expanded())
        runs["slope"].append(np.abs(slope.value - bond) <= slope.expanded())
        runs["local"].append(np.abs(local.value - bond) <= local.expanded())
        runs["sum"].append(
            np.abs(area.value - np.interp(at, truth.place, total)) <= area.expanded()
        )
        widths.append(np.mean(slope.expanded()) / np.mean(np.abs(bond)))
    held = {name: np.mean(run) for name, run in runs.items()}
    return held, np.mean(widths), 2 * np.sqrt(2) * noise / step / np.mean(np.abs(bond))


BARS = pytest.mark.parametrize("make", [bonded_bar.pulled_bar, bonded_bar.between_cracks])


def look_at(make, count, noise, runs):
    held, width, of_differences = share_held_and_width(make, count, noise, runs)
    # Places of one run depend on each other, so only runs count: four standard deviations of a
    # share near 0.95. A slope smoother than a random walk is held more often than said.
    assert min(held.values()) >= 0.95 - 4 * np.sqrt(0.95 * 0.05 / runs), held
    # Holding everything by knowing nothing doesn't count: not wider than differences between
    # neighbours would be, two expanded uncertainties over a step, and what they leave out.
    assert width < of_differences + 0.6


@pytest.mark.full
@BARS
def test_intervals_hold_what_the_bar_really_did(make):
    look_at(make, 12, 500.0, runs=16)


@pytest.mark.full
@BARS
@pytest.mark.parametrize(("count", "noise"), [(6, 500.0), (8, 500.0), (20, 500.0), (20, 2000.0)])
def test_intervals_hold_what_the_bar_really_did_in_many_runs(make, count, noise):
    look_at(make, count, noise, runs=100)


def test_what_all_stations_share_goes_through_in_full():
    gain = InputQuantity("gain", 0.02)
    places = np.linspace(0, LENGTH, 8)
    values = 3e4 * places**2 + 1e3
    points = [
        FieldPoint(
            f"s{i}",
            Uncertain.exact(x),
            Uncertain.from_input(y, gain, y) + Uncertain.noisy(0.0, 50.0),
        )
        for i, (x, y) in enumerate(zip(places, values, strict=True))
    ]
    slope = smooth_field(points, "bar").slope_at([0.2, 0.4])
    # All forces too large by one share are slopes too large by that share.
    assert slope.contributions()["gain"] == pytest.approx(0.02 * slope.value)


def test_a_wrong_place_counts_where_the_field_is_steep():
    places = np.linspace(0, LENGTH, 8)
    points = [
        FieldPoint(
            f"s{i}",
            Uncertain.from_input(x, InputQuantity(f"place {i}", 2e-3)),
            Uncertain.noisy(5e4 * x, 1.0),
        )
        for i, x in enumerate(places)
    ]
    field = smooth_field(points, "bar", roughness=0.0)
    # On a line of slope g: u(slope) = g u(x) / sqrt(Sxx).
    expected = 5e4 * 2e-3 / np.sqrt(np.sum((places - places.mean()) ** 2))
    parts = field.slope_at([0.3]).contributions()
    found = np.sqrt(sum(parts[f"place {i}"] ** 2 for i in range(8)))
    assert found == pytest.approx(expected, rel=1e-3)


def test_what_cannot_be_known_is_refused():
    few = stations([0.0, 0.1, 0.2], [1.0, 2.0, 3.0], 1.0)
    with pytest.raises(InputError, match="stations with a value"):
        smooth_field(few, "bar")
    field = smooth_field(few, "bar", roughness=1.0)
    with pytest.raises(InputError, match="positions"):
        field.slope_at([0.21])
    with pytest.raises(InputError, match="half_width"):
        field.local_slope_at([0.1], 0.05)
    with pytest.raises(InputError, match="degree"):
        field.local_slope_at([0.1], 0.5, degree=0)
    with pytest.raises(InputError, match="distance"):
        smooth_field(stations([0, 0, 0.1, 0.2], [1, 2, 3, 4], 1.0), "bar")
