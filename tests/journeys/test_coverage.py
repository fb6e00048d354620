"""How often stated intervals hold what is true, over many campaigns drawn anew.

Readings come from circuits solved as networks; strain and stress come from the chain that records
build. Every systematic input is drawn from the distribution that its record states. Six gauges at
six levels of one campaign share many inputs, so they don't count as 36 trials: the binomial
interval is taken for as many independent trials as the scatter between campaigns amounts to.
"""

from datetime import UTC, datetime

import numpy as np
import pytest
from scipy import stats

from gaugewright.records import Entry
from gaugewright.records.electrical import Connection
from gaugewright.records.gauges import Gauge
from gaugewright.records.identity import seeded_context
from gaugewright.services.bars import forces
from gaugewright.services.campaign.book import Book
from gaugewright.services.chaining.chains import chain_for
from gaugewright.services.strain.strains import Desk
from gaugewright.sources.simulated import ALLOWANCES, SmallCampaign, lay_down

CAMPAIGNS = 400
COVERAGE = 0.95
ELASTIC_LEVELS = slice(0, 4)

pytestmark = [pytest.mark.full, pytest.mark.long]


def reduced(seed):
    """Errors over expanded uncertainty: of strain, of the mean of pairs, of elastic stress."""
    campaign = SmallCampaign.draw(seed)
    context = seeded_context(datetime(2026, 1, 1, tzinfo=UTC))
    entries = []

    def add(record):
        uid = context.new_uid()
        entries.append(Entry(uid, 1, context.now(), None, "", False, record))
        return uid

    uids = lay_down(campaign, add, limits=ALLOWANCES)
    book = Book(entries)
    desk = Desk(None, book)
    columns = {"temperature_degc": campaign.temperature_degc}
    strains, stresses = [], []
    for number, label in enumerate(campaign.papers.labels):
        connection = book.entry(uids.connections[label], Connection)
        chain = chain_for(book, connection).chain
        strain = chain.uncertain(campaign.ratio[number], columns, campaign.papers.noise)
        stress = forces.stress_of(
            desk, book.material_of(book.entry(uids.gauges[label], Gauge)), strain
        )
        strains.append(strain)
        stresses.append(
            ((stress.value - campaign.true_stress[number]) / stress.expanded(COVERAGE))[
                ELASTIC_LEVELS
            ]
        )
    alone = [
        (strain.value - true) / strain.expanded(COVERAGE)
        for strain, true in zip(strains, campaign.true_strain, strict=True)
    ]
    pairs = []
    for first in range(0, len(strains), 2):
        mean = (strains[first] + strains[first + 1]) / 2
        true = campaign.true_strain[first : first + 2].mean(axis=0)
        pairs.append((mean.value - true) / mean.expanded(COVERAGE))
    return np.array(alone), np.array(pairs), np.array(stresses)


@pytest.fixture(scope="module")
def drawn():
    """All campaigns, reduced once."""
    found = [reduced(seed) for seed in range(CAMPAIGNS)]
    return [np.array(part) for part in zip(*found, strict=True)]


def share_and_bounds(errors):
    """Share of intervals that hold the truth, and the binomial 99 % bounds round 0.95.

    The number of independent trials is the one whose binomial scatter equals the scatter that the
    means of whole campaigns show.
    """
    assert np.isfinite(errors).all()
    inside = (np.abs(errors) <= 1).reshape(len(errors), -1)
    by_campaign = inside.mean(axis=1)
    standard_error = by_campaign.std(ddof=1) / np.sqrt(len(by_campaign))
    trials = round(COVERAGE * (1 - COVERAGE) / standard_error**2)
    low, high = stats.binom.interval(0.99, trials, COVERAGE)
    return inside.mean(), low / trials, high / trials, trials


@pytest.mark.parametrize(
    ("which", "name"), [(0, "strain"), (1, "mean of a pair"), (2, "elastic stress")]
)
def test_stated_intervals_hold_the_truth_as_often_as_they_say(drawn, which, name):
    share, low, high, trials = share_and_bounds(drawn[which])
    assert low <= share <= high, f"{name}: {share:.4f} not from {low:.4f} to {high:.4f}, {trials}"


def test_each_load_level_by_itself_holds_as_often_as_it_says(drawn):
    # Six looks at once: the bounds of each are those of 1 - 0.01/6.
    for level in range(drawn[0].shape[2]):
        inside = (np.abs(drawn[0][:, :, level]) <= 1).mean(axis=1)
        error = inside.std(ddof=1) / np.sqrt(len(inside))
        trials = round(COVERAGE * (1 - COVERAGE) / error**2)
        low, high = stats.binom.interval(1 - 0.01 / 6, trials, COVERAGE)
        assert low / trials <= inside.mean() <= high / trials, level
