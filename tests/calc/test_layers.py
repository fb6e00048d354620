"""Layered shapes against areas and moments of textbooks."""

import numpy as np
import pytest

from gaugewright.calc import layers
from gaugewright.errors import InputError


def first_and_second(shape):
    area = shape.areas.sum()
    centroid = (shape.areas * shape.depths).sum() / area
    return area, centroid, (shape.areas * (shape.depths - centroid) ** 2).sum()


def test_a_rectangle_misses_one_part_in_layers_squared_of_its_second_moment():
    area, centroid, second = first_and_second(layers.rectangle(0.3, 0.5, layers=100))
    assert area == pytest.approx(0.15)
    assert centroid == pytest.approx(0.25)
    assert second == pytest.approx(0.3 * 0.5**3 / 12 * (1 - 1 / 100**2), rel=1e-12)


def test_a_tee_has_the_area_of_its_two_parts():
    shape = layers.tee(1.0, 0.12, 0.3, 0.8)
    area, centroid, _ = first_and_second(shape)
    assert area == pytest.approx(0.12 + 0.3 * 0.68)
    assert centroid == pytest.approx((0.12 * 0.06 + 0.204 * 0.46) / 0.324)


def test_a_circle_has_its_area_and_nearly_its_second_moment():
    area, centroid, second = first_and_second(layers.circle(0.4))
    assert area == pytest.approx(np.pi * 0.04)
    assert centroid == pytest.approx(0.2)
    assert second == pytest.approx(np.pi * 0.4**4 / 64, rel=1e-4)
    halves = layers.circle(0.4, layers=2)
    # Centroid of a half circle: 4 r / 3 π from the centre.
    assert halves.depths == pytest.approx([0.2 - 0.8 / (3 * np.pi), 0.2 + 0.8 / (3 * np.pi)])


@pytest.mark.parametrize("flange", [0.001, 0.499, 0.5])
def test_thin_and_thick_flanges_keep_the_number_of_layers(flange):
    assert layers.tee(1.0, flange, 0.3, 0.5, layers=10).depths.size == 10


@pytest.mark.parametrize(
    ("call", "name"),
    [
        (lambda: layers.circle(-1.0), "diameter"),
        (lambda: layers.rectangle(0.3, 0.5, layers=1), "layers"),
        (lambda: layers.tee(1.0, 0.6, 0.3, 0.5), "flange_depth"),
    ],
)
def test_impossible_shapes_are_refused_by_name(call, name):
    with pytest.raises(InputError, match=name):
        call()
