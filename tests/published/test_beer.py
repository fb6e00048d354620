"""Beer, Johnston and DeWolf, Mechanics of Materials: strain of a surface and its stress."""

import pytest

from gaugewright.calc import rosette

SEEN = (
    "typed copy with its printed output: textbook-companion repository "
    "FOSSEE/Python-Textbook-Companions, chapter 7; not the book"
)


@pytest.mark.published(
    where="Beer, Johnston, DeWolf, Mechanics of Materials, Example 7.05, p. 494: principal strains "
    "400 and -50 microstrain; printed 450 for the largest shear in the plane",
    seen=SEEN,
)
def test_example_7_05_shear_in_the_plane():
    found = rosette.principal(400e-6, -50e-6, 0.0)
    assert (found.first - found.second) * 1e6 == pytest.approx(450, abs=0.5)


@pytest.mark.published(
    where="Beer, Johnston, DeWolf, Mechanics of Materials, Sample Problem 7.6, p. 496: thin "
    "cylinder, 255 and 60 microstrain, G = 11.2e6 psi; printed shear stress 2.184 ksi",
    seen=SEEN,
)
def test_sample_problem_7_6_shear_stress():
    found = rosette.principal(255e-6, 60e-6, 0.0)
    shear, nu = found.first - found.second, 0.3
    # Only the shear modulus is given; any E and ν that make it up give the same stress.
    stress = rosette.plane_stress(0.0, 0.0, shear, 11.2e6 * 2 * (1 + nu), nu)
    assert stress.shear_stress / 1e3 == pytest.approx(2.184, abs=0.0005)
