"""A reinforced concrete tie as textbooks have it, through records and predictions."""

import numpy as np
import pytest

from gaugewright.records.gauges import Gauge
from gaugewright.services.section.predictions import predicted_strain
from tests.services import beam_records as beam

TIE = {"load_points": (), "axial_share": 1.0, "load_per_length": None}


@pytest.mark.published(
    where="the cracking force of a reinforced concrete tie: strength times the concrete's area and "
    "(n - 1) times the bars' beside it; before it the strain is force over E_c and that area, at a "
    "crack force over E_s A_s",
    seen="from memory; in any text on reinforced concrete",
)
def test_a_tie_is_stiff_until_it_cracks_and_then_its_bars_alone():
    book = beam.beam_book(doubt=0.01, **TIE)
    steel = 4 * beam.AREA
    area = beam.WIDTH * beam.HEIGHT + (beam.STEEL / beam.CONCRETE - 1) * steel
    found = predicted_strain(book, book.labelled(Gauge, "L1-T"), np.array([50e3, 100e3]))
    assert found.uncracked.value == pytest.approx(
        [50e3 / beam.CONCRETE / area, 100e3 / beam.CONCRETE / area], rel=1e-3
    )
    # Nothing stays from before the load but what shrinkage left, which this zero leaves out.
    assert found.first_loading.value[0] == pytest.approx(50e3 / beam.CONCRETE / area, rel=1e-2)
    assert found.cracked.value[1] == pytest.approx(100e3 / beam.STEEL / steel, rel=1e-3)
    strength = found.member.values["concrete_tensile_strength"].value
    assert found.cracking_load is not None
    assert found.cracking_load.value == pytest.approx(strength * area, rel=1e-3)
    assert found.cracking_load.standard_uncertainty() > 0.0
