"""A gauge over two years: borders, gaps, clocks, season and drift, each as it was made."""

import importlib.util
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from gaugewright.calc.seasons import DAY, YEAR
from gaugewright.errors import InputError
from gaugewright.records.corrections import StageNumber, StageSwitch
from gaugewright.records.proof import Limit, Zero, ZeroKind
from gaugewright.records.stated import Basis, Meaning, Stated
from gaugewright.services.campaign.book import Book
from gaugewright.services.long_run import pairs as long_pairs
from gaugewright.services.long_run import term as long_term
from gaugewright.services.reading.series import campaign_seconds
from gaugewright.services.showing.page import Page
from gaugewright.services.strain.strains import Desk
from tests.services import long_records as made

_spec = importlib.util.spec_from_file_location("tiny", Path(__file__).with_name("conftest.py"))
_tiny = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(_tiny)
divider = _tiny.divider_mv_per_v
ONE_YEAR = 20e-6


@pytest.fixture
def years(tiny, tmp_path):
    return made.lay_down(tiny, tmp_path, divider)


def looked(tiny):
    return long_term.look_at(Desk(tiny.store, Book.read(tiny.store)), "G-T")


def test_stamps_of_the_hall_become_the_instants_of_the_readings(years):
    look = looked(years)
    time, strain = look.strain.time, look.strain.strain
    # An hour came twice in October of both years: rows come every hour, so each has its time.
    instants = made.hours(made.AGAIN, made.LAST)
    truth = dict(zip(map(campaign_seconds, instants), made.mechanical(instants), strict=True))
    later = time >= campaign_seconds(made.AGAIN)
    assert later.sum() == len(instants)
    expected = np.array([truth[second] for second in time[later].tolist()]) + made.STEP
    np.testing.assert_allclose(strain[later], expected, atol=2e-9)


def test_turns_of_the_clock_are_named_where_they_were(years):
    turns = looked(years).turns
    shown = [(turn.recording, turn.at, turn.shift, turn.unknown) for turn in turns]
    assert shown == [
        ("after", campaign_seconds(datetime(2026, 10, 25, 1, tzinfo=UTC)), -3600.0, 0),
        ("after", campaign_seconds(datetime(2027, 3, 28, 1, tzinfo=UTC)), 3600.0, 0),
        ("after", campaign_seconds(datetime(2027, 10, 31, 1, tzinfo=UTC)), -3600.0, 0),
        ("after", campaign_seconds(datetime(2028, 3, 26, 1, tzinfo=UTC)), 3600.0, 0),
    ]


def test_a_remade_connection_opens_a_segment_whose_border_carries_the_transfer(years):
    first, second = looked(years).segments
    assert first.border is None
    border = second.border
    assert (border.ends, border.begins) == (
        campaign_seconds(made.REMADE) - 3600,
        campaign_seconds(made.AGAIN),
    )
    # 4 (4e-6)/2 of strain, times two for 95 %; what both sides share cancels in the step.
    assert border.transfer == pytest.approx(1.96 * 8e-6, rel=0.02)
    assert float(border.step.expanded(0.95)) == pytest.approx(border.transfer, rel=0.02)
    assert border.step.value == pytest.approx(made.STEP, abs=2e-6)
    assert border.words == "zero carried over: two contacts remade"


def test_gaps_stay_gaps_with_their_reason(years):
    gaps = looked(years).gaps
    lost = [(g.begins, g.ends) for g in gaps if g.why == "no rows in the recording"]
    begins, ends = (campaign_seconds(instant) for instant in made.LOST)
    assert lost == [(begins - 3600, ends)]
    assert [gap.why for gap in gaps] == ["between two connections", "no rows in the recording"]


def test_the_season_is_shown_and_the_record_stays_as_it_is(years):
    look = looked(years)
    season, temperature = look.fits
    year, day = season.found.cycles
    assert (year.period, day.period) == (YEAR, DAY)
    # The contact's step has its own level, so nothing of it is in the season.
    assert year.amplitude == pytest.approx(made.YEARLY, rel=1e-4)
    assert day.amplitude < 1e-8
    levels = season.found.coefficients[:2]
    assert levels[1] - levels[0] == pytest.approx(made.STEP, abs=2e-8)
    np.testing.assert_allclose(season.less + season.found.seasonal, season.found.fitted, atol=5e-8)
    assert np.nanmax(look.strain.strain) > made.LEVEL + 0.99 * made.YEARLY
    assert temperature.found.terms[-1] == "each kelvin"


def test_a_record_too_short_for_a_year_says_so_and_shows_none(tiny, tmp_path, monkeypatch):
    monkeypatch.setattr(made, "LAST", datetime(2026, 12, 1, tzinfo=UTC))
    season = looked(made.lay_down(tiny, tmp_path, divider)).fits[0]
    assert [cycle.period for cycle in season.found.cycles] == [DAY]
    assert season.why[0].startswith("no cycle of a year: the record is 205 days long")


def share(look, place):
    found = look.strain.uncertain([place]).contributions()
    return next((abs(v.item()) for n, v in found.items() if n.startswith("drift_rate@")), None)


def test_drift_nobody_allowed_for_counts_for_nothing_and_is_said_to(years):
    look = looked(years)
    assert look.drift is None
    assert share(look, 0) is None


