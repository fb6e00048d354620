"""Chances of parts that are all needed, against a textbook on power distribution."""

import pytest

from gaugewright.calc.answer_chance import Needed, answer_chance


@pytest.mark.published(
    where="Gönen, Electric Power Distribution System Engineering, ch. 11, Example 11.1 (p. 598): "
    "15 like components in series, system reliability 0.99 wanted; each about 0.999333",
    seen="typed copy: a Scilab companion no. 1904, not the book",
)
def test_example_11_1_fifteen_parts_all_needed() -> None:
    each = 0.999333
    found = answer_chance(Needed(15, tuple(range(15))), (each,) * 15)
    # The book's 1 - (1 - 0.99)/15 drops squares: C(15, 2) q² = 5e-5; rounding of the print 7.5e-6.
    assert found == pytest.approx(0.99, abs=5.5e-5)
