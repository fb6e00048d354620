"""Nominal sizes of reinforcing bars as standards print them."""

import pytest

from gaugewright.calc import bar, bar_sizes

US = [
    ("#3", 0.375, 0.11, 0.376, 9.5, 71, 0.560),
    ("#4", 0.500, 0.20, 0.668, 12.7, 129, 0.994),
    ("#5", 0.625, 0.31, 1.043, 15.9, 199, 1.552),
    ("#6", 0.750, 0.44, 1.502, 19.1, 284, 2.235),
    ("#7", 0.875, 0.60, 2.044, 22.2, 387, 3.042),
    ("#8", 1.000, 0.79, 2.670, 25.4, 510, 3.973),
    ("#9", 1.128, 1.00, 3.400, 28.7, 645, 5.060),
    ("#10", 1.270, 1.27, 4.303, 32.3, 819, 6.404),
]


@pytest.mark.published(
    where="ASTM A615/A615M Table 1 (= ACI 318-19 Appendix B), Nos. 3 to 10: diameter, area, mass "
    "in inch-pound numbers and in the metric numbers printed beside them",
    seen="reproductions of the table in a public program and on web pages; not the standard",
)
@pytest.mark.parametrize(("name", "inch", "inch2", "pounds", "mm", "mm2", "kilograms"), US)
def test_us_sizes(name, inch, inch2, pounds, mm, mm2, kilograms):
    size = bar.US_BARS[name]
    assert size.diameter / 0.0254 == pytest.approx(inch, rel=1e-12)
    assert size.area / 0.0254**2 == pytest.approx(inch2, rel=1e-12)
    assert size.mass_per_length * 0.3048 / 0.45359237 == pytest.approx(pounds, rel=1e-12)
    # The metric column is a rounding of the same numbers.
    assert size.diameter * 1e3 == pytest.approx(mm, abs=0.06)
    assert size.area * 1e6 == pytest.approx(mm2, abs=1.0)
    assert size.mass_per_length == pytest.approx(kilograms, abs=0.002)
    # By mass the area comes out within the standard's rounding of it.
    assert bar.area_from_mass(kilograms) * 1e6 == pytest.approx(mm2, rel=0.02)


METRIC = [
    ("8", 50.3, 0.395),
    ("10", 78.5, 0.616),
    ("12", 113.1, 0.888),
    ("16", 201.1, 1.579),
    ("20", 314.2, 2.466),
    ("25", 490.9, 3.854),
]


@pytest.mark.published(
    where="BS 4449:2005 Table 7 / BS 8666, sizes of EN 10080: area in mm2 and mass in kg/m of 8, "
    "10, 12, 16, 20 and 25 mm",
    seen="a reproduction of the table on the web; not the standard",
)
@pytest.mark.parametrize(("name", "mm2", "kilograms"), METRIC)
def test_metric_sizes(name, mm2, kilograms):
    size = bar.METRIC_BARS[name]
    assert size.diameter * 1e3 == pytest.approx(float(name))
    assert size.area * 1e6 == pytest.approx(mm2, abs=0.05)
    # EN 10080 prints 0.617 and 1.58 where BS 4449 prints 0.616 and 1.579.
    assert size.mass_per_length == pytest.approx(kilograms, abs=0.0011)
    assert bar.area_from_mass(kilograms) * 1e6 == pytest.approx(mm2, abs=0.1)


@pytest.mark.published(
    where="ASTM A615/A615M Table 1 (= ACI 318-19 Appendix B), Nos. 3 to 10: metric numbers printed "
    "beside the inch-pound ones",
    seen="reproductions of the table in a public program and on web pages; not the standard",
)
@pytest.mark.parametrize(("name", "inch", "inch2", "pounds", "mm", "mm2", "kilograms"), US)
def test_soft_metric_names(name, inch, inch2, pounds, mm, mm2, kilograms):
    found = [size for number, size in bar_sizes.SOFT_METRIC_BARS.values() if number == name]
    assert len(found) == 1
    assert found[0].diameter == pytest.approx(mm * 1e-3)
    assert found[0].area == pytest.approx(mm2 * 1e-6)
    assert found[0].mass_per_length == pytest.approx(kilograms)
    # The soft metric name is the inch diameter in whole millimetres.
    assert found[0].name == str(int(inch * 25.4 + 0.5))