def test_an_allowance_of_the_campaign_grows_with_the_time_since_the_zero(years):
    before = looked(years)
    long_term.allow_drift(years.store, ONE_YEAR / YEAR, source="three idle gauges, one year")
    look = looked(years)
    half = int(np.searchsorted(look.strain.time, campaign_seconds(made.FIRST) + YEAR / 2))
    assert share(look, 0) == pytest.approx(0.0, abs=1e-12)
    assert share(look, half) == pytest.approx(ONE_YEAR / 2, rel=1e-3)
    end = (made.LAST - made.FIRST).total_seconds() / YEAR
    assert float(look.drift.standard_uncertainty()) == pytest.approx(end * ONE_YEAR, rel=1e-3)
    assert look.drift_source == "three idle gauges, one year"
    np.testing.assert_array_equal(look.strain.strain, before.strain.strain)
    again = long_term.allow_drift(years.store, 0.0, source="looked at again", confirmed=True)
    assert (again.version, again.record.unverified) == (2, False)
    assert len([e for e in years.store.entries(Limit) if "drift rate" in e.record.label]) == 1


def test_one_gauge_may_have_its_own_rate_with_its_own_source(years):
    rate = Stated(0.0, 2 * ONE_YEAR / YEAR, Meaning.TWO_SIGMA, Basis.MEASURED, "idle twin")
    about = (years.uid["circuit G-T"],)
    numbers = (StageNumber("drift_rate", rate),)
    kind = "drift allowance, growing with time@1"
    years.store.add(StageSwitch("G-T drifts", kind, True, "watched", about, numbers))
    look = looked(years)
    end = (made.LAST - made.FIRST).total_seconds() / YEAR
    assert float(look.drift.standard_uncertainty()) == pytest.approx(end * ONE_YEAR, rel=1e-3)
    assert look.drift_source == "idle twin"


def test_the_reference_gauge_that_is_taken_off_is_named(years):
    other = years.store.entry(years.uid["connection G-U"])
    zero = Zero(ZeroKind.BEFORE_TEST, other.uid, made.EXACT, Stated(20.0, 0.0), made.FIRST)
    years.store.add(zero)
    reading = divider(np.full(48, 7e-6))
    columns = {"G-U": reading, "T": np.full(48, 12.0)}
    years.record("idle", made.FIRST, columns, rate=3599.0)
    switch = StageSwitch(
        "less idle",
        "drift, reference channel@1",
        True,
        "the idle gauge hangs beside it",
        (years.uid["circuit G-T"],),
        beside=years.uid["circuit G-U"],
    )
    years.store.add(switch)
    look = looked(years)
    assert look.reference.record.label == "G-U"
    assert look.strain.strain[0] == pytest.approx(made.LEVEL + made.YEARLY - 7e-6, abs=3e-9)
    assert np.isnan(look.strain.strain[60])  # beyond the idle gauge's record nothing is taken off


def beside(years, lost):
    """An opposite read every hour that loses so much strain by the end, evenly."""
    other = years.store.entry(years.uid["connection G-U"])
    zero = Zero(ZeroKind.BEFORE_TEST, other.uid, made.EXACT, Stated(20.0, 0.0), made.FIRST)
    years.store.add(zero)
    count = int((made.LAST - made.FIRST).total_seconds() / 3600)
    instants = [made.FIRST + timedelta(hours=hour) for hour in range(count)]
    strain = made.mechanical(instants) - lost * np.linspace(0, 1, count)
    columns = {"G-U": divider(strain), "T": made.air(instants)}
    years.record("beside", made.FIRST, columns, rate=3599.0)
    desk = Desk(years.store, Book.read(years.store))
    return long_pairs.pair_of(desk, long_term.look_at(desk, "G-T"))


def test_a_pair_that_stays_together_bends_by_no_more_than_its_zero_leaves_open(years):
    pair = beside(years, 0.0)
    assert pair.other.record.label == "G-U"
    assert len(pair.stretches) >= 20  # months of two years, less the fortnight that is lost
    # The contact that was remade moved one gauge by 9 µε, so bending by half of that.
    assert float(pair.change.value) == pytest.approx(made.STEP / 2, abs=1e-6)
    assert float(pair.change.expanded(0.95)) == pytest.approx(1.96 * 8e-6 / 2, rel=0.05)
    assert not pair.falls_apart
    means = np.array([float(each.mean.value) for each in pair.stretches])
    assert np.ptp(means) == pytest.approx(2 * made.YEARLY, rel=0.1)  # seasons stay in the mean


def test_a_pair_that_falls_apart_over_the_months_is_told_so(years):
    pair = beside(years, 60e-6)
    assert pair.falls_apart
    assert float(pair.change.value) == pytest.approx(30e-6 + made.STEP / 2, abs=2e-6)
    page = Page.of(Desk(years.store, Book.read(years.store)))
    assert "fell apart from its opposite G-U" in long_pairs.pair_sentence(page, pair)
    assert len(long_pairs.pair_table(page, pair).rows) == len(pair.stretches)


def test_a_gauge_whose_opposite_was_never_read_has_no_pair(years):
    desk = Desk(years.store, Book.read(years.store))
    assert long_pairs.pair_of(desk, long_term.look_at(desk, "G-T")) is None


@pytest.mark.parametrize(("rate", "source"), [(-1.0, "x"), (float("nan"), "x"), (1e-12, " ")])
def test_an_allowance_without_number_or_source_is_refused(tiny, rate, source):
    with pytest.raises(InputError):
        long_term.allow_drift(tiny.store, rate, source=source)


def test_a_gauge_that_is_not_there_is_named_with_those_that_are(years):
    desk = Desk(years.store, Book.read(years.store))
    with pytest.raises(InputError, match="G-T, G-U"):
        long_term.look_at(desk, "G-X")
