"""NIST Statistical Reference Datasets: a pressure difference with a yearly and two other cycles."""

import pytest

from gaugewright.calc.seasons import season_fit

PRESSURE = """
12.90 11.30 10.60 11.20 10.90 7.50 7.70 11.70 12.90 14.30 10.90 13.70 17.10 14.00 15.30 8.50
5.70 5.50 7.60 8.60 7.30 7.60 12.70 11.00 12.70 12.90 13.00 10.90 10.40 10.20 8.00 10.90
13.60 10.50 9.20 12.40 12.70 13.30 10.10 7.80 4.80 3.00 2.50 6.30 9.70 11.60 8.60 12.40
10.50 13.30 10.40 8.10 3.70 10.70 5.10 10.40 10.90 11.70 11.40 13.70 14.10 14.00 12.50 6.30
9.60 11.70 5.00 10.80 12.70 10.80 11.80 12.60 15.70 12.60 14.80 7.80 7.10 11.20 8.10 6.40
5.20 12.00 10.20 12.70 10.20 14.70 12.20 7.10 5.70 6.70 3.90 8.50 8.30 10.80 16.70 12.60
12.50 12.50 9.80 7.20 4.10 10.60 10.10 10.10 11.90 13.60 16.30 17.60 15.50 16.00 15.20 11.20
14.30 14.50 8.50 12.00 12.70 11.30 14.50 15.10 10.40 11.50 13.40 7.50 0.60 0.30 5.50 5.00
4.60 8.20 9.90 9.20 12.50 10.90 9.90 8.90 7.60 9.50 8.40 10.70 13.60 13.70 13.70 16.50
16.80 17.10 15.40 9.50 6.10 10.10 9.30 5.30 11.20 16.60 15.60 12.00 11.50 8.60 13.80 8.70
8.60 8.60 8.70 12.80 13.20 14.00 13.40 14.80
"""
# The periods that NIST's model leaves free stand at their certified values here; the rest of the
# model is linear, and the best linear fit there is the certified one.
PERIODS = (12.0, 44.311088700, 26.887614440)
CERTIFIED = [
    3.0762128085,
    0.53280138227,
    -1.6231428586,
    0.52554493756,
    0.21232288488,
    1.4966870418,
]


@pytest.mark.published(
    where="NIST StRD, ENSO: 168 monthly means of a pressure difference, model with cycles of 12, "
    "44.311 and 26.888 months, certified b1 = 1.0510749193E+01, b2 3.0762128085E+00, b3 "
    "5.3280138227E-01, b5 -1.6231428586E+00, b6 5.2554493756E-01, b8 2.1232288488E-01, b9 "
    "1.4966870418E+00, residual sum of squares 7.8853978668E+02",
    seen="data and certified values in public test programs' copies, of which two disagree in the "
    "sign of b9; the one that gives the certified sum of squares is used; not NIST's page",
)
def test_cycles_of_a_certified_record() -> None:
    pressure = [float(text) for text in PRESSURE.split()]
    months = [float(month) for month in range(1, 169)]
    fit = season_fit(months, pressure, periods=PERIODS, steady_change=False)
    # Eleven digits of the periods leave about eight of what goes with them.
    assert fit.coefficients == pytest.approx([10.510749193, *CERTIFIED], rel=1e-7)
    assert fit.residual_deviation**2 * (168 - 7) == pytest.approx(788.53978668, rel=1e-9)
