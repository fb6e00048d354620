"""True value per reading: by hand, by its inverse, and by small differences."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gaugewright.calc.rated_output import value_per_reading
from gaugewright.errors import InputError

SIZES = st.floats(1e-6, 1e9)


def test_a_plate_of_2_mv_per_v_at_200_kn_is_100_kn_for_each_mv_per_v() -> None:
    found = value_per_reading(200e3, 2e-3, 2e-6)
    assert found.value * 1e-3 == pytest.approx(100e3)
    # One part in a thousand of the plate's output is one part in a thousand of the force.
    assert found.plus_minus == pytest.approx(0.001 * found.value)


@given(value=SIZES, reading=SIZES, share=st.floats(1e-7, 1e-4))
def test_its_doubt_is_how_far_it_moves_with_the_reading(value, reading, share) -> None:
    found = value_per_reading(value, reading, share * reading)
    ends = [value_per_reading(value, reading * (1 + s * share)).value for s in (-1, 1)]
    assert found.plus_minus == pytest.approx((ends[0] - ends[1]) / 2, rel=1e-6)
    assert found.value * reading == pytest.approx(value)
    assert value_per_reading(value, reading).plus_minus is None


@pytest.mark.parametrize("reading", [0.0, float("nan"), float("inf")])
def test_what_reads_nothing_at_full_scale_is_refused(reading) -> None:
    with pytest.raises(InputError, match="reading"):
        value_per_reading(1.0, reading)
