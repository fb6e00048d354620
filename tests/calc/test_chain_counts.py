"""Lost samples are counted once each, at the stage that lost them."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from gaugewright.calc.chain import Chain, Stage
from gaugewright.calc.chain_counts import lost_samples

CHAIN = Chain(
    (
        Stage.of("range of the instrument@1", reading_low=-0.6, reading_high=0.6),
        Stage.of("reading in ratio@1", scale=1.0, gain=1.0),
        Stage.of("quarter bridge@1"),
        Stage.of("reference zero@1", arm_change_zero=0.0),
        Stage.of(
            "gauge factor@1",
            gauge_factor=2.0,
            gauge_factor_slope=0.0,
            reference_temperature_degc=24.0,
        ),
        Stage.of("large strain, not declared@1", strain_limit=0.01),
    )
)


def test_each_sample_is_counted_where_it_was_lost():
    reading = [1e-3, np.nan, 0.7, 0.55, 1e-3, 0.02, np.inf]
    columns = {"temperature_degc": [20.0, 20.0, 20.0, 20.0, np.nan, 20.0, 20.0]}
    found = lost_samples(CHAIN, reading, columns)
    assert (found.samples, found.not_read, found.kept) == (7, 2, 1)
    assert found.by_stage == {
        "range of the instrument@1": 1,
        "reading in ratio@1": 0,
        "quarter bridge@1": 1,
        "reference zero@1": 0,
        "gauge factor@1": 1,
        "large strain, not declared@1": 1,
    }


@given(st.lists(st.one_of(st.just(np.nan), st.floats(-1.0, 1.0), st.just(np.inf)), max_size=30))
def test_the_counts_add_up_to_what_the_result_lacks(reading):
    columns = {"temperature_degc": 20.0}
    found = lost_samples(CHAIN, reading, columns)
    result = CHAIN.strain(reading, columns)
    assert found.samples == len(reading)
    assert found.kept == np.count_nonzero(np.isfinite(result))


def test_no_samples_are_no_losses():
    found = lost_samples(CHAIN, [], {"temperature_degc": 20.0})
    assert (found.samples, found.not_read, found.kept) == (0, 0, 0)
