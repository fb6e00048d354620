"""How much bars bend by themselves, worked out again from the pairs' own strains."""

import numpy as np
import pytest

from gaugewright.records.identity import working_context
from gaugewright.records.proof import ZeroKind
from gaugewright.services.bars.together import opposite_pairs
from gaugewright.services.campaign.book import Book
from gaugewright.services.demo import demo
from gaugewright.services.planes.bends import bends_shown
from gaugewright.services.strain.strains import Desk
from gaugewright.store.campaign import CampaignStore

pytestmark = pytest.mark.long


def test_each_pair_shows_the_share_between_its_two_gauges(tmp_path) -> None:
    made = demo.run(tmp_path / "campaign", duration_scale=0.1)
    with CampaignStore.open(made.campaign, working_context(), read_only=True) as store:
        desk = Desk(store, Book.read(store))
        shown = [abs(float(one.bending.value)) for one in bends_shown(desk) if one.bending]
        again = []
        for circuits, _ in opposite_pairs(desk):
            one, other = (desk.strain(circuit, ZeroKind.BEFORE_TEST) for circuit in circuits)
            size = min(one.strain.size, other.strain.size)
            mean = (one.strain[:size] + other.strain[:size]) / 2
            # At about 1000 µε, long before yield: one instant, not a median over many.
            at = int(np.nanargmin(np.abs(np.abs(mean) - 1e-3)))
            again.append(abs((one.strain[at] - other.strain[at]) / 2 / mean[at]))
    assert len(shown) == len(again) >= 2
    assert np.sqrt(np.mean(np.square(shown))) == pytest.approx(
        np.sqrt(np.mean(np.square(again))), rel=0.5
    )
    assert max(shown) < 0.15
