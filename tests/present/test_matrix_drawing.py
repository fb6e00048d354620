"""A matrix of counts as a drawing: one cell for each class with cycles, darker for more."""

import numpy as np
import pytest

from gaugewright.errors import InputError
from gaugewright.present.axes import Axis
from gaugewright.present.matrix_drawing import SHADES, matrix_drawn

AXES = (Axis("mean", "µε"), Axis("range", "µε"))
EDGES = (np.array([0.0, 10, 20, 30]), np.array([0.0, 5, 10]))


@pytest.mark.parametrize("where", ["web", "paper"])
def test_every_class_with_cycles_is_a_cell_beside_the_key(where) -> None:
    matrix = np.array([[0.5, 0.0, 20.0], [0.0, 0.0, 300.0]])
    text = matrix_drawn(matrix, EDGES, AXES, "cycles", where=where)
    assert text.count("<rect") == 3 + len(SHADES)
    if where == "web":
        cells = [text.count(f'class="heat-{shade}"') - 1 for shade in (1, 2, 3, 4)]
        assert cells == [1, 0, 1, 1]
    assert 'aria-label="cycles"' in text


def test_borders_that_don_t_fit_are_refused() -> None:
    with pytest.raises(InputError, match="2 rows and 3 columns"):
        matrix_drawn(np.zeros((3, 2)), EDGES, AXES, "cycles")
