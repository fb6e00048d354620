"""A cracked section bent past yield, as an open section-analysis library has it."""

import numpy as np
import pytest

from gaugewright.calc import concrete, fibre_section, layers, steel

# Curvature 1/m; moment kN m; strain of the upper and of the lower bars. The library gives moments
# at steps of 0.002 1/m and strains at any curvature.
MOMENTS = {
    0.002: 62.563531629,
    0.004: 123.807446297,
    0.008: 241.008309333,
    0.010: 243.294915542,
    0.020: 248.312748548,
    0.026: 249.362379467,
}
STRAINS = {
    0.002: (-0.000158035679, 0.000641964321),
    0.005: (-0.000413389195, 0.001586610805),
    0.010: (-0.000739079402, 0.003260920598),
    0.020: (-0.000864347249, 0.007135652751),
}
MADE_WITH = (
    "concreteproperties 0.7.0 (the PyPI package), 300 x 500 mm, bars 2 x 200 mm² at 50 mm and 3 x "
    "400 mm² at 450 mm, 200 GPa, 500 MPa, parabola-rectangle of 30 MPa by 41 points, no tension"
)
SEEN = "run for this comparison on 2026-11-25; its 29 points took some 20 s, ours under 0.1 s"


def section():
    return fibre_section.FibreSection(
        layers.rectangle(0.3, 0.5),
        np.array([0.05, 0.45]),
        np.array([400e-6, 1200e-6]),
        lambda e: concrete.parabola_rectangle_stress(e, 30e6),
        lambda e: steel.bilinear_stress(e, 200e9, 500e6),
        crushing_strain=0.0035,
    )


@pytest.mark.published(where=f"moment-curvature analysis of {MADE_WITH}", seen=SEEN)
def test_moments_at_curvatures():
    found = fibre_section.moment_curvature(section(), list(MOMENTS))
    # Both cut the section into pieces; theirs stops at a force of balance of its own.
    assert found.moment / 1e3 == pytest.approx(list(MOMENTS.values()), rel=2e-3)


@pytest.mark.published(where=f"service stress, bar strains, of {MADE_WITH}", seen=SEEN)
def test_strains_of_the_bars_at_curvatures():
    found = fibre_section.moment_curvature(section(), list(STRAINS))
    assert found.bar_strain == pytest.approx(np.array(list(STRAINS.values())), rel=5e-3)
