"""Each kind of fault is found through the ordinary review, and healthy gauges are left alone.

The bounds were set before the first look: nine of ten found, one healthy gauge in fifty wrongly
told. Beams come from a generator that shares nothing with the checks. The tables with more beams
are in the documentation; these few keep them true.
"""

import numpy as np
import pytest

from gaugewright.services.reviewing import review
from tests.services import beam_campaign as campaign
from tests.services import odd_beams as odd

SEED = 40_003
COUNT = 3

pytestmark = [pytest.mark.full, pytest.mark.long, pytest.mark.timeout(300)]


@pytest.fixture(scope="module")
def base(tmp_path_factory):
    folder = tmp_path_factory.mktemp("beams") / "base"
    return folder, campaign.lay_down(folder)


GAUGE = {odd.CAUSES[kind] for kind in ("debond", "step", "open")}
SPECIMEN = {odd.CAUSES[kind] for kind in ("cracking", "yielding")}


@pytest.mark.parametrize("kind", odd.FAULTS)
def test_a_fault_is_found_on_its_gauge(base, kind):
    trials = [campaign.trial(*base, kind, SEED, number) for number in range(COUNT)]
    found = sum(
        any(label in bad and code in odd.FAULTS[kind] for label, code in told)
        for told, bad, _ in trials
    )
    # Of three, one may be missed: two misses would be nearly sure to break nine of ten.
    assert found >= COUNT - 1


def test_healthy_gauges_of_beams_that_crack_and_yield_are_left_alone(base):
    trials = [campaign.trial(*base, "none", SEED, number) for number in range(6)]
    told = [finding for found, _, _ in trials for finding in found]
    # One of 48 gauges, as one in fifty allows at most.
    assert len({label for label, _ in told}) <= 1, told


def test_a_line_that_the_load_has_too_is_loading_and_no_hum(base):
    """3.3 readings a second may fold 50 Hz to where a load goes to and fro."""
    folder, uid = base
    numbers = (n for n in range(99) if _hummed(n).rate == 3.3)
    made = _hummed(next(numbers))
    [label] = made.bad
    wave = made.ratio[label] - made.strain[label]
    seen = []
    for name, load in (("still", made.load), ("to and fro", made.load + wave / np.std(wave) * 900)):
        made.load = load
        with campaign.with_readings(folder, uid, folder.with_name(name), made) as store:
            seen.append({f.record.code for f in review.find(store)})
    assert "mains hum" in seen[0]
    assert "mains hum" not in seen[1]


def _hummed(number):
    return odd.beam(campaign.drawn(SEED, number, "mains hum"), "mains hum")


@pytest.mark.parametrize("others", [True, False], ids=["others read", "it alone reads"])
@pytest.mark.parametrize("kind", odd.CAUSES)
def test_a_verdict_is_right_or_open_and_never_the_other_side(base, kind, others):
    judged = [campaign.verdict(*base, kind, SEED, number, others=others) for number in range(COUNT)]
    causes = [each.cause for each in judged]
    wanted = odd.CAUSES[kind]
    side = GAUGE if wanted in GAUGE else SPECIMEN
    assert set(causes) <= side | {"can't be told"}
    if others:
        assert causes.count(wanted) >= COUNT - 1
    for each in judged:
        assert each.signs or each.unasked, "a verdict says what it stands on or what it lacks"
