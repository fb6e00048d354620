"""Lead sizes that a plan offers, against the published table of copper wire."""

import pytest

from gaugewright.calc import leads
from gaugewright.services.plan.electrical import LEAD_SIZES

# Ohm per 1000 ft of solid copper at 20 °C.
TABLE = {"AWG 22": 16.14, "AWG 24": 25.67, "AWG 26": 40.81, "AWG 28": 64.9, "AWG 30": 103.2}


@pytest.mark.published(
    where="NBS Circular 31, Copper Wire Tables: 22, 24, 26, 28 and 30 AWG, 16.14, 25.67, 40.81, "
    "64.9 and 103.2 ohm per 1000 ft at 20 °C",
    seen="from memory; the diameters were seen in a dictionary's table",
)
@pytest.mark.parametrize(("name", "ohms"), TABLE.items())
def test_sizes_offered_have_the_resistance_of_the_table(name: str, ohms: float) -> None:
    area = dict(LEAD_SIZES)[name]
    assert float(leads.lead_resistance(304.8, area)) == pytest.approx(ohms, rel=1.5e-3)
